//! One tune: its header and its body, field by field and line by line, into a draft.

use std::ops::Range;

use super::accidentals::Reach;
use super::lexer::{Lexer, Token};
use super::music::Music;
use super::remarks::Matter;
use super::source::{Field, Line, LineKind, Lines, location};
use super::text::{Encoding, decode, quote, unescape};
use super::voice::{TooManyVoices, Voices};
use super::{field, key};
use crate::format::{Fault, Location, Reading, Unreadable};
use crate::melody::{Melody, MelodyError};

/// Reads the tune that lies at `range`, with the fields that the file sets for all its tunes.
pub(super) fn read(
    bytes: &[u8],
    header: Range<usize>,
    range: Range<usize>,
    voice: Option<&str>,
) -> Result<Reading, Unreadable> {
    let mut tune = Tune {
        bytes,
        music: Music::new(bytes, range.len()),
        voices: Voices::new(voice),
        unit_is_given: false,
        tempo: None,
        last_text: None,
    };
    tune.read_file_header(header);
    let mut lines = Lines::new(bytes, range.clone());
    tune.read_header(&mut lines);
    tune.read_body(lines);
    tune.finish(range.start)
}

/// A text field that `+:` can go on with.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Text {
    Title,
    Composer,
}

struct Tune<'a> {
    bytes: &'a [u8],
    music: Music<'a>,
    voices: Voices,
    unit_is_given: bool,
    // A tempo in the header may count in unit notes, which are known at its end.
    tempo: Option<Field<'a>>,
    last_text: Option<Text>,
}

impl<'a> Tune<'a> {
    fn read_file_header(&mut self, range: Range<usize>) {
        for line in Lines::new(self.bytes, range) {
            match line.kind() {
                LineKind::Field(field)
                    if matches!(field.name, b'M' | b'L' | b'Q' | b'U' | b'I' | b'm') =>
                {
                    self.header_field(field);
                }
                LineKind::Directive(directive) => self.directive(directive),
                _ => {}
            }
        }
    }

    /// Reads up to the `K:` field; where there is none, up to the first line that is no field.
    fn read_header(&mut self, lines: &mut Lines<'a>) {
        let has_key = lines
            .clone()
            .any(|line| matches!(line.kind(), LineKind::Field(Field { name: b'K', .. })));
        while !self.music.has_given_up() {
            let before = lines.clone();
            let Some(line) = lines.next() else { break };
            match line.kind() {
                LineKind::Field(field @ Field { name: b'K', .. }) => {
                    self.begin_body();
                    self.key(field);
                    return;
                }
                LineKind::Field(field) => self.header_field(field),
                LineKind::Directive(directive) => self.directive(directive),
                LineKind::Music if !has_key => {
                    *lines = before;
                    break;
                }
                // Text of several lines, such as a history, and stray empty lines.
                LineKind::Music | LineKind::Blank | LineKind::Comment => {}
            }
        }
        self.music.remarks.say(
            "there is no `K:` field, so the tune has no sharps or flats but those printed"
                .to_owned(),
        );
        self.begin_body();
    }

    fn header_field(&mut self, field: Field<'a>) {
        if field.name != b'+' {
            self.last_text = None;
        }
        match field.name {
            b'T' if self.music.draft.title.is_empty() => {
                self.music.draft.title = self.text(field.value);
                self.last_text = Some(Text::Title);
            }
            b'C' if self.music.draft.composer.is_none() => {
                let composer = self.text(field.value);
                self.music.draft.composer = Some(composer).filter(|name| !name.is_empty());
                self.last_text = Some(Text::Composer);
            }
            b'+' => self.go_on(field.value),
            b'Q' => self.tempo = Some(field),
            b'V' => {
                self.declare_voice(field);
            }
            // In the header the order in which the parts are played.
            b'P' => {}
            _ => self.field(field),
        }
    }

    fn go_on(&mut self, value: &[u8]) {
        let more = self.text(value);
        let text = match self.last_text {
            Some(Text::Title) => &mut self.music.draft.title,
            Some(Text::Composer) => self.music.draft.composer.get_or_insert_default(),
            None => return,
        };
        text.push(' ');
        text.push_str(&more);
    }

    /// What the fields of the header leave open is settled.
    fn begin_body(&mut self) {
        if !self.unit_is_given {
            self.music.unit = field::default_unit(self.music.meter);
        }
        if let Some(field) = self.tempo.take() {
            self.tempo(field);
        }
    }

