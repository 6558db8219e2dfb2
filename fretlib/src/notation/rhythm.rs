//! Rhythm written down: the note values, dots, ties, rests and tuplets that show each duration.
//!
//! Sources: the rules are those of Elaine Gould, *Behind Bars* (2011), chapters "Grouping" (the middle of a bar in four is
//! shown; a value may not hide a beat unless it begins on one as strong or is an even syncopation; rests follow the beats
//! more closely than notes) and "Tuplets"; quoted from memory.

use super::metric_grid::MetricGrid;
use super::tuplet_bracket::{find_tuplets, fits, is_dyadic};
#[cfg(any(feature = "formats", feature = "sheet"))]
use crate::melody::Note;
use crate::melody::{Measure, MeasurePart, Melody, Meter, NoteValue, Quarters, Tuplet};

/// The meaning of a written symbol.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Symbol {
    /// A note, or one of the tied symbols that make up a note.
    Note {
        /// The index of the note in the melody.
        index: usize,
        /// True when it is tied to the one before.
        tied_back: bool,
        /// True when it is tied to the next.
        tied_on: bool,
    },
    /// A rest.
    Rest,
    /// A whole-bar rest, whatever the length of the bar.
    BarRest,
}

/// A symbol with its place in time.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Written {
    /// What it is.
    pub symbol: Symbol,
    /// When it begins, from the start of the bar.
    pub onset: Quarters,
    /// How long it lasts.
    pub duration: Quarters,
    /// Its note value, with its dots.
    pub value: NoteValue,
    /// The index of its tuplet in the bar.
    pub tuplet: Option<usize>,
}

impl Written {
    /// True for an eighth note or shorter.
    pub fn can_be_beamed(&self) -> bool {
        matches!(self.symbol, Symbol::Note { .. }) && self.value.flags() > 0
    }
}

/// A bar as it is written.
///
/// A bar inside which an ending begins, or a segno or a coda stands, is written as two.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenBar {
    /// The bar's number; a pickup is 0.
    pub number: u32,
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// How long it is.
    pub length: Quarters,
    /// The meter in force.
    pub meter: Option<Meter>,
    /// How far into a full bar it begins: a pickup ends where a full bar would.
    pub offset: Quarters,
    /// True when there is no bar line at its end, since the next one is the rest of the same bar.
    pub is_cut_off: bool,
    /// The symbols in order.
    pub symbols: Vec<Written>,
    /// The tuplets, in order.
    pub tuplets: Vec<Tuplet>,
}

/// Writes a melody down bar by bar.
///
/// Times that fit neither dyadic values nor tuplets, and times longer than four breves, are written as the longest
/// value that is not longer. The page stays readable, and the times in the melody stay exact.
pub fn write_down(melody: &Melody) -> Vec<WrittenBar> {
    write_down_cut_at(melody, &[])
}

/// Like [`write_down`], but notes and rests are also cut at these times, as at a bar line.
///
/// The times must be in order.
pub fn write_down_cut_at(melody: &Melody, cuts: &[Quarters]) -> Vec<WrittenBar> {
    let measures = melody.measures_cut_at_signs(cuts).into_iter();
    measures
        .map(|measure| WrittenBar {
            is_cut_off: measure.bar.end < melody.bar_at(measure.bar.onset).end,
            ..WrittenBar::of(measure, melody.tuplets())
        })
        .collect()
}

/// Writes another voice down in the bars of a melody, cut as [`write_down_cut_at`] says; `None` when its notes overlap or
/// there are none.
#[cfg(any(feature = "formats", feature = "sheet"))]
pub fn write_down_voice(
    melody: &Melody,
    voice: Vec<Note>,
    cuts: &[Quarters],
) -> Option<Vec<WrittenBar>> {
    let mut draft = melody.clone().into_draft();
    draft.notes = voice;
    let voice = Melody::new(draft).ok()?;
    Some(write_down_cut_at(&voice, cuts))
}

