//! Reading the notes of a line.

use super::read::{Complaint, Reader, ShortBar, Stop};
use super::value;
use super::word::{Piece, pieces};
use crate::error::ParseError;
use crate::format::bar_line::BarLine;
use crate::format::form_words;
use crate::melody::note_value::tuplet_of_word;
use crate::melody::{FormSign, NoteValue, Quarters};
use crate::theory::{Pitch, PitchClass};

/// The current bar of the line.
#[derive(Clone, Copy)]
pub(super) struct LineBar {
    pub(super) onset: Quarters,
    /// Unknown when a value in it could not be read.
    pub(super) length: Option<Quarters>,
}

/// The state of the current bar.
#[derive(Default)]
pub(super) struct BarState<'a> {
    pub(super) onset: Quarters,
    /// The first word in it.
    first: Option<&'a str>,
    is_irregular: bool,
    is_pickup: bool,
    has_unknown_length: bool,
    /// Whether a repeat sign, a double bar line or an ending comes before it.
    follows_sign: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn notes(&mut self, text: &'a str) -> Result<Vec<LineBar>, Stop> {
        let mut bars = Vec::new();
        let mut carried = Carried::default();
        let mut pieces = pieces(text).peekable();
        while let Some(piece) = pieces.next() {
            match piece {
                Piece::BarLine(word, line) => {
                    if self.draft.now > self.bar.onset || self.bar.has_unknown_length {
                        bars.push(self.end_bar(line != BarLine::default())?);
                    } else if (!bars.is_empty() || self.bar.first.is_some())
                        && line == BarLine::default()
                    {
                        self.complain(
                            word,
                            "there is nothing in the bar before this line",
                            Some("write `r` and a value for a rest"),
                        )?;
                    }
                    self.bar.follows_sign |= line != BarLine::default();
                    let waiting = std::mem::take(&mut self.signs_at_bar_end);
                    let signs = line.form_signs(&mut self.times);
                    self.form_signs(waiting.into_iter().chain(signs).collect(), word);
                }
                Piece::Ending(word, Some(numbers)) => {
                    self.form_signs(vec![FormSign::Ending(numbers)], word);
                }
                Piece::Ending(word, None) => {
                    self.complain(
                        word,
                        "this is not the number of an ending",
                        Some("write `[1`, `[2` or `[1,3`"),
                    )?;
                }
                Piece::Breath => {
                    let now = self.draft.now;
                    if self.draft.phrase_starts.last() != Some(&now) {
                        self.draft.phrase_starts.push(now);
                    }
                }
                Piece::Mark(mark) => self.mark(mark)?,
                Piece::Unclosed(rest) => {
                    self.complain(
                        rest,
                        "the bracket `[` is not closed",
                        Some("put `]` after the mark"),
                    )?;
                }
                Piece::Word(word) => {
                    let is_value = |piece: &Piece| match piece {
                        Piece::Word(next) => value::is_value(next) && !value::is_value(word),
                        _ => false,
                    };
                    let value = match pieces.next_if(is_value) {
                        Some(Piece::Word(value)) => Some(value),
                        _ => None,
                    };
                    self.word(word, value, &mut carried)?;
                }
            }
        }
        if self.draft.now > self.bar.onset || self.bar.has_unknown_length {
            bars.push(self.end_bar(false)?);
        }
        if bars.is_empty() {
            self.complain(
                text,
                "there is no bar in this line",
                Some("take the line out, or write `r` and a value for a rest"),
            )?;
        }
        Ok(bars)
    }

    /// Reads a note, a rest or a tie, and the value after it if there is one.
    fn word(
        &mut self,
        word: &'a str,
        value: Option<&'a str>,
        carried: &mut Carried,
    ) -> Result<(), Stop> {
        self.begin_bar(word)?;
        if value::is_value(word) {
            self.bar.has_unknown_length = true;
            return self.complain(
                word,
                format!("the value `{word}` stands where a note was expected"),
                Some("one value follows each note; notes are written in capitals"),
            );
        }
        let sound = match Sound::parse(word, carried.octave) {
            Ok(sound) => Some(sound),
            Err(error) => {
                self.complain(word, error, None)?;
                // The word may have been meant as a value or an octave; report nothing more about it.
                self.bar.has_unknown_length |= value.is_none();
                carried.octave = carried.octave.or(Some(4));
                None
            }
        };
        if let Some(Sound::Note(pitch)) = sound {
            carried.octave = Some(pitch.octave());
        }
        match value.map(NoteValue::read_duration) {
            Some(Ok(length)) => {
                carried.length = CarriedLength::Known(length);
                carried.tuplet = value.and_then(tuplet_of_word);
            }
            Some(Err(error)) => {
                carried.length = CarriedLength::ReadError;
                self.complain(value.unwrap_or(word), error, None)?;
            }
            None if carried.length == CarriedLength::None => {
                carried.length = CarriedLength::ReadError;
                self.complain(
                    word,
                    format!("`{word}` has no value"),
                    Some("the first word of a line needs one, such as `q` for a quarter note"),
                )?;
            }
            None => {}
        }
        if let CarriedLength::Known(length) = carried.length {
            let onset = self.draft.now;
            self.sound(sound, length, word)?;
            let written = carried
                .tuplet
                .map_or(length, |(count, time_of)| length * count / time_of);
            let tuplet = self
                .tuplets
                .add(onset, self.draft.now, written, carried.tuplet);
            self.draft.tuplets.extend(tuplet);
            return Ok(());
        }
        self.bar.has_unknown_length = true;
        self.is_sound_unknown = true;
        Ok(())
    }

    /// Adds the note or rest of a word; a rest when it could not be read.
    fn sound(&mut self, sound: Option<Sound>, length: Quarters, word: &'a str) -> Result<(), Stop> {
        let now = self.draft.now;
        let outcome = match sound {
            Some(Sound::Note(pitch)) => {
                self.is_sound_unknown = false;
                self.note_words.push(word);
                self.draft.note(pitch, length)
            }
            Some(Sound::Rest) => {
                self.is_sound_unknown = false;
                self.draft.rest(length)
            }
            None => {
                self.is_sound_unknown = true;
                self.draft.rest(length)
            }
            Some(Sound::Tie) => {
                let is_sounding = self
                    .draft
                    .notes
                    .last()
                    .is_some_and(|last| last.end() == now);
                if !is_sounding && !self.is_sound_unknown {
                    self.complain(
                        word,
                        "there is no note before this tie",
                        Some("a tie follows the note that sounds on"),
                    )?;
                }
                if is_sounding {
                    self.draft.tie(length)
                } else {
                    self.draft.rest(length)
                }
            }
        };
        outcome.or_else(|error| {
            self.complain(word, error, None)?;
            Err(Stop)
        })
    }

    fn mark(&mut self, mark: &'a str) -> Result<(), Stop> {
        let mark = mark.trim();
        let (kind, text) = mark.split_once(char::is_whitespace).unwrap_or((mark, ""));
        let now = self.draft.now;
        if let Some(sign) = form_words::parse(mark) {
            if sign.ends() {
                self.form_words.push((now, mark));
                self.signs_at_bar_end.push(sign);
            } else {
                self.form_signs(vec![sign], mark);
            }
            return Ok(());
        }
        match kind {
            "pickup" if now > Quarters::ZERO && !(self.bar.follows_sign && self.bar.first.is_none()) => self.complain(
                mark,
                "a pickup is the first bar of the tune, or follows a repeat sign or a double bar line",
                Some("a short bar elsewhere is marked [irregular]"),
            ),
            "pickup" => {
                self.bar.is_pickup = true;
                Ok(())
            }
            "irregular" => {
                self.bar.is_irregular = true;
                Ok(())
            }
            _ => self.change(kind, text.trim(), mark, now),
        }
    }

    /// Opens a bar at the first word in it.
    fn begin_bar(&mut self, word: &'a str) -> Result<(), Stop> {
        if self.bar.first.is_some() {
            return Ok(());
        }
        self.bar.first = Some(word);
        self.draft.bar_line();
        match &self.short_bar {
            Some(short) if short.at_sign => Ok(()),
            _ => self.settle_short_bar(false),
        }
    }

    /// Reports a short bar that nothing completes. At the end of a strain and of the tune, a pickup completes it.
    pub(super) fn settle_short_bar(&mut self, is_end: bool) -> Result<(), Stop> {
        match self.short_bar.take() {
            Some(short)
                if !(self.pickups.contains(&short.missing) && (is_end || short.at_sign)) =>
            {
                let Complaint {
                    about,
                    problem,
                    hint,
                } = short.complaint;
                self.complain(about, problem, hint.as_deref())
            }
            _ => Ok(()),
        }
    }

    /// Adds signs of the form here.
    pub(super) fn form_signs(&mut self, signs: Vec<FormSign>, word: &'a str) {
        let now = self.draft.now;
        for sign in signs {
            self.draft.form.add(now, sign);
            self.form_words.push((now, word));
        }
    }

    /// Ends a bar and checks how long it was.
    ///
    /// At a sign of the form a bar may be short, and then the next one completes it.
    fn end_bar(&mut self, at_sign: bool) -> Result<LineBar, Stop> {
        let BarState {
            onset,
            first,
            is_irregular,
            is_pickup,
            has_unknown_length,
            follows_sign,
        } = std::mem::replace(
            &mut self.bar,
            BarState {
                onset: self.draft.now,
                ..BarState::default()
            },
        );
        self.tuplets.bar_line();
        let length = self.draft.now - onset;
        let meter = self.draft.meters.at(onset).copied().flatten();
        let known = LineBar {
            onset,
            length: (!has_unknown_length).then_some(length),
        };
        let completes = |short: &ShortBar| short.missing == length;
        if follows_sign
            && !is_irregular
            && !is_pickup
            && self.short_bar.as_ref().is_some_and(completes)
        {
            self.short_bar = None;
            return Ok(known);
        }
        self.settle_short_bar(false)?;
        if is_pickup {
            self.pickups.push(length);
        } else {
            self.bars_ended += 1;
        }
        let number = self.bars_ended;
        let (Some(meter), Some(first)) = (meter, first) else {
            return Ok(known);
        };
        let full = meter.bar_length();
        if has_unknown_length || is_irregular || (!is_pickup && length == full) {
            return Ok(known);
        }
        if is_pickup {
            if length >= full {
                let problem = format!("a pickup that fills a bar of {meter}");
                self.complain(first, problem, Some("take out [pickup]"))?;
            }
            return Ok(known);
        }
        let is_short = length < full;
        let (difference, how) = if is_short {
            (full - length, "short")
        } else {
            (length - full, "long")
        };
        let problem = format!(
            "bar {number} is {} too {how} for {meter}: it lasts {}",
            value::wholes(difference),
            value::wholes(length)
        );
        let hint = if number == 1 && is_short && onset == Quarters::ZERO {
            "mark it [pickup] if it is one"
        } else {
            "mend the values, or mark the bar [irregular]"
        };
        if is_short && (at_sign || self.pickups.contains(&difference)) {
            self.short_bar = Some(ShortBar {
                complaint: Complaint {
                    about: first,
                    problem,
                    hint: Some(hint.to_owned()),
                },
                missing: difference,
                at_sign,
            });
        } else {
            self.complain(first, problem, Some(hint))?;
        }
        Ok(known)
    }
}