    fn read_body(&mut self, mut lines: Lines<'a>) {
        while let Some(line) = lines.next() {
            if self.music.has_given_up() {
                return;
            }
            match line.kind() {
                LineKind::Blank => {
                    self.note_music_after(line, lines);
                    return;
                }
                LineKind::Comment => {}
                LineKind::Directive(directive) => self.directive(directive),
                LineKind::Field(field) => self.body_field(field),
                LineKind::Music => self.music_line(line.music()),
            }
        }
    }

    /// Tells of music that the empty line cuts off, for it is easily set by mistake.
    fn note_music_after(&mut self, blank: Line<'a>, lines: Lines<'a>) {
        let is_music =
            |line: &Line| line.kind() == LineKind::Music && line.music().text.contains(&b'|');
        let Some(music) = lines.into_iter().find(is_music) else {
            return;
        };
        let line_of = |offset| match location(self.bytes, offset) {
            Location::Text { line, .. } => line,
            Location::Whole | Location::Byte(_) => 0,
        };
        let (blank, music) = (line_of(blank.start), line_of(music.start));
        self.music.remarks.say(format!(
            "the tune ends at the empty line {blank}; what follows from line {music} on is not read"
        ));
    }

    fn music_line(&mut self, line: Line<'a>) {
        let mut lexer = Lexer::new(line);
        while let Some(token) = lexer.next() {
            let at = lexer.start();
            match token {
                Ok(Token::Field(field)) => self.body_field(field),
                _ if !self.voices.is_heard() => {}
                Ok(token) => self.music.token(token, at),
                Err(problem) => {
                    let (problem, hint) = problem.explain();
                    self.music.fault(at, problem, hint);
                }
            }
            if self.music.has_given_up() {
                return;
            }
        }
        if self.voices.is_heard() {
            self.music.close_stack();
        }
    }

    fn body_field(&mut self, field: Field<'a>) {
        match field.name {
            b'V' => {
                if let Some(index) = self.declare_voice(field) {
                    self.voices.enter(index);
                    self.music.voice_octave = self.voices.octave();
                }
            }
            _ if !self.voices.is_field_heard() => {}
            b'K' => self.key(field),
            b'Q' => self.tempo(field),
            b'P' => {
                let name = self.text(field.value);
                self.music.section(name);
            }
            _ => self.field(field),
        }
    }

    /// Fields that mean the same in the header and in the body.
    fn field(&mut self, field: Field<'a>) {
        match field.name {
            b'M' => match field::meter(field.value) {
                Some(meter) => self.music.set_meter(meter),
                None => {
                    self.music.set_meter(None);
                    self.music.remarks.say_once(Matter::Meter, || {
                        format!(
                            "the meter {} is not known and is taken as free",
                            quote(field.value)
                        )
                    });
                }
            },
            b'L' if field.value.is_empty() => {}
            b'L' => match field::unit(field.value) {
                Some(unit) => {
                    self.music.unit = unit;
                    self.unit_is_given = true;
                }
                None => self.music.fault(
                    field.start,
                    format!("{} is not a note length", quote(field.value)),
                    "write the unit note length as a fraction, such as `L:1/8`",
                ),
            },
            b'U' => self.music.define_sign(field.value),
            b'm' => self.music.remarks.say_once(Matter::Macros, || {
                "macros (`m:`) are not expanded".to_owned()
            }),
            b'I' => self.directive(field.value),
            // Words, remarks, sources and the like say nothing of the melody.
            _ => {}
        }
    }

    fn directive(&mut self, directive: &[u8]) {
        if let Some(value) = directive.strip_prefix(b"propagate-accidentals") {
            let reach = Reach::parse(value.trim_ascii());
            self.music.accidentals.reach = reach.unwrap_or(self.music.accidentals.reach);
        }
    }

    fn key(&mut self, field: Field<'a>) {
        match key::parse(field.value) {
            Ok(key) => self.music.set_key(key),
            Err(problem) => self.music.fault(
                field.start,
                format!("{} is not a key that can be read", quote(field.value)),
                problem.hint(),
            ),
        }
    }

    fn tempo(&mut self, field: Field<'a>) {
        match field::tempo(field.value, self.music.unit) {
            Some(tempo) => self.music.set_tempo(tempo),
            None => self.music.remarks.say_once(Matter::Tempo, || {
                format!("the tempo {} cannot be read", quote(field.value))
            }),
        }
    }

