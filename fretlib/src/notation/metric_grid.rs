//! The metric weight of the moments of a bar, and which note values may cross them.
//!
//! Source: Gould, *Behind Bars* (2011), "Grouping" and "Rests", from memory; the cases are in the tests of
//! [`super::rhythm`].

use num_integer::Integer;

use crate::melody::{Meter, NoteValue, Quarters};

/// The boundaries of a bar, and what may cross them.
pub(super) struct MetricGrid {
    pub meter: Option<Meter>,
    pub is_note: bool,
}

impl MetricGrid {
    const BAR: i8 = 100;
    const MIDDLE: i8 = 60;
    const BEAT: i8 = 40;
    /// The finest subdivision with a weight of its own, in halvings of a beat.
    const FINEST: i8 = 8;

    /// The longest value that may begin at `now` and ends no later than `end`.
    pub fn longest_from(&self, now: Quarters, end: Quarters) -> (Quarters, NoteValue) {
        let mut stop = end;
        loop {
            // More than one dot is hard to read.
            if let Some(value) = NoteValue::of(stop - now).filter(|value| value.dots() < 2)
                && self.may_stand(now, stop, value.dots())
            {
                return (stop, value);
            }
            match self.cut(now, stop) {
                Some(earlier) => stop = earlier,
                None => return (stop, NoteValue::within(stop - now)),
            }
        }
    }

    /// The last of the strongest boundaries inside it.
    fn cut(&self, from: Quarters, to: Quarters) -> Option<Quarters> {
        self.boundaries(from, to)
            .max_by_key(|(at, level)| (*level, *at))
            .map(|(at, _)| at)
    }

    /// The boundaries strictly inside a span of time, on a grid fine enough to have one whenever the span can be cut.
    fn boundaries(
        &self,
        from: Quarters,
        to: Quarters,
    ) -> impl Iterator<Item = (Quarters, i8)> + '_ {
        let mut step = self.beat();
        let mut halvings = 0;
        loop {
            let first = (from / step).floor() * step + step;
            if first < to || halvings == MetricGrid::FINEST {
                let count = ((to - first) / step).ceil().to_integer().max(0);
                return (0..count).map(move |index| {
                    let at = first + step * index;
                    (at, self.level(at))
                });
            }
            step = if halvings == 0 && self.is_compound() {
                step / 3
            } else {
                step / 2
            };
            halvings += 1;
        }
    }

    fn beat(&self) -> Quarters {
        self.meter.map_or(Quarters::from(1), Meter::beat)
    }

    fn is_compound(&self) -> bool {
        self.meter.is_some_and(Meter::is_compound)
    }

    /// The metric weight of a moment of the bar.
    fn level(&self, at: Quarters) -> i8 {
        let bar = self.meter.map(Meter::bar_length);
        if at.is_zero() || bar.is_some_and(|bar| (at / bar).is_integer()) {
            return MetricGrid::BAR;
        }
        let beat = self.beat();
        let beats = bar.map(|bar| bar / beat);
        if beats == Some(Quarters::from(4)) && at == beat * 2 {
            return MetricGrid::MIDDLE;
        }
        let mut step = beat;
        let mut level = MetricGrid::BEAT;
        for halving in 0..=MetricGrid::FINEST {
            if (at / step).is_integer() {
                return level;
            }
            step = if halving == 0 && self.is_compound() {
                step / 3
            } else {
                step / 2
            };
            level -= 1;
        }
        0
    }

    fn may_stand(&self, from: Quarters, to: Quarters, dots: u8) -> bool {
        let duration = to - from;
        let Some((_, crossed)) = self
            .boundaries(from, to)
            .max_by_key(|(at, level)| (*level, *at))
        else {
            return true;
        };
        let (start, stop) = (self.level(from), self.level(to));
        let is_whole_beats = (duration / self.beat()).is_integer();
        if self.is_compound()
            && crossed >= MetricGrid::BEAT
            && !(is_whole_beats && start >= MetricGrid::BEAT)
        {
            return false;
        }
        if !self.is_note {
            return self.rest_may_stand(from, duration, dots, start, crossed);
        }
        // A value inside a beat may have any length; one that crosses a beat lasts at least a beat, and one that
        // crosses the middle of the bar at least two.
        let least = match crossed {
            MetricGrid::MIDDLE => self.beat() * 2,
            ..MetricGrid::BEAT => Quarters::ZERO,
            _ => self.beat().min(Quarters::from(1)),
        };
        let is_even_syncopation = duration >= least
            && self.level(from + duration / 2) == crossed
            && crossed < MetricGrid::BAR;
        start >= crossed || stop > crossed || is_even_syncopation
    }

    /// A rest begins on a multiple of its own value, hides no beat except the weak half of a bar in two or four, and
    /// has a dot only in compound meter.
    fn rest_may_stand(
        &self,
        from: Quarters,
        duration: Quarters,
        dots: u8,
        start: i8,
        crossed: i8,
    ) -> bool {
        if self.is_compound() {
            let is_beat = duration == self.beat() && start >= MetricGrid::BEAT;
            return is_beat || (dots == 0 && crossed < MetricGrid::BEAT && start > crossed);
        }
        let is_in_three = self
            .meter
            .is_some_and(|meter| meter.count().is_odd() && meter.count() > 1);
        let hides_a_beat = crossed >= MetricGrid::BEAT;
        dots == 0 && (from / duration).is_integer() && !(is_in_three && hides_a_beat)
    }
}
