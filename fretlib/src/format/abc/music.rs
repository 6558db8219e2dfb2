//! The music of one voice: signs in, notes in time out.

#[cfg(test)]
mod tests;
mod time;

use self::time::Event;
use crate::format::abc::accidentals::BarAccidentals;
use crate::format::abc::decoding::{decode, unescape};
use crate::format::abc::key_field::KeyField;
use crate::format::abc::lexer::Token;
use crate::format::abc::note_length::Length;
use crate::format::abc::source::location;
use crate::format::abc::stack::Stack;
use crate::format::abc::tuplet_sign::TupletSign;
use crate::format::abc::warnings::{WarningKind, Warnings};
use crate::format::bar_line::BarLine;
use crate::format::form_words;
use crate::format::limits::MOST_EVENTS;
use crate::format::lyric_line::{SungNote, set_under};
use crate::format::{Diagnostic, ReadError};
use crate::melody::{Draft, FormSign, Meter, Quarters, Syllable, Tempo};
use crate::theory::{Chord, Pitch};

/// Letters that stand for a decoration without being defined. Source: ABC 2.1, 4.14 (from memory).
const KNOWN_SIGNS: &[u8] = b"~HLMOPSTuv";

/// The state of reading the music of a voice.
pub(super) struct Music<'a> {
    bytes: &'a [u8],
    pub draft: Draft,
    pub warnings: Warnings,
    // Each with its place in the file.
    diagnostics: Vec<(usize, Diagnostic)>,
    pub meter: Option<Meter>,
    pub unit: Length,
    pub accidentals: BarAccidentals,
    /// The octaves by which the voice's `octave=` moves its notes.
    pub voice_octave: i8,
    key_octave: i8,
    defined_signs: u128,
    events: usize,
    has_given_up: bool,
    // The last note or rest, which the next sign may still lengthen or tie.
    pending: Option<Event>,
    // The pitch that is tied over from the last note in the draft.
    tied: Option<Pitch>,
    chord: Option<Option<Chord>>,
    // The share of broken rhythm for the next note, and the place of its sign.
    share: Option<(Length, usize)>,
    // Jumps that take effect at the end of this bar.
    signs_at_bar_end: Vec<FormSign>,
    // How many times the strain is played, from `|::`.
    times: u8,
    tuplet: TupletSign,
    // The onset of the first note of the current tuplet.
    tuplet_start: Option<Quarters>,
    stack: Option<Stack>,
    layer: BarLayer,
    /// The notes since the last words under them.
    sung: Vec<SungNote>,
}

/// Which layer of a bar is being read: `&` begins another one at the start of the bar.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum BarLayer {
    /// The only one or the first.
    First,
    /// The first of several that continue over bar lines, after `(&`.
    FirstOfMany,
    /// Another one, to the bar line.
    Other,
    /// Another one, to `&)`.
    OtherOfMany,
}