    fn declare_voice(&mut self, field: Field<'a>) -> Option<usize> {
        match self.voices.declare(field::voice(field.value)) {
            Ok(index) => {
                self.music.voice_octave = self.voices.octave();
                Some(index)
            }
            Err(TooManyVoices) => {
                self.music.give_up(
                    field.start,
                    format!("more than {} voices", Voices::MOST),
                    "keep the voice that has the melody",
                );
                None
            }
        }
    }

    fn text(&mut self, value: &[u8]) -> String {
        let (text, encoding) = decode(value);
        if encoding == Encoding::Latin1 {
            self.music.remarks.say_once(Matter::Latin1, || {
                "the text is not UTF-8 and was read as Latin-1".to_owned()
            });
        }
        unescape(&text).into_owned()
    }

    fn finish(mut self, start: usize) -> Result<Reading, Unreadable> {
        if let Some(wanted) = self.voices.missing() {
            let hint = match self.voices.count() {
                0 => "the tune has one voice without a name".to_owned(),
                _ => format!("the tune has these voices: {}", self.voices.list()),
            };
            return Err(Unreadable::new(Fault {
                at: location(self.bytes, start),
                problem: format!("there is no voice {}", quote(wanted.as_bytes())),
                hint: Some(hint),
            }));
        }
        let empty_hint = match self.voices.count() {
            0 | 1 => "write notes after the `K:` line, as in `GABc|`".to_owned(),
            _ => format!("ask for another of its voices: {}", self.voices.list()),
        };
        if self.voices.count() > 1 {
            let remark = format!(
                "the tune has {} voices ({}); this is {}",
                self.voices.count(),
                self.voices.list(),
                self.voices.chosen_name()
            );
            self.music.remarks.say(remark);
        }
        let (draft, remarks) = self.music.finish()?;
        // The draft has refused what is wrong with a note; what is left is that there is none, or weeks of rests.
        let melody = Melody::new(draft).map_err(|error| {
            Unreadable::new(Fault {
                at: location(self.bytes, start),
                problem: error.to_string(),
                hint: Some(match error {
                    MelodyError::TooManyBars => "take the long rests out of the tune".to_owned(),
                    _ => empty_hint,
                }),
            })
        })?;
        let mut remarks = remarks.into_list();
        remarks.extend(long_bars(&melody));
        Ok(Reading { melody, remarks })
    }
}

/// A remark on bars that are longer than their meter: the likeliest slip in typing. Short ones are common, where a
/// repeat splits a bar.
fn long_bars(melody: &Melody) -> Option<String> {
    let ends = melody.bars().iter().skip(1).map(|bar| bar.onset);
    let mut long = melody
        .bars()
        .iter()
        .zip(ends.chain([melody.length()]))
        .filter(|(bar, end)| {
            let meter = melody.meters().at(bar.onset).copied().flatten();
            meter.is_some_and(|meter| *end - bar.onset > meter.bar_length())
        });
    let (first, end) = long.next()?;
    let rest = match long.count() {
        0 => String::new(),
        1 => ", and so is another".to_owned(),
        more => format!(", and so are {more} others"),
    };
    let length = end - first.onset;
    Some(format!(
        "bar {} is longer than its meter: {length} quarter notes{rest}",
        first.number
    ))
}

#[cfg(test)]
mod tests {
    use crate::format::Reading;
    use crate::format::abc::{Options, read};

    fn read_text(text: &str) -> Reading {
        read(text.as_bytes(), &Options::default())
            .unwrap_or_else(|faults| panic!("{text}: {faults}"))
    }

    fn pitches(text: &str) -> String {
        let melody = read_text(text).melody;
        let names: Vec<String> = melody
            .notes()
            .iter()
            .map(|note| note.pitch.to_string())
            .collect();
        names.join(" ")
    }

    fn check_faults(text: &str, expected: &[&str]) {
        match read(text.as_bytes(), &Options::default()) {
            Ok(reading) => panic!("{text}: {reading:?}"),
            Err(faults) => {
                let found: Vec<String> = faults.faults().iter().map(ToString::to_string).collect();
                assert_eq!(found, expected, "{text}");
            }
        }
    }

