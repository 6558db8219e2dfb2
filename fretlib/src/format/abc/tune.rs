//! One tune: its header and its body, field by field and line by line, into a draft.

mod fields;
#[cfg(test)]
mod tests;

use std::ops::Range;

use self::fields::Text;
use crate::format::abc::decoding::quote;
use crate::format::abc::field;
use crate::format::abc::lexer::{Lexer, Token};
use crate::format::abc::music::Music;
use crate::format::abc::source::{Field, LineKind, Lines, SourceLine, location};
use crate::format::abc::voice::Voices;
use crate::format::form_words::left_out_of_form;
use crate::format::limits::HINT_ABOUT_BARS;
use crate::format::{Diagnostic, Location, ReadError, Reading};
use crate::melody::{Melody, MelodyError};

/// Reads the tune at `range`, with the fields that the file sets for all its tunes.
pub(super) fn read(
    bytes: &[u8],
    header: Range<usize>,
    range: Range<usize>,
    voice: Option<&str>,
) -> Result<Reading, ReadError> {
    let mut tune = Tune {
        bytes,
        music: Music::new(bytes, range.len()),
        voices: Voices::new(voice),
        unit_is_given: false,
        tempo: None,
        last_text: None,
        words_under: Vec::new(),
    };
    tune.read_file_header(header);
    let mut lines = Lines::new(bytes, range.clone());
    tune.read_header(&mut lines);
    tune.read_body(lines);
    tune.finish(range.start)
}

struct Tune<'a> {
    bytes: &'a [u8],
    music: Music<'a>,
    voices: Voices,
    unit_is_given: bool,
    // A tempo in the header may count in unit notes, which are known at its end.
    tempo: Option<Field<'a>>,
    last_text: Option<Text>,
    // The words under the music just read, one line a verse.
    words_under: Vec<String>,
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

    /// Reads up to the `K:` field, or up to the first line that is not a field.
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
        self.music.warnings.say(
            "there is no `K:` field, so the tune has no sharps or flats but those printed"
                .to_owned(),
        );
        self.begin_body();
    }

    /// Ends the header and sets the defaults.
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

    /// Warns of music cut off by an empty line, which is easily a mistake.
    fn note_music_after(&mut self, blank: SourceLine<'a>, lines: Lines<'a>) {
        let is_music =
            |line: &SourceLine| line.kind() == LineKind::Music && line.music().text.contains(&b'|');
        let Some(music) = lines.into_iter().find(is_music) else {
            return;
        };
        let line_of = |offset| match location(self.bytes, offset) {
            Location::Text { line, .. } => line,
            Location::Whole | Location::Byte(_) => 0,
        };
        let (blank, music) = (line_of(blank.start), line_of(music.start));
        self.music.warnings.say(format!(
            "the tune ends at the empty line {blank}; what follows from line {music} on is not read"
        ));
    }

    fn music_line(&mut self, line: SourceLine<'a>) {
        self.set_words_under();
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
            if !line.text.trim_ascii_end().ends_with(b"\\") {
                self.music.line_end();
            }
        }
    }

    fn finish(mut self, start: usize) -> Result<Reading, ReadError> {
        if let Some(wanted) = self.voices.missing() {
            let hint = match self.voices.count() {
                0 => "the tune has one voice without a name".to_owned(),
                _ => format!("the tune has these voices: {}", self.voices.list()),
            };
            return Err(ReadError::new(Diagnostic {
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
            self.music.warnings.say(remark);
        }
        self.set_words_under();
        let (mut draft, warnings) = self.music.finish()?;
        let form_errors = draft.settle_form();
        // `Draft` has already rejected bad notes: only `NoNotes` and `TooManyBars` remain.
        let melody = Melody::new(draft).map_err(|error| {
            ReadError::new(Diagnostic {
                at: location(self.bytes, start),
                problem: error.to_string(),
                hint: Some(match error {
                    MelodyError::TooManyBars => HINT_ABOUT_BARS.to_owned(),
                    _ => empty_hint,
                }),
            })
        })?;
        let mut warnings = warnings.into_list();
        warnings.extend(long_bars(&melody));
        warnings.extend(left_out_of_form(&melody, &form_errors));
        Ok(Reading { melody, warnings })
    }
}

/// A warning about bars longer than their meter, the likeliest typing error. Short bars are common, since repeats split
/// bars.
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