impl<'a> Music<'a> {
    /// No music yet; `size` is the number of bytes to come.
    pub fn new(bytes: &'a [u8], size: usize) -> Music<'a> {
        let mut draft = Draft::default();
        draft.notes.reserve((size / 4).min(MOST_EVENTS / 100));
        Music {
            bytes,
            draft,
            warnings: Warnings::default(),
            diagnostics: Vec::new(),
            meter: None,
            unit: Length::EIGHTH,
            accidentals: BarAccidentals::default(),
            voice_octave: 0,
            key_octave: 0,
            defined_signs: 0,
            events: 0,
            has_given_up: false,
            pending: None,
            tied: None,
            chord: None,
            share: None,
            signs_at_bar_end: Vec::new(),
            times: 0,
            tuplet: TupletSign::OVER,
            tuplet_start: None,
            stack: None,
            layer: BarLayer::First,
            sung: Vec::new(),
        }
    }

    pub fn fault(&mut self, at: usize, problem: String, hint: &str) {
        let fault = Diagnostic {
            at: location(self.bytes, at),
            problem,
            hint: Some(hint.to_owned()),
        };
        self.diagnostics.push((at, fault));
    }

    /// A fatal error, which ends the reading.
    pub fn give_up(&mut self, at: usize, problem: String, hint: &str) {
        self.has_given_up = true;
        self.fault(at, problem, hint);
    }

    /// True when reading on would only repeat errors.
    pub fn has_given_up(&self) -> bool {
        self.has_given_up || self.diagnostics.len() >= ReadError::MOST
    }

    /// Takes the next sign, at the byte `at` of the file.
    pub fn token(&mut self, token: Token, at: usize) {
        if matches!(self.layer, BarLayer::Other | BarLayer::OtherOfMany) {
            match token {
                Token::OverlayClose => self.layer = BarLayer::First,
                Token::Bar(_) if self.layer == BarLayer::Other => self.layer = BarLayer::First,
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
            Token::Bar(line) => self.bar_line(line),
            Token::Ending(numbers) => {
                self.commit();
                self.form_sign(FormSign::Ending(numbers));
            }
            Token::Form(sign) => self.word_of_form(sign),
            Token::Broken(signs) => self.broken(signs, at),
            Token::Tie => self.tie(),
            Token::Tuplet { notes, time, span } => self.begin_tuplet(notes, time, span, at),
            Token::Quoted(text) => self.quoted(text),
            Token::Overlay => {
                self.warnings.say_once(WarningKind::Overlays, || {
                    "bars in several layers (`&`): the first layer is read".to_owned()
                });
                self.layer = match self.layer {
                    BarLayer::FirstOfMany => BarLayer::OtherOfMany,
                    _ => BarLayer::Other,
                };
            }
            Token::OverlayOpen => self.layer = BarLayer::FirstOfMany,
            Token::OverlayClose => self.layer = BarLayer::First,
            Token::Sign(letter) => {
                let is_defined = self.defined_signs >> (letter & 127) & 1 == 1;
                match letter {
                    _ if is_defined => {}
                    b'S' => self.word_of_form(FormSign::Segno),
                    b'O' => self.word_of_form(FormSign::Coda),
                    _ => {}
                }
                if !is_defined && !KNOWN_SIGNS.contains(&letter) {
                    self.warnings.unread_sign(letter.into());
                }
            }
            Token::Unknown(character) => self.warnings.unread_sign(character),
            // The reader of the tune handles fields, since they may concern the whole tune.
            Token::Field(_) => {}
        }
    }

    fn bar_line(&mut self, line: BarLine) {
        self.close_stack();
        self.commit();
        self.draft.bar_line();
        self.accidentals.end_bar();
        for sign in std::mem::take(&mut self.signs_at_bar_end) {
            self.form_sign(sign);
        }
        for sign in line.form_signs(&mut self.times) {
            self.form_sign(sign);
        }
    }

    fn form_sign(&mut self, sign: FormSign) {
        self.draft.form.add(self.draft.now, sign);
    }

    /// Jumps wait for the end of the bar; a segno and a coda take effect at once.
    fn word_of_form(&mut self, sign: FormSign) {
        self.commit();
        match sign.ends() {
            true => self.signs_at_bar_end.push(sign),
            false => self.form_sign(sign),
        }
    }

    /// Notes a line break of the source, if it is at a bar line.
    pub fn line_end(&mut self) {
        if self.pending.is_none() {
            self.draft.line_breaks.push(self.draft.now);
        }
    }

    fn begin_chord(&mut self) {
        if let Some(chord) = self.chord.take() {
            self.draft.chords.set(self.draft.now, chord);
        }
    }

    /// A chord symbol holds from the next note or rest on; annotations are left out.
    ///
    /// Source: ABC 2.1, 4.18 and 4.19 (from memory): an annotation begins with one of `^ _ < > @`.
    fn quoted(&mut self, text: &[u8]) {
        let is_annotation = matches!(text, [b'^' | b'_' | b'<' | b'>' | b'@', ..]);
        let text_only = decode(&text[usize::from(is_annotation)..]).0;
        if let Some(sign) = form_words::parse(&text_only) {
            return self.word_of_form(sign);
        }
        if is_annotation {
            return;
        }
        match Chord::parse_symbol(text_only.trim()) {
            Ok(chord) => self.chord = Some(chord),
            Err(_) => self.warnings.unread_chord(text),
        }
    }

    /// `U:T=!trill!` gives a letter a meaning that does not matter to the melody.
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
                self.warnings.say_once(WarningKind::KeyGivenUp, || {
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

    /// Sets lines of words, one for each verse, under the notes since the last ones.
    ///
    /// Source: ABC 2.1, 5.1 (from memory): the words under some notes belong to all those since the last words.
    pub fn set_words_under(&mut self, verses: &[String]) {
        self.commit();
        let notes = std::mem::take(&mut self.sung);
        let letters = |text: &str| unescape(text).into_owned();
        for (verse, line) in (1..=Syllable::MOST_VERSES).zip(verses) {
            let set = set_under(line, verse, &notes, &self.draft.bars, letters);
            self.draft.lyrics.extend(set.syllables);
            if set.left_over > 0 {
                self.warnings.say_once(WarningKind::Lyrics, || {
                    "a line of words has more syllables than notes; those left over are dropped"
                        .to_owned()
                });
            }
        }
    }

    /// Ends the reading: gives the draft, or the errors in the order of the file.
    pub fn finish(mut self) -> Result<(Draft, Warnings), ReadError> {
        if !self.has_given_up() {
            self.end();
        }
        self.diagnostics.sort_by_key(|(at, _)| *at);
        let diagnostics = self
            .diagnostics
            .into_iter()
            .map(|(_, fault)| fault)
            .collect();
        match ReadError::from_diagnostics(diagnostics) {
            Some(unreadable) => Err(unreadable),
            None => Ok((self.draft, self.warnings)),
        }
    }

    fn end(&mut self) {
        self.close_stack();
        self.commit();
        self.end_tie();
        for sign in std::mem::take(&mut self.signs_at_bar_end) {
            self.form_sign(sign);
        }
        if let Some((_, at)) = self.share.take() {
            self.fault(
                at,
                "broken rhythm without a note after it".to_owned(),
                "write `>` or `<` between two notes",
            );
        }
    }
}