    #[test]
    fn the_header_says_what_the_tune_is() {
        let melody = read_text(
            "X:1\nT:The Long\n+:Jetty % a working title\nT:Another Name\nC:M. Aar\nM:6/8\nQ:\"Gently\" 3/8=60\nP:AB\nK:D dorian\nD6|\n",
        )
        .melody;
        assert_eq!(melody.title(), "The Long Jetty");
        assert_eq!(melody.composer(), Some("M. Aar"));
        assert_eq!(melody.keys().first().unwrap().to_string(), "D dorian");
        assert_eq!(
            melody.tempos().first().unwrap().quarters_per_minute(),
            90.into()
        );
        assert_eq!(melody.notes()[0].duration, 3.into()); // eighths, by the meter
        assert!(melody.sections().is_empty());
    }

    #[test]
    fn a_unit_tempo_waits_for_the_unit() {
        let melody = read_text("X:1\nQ:120\nM:4/4\nL:1/4\nK:C\nC|").melody;
        assert_eq!(
            melody.tempos().first().unwrap().quarters_per_minute(),
            120.into()
        );
    }

    #[test]
    fn the_body_may_change_everything() {
        let text = "X:1\nM:4/4\nL:1/4\nK:G\nP:A\nFGAB|[K:F][M:3/4]\"C7\"FGB|\nM:2/4\nL:1/8\nK:Eb\nP:B\nQ:1/4=72\nEFAB|[L:1/4]A2|\n";
        let melody = read_text(text).melody;
        let keys: Vec<String> = melody
            .keys()
            .iter()
            .map(|(at, key)| format!("{at} {key}"))
            .collect();
        assert_eq!(keys, ["0 G major", "4 F major", "7 Eb major"]);
        let meters: Vec<String> = melody
            .meters()
            .iter()
            .map(|(at, meter)| format!("{at} {}", meter.unwrap()))
            .collect();
        assert_eq!(meters, ["0 4/4", "4 3/4", "7 2/4"]);
        let sections: Vec<String> = melody
            .sections()
            .iter()
            .map(|(at, name)| format!("{at} {name}"))
            .collect();
        assert_eq!(sections, ["0 A", "7 B"]);
        assert_eq!(melody.tempos().iter().next().unwrap().0, 7.into());
        assert_eq!(melody.length(), 11.into());
        assert_eq!(pitches(text), "F#4 G4 A4 B4 F4 G4 Bb4 Eb4 F4 Ab4 Bb4 Ab4");
    }

    #[test]
    fn no_key_is_no_key() {
        for key in ["K:none", "K:", "K: clef=treble"] {
            let melody = read_text(&format!("X:1\n{key}\nFB|\n")).melody;
            assert!(melody.keys().is_empty(), "{key}");
        }
        let reading = read_text("X:1\nM:3/4\nFB c2|\n");
        assert!(
            reading.remarks[0].contains("no `K:` field"),
            "{:?}",
            reading.remarks
        );
        assert_eq!(reading.melody.notes().len(), 3);
    }

    #[test]
    fn words_layout_and_remarks_are_passed_over() {
        let text = "X:1\nH:Found in a drawer\nwith the A string | still wound round it\nK:C\n% aside\nCD|\\\n%%MIDI program 24\nw:a e-cho\n+:that goes on\ns:!f!\n%%begintext\n\nAAA | not music\n%%endtext\nr:and\n[r:so]EF|% GGG\nN:on\n";
        assert_eq!(pitches(text), "C4 D4 E4 F4");
    }

    #[test]
    fn an_empty_line_ends_the_tune() {
        let reading = read_text("X:1\nT:A\n\nK:C\nCD|\n \t\nMore of it:\nEF|\n");
        assert_eq!(reading.melody.notes().len(), 2);
        assert_eq!(
            reading.remarks,
            ["the tune ends at the empty line 6; what follows from line 8 on is not read"]
        );
        assert!(
            read_text("X:1\nK:C\nCD|\n\nA fine tune.\n")
                .remarks
                .is_empty()
        );
    }