impl WrittenBar {
    fn of(measure: Measure, given: &[Tuplet]) -> WrittenBar {
        let Measure { bar, meter, parts } = measure;
        let mut written = WrittenBar {
            number: bar.number,
            onset: bar.onset,
            length: bar.length(),
            meter,
            offset: bar.offset,
            is_cut_off: false,
            symbols: Vec::new(),
            tuplets: Vec::new(),
        };
        // A rest in part of a bar, such as a pickup, is written with its own value.
        let is_whole = meter.is_none_or(|meter| bar.length() >= meter.bar_length());
        if let ([MeasurePart { note: None, .. }], true) = (&parts[..], is_whole) {
            written.symbols.push(Written {
                symbol: Symbol::BarRest,
                onset: Quarters::ZERO,
                duration: bar.length(),
                value: NoteValue::WHOLE,
                tuplet: None,
            });
            return written;
        }
        let extents: Vec<_> = parts
            .iter()
            .map(|part| (part.onset - bar.onset, part.end - bar.onset))
            .collect();
        let first = given.partition_point(|it| it.start < bar.onset);
        let given = given[first..]
            .iter()
            .take_while(|it| it.end <= bar.end)
            .map(|it| Tuplet {
                start: it.start - bar.onset,
                end: it.end - bar.onset,
                ..*it
            });
        let given: Vec<Tuplet> = given.filter(|it| fits(*it, &extents)).collect();
        written.tuplets = find_tuplets(&extents, written.length, written.offset, given);
        for (part, (from, to)) in parts.iter().zip(extents) {
            let first = written.symbols.len();
            for (part_from, part_to, tuplet) in written.cut_at_tuplets(from, to) {
                written.split(part_from, part_to, tuplet, part.note.is_some());
            }
            if let Some(index) = part.note {
                let last = written.symbols.len() - 1;
                for (at, symbol) in written.symbols.iter_mut().enumerate().skip(first) {
                    symbol.symbol = Symbol::Note {
                        index,
                        tied_back: at > first || part.tied_back,
                        tied_on: at < last || part.tied_on,
                    };
                }
            }
        }
        written
    }

    fn cut_at_tuplets(
        &self,
        from: Quarters,
        to: Quarters,
    ) -> Vec<(Quarters, Quarters, Option<usize>)> {
        let mut parts = Vec::new();
        let mut now = from;
        let first = self.tuplets.partition_point(|tuplet| tuplet.end <= now);
        for (number, tuplet) in self.tuplets.iter().enumerate().skip(first) {
            if tuplet.start >= to {
                break;
            }
            if tuplet.start > now {
                parts.push((now, tuplet.start, None));
                now = tuplet.start;
            }
            let stop = tuplet.end.min(to);
            parts.push((now, stop, Some(number)));
            now = stop;
        }
        if now < to {
            parts.push((now, to, None));
        }
        parts
    }

    /// Adds the symbols of one note or rest, all as rests; the caller turns them into notes.
    fn split(&mut self, from: Quarters, to: Quarters, tuplet: Option<usize>, is_note: bool) {
        let ratio = tuplet.map_or(Quarters::from(1), |number| {
            let tuplet = self.tuplets[number];
            Quarters::new(tuplet.count, tuplet.time_of)
        });
        // Within a tuplet, time is counted in written values, from the start of the tuplet.
        let start = tuplet.map_or(Quarters::ZERO, |number| self.tuplets[number].start);
        let grid = MetricGrid {
            meter: if tuplet.is_some() { None } else { self.meter },
            is_note,
        };
        let origin = if tuplet.is_some() {
            Quarters::ZERO
        } else {
            self.offset
        };
        let mut now = (from - start) * ratio + origin;
        let end = (to - start) * ratio + origin;
        // Only dyadic times can be tied from plain values; longer than four breves is written as one.
        let has_sum = is_dyadic(now) && is_dyadic(end) && end - now <= Quarters::from(32);
        while now < end {
            let (stop, value) = if has_sum {
                grid.longest_from(now, end)
            } else {
                (end, NoteValue::within(end - now))
            };
            let onset = start + (now - origin) / ratio;
            self.symbols.push(Written {
                symbol: Symbol::Rest,
                onset,
                duration: (stop - now) / ratio,
                value,
                tuplet,
            });
            now = stop;
        }
    }
}

#[cfg(test)]
mod tests;
