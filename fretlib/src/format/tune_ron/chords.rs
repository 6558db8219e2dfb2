//! Reading the chords of a line.

use super::notes::LineBar;
use super::read::{Reader, Stop};
use super::value;
use super::word::chord_bars;
use crate::melody::{Meter, NoteValue, Quarters};
use crate::theory::Chord;

/// A chord symbol in a bar.
#[derive(Clone, Copy)]
pub(super) struct ChordWord {
    /// `None` for `-`, the chord before.
    chord: Option<Option<Chord>>,
    value: Option<Quarters>,
}

impl<'a> Reader<'a> {
    pub(super) fn chords(&mut self, text: &'a str, bars: &[LineBar]) -> Result<(), Stop> {
        let texts = chord_bars(text);
        if texts.is_empty() {
            return Ok(());
        }
        if texts.len() != bars.len() {
            let count = |bars: usize| format!("{bars} bar{}", if bars == 1 { "" } else { "s" });
            let problem = format!(
                "{} of chords over {} of notes",
                count(texts.len()),
                count(bars.len())
            );
            return self.complain(
                text.trim_start(),
                problem,
                Some(
                    "`-` stands for a bar without a new chord, `%` for the same as the bar before",
                ),
            );
        }
        for (text, bar) in texts.into_iter().zip(bars) {
            if text == "%" {
                if self.chord_bar.is_empty() {
                    self.complain(text, "there is no bar of chords before this `%`", None)?;
                }
            } else {
                self.chord_bar = self.chord_words(text)?;
            }
            self.place_chords(text, *bar)?;
        }
        Ok(())
    }

    fn chord_words(&mut self, text: &'a str) -> Result<Vec<ChordWord>, Stop> {
        let mut chords = Vec::new();
        if text.is_empty() {
            self.complain(
                text,
                "there is no chord in this bar",
                Some("write `-` where the chord before sounds on"),
            )?;
        }
        let mut words = text.split_whitespace().peekable();
        while let Some(word) = words.next() {
            let chord = match word {
                "-" => None,
                _ => match Chord::parse_symbol(word) {
                    Ok(chord) => Some(chord),
                    Err(error) => {
                        self.complain(word, error, None)?;
                        None
                    }
                },
            };
            let value = match words.next_if(|word| value::is_value(word)) {
                None => None,
                Some(word) => match NoteValue::read_duration(word) {
                    Ok(value) => Some(value),
                    Err(error) => {
                        // The onsets of the chords after this one are unknown.
                        self.complain(word, error, None)?;
                        chords.push(ChordWord { chord, value: None });
                        chords.truncate(1);
                        return Ok(chords);
                    }
                },
            };
            chords.push(ChordWord { chord, value });
        }
        Ok(chords)
    }

    /// Places the chords of a bar.
    fn place_chords(&mut self, text: &'a str, bar: LineBar) -> Result<(), Stop> {
        let meter = self.draft.meters.at(bar.onset).copied().flatten();
        let values: Vec<Option<Quarters>> = self.chord_bar.iter().map(|it| it.value).collect();
        let offsets = match (self.chord_bar.len(), bar.length) {
            // Without the length of the bar, its other chords cannot be placed.
            (0 | 1, _) | (_, None) if values.iter().all(Option::is_none) => vec![Quarters::from(0)],
            (_, None) => return Ok(()),
            (_, Some(length)) => match chord_offsets(&values, length, meter) {
                Ok(offsets) => offsets,
                Err(problem) => {
                    let hint = "give each chord but the last a value, such as `Am7 h D7 q G7`";
                    return self.complain(text, problem, Some(hint));
                }
            },
        };
        let begun: Vec<(Option<Chord>, Quarters)> = self
            .chord_bar
            .iter()
            .zip(offsets)
            .filter_map(|(word, offset)| Some((word.chord?, offset)))
            .collect();
        for (chord, offset) in begun {
            match value::sum(bar.onset, offset) {
                Some(onset) => self.draft.chords.set(onset, chord),
                None => self.complain(text, "a chord begins on too fine a grid here", None)?,
            }
        }
        Ok(())
    }
}

/// The onsets of chords with these values in a bar of this length.
pub(super) fn chord_offsets(
    values: &[Option<Quarters>],
    length: Quarters,
    meter: Option<Meter>,
) -> Result<Vec<Quarters>, String> {
    let count = values.len();
    if values.iter().all(Option::is_none) {
        let share = length / Quarters::from(count as i64);
        let is_on_a_beat = meter.is_some_and(|meter| (share / meter.beat()).is_integer());
        if count > 1 && !is_on_a_beat {
            return Err(format!(
                "{count} chords do not share this bar in whole beats"
            ));
        }
        return Ok((0..count)
            .map(|index| share * Quarters::from(index as i64))
            .collect());
    }
    let mut offsets = Vec::with_capacity(count);
    let mut offset = Quarters::from(0);
    for (index, value) in values.iter().enumerate() {
        offsets.push(offset);
        match value {
            Some(value) => {
                offset = value::sum(offset, *value).ok_or("these values are on too fine a grid")?
            }
            None if index + 1 == count && offset < length => offset = length,
            None if index + 1 == count => {
                return Err("nothing of the bar is left for the last chord".to_owned());
            }
            None => {
                return Err(
                    "only the last chord of a bar can be without a value when others have one"
                        .to_owned(),
                );
            }
        }
    }
    if offset != length {
        return Err(format!(
            "the chords last {}, the notes {}",
            value::wholes(offset),
            value::wholes(length)
        ));
    }
    Ok(offsets)
}
