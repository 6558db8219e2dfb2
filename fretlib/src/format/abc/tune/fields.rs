//! The fields of a tune, in its header and in its body.

use super::Tune;
use crate::format::abc::accidentals::AccidentalScope;
use crate::format::abc::decoding::{Encoding, decode, quote, unescape};
use crate::format::abc::source::Field;
use crate::format::abc::voice::TooManyVoices;
use crate::format::abc::warnings::WarningKind;
use crate::format::abc::{field, key_field};
use crate::format::limits::MOST_VOICES;

/// A text field that `+:` can continue.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Text {
    Title,
    Credit(Credit),
    /// `w:`, as it stands.
    WordsUnder,
    /// `W:`
    WordsAfter,
}

/// Who or what a tune is owed to.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Credit {
    Composer,
    Source,
    Transcriber,
}

impl<'a> Tune<'a> {
    pub(super) fn body_field(&mut self, field: Field<'a>) {
        if field.name != b'+' {
            self.last_text = None;
        }
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
            b'w' => {
                self.last_text = Some(Text::WordsUnder);
                let line = decode(field.value).0.into_owned();
                self.words_under.push(line);
            }
            b'W' => self.words_after(field.value),
            b'+' => self.go_on(field.value),
            _ => self.field(field),
        }
    }

    pub(super) fn header_field(&mut self, field: Field<'a>) {
        if field.name != b'+' {
            self.last_text = None;
        }
        match field.name {
            b'T' if self.music.draft.title.is_empty() => {
                self.music.draft.title = self.text(field.value);
                self.last_text = Some(Text::Title);
            }
            b'C' => self.first_credit(Credit::Composer, field.value),
            b'S' => self.first_credit(Credit::Source, field.value),
            b'Z' => self.first_credit(Credit::Transcriber, field.value),
            b'+' => self.go_on(field.value),
            b'Q' => self.tempo = Some(field),
            b'W' => self.words_after(field.value),
            b'V' => {
                self.declare_voice(field);
            }
            b'P' if !field.value.is_empty() => self.part_order(field.value),
            b'P' => {}
            _ => self.field(field),
        }
    }

    fn part_order(&mut self, value: &[u8]) {
        match self.text(value).parse() {
            Ok(order) => self.music.draft.form.set_part_order(order),
            Err(error) => self
                .music
                .warnings
                .say(format!("the order of parts is not followed: {error}")),
        }
    }

    fn go_on(&mut self, value: &[u8]) {
        let more = match self.last_text {
            Some(Text::WordsUnder) => decode(value).0.into_owned(),
            _ => self.text(value),
        };
        let text = match self.last_text {
            Some(Text::Title) => Some(&mut self.music.draft.title),
            Some(Text::Credit(credit)) => Some(self.credit(credit).get_or_insert_default()),
            Some(Text::WordsUnder) => self.words_under.last_mut(),
            Some(Text::WordsAfter) => self.music.draft.words.last_mut(),
            None => None,
        };
        let Some(text) = text else { return };
        text.push(' ');
        text.push_str(&more);
    }

    /// A line of the words printed after the tune; an empty one parts verses.
    fn words_after(&mut self, value: &[u8]) {
        let line = self.text(value);
        self.music.draft.words.push(line);
        self.last_text = Some(Text::WordsAfter);
    }

    /// Sets what stands under the music just read.
    pub(super) fn set_words_under(&mut self) {
        if !self.words_under.is_empty() {
            let verses = std::mem::take(&mut self.words_under);
            self.music.set_words_under(&verses);
        }
    }

    fn credit(&mut self, credit: Credit) -> &mut Option<String> {
        let draft = &mut self.music.draft;
        match credit {
            Credit::Composer => &mut draft.composer,
            Credit::Source => &mut draft.source,
            Credit::Transcriber => &mut draft.transcriber,
        }
    }

    /// Keeps the first of several fields of one name.
    fn first_credit(&mut self, credit: Credit, value: &[u8]) {
        let text = self.text(value);
        let kept = self.credit(credit);
        if kept.is_none() && !text.is_empty() {
            *kept = Some(text);
            self.last_text = Some(Text::Credit(credit));
        }
    }

    /// Fields that mean the same in the header and in the body.
    fn field(&mut self, field: Field<'a>) {
        match field.name {
            b'M' => match field::meter(field.value) {
                Some(meter) => self.music.set_meter(meter),
                None => {
                    self.music.set_meter(None);
                    self.music.warnings.say_once(WarningKind::Meter, || {
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
            b'm' => self.music.warnings.say_once(WarningKind::Macros, || {
                "macros (`m:`) are not expanded".to_owned()
            }),
            b'I' => self.directive(field.value),
            // Words, notes, sources and the like do not affect the melody.
            _ => {}
        }
    }

    pub(super) fn directive(&mut self, directive: &[u8]) {
        if let Some(value) = directive.strip_prefix(b"propagate-accidentals") {
            let reach = AccidentalScope::parse(value.trim_ascii());
            self.music.accidentals.reach = reach.unwrap_or(self.music.accidentals.reach);
        }
    }

    pub(super) fn key(&mut self, field: Field<'a>) {
        match key_field::parse(field.value) {
            Ok(key) => self.music.set_key(key),
            Err(problem) => self.music.fault(
                field.start,
                format!("{} is not a key that can be read", quote(field.value)),
                problem.hint(),
            ),
        }
    }

    pub(super) fn tempo(&mut self, field: Field<'a>) {
        let feel = &mut self.music.draft.feel;
        *feel = feel.or_else(|| field::feel(field.value));
        match field::tempo(field.value, self.music.unit) {
            Some(tempo) => self.music.set_tempo(tempo),
            None => self.music.warnings.say_once(WarningKind::Tempo, || {
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
                    format!("more than {} voices", MOST_VOICES),
                    "keep the voice that has the melody",
                );
                None
            }
        }
    }

    fn text(&mut self, value: &[u8]) -> String {
        let (text, encoding) = decode(value);
        if encoding == Encoding::Latin1 {
            self.music.warnings.say_once(WarningKind::Latin1, || {
                "the text is not UTF-8 and was read as Latin-1".to_owned()
            });
        }
        unescape(&text).into_owned()
    }
}
