//! Tuplet brackets, as typed or read.

use super::{Melody, NoteValue, Quarters};

/// `count` notes in the time of `time_of`.
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Tuplet {
    /// How many there are.
    pub count: i64,
    /// In the time of how many.
    pub time_of: i64,
    /// When the first begins: from the start of the tune, or of the bar when it is a written bar's.
    pub start: Quarters,
    /// When the last ends.
    pub end: Quarters,
}

impl Tuplet {
    /// The same tuplet, so much later.
    pub(super) fn moved(self, by: Quarters) -> Tuplet {
        Tuplet {
            start: self.start + by,
            end: self.end + by,
            ..self
        }
    }

    /// The note value counted; `None` if it is dotted.
    pub fn unit(self) -> Option<NoteValue> {
        NoteValue::of((self.end - self.start) / self.time_of).filter(|value| value.dots() == 0)
    }
}

/// The brackets that can be drawn: in order, not overlapping, inside a bar, with reasonable
/// numbers.
pub(super) fn valid_tuplets(mut tuplets: Vec<Tuplet>, melody: &Melody) -> Vec<Tuplet> {
    let is_number = |number: i64| (1..=99).contains(&number);
    let is_drawn = |it: &Tuplet| {
        is_number(it.count)
            && is_number(it.time_of)
            && it.count != it.time_of
            && !it.start.is_negative()
            && it.start < it.end
            && melody.bar_at(it.start).end >= it.end
    };
    tuplets.retain(is_drawn);
    tuplets.sort_by_key(|it| it.start);
    let mut end = Quarters::ZERO;
    tuplets.retain(|it| {
        let is_apart = it.start >= end;
        if is_apart {
            end = it.end;
        }
        is_apart
    });
    tuplets
}

/// Groups notes that each say "three in the time of two" under brackets.
///
/// A bracket closes as soon as its notes fill the tuplet, counted in a value no shorter than its shortest note: three
/// eighths, or a quarter and an eighth.
#[derive(Clone, Debug, Default)]
pub struct TupletGrouper {
    open: Option<Tuplet>,
    shortest: Option<Quarters>,
}

impl TupletGrouper {
    /// Takes the next note or rest and gives the bracket that it completes.
    ///
    /// `written` is its written value; `ratio` is its tuplet, a count and the time that it takes.
    pub fn add(
        &mut self,
        onset: Quarters,
        end: Quarters,
        written: Quarters,
        ratio: Option<(i64, i64)>,
    ) -> Option<Tuplet> {
        let Some((count, time_of)) = ratio else {
            *self = TupletGrouper::default();
            return None;
        };
        let goes_on =
            |open: &Tuplet| (open.count, open.time_of, open.end) == (count, time_of, onset);
        let start = match self.open.filter(goes_on) {
            Some(open) => open.start,
            None => {
                self.shortest = None;
                onset
            }
        };
        let plain = NoteValue::of(written).map_or(written, |value| {
            NoteValue::within(value.duration()).duration()
        });
        let shortest = self.shortest.map_or(plain, |shortest| shortest.min(plain));
        let tuplet = Tuplet {
            count,
            time_of,
            start,
            end,
        };
        if tuplet
            .unit()
            .is_some_and(|unit| unit.duration() >= shortest)
        {
            *self = TupletGrouper::default();
            return Some(tuplet);
        }
        self.open = Some(tuplet);
        self.shortest = Some(shortest);
        None
    }

    /// A bar line: no bracket crosses it.
    pub fn bar_line(&mut self) {
        *self = TupletGrouper::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Groups values of one tuplet from 0 on; gives where each bracket begins and ends.
    fn check(values: &str, expected: &[(i64, i64, i64)]) {
        let mut grouper = TupletGrouper::default();
        let mut now = Quarters::ZERO;
        let mut found = Vec::new();
        for word in values.split_whitespace() {
            let ratio = crate::melody::note_value::tuplet_of_word(word);
            let duration = NoteValue::read_duration(word).unwrap();
            let written = ratio.map_or(duration, |(count, time_of)| duration * count / time_of);
            found.extend(grouper.add(now, now + duration, written, ratio));
            now += duration;
        }
        let found: Vec<_> = found
            .iter()
            .map(|it| {
                (
                    it.count,
                    (it.start * 2).to_integer(),
                    (it.end * 2).to_integer(),
                )
            })
            .collect();
        assert_eq!(found, expected, "{values}");
    }

    #[test]
    fn a_bracket_closes_when_it_is_full() {
        check("q q3 q3 q3 q", &[(3, 2, 6)]);
        check("e3 e3 e3 e3 e3 e3", &[(3, 0, 2), (3, 2, 4)]);
        check("q3 e3 e3 q3", &[(3, 0, 2), (3, 2, 4)]);
        check("q3. e3 q3", &[(3, 0, 4)]);
        check("s5 s5 s5 s5 s5", &[(5, 0, 2)]);
        check("e3 e3 q", &[]);
    }
}
