//! The music of one voice: signs in, notes in time out.

use super::accidentals::Accidentals;
use super::key::KeyField;
use super::length::Length;
use super::lexer::{Staff, Token};
use super::problem::Problem;
use super::remarks::{Matter, Remarks};
use super::source::location;
use super::stack::Stack;
use super::text::decode;
use super::tuplet::Tuplet;
use crate::format::{Fault, Unreadable};
use crate::melody::{Draft, MelodyError, Meter, Tempo};
use crate::theory::{Chord, Pitch};

/// The most notes, rests and bars of rest in a tune.
const MOST_EVENTS: usize = 1_000_000;
/// The most bars in one rest.
const LONGEST_REST: u32 = 999;
/// Letters that stand for a decoration without being defined. Source: ABC 2.1, 4.14 (from memory).
const KNOWN_SIGNS: &[u8] = b"~HLMOPSTuv";

/// The music as far as it has been read.
pub(super) struct Music<'a> {
    bytes: &'a [u8],
    pub draft: Draft,
    pub remarks: Remarks,
    // Each with its place in the file.
    faults: Vec<(usize, Fault)>,
    pub meter: Option<Meter>,
    pub unit: Length,
    pub accidentals: Accidentals,
    /// Octaves by which `octave=` of the voice moves its notes.
    pub voice_octave: i8,
    key_octave: i8,
    defined_signs: u128,
    events: usize,
    has_given_up: bool,
    // The last note or rest, which a sign after it may still lengthen or tie.
    pending: Option<Event>,
    // The pitch that is tied over from the last note in the draft.
    tied: Option<Pitch>,
    chord: Option<Option<Chord>>,
    // What broken rhythm leaves for the next note, and where its sign stands.
    share: Option<(Length, usize)>,
    tuplet: Tuplet,
    stack: Option<Stack>,
    layer: Layer,
}

/// A note, the top of a stack, or a rest.
#[derive(Clone, Copy, Debug)]
struct Event {
    pitch: Option<Pitch>,
    length: Length,
    is_tied: bool,
    at: usize,
}

/// Which layer of a bar is being read: `&` begins another one at the start of the bar.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Layer {
    /// The only one or the first.
    First,
    /// The first of some that go on over bar lines, after `(&`.
    FirstOfMany,
    /// Another one, to the bar line.
    Other,
    /// Another one, to `&)`.
    OtherOfMany,
}

