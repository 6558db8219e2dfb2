//! Time written down: which note values, dots, ties, rests and tuplets say how long each thing lasts.
//!
//! Sources: the rules are those of Elaine Gould, *Behind Bars* (2011), chapters "Grouping" (the middle of a bar in four is
//! shown; a value may not hide a beat unless it begins on one as strong or is an even syncopation; rests follow the beats
//! more closely than notes) and "Tuplets"; quoted from memory.

use super::metric_grid::Grid;
use super::tuplet::{Tuplet, find_tuplets, is_dyadic};
use super::value::Value;
use crate::melody::{Melody, Meter, Note, Quarters};

/// What a written symbol stands for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Symbol {
    /// A note, or one of the notes tied together that stand for one.
    Note {
        /// Which note of the melody, counted from 0.
        index: usize,
        /// True when it is tied to the one before.
        tied_back: bool,
        /// True when it is tied to the next.
        tied_on: bool,
    },
    /// A rest.
    Rest,
    /// A rest for all of a bar, whatever its length.
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
    /// Its note value.
    pub value: Value,
    /// How many dots follow it.
    pub dots: u8,
    /// Which tuplet of the bar it belongs to.
    pub tuplet: Option<usize>,
}

impl Written {
    /// True for a note of an eighth or less.
    pub fn can_be_beamed(&self) -> bool {
        matches!(self.symbol, Symbol::Note { .. }) && self.value >= Value::EIGHTH
    }
}

/// A bar as it is written.
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
    /// The symbols in order.
    pub symbols: Vec<Written>,
    /// The tuplets, in order.
    pub tuplets: Vec<Tuplet>,
}

/// Writes a melody down bar by bar.
///
/// Times on no grid of dyadic or tuplet values, and those that more than four breves would last, come out as the longest
/// value that is not longer: the page stays readable, and the times themselves stay exact.
pub fn write_down(melody: &Melody) -> Vec<WrittenBar> {
    write_down_cut_at(melody, &[])
}

/// Like [`write_down`], with notes and rests that go on over one of these times cut there, as if by a bar line.
///
/// The times rise.
pub fn write_down_cut_at(melody: &Melody, cuts: &[Quarters]) -> Vec<WrittenBar> {
    let bars = melody.bars();
    let notes = melody.notes();
    let mut next = 0;
    let mut out: Vec<WrittenBar> = Vec::with_capacity(bars.len());
    for (index, bar) in bars.iter().enumerate() {
        let end = bars
            .get(index + 1)
            .map_or(melody.length(), |next| next.onset);
        let meter = melody.meters().at(bar.onset).copied().flatten();
        let length = end - bar.onset;
        let mut written = WrittenBar {
            number: bar.number,
            onset: bar.onset,
            length,
            meter,
            offset: offset(bar.number, length, meter, out.last()),
            symbols: Vec::new(),
            tuplets: Vec::new(),
        };
        // What sounds in this bar, cut at the bar lines.
        let mut spans: Vec<Span<'_>> = Vec::new();
        let mut now = bar.onset;
        while let Some(note) = notes.get(next).filter(|note| note.onset < end) {
            if note.onset > now {
                spans.push((now, note.onset, None));
            }
            let stop = note.end().min(end);
            spans.push((note.onset.max(bar.onset), stop, Some((next, note))));
            now = stop;
            if note.end() > end {
                // It goes on in the next bar.
                break;
            }
            next += 1;
        }
        if now < end {
            spans.push((now, end, None));
        }
        let spans: Vec<Span<'_>> = spans.iter().flat_map(|span| cut(*span, cuts)).collect();
        written.fill(&spans, bar.onset);
        out.push(written);
    }
    out
}

/// A pickup, and the second half of a bar that a repeat sign divides, begin in the middle of a bar.
fn offset(
    number: u32,
    length: Quarters,
    meter: Option<Meter>,
    before: Option<&WrittenBar>,
) -> Quarters {
    let Some(full) = meter.map(Meter::bar_length).filter(|full| length < *full) else {
        return Quarters::ZERO;
    };
    match before {
        None if number == 0 => full - length,
        Some(before) if before.offset.is_zero() && before.length + length == full => before.length,
        _ => Quarters::ZERO,
    }
}

/// Sound or silence from one time of the tune to another, and which note of the melody it is.
type Span<'a> = (Quarters, Quarters, Option<(usize, &'a Note)>);

/// The parts of a span between the times that lie inside it.
fn cut<'a>((from, to, note): Span<'a>, cuts: &[Quarters]) -> impl Iterator<Item = Span<'a>> {
    let first = cuts.partition_point(|at| *at <= from);
    let after = cuts.partition_point(|at| *at < to).max(first);
    let inside = &cuts[first..after];
    let starts = std::iter::once(from).chain(inside.iter().copied());
    let ends = inside.iter().copied().chain(std::iter::once(to));
    let parts: Vec<_> = starts.zip(ends).collect();
    parts.into_iter().map(move |(from, to)| (from, to, note))
}

impl WrittenBar {
    fn fill(&mut self, spans: &[Span<'_>], onset: Quarters) {
        if let [(from, to, None)] = spans {
            self.symbols.push(Written {
                symbol: Symbol::BarRest,
                onset: Quarters::ZERO,
                duration: *to - *from,
                value: Value::WHOLE,
                dots: 0,
                tuplet: None,
            });
            return;
        }
        let extents: Vec<_> = spans
            .iter()
            .map(|(from, to, _)| (*from - onset, *to - onset))
            .collect();
        self.tuplets = find_tuplets(&extents, self.length, self.offset);
        for (from, to, note) in spans {
            let (from, to) = (*from - onset, *to - onset);
            let first = self.symbols.len();
            for (part_from, part_to, tuplet) in self.cut_at_tuplets(from, to) {
                self.split(part_from, part_to, tuplet, note.is_some());
            }
            if let Some((index, note)) = note {
                let last = self.symbols.len() - 1;
                for (at, written) in self.symbols.iter_mut().enumerate().skip(first) {
                    written.symbol = Symbol::Note {
                        index: *index,
                        tied_back: at > first || note.onset < onset + from,
                        tied_on: at < last || note.end() > onset + to,
                    };
                }
            }
        }
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

    /// Adds the symbols for one stretch of sound or silence; they are made notes afterwards.
    fn split(&mut self, from: Quarters, to: Quarters, tuplet: Option<usize>, is_note: bool) {
        let ratio = tuplet.map_or(Quarters::from(1), |number| {
            let tuplet = self.tuplets[number];
            Quarters::new(tuplet.count, tuplet.time_of)
        });
        // Within a tuplet time is counted as it is written, from where the tuplet begins.
        let start = tuplet.map_or(Quarters::ZERO, |number| self.tuplets[number].start);
        let grid = Grid {
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
            let (stop, value, dots) = if has_sum {
                grid.longest_from(now, end)
            } else {
                (end, Value::within(end - now), 0)
            };
            let onset = start + (now - origin) / ratio;
            self.symbols.push(Written {
                symbol: Symbol::Rest,
                onset,
                duration: (stop - now) / ratio,
                value,
                dots,
                tuplet,
            });
            now = stop;
        }
    }
}

#[cfg(test)]
mod tests;