/// The octave and value carried on from the words before it in its line.
#[derive(Default)]
struct Carried {
    octave: Option<i8>,
    length: CarriedLength,
    tuplet: Option<(i64, i64)>,
}

#[derive(Clone, Copy, Default, Eq, PartialEq)]
enum CarriedLength {
    #[default]
    None,
    ReadError,
    Known(Quarters),
}

/// The meaning of a word of a line of notes.
#[derive(Clone, Copy)]
enum Sound {
    Note(Pitch),
    Rest,
    Tie,
}

impl Sound {
    /// Reads a word; a note without an octave takes the given one.
    fn parse(word: &str, octave: Option<i8>) -> Result<Sound, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                word,
                "a note such as E4, F#5 or Bb, `r` for a rest or `~` for a tie",
            )
        };
        match word {
            "r" => return Ok(Sound::Rest),
            "~" => return Ok(Sound::Tie),
            _ if !word.starts_with(|c: char| matches!(c, 'A'..='G')) => return Err(unreadable()),
            _ => {}
        }
        if word.contains(|c: char| c.is_ascii_digit()) {
            return word.parse().map(Sound::Note).map_err(|error| match error {
                ParseError::Unreadable { .. } => unreadable(),
                out_of_range => out_of_range,
            });
        }
        let class: PitchClass = word.parse().map_err(|_| unreadable())?;
        let octave = octave.ok_or_else(|| {
            ParseError::unreadable(word, "an octave with the first note of a line, such as E4")
        })?;
        Ok(Sound::Note(Pitch::new(
            class.letter(),
            class.alteration(),
            octave,
        )?))
    }
}