impl<'a> Music<'a> {
    /// Nothing yet; `size` is the number of bytes to come.
    pub fn new(bytes: &'a [u8], size: usize) -> Music<'a> {
        let mut draft = Draft::default();
        draft.notes.reserve((size / 4).min(MOST_EVENTS / 100));
        Music {
            bytes,
            draft,
            remarks: Remarks::default(),
            faults: Vec::new(),
            meter: None,
            unit: Length::EIGHTH,
            accidentals: Accidentals::default(),
            voice_octave: 0,
            key_octave: 0,
            defined_signs: 0,
            events: 0,
            has_given_up: false,
            pending: None,
            tied: None,
            chord: None,
            share: None,
            tuplet: Tuplet::OVER,
            stack: None,
            layer: Layer::First,
        }
    }

    pub fn fault(&mut self, at: usize, problem: String, hint: &str) {
        let fault = Fault {
            at: location(self.bytes, at),
            problem,
            hint: Some(hint.to_owned()),
        };
        self.faults.push((at, fault));
    }

    /// A fault after which there is no point in reading on.
    pub fn give_up(&mut self, at: usize, problem: String, hint: &str) {
        self.has_given_up = true;
        self.fault(at, problem, hint);
    }

    /// True when reading on would only repeat what is wrong.
    pub fn has_given_up(&self) -> bool {
        self.has_given_up || self.faults.len() >= Unreadable::MOST
    }

    /// Takes in the next sign, which stands at `at` in the file.
    pub fn token(&mut self, token: Token, at: usize) {
        if matches!(self.layer, Layer::Other | Layer::OtherOfMany) {
            match token {
                Token::OverlayClose => self.layer = Layer::First,
                Token::Bar if self.layer == Layer::Other => self.layer = Layer::First,
                _ => return,
            }
        }
        match token {
            Token::Note(staff, length) => self.note(staff, length, at),
            Token::Rest(length) => match &mut self.stack {
                Some(stack) => stack.rest(length),
                None => self.event(None, length, at),
            },
            Token::BarRest(bars) => self.bar_rest(bars, at),
            Token::StackOpen => {
                self.close_stack();
                self.commit();
                self.stack = Some(Stack::new(at));
            }
            Token::StackClose(length) => self.end_stack(length, at),
            Token::Bar => {
                self.close_stack();
                self.commit();
                self.draft.bar_line();
                self.accidentals.end_bar();
            }
            Token::Broken(signs) => self.broken(signs, at),
            Token::Tie => self.tie(),
            Token::Tuplet { notes, time, span } => self.begin_tuplet(notes, time, span, at),
            Token::Quoted(text) => self.quoted(text),
            Token::Overlay => {
                self.remarks.say_once(Matter::Overlays, || {
                    "bars in several layers (`&`): the first layer is read".to_owned()
                });
                self.layer = match self.layer {
                    Layer::FirstOfMany => Layer::OtherOfMany,
                    _ => Layer::Other,
                };
            }
            Token::OverlayOpen => self.layer = Layer::FirstOfMany,
            Token::OverlayClose => self.layer = Layer::First,
            Token::Sign(letter) => {
                let is_defined = self.defined_signs >> (letter & 127) & 1 == 1;
                if !is_defined && !KNOWN_SIGNS.contains(&letter) {
                    self.remarks.unread_sign(letter.into());
                }
            }
            Token::Unknown(character) => self.remarks.unread_sign(character),
            // Fields may concern the whole tune; its reader takes them.
            Token::Field(_) => {}
        }
    }

    fn note(&mut self, staff: Staff, length: Length, at: usize) {
        if self.stack.is_none() {
            self.commit();
        }
        let pitch = self.pitch(staff, at);
        match &mut self.stack {
            None => self.event(pitch, length, at),
            Some(stack) => stack.note(pitch, length),
        }
    }

    /// The pitch of a note; none, and a fault, when it does not exist.
    fn pitch(&mut self, staff: Staff, at: usize) -> Option<Pitch> {
        let octave = staff
            .octave
            .saturating_add(self.key_octave)
            .saturating_add(self.voice_octave);
        let alteration = self.accidentals.alteration(staff);
        let mut semitones = alteration.semitones;
        // Common practice: a tie carries an accidental over the bar line, for this one note.
        if let (Some(tied), None) = (self.tied, staff.accidental)
            && (tied.letter(), tied.octave()) == (staff.letter, octave)
        {
            semitones = tied.alteration();
        } else if alteration.is_from_another_octave {
            self.remarks.say_once(Matter::Octaves, || {
                format!(
                    "an accidental is taken to hold in every octave up to the bar line, as for the {}; \
                     `%%propagate-accidentals octave` keeps it to its own",
                    staff.letter
                )
            });
        }
        match Pitch::new(staff.letter, semitones, octave) {
            Ok(pitch) => Some(pitch),
            Err(error) => {
                self.fault(at, error.to_string(), "check the octave marks `,` and `'`");
                None
            }
        }
    }

    fn event(&mut self, pitch: Option<Pitch>, written: Length, at: usize) {
        self.commit();
        let share = self.share.take().map_or(Length::ONE, |(share, _)| share);
        let in_tuplet = self.tuplet.next_share();
        let length = self
            .unit
            .times(written)
            .and_then(|it| it.times(in_tuplet))
            .and_then(|it| it.times(share));
        if let Some(length) = self.countable(length, at) {
            self.begin_chord();
            self.pending = Some(Event {
                pitch,
                length,
                is_tied: false,
                at,
            });
        }
    }

    fn countable(&mut self, length: Option<Length>, at: usize) -> Option<Length> {
        if length.is_none() {
            self.fault(
                at,
                "a length beyond counting".to_owned(),
                "check the numbers after the note",
            );
        }
        length
    }

    fn begin_chord(&mut self) {
        if let Some(chord) = self.chord.take() {
            self.draft.chords.set(self.draft.now, chord);
        }
    }

    /// Puts the last note or rest into the draft: nothing can change it any more.
    fn commit(&mut self) {
        let Some(event) = self.pending.take() else {
            return;
        };
        let Some(duration) = event.length.quarters() else {
            self.countable(None, event.at);
            return;
        };
        let result = match event.pitch {
            Some(pitch) if self.tied == Some(pitch) => self.draft.tie(duration),
            Some(pitch) => self.draft.note(pitch, duration),
            None => self.draft.rest(duration),
        };
        if self.tied.is_some() && self.tied != event.pitch {
            self.slurred();
        }
        self.tied = event.pitch.filter(|_| event.is_tied);
        self.check(result, event.at);
    }

    fn slurred(&mut self) {
        self.remarks.say_once(Matter::Slurred, || {
            "ties that do not lead to the same pitch are taken as slurs".to_owned()
        });
    }

    /// Stops reading when time has run out, or the tune is too large.
    fn check(&mut self, result: Result<(), MelodyError>, at: usize) {
        self.events += 1;
        if let Err(error) = result {
            self.give_up(at, error.to_string(), "check the lengths here, and `L:`");
        } else if self.events > MOST_EVENTS {
            let problem = format!("more than {MOST_EVENTS} notes and rests");
            self.give_up(at, problem, "split the tune");
        }
    }

    fn bar_rest(&mut self, bars: u32, at: usize) {
        self.commit();
        self.tied = None;
        let Some(meter) = self.meter else {
            self.fault(
                at,
                "a rest of whole bars in free meter".to_owned(),
                "write the rest with `z` and its length",
            );
            return;
        };
        if bars > LONGEST_REST {
            self.fault(
                at,
                format!("a rest of {bars} bars"),
                "rest for at most 999 bars at a time",
            );
            return;
        }
        self.begin_chord();
        for bar in 0..bars {
            if bar > 0 {
                self.draft.bar_line();
            }
            let result = self.draft.rest(meter.bar_length());
            self.check(result, at);
            if self.has_given_up {
                return;
            }
        }
    }

    fn end_stack(&mut self, length: Length, at: usize) {
        let Some(stack) = self.stack.take() else {
            self.fault(
                at,
                "`]` without `[`".to_owned(),
                "open the stack of notes with `[`, or take the `]` out",
            );
            return;
        };
        let Some(inner) = stack.length() else {
            self.fault(
                stack.at,
                "a stack without notes".to_owned(),
                "write the notes between `[` and `]`",
            );
            return;
        };
        if let Some(length) = self.countable(inner.times(length), stack.at) {
            self.remarks.say_once(Matter::Stacks, || {
                "of notes stacked on each other the top one is the melody".to_owned()
            });
            let (top, is_tied) = stack.top();
            self.event(top, length, stack.at);
            if let Some(event) = &mut self.pending {
                event.is_tied = is_tied;
            }
        }
    }

    /// A stack that is still open at a bar line, at the end of a line or at the next stack is a fault.
    pub fn close_stack(&mut self) {
        if let Some(stack) = self.stack.take() {
            let (problem, hint) = Problem::Unclosed('[').explain();
            self.fault(stack.at, problem, hint);
        }
    }

    fn broken(&mut self, signs: i8, at: usize) {
        let (longer, shorter) = Length::broken(signs.unsigned_abs().into());
        let (first, second) = if signs > 0 {
            (longer, shorter)
        } else {
            (shorter, longer)
        };
        match &mut self.pending {
            Some(event) if self.share.is_none() => {
                let length = event.length.times(first);
                event.length = length.unwrap_or(event.length);
                self.share = Some((second, at));
                self.countable(length, at);
            }
            _ => self.fault(
                at,
                "broken rhythm without a note before it".to_owned(),
                "write `>` or `<` between two notes",
            ),
        }
    }

    fn tie(&mut self) {
        match (&mut self.stack, &mut self.pending) {
            (Some(stack), _) => stack.tie(),
            (None, Some(event)) if event.pitch.is_some() => event.is_tied = true,
            _ => self.slurred(),
        }
    }

    fn begin_tuplet(&mut self, notes: u32, time: Option<u32>, span: Option<u32>, at: usize) {
        if !self.tuplet.is_over() {
            self.remarks.say_once(Matter::Tuplets, || {
                "a tuplet begins before the one ahead of it has all its notes".to_owned()
            });
        }
        match Tuplet::new(notes, time, span, self.meter) {
            Some(tuplet) => self.tuplet = tuplet,
            None => self.fault(
                at,
                format!("a tuplet of {notes} notes"),
                "say in the time of how many notes it is played, as in `(11:8`; at most 99",
            ),
        }
    }

    /// A chord symbol holds from the next note or rest on; annotations are left out.
    ///
    /// Source: ABC 2.1, 4.18 and 4.19 (from memory): an annotation begins with one of `^ _ < > @`.
    fn quoted(&mut self, text: &[u8]) {
        if matches!(text, [b'^' | b'_' | b'<' | b'>' | b'@', ..]) {
            return;
        }
        match Chord::parse_symbol(decode(text).0.trim()) {
            Ok(chord) => self.chord = Some(chord),
            Err(_) => self.remarks.unread_chord(text),
        }
    }

    /// `U:T=!trill!` gives a letter a meaning, though none that matters to the melody.
    pub fn define_sign(&mut self, value: &[u8]) {
        if let Some(letter @ 0..=127) = value.first() {
            self.defined_signs |= 1 << letter;
        }
    }

    pub fn set_meter(&mut self, meter: Option<Meter>) {
        self.commit();
        self.meter = meter;
        self.draft.meters.set(self.draft.now, meter);
    }

    pub fn set_tempo(&mut self, tempo: Option<Tempo>) {
        self.commit();
        if let Some(tempo) = tempo {
            self.draft.tempos.set(self.draft.now, tempo);
        }
    }

    pub fn set_key(&mut self, field: KeyField) {
        self.commit();
        self.key_octave = field.octave.unwrap_or(self.key_octave);
        if let Some(signature) = field.signature {
            self.accidentals.signature = signature;
        }
        match field.key {
            Some(key) => self.draft.keys.set(self.draft.now, key),
            None if field.signature.is_some() && !self.draft.keys.is_empty() => {
                self.remarks.say_once(Matter::KeyGivenUp, || {
                    "where the tune gives up its key, degrees are still told in the key before"
                        .to_owned()
                });
            }
            None => {}
        }
    }

    pub fn section(&mut self, name: String) {
        self.commit();
        self.draft.sections.set(self.draft.now, name);
    }

    /// Nothing more will come: what has been read, or what is wrong with it in the order of the file.
    pub fn finish(mut self) -> Result<(Draft, Remarks), Unreadable> {
        if !self.has_given_up() {
            self.end();
        }
        self.faults.sort_by_key(|(at, _)| *at);
        let faults = self.faults.into_iter().map(|(_, fault)| fault).collect();
        match Unreadable::from_faults(faults) {
            Some(unreadable) => Err(unreadable),
            None => Ok((self.draft, self.remarks)),
        }
    }

    fn end(&mut self) {
        self.close_stack();
        self.commit();
        if let Some((_, at)) = self.share.take() {
            self.fault(
                at,
                "broken rhythm without a note after it".to_owned(),
                "write `>` or `<` between two notes",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::format::abc::{Options, read};
    use crate::format::{Reading, Unreadable};

    fn read_body(fields: &str, music: &str) -> Result<Reading, Unreadable> {
        let text = format!("X:1\nL:1/4\n{fields}\nK:C\n{music}\n");
        read(text.as_bytes(), &Options::default())
    }

    /// Notes as `pitch:duration`, with `z:` for the time between them.
    fn check(fields: &str, music: &str, expected: &str) {
        let melody = read_body(fields, music)
            .unwrap_or_else(|faults| panic!("{music}: {faults}"))
            .melody;
        let mut now = 0.into();
        let mut found = Vec::new();
        for note in melody.notes() {
            if note.onset > now {
                found.push(format!("z:{}", note.onset - now));
            }
            found.push(format!("{}:{}", note.pitch, note.duration));
            now = note.end();
        }
        if melody.length() > now {
            found.push(format!("z:{}", melody.length() - now));
        }
        assert_eq!(found.join(" "), expected, "{music}");
    }

    fn check_fault(music: &str, expected: &str) {
        match read_body("M:4/4", music) {
            Ok(reading) => panic!("{music}: {reading:?}"),
            Err(faults) => assert_eq!(faults.to_string(), expected, "{music}"),
        }
    }

    #[test]
    fn notes_and_rests_take_time() {
        check("", "C2 z/ x/ c", "C4:2 z:1 C5:1");
        check("M:3/4", "C3|Z2|D3|", "C4:3 z:6 D4:3");
        check("", "(CD).E~F`G y A\\", "C4:1 D4:1 E4:1 F4:1 G4:1 A4:1");
    }

    #[test]
    fn broken_rhythm_shares_the_time_of_two() {
        check("", "C>D", "C4:3/2 D4:1/2");
        check("", "C<<D", "C4:1/4 D4:7/4");
        check("", "C > {g}D E>z", "C4:3/2 D4:1/2 E4:3/2 z:1/2");
        check("", "C<D>E", "C4:1/2 D4:9/4 E4:1/2"); // shortened, then dotted
        check("", "C>|D", "C4:3/2 D4:1/2");
    }

    #[test]
    fn tuplets_squeeze_and_stretch() {
        check("M:4/4", "(3CDE F", "C4:2/3 D4:2/3 E4:2/3 F4:1");
        check("M:6/8", "(2CD E", "C4:3/2 D4:3/2 E4:1");
        check("M:4/4", "(5CDEFG", "C4:2/5 D4:2/5 E4:2/5 F4:2/5 G4:2/5");
        check("M:6/8", "(5CDEFG", "C4:3/5 D4:3/5 E4:3/5 F4:3/5 G4:3/5");
        check("", "(3:2:2C2D E", "C4:4/3 D4:2/3 E4:1"); // r: for two notes
        check("", "(3C>zD", "C4:1 z:1/3 D4:2/3");
        check("", "(3{c}[CE]DE F", "E4:2/3 D4:2/3 E4:2/3 F4:1");
        check("", "(11:8:1C D", "C4:8/11 D4:1");
        check("", "(3C(3DEF G", "C4:2/3 D4:2/3 E4:2/3 F4:2/3 G4:1");
    }

    #[test]
    fn ties_make_one_note() {
        check("", "C-C|-C", "C4:2 C4:1"); // the sign follows its note
        check("", "C-|C-\nC D", "C4:3 D4:1");
        check("", "^C-|C C", "C#4:2 C4:1"); // the accidental crosses the bar line with the tie, and no further
        check("", "C-D", "C4:1 D4:1");
        check("", "C-^C", "C4:1 C#4:1");
        check("", "C-z C", "C4:1 z:1 C4:1");
        check("", "[CE]-[CE] [C-E][CE] [CE-]E", "E4:2 E4:1 E4:1 E4:2");
        check("", "C>-C", "C4:2");
    }

    #[test]
    fn stacks_are_their_top_note() {
        check("", "[CEG]2 [c/E2]2", "G4:2 C5:1");
        check("", "[^CE,]|[C\"Am\"!trill!E]", "C#4:1 E4:1");
        check("", "[CE]>[DF]", "E4:3/2 F4:1/2");
        check("", "[ce]C [A,B,c']", "E5:1 C4:1 C6:1");
        let remarks = read_body("", "[CE][CE]").unwrap().remarks;
        assert_eq!(
            remarks,
            ["of notes stacked on each other the top one is the melody"]
        );
    }

    #[test]
    fn of_several_layers_the_first_is_read() {
        check("", "C D & E ^F | F G", "C4:1 D4:1 F4:1 G4:1");
        check("", "(& C | D & E | F &) G", "C4:1 D4:1 G4:1");
    }

    #[test]
    fn bar_lines_make_bars() {
        let cases = [
            ("M:4/4", "|:CDEF|G4:|2CDEF||c4|]", "0 4 8 12"),
            ("M:4/4", "C|DEFG|A4|", "0 1 5"),
            ("M:4/4", "C4|Z3|D4", "0 4 8 12 16"),
            ("M:2/4", "CD|C [1 D:|[2 E||F2", "0 2 4 5"), // the ending begins within its bar
            ("M:2/4", "CDEF", "0 2"),                    // none written: by the meter
        ];
        for (fields, music, expected) in cases {
            let melody = read_body(fields, music).unwrap().melody;
            let onsets: Vec<String> = melody
                .bars()
                .iter()
                .map(|bar| bar.onset.to_string())
                .collect();
            assert_eq!(onsets.join(" "), expected, "{music}");
        }
    }

    #[test]
    fn chord_symbols_hold_from_the_next_note() {
        let reading = read_body(
            "",
            "\"Am\"A2 \"^slow\"\"D7/F#\"B{c}>\"N.C.\"z \"G\"|\"tr\"G",
        )
        .unwrap();
        let chords: Vec<_> = reading
            .melody
            .chords()
            .iter()
            .map(|(onset, chord)| {
                (
                    onset.to_string(),
                    chord.map_or("-".to_owned(), |chord| chord.to_string()),
                )
            })
            .collect();
        let expected = [("0", "Am"), ("2", "D7/F#"), ("7/2", "-"), ("4", "G")];
        assert_eq!(
            chords,
            expected.map(|(onset, chord)| (onset.to_owned(), chord.to_owned()))
        );
        assert_eq!(
            reading.remarks,
            ["text that is no chord symbol is left out: `tr`"]
        );
    }

    #[test]
    fn letters_for_decorations_may_be_defined() {
        let reading = read_body("U:n=!upbow!", "TC nD WE").unwrap();
        assert_eq!(
            reading.remarks,
            ["signs without a meaning in music are left out: `W`"]
        );
    }

    #[test]
    fn an_accidental_in_another_octave_is_worth_a_remark() {
        check("", "^c C|C", "C#5:1 C#4:1 C4:1");
        check("%%propagate-accidentals octave", "^c C", "C#5:1 C4:1");
        check("I:propagate-accidentals not", "^c c", "C#5:1 C5:1");
        let remarks = read_body("", "^c C").unwrap().remarks;
        assert!(remarks[0].contains("every octave"), "{remarks:?}");
    }

    #[test]
    fn what_cannot_be_played_is_a_fault_at_its_place() {
        // The music stands on line 5.
        check_fault(
            "CDE|F >> > G",
            "line 5, column 10: broken rhythm without a note before it",
        );
        check_fault(
            "> C",
            "line 5, column 1: broken rhythm without a note before it",
        );
        check_fault(
            "C D>",
            "line 5, column 4: broken rhythm without a note after it",
        );
        check_fault(
            "C [EG | C",
            "line 5, column 3: `[` is not closed on this line",
        );
        check_fault(
            "C [EG\nC]",
            "line 5, column 3: `[` is not closed on this line\nline 6, column 2: `]` without `[`",
        );
        check_fault("C []", "line 5, column 3: a stack without notes");
        check_fault(
            "C,,,,,,",
            "line 5, column 1: MIDI note -12 is not in the range 0 to 127",
        );
        check_fault("CD (12EF", "line 5, column 4: a tuplet of 12 notes");
        check_fault("C Z1000", "line 5, column 3: a rest of 1000 bars");
        check_fault("C \"é\" 2", "line 5, column 7: a number without a note");
        check_fault(
            "[M:none] C Z",
            "line 5, column 12: a rest of whole bars in free meter",
        );
        check_fault("z|z", "line 1, column 1: there is no note in it");
        check_fault(
            "(11:3C(97:5D(89:7E(83:6F",
            "line 5, column 24: note 4 begins or ends on a grid finer than 1/1000000 of a quarter note",
        );
        check_fault(
            "C1000000D1000000E1000000F1000000G",
            "line 5, column 33: note 5 lies beyond 4000000 quarter notes from the start",
        );
    }
}