    #[test]
    fn one_voice_is_read() {
        let two = "X:1\nV:1 name=\"Upper part\"\nV:2 octave=-1\nL:1/4\nK:C\nV:1\nCD-|\nV:2\n[K:Eb]EE \"|\n[V:1]D2|[V:2]FF|\n";
        assert_eq!(pitches(two), "C4 D4");
        assert_eq!(
            read_text(two).remarks,
            ["the tune has 2 voices (`1` (Upper part), `2`); this is `1` (Upper part)"]
        );
        let voice = |name: &str| {
            let options = Options {
                voice: Some(name.to_owned()),
                ..Options::default()
            };
            let text = two.replace(" \"|", "|");
            read(text.as_bytes(), &options).map(|reading| reading.melody.notes().to_vec())
        };
        let lower: Vec<String> = voice("2")
            .unwrap()
            .iter()
            .map(|note| note.pitch.to_string())
            .collect();
        assert_eq!(lower, ["Eb3", "Eb3", "F3", "F3"]);
        assert_eq!(voice("Upper part"), voice("1"));
        let silent = read(b"X:1\nV:1\nV:2\nK:C\nV:2\nCD|\n", &Options::default()).unwrap_err();
        let hint = silent.faults()[0].hint.as_deref();
        assert_eq!(hint, Some("ask for another of its voices: `1`, `2`"));
        let missing = voice("3").unwrap_err();
        let fault = &missing.faults()[0];
        assert_eq!(fault.to_string(), "line 1, column 1: there is no voice `3`");
        assert_eq!(
            fault.hint.as_deref(),
            Some("the tune has these voices: `1` (Upper part), `2`")
        );
    }

    #[test]
    fn bars_longer_than_their_meter_are_told() {
        let cases = [
            (
                "CDEF|GABcd|",
                Some("bar 2 is longer than its meter: 5 quarter notes"),
            ),
            (
                "CDEFG|GABcd|c6|c8",
                Some("bar 1 is longer than its meter: 5 quarter notes, and so are 3 others"),
            ),
            (
                "C8|GABcd|",
                Some("bar 1 is longer than its meter: 8 quarter notes, and so is another"),
            ),
            ("C|CD:|EF|CDEF", None), // a repeat may split a bar
            ("[M:none]C9|", None),
            ("[M:9/4]C9|", None),
        ];
        for (music, expected) in cases {
            let remarks = read_text(&format!("X:1\nM:4/4\nL:1/4\nK:C\n{music}\n")).remarks;
            assert_eq!(remarks.first().map(String::as_str), expected, "{music}");
        }
    }

    #[test]
    fn what_says_nothing_of_the_notes_is_a_remark() {
        let reading =
            read_text("X:1\nT:caf\u{e9}\nM:waltz\nL:1/4\nQ:brisk\nm:~n=nn\nK:C\nC ? D|\n");
        assert_eq!(
            reading.remarks,
            [
                "the meter `waltz` is not known and is taken as free",
                "macros (`m:`) are not expanded",
                "the tempo `brisk` cannot be read",
                "signs without a meaning in music are left out: `?`",
            ]
        );
        let latin_1 = b"X:1\nT:caf\xE9\nK:C\nC|\n";
        let reading = read(latin_1, &Options::default()).unwrap();
        assert_eq!(reading.melody.title(), "café");
        assert_eq!(
            reading.remarks,
            ["the text is not UTF-8 and was read as Latin-1"]
        );
    }

    #[test]
    fn what_the_notes_hang_on_is_a_fault() {
        check_faults(
            "X:1\nL:eighth\nK:Q\nCDE|\n",
            &[
                "line 2, column 1: `eighth` is not a note length",
                "line 3, column 1: `Q` is not a key that can be read",
            ],
        );
        check_faults(
            "X:1\nK:C\nCé^ [K:G#]D|\n",
            &[
                "line 3, column 3: an accidental without a note",
                "line 3, column 5: `G#` is not a key that can be read",
            ],
        );
        let all_wrong = format!("X:1\nK:C\n{}\n", "A0 ".repeat(1000));
        let faults = read(all_wrong.as_bytes(), &Options::default()).unwrap_err();
        assert_eq!(faults.faults().len(), 10);
        let voices: String = (0..100).map(|number| format!("V:{number}\n")).collect();
        check_faults(
            &format!("X:1\n{voices}K:C\nC|\n"),
            &["line 66, column 1: more than 64 voices"],
        );
    }

    #[test]
    fn all_line_ends_serve() {
        for end in ["\n", "\r\n", "\r"] {
            assert_eq!(
                pitches(&"X:1\nK:D\nFC|\nG|\n".replace('\n', end)),
                "F#4 C#4 G4"
            );
        }
    }
}
