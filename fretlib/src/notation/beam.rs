//! Which notes share a beam.
//!
//! Source: Gould, *Behind Bars* (2011), "Grouping", from memory: beams show the beats; plain eighths may be joined over
//! half a bar in four, the whole bar in 2/4, 3/4 and 3/8; compound meters are beamed in dotted beats.

use std::ops::Range;

use super::rhythm::{Symbol, Written, WrittenBar};
use crate::melody::{Meter, NoteValue, Quarters};

/// The runs of symbols that are beamed together, each of two or more notes.
pub fn beams(bar: &WrittenBar) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < bar.symbols.len() {
        let wide = bar.window(at, wide_groups(bar.meter));
        let window = if bar.is_plain(&wide) {
            wide
        } else {
            bar.window(at, beat_groups(bar.meter))
        };
        let after = bar.whole_tuplet(window.end.max(at + 1));
        out.extend(bar.runs(at..after));
        at = after;
    }
    out
}

impl WrittenBar {
    /// The symbols that begin in the same group as symbol `at`.
    fn window(&self, at: usize, groups: Vec<Quarters>) -> Range<usize> {
        let end = self.group_end(self.symbols[at].onset, &groups);
        let after = self.symbols[at..]
            .iter()
            .position(|symbol| symbol.onset >= end)
            .map_or(self.symbols.len(), |count| at + count);
        at..after
    }

    /// When the group ends in which a time of the bar lies.
    fn group_end(&self, onset: Quarters, groups: &[Quarters]) -> Quarters {
        let time = onset + self.offset;
        // Past the last group, as in a bar that is too long, the groups repeat.
        let round: Quarters = groups.iter().copied().sum();
        let mut end = (time / round).floor() * round;
        for group in groups.iter().cycle() {
            end += *group;
            if end > time {
                break;
            }
        }
        end - self.offset
    }

    /// The end of a group, or of a short tuplet off the beat that extends past it.
    fn whole_tuplet(&self, end: usize) -> usize {
        let Some(tuplet) = self.symbols[end - 1].tuplet else {
            return end;
        };
        if self.tuplets[tuplet].end - self.tuplets[tuplet].start > Quarters::from(1) {
            return end;
        }
        let goes_on = |symbol: &&Written| symbol.tuplet == Some(tuplet);
        end + self.symbols[end..].iter().take_while(goes_on).count()
    }

    fn is_plain(&self, range: &Range<usize>) -> bool {
        self.symbols[range.clone()].iter().all(|symbol| {
            symbol.can_be_beamed() && symbol.value == NoteValue::EIGHTH && symbol.tuplet.is_none()
        })
    }

    /// Whether a beam goes from one symbol to the next: within a tuplet, or into or out of tuplets inside one beat.
    fn beam_goes_on(&self, before: usize, after: usize) -> bool {
        let [from, to] = [before, after].map(|at| self.symbols[at].tuplet);
        let beat_end = |onset| self.group_end(onset, &beat_groups(self.meter));
        let end = beat_end(self.symbols[before].onset);
        let is_inside = |tuplet: usize| {
            let tuplet = self.tuplets[tuplet];
            beat_end(tuplet.start) == end && tuplet.end <= end
        };
        from == to || (self.symbols[after].onset < end && from.into_iter().chain(to).all(is_inside))
    }

    fn runs(&self, range: Range<usize>) -> Vec<Range<usize>> {
        let mut out = Vec::new();
        let mut start = range.start;
        for at in range.start..=range.end {
            let joins = at < range.end
                && self.symbols[at].can_be_beamed()
                && (at == start || self.beam_goes_on(at - 1, at));
            if joins {
                continue;
            }
            if at > start + 1 {
                out.push(start..at);
            }
            let begins = at < range.end && self.symbols[at].can_be_beamed();
            start = if begins { at } else { at + 1 };
        }
        out
    }
}

/// Lengths of the groups that plain eighths may be beamed in.
fn wide_groups(meter: Option<Meter>) -> Vec<Quarters> {
    match meter {
        Some(meter) if !meter.is_compound() => match (meter.count(), meter.unit()) {
            (4, 4) => vec![Quarters::from(2); 2],
            (2 | 3, 4) | (3, 8) => vec![meter.bar_length()],
            _ => beat_groups(Some(meter)),
        },
        _ => beat_groups(meter),
    }
}

/// Lengths of the beats; meters of five and seven eighths divide into twos and threes, with the long group last in
/// seven.
fn beat_groups(meter: Option<Meter>) -> Vec<Quarters> {
    let eighths = |counts: &[i64]| counts.iter().map(|it| Quarters::new(*it, 2)).collect();
    match meter.map(|meter| (meter, meter.count(), meter.unit())) {
        None => vec![Quarters::from(1)],
        Some((_, 5, 8)) => eighths(&[3, 2]),
        Some((_, 7, 8)) => eighths(&[2, 2, 3]),
        Some((meter, 3, 8)) => vec![meter.bar_length()],
        Some((meter, _, _)) => vec![meter.beat()],
    }
}

/// How a beam beyond the first continues at a note: to a neighbour, or as a stub.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Level {
    /// Joined from this note to the next.
    Joined,
    /// A stub that points to the note before.
    StubBack,
    /// A stub that points to the next note.
    StubOn,
}

/// For each note of a run, the beams of one level (2 for sixteenths, 3 for thirty-seconds …).
///
/// The stub of a single short note points to the note with which it completes part of a beat: forward when it begins
/// the part, else back.
pub fn level(notes: &[Written], count: u8) -> Vec<(usize, Level)> {
    let has = |at: usize| {
        notes
            .get(at)
            .is_some_and(|note| note.value.flags() >= count)
    };
    let mut out = Vec::new();
    for at in 0..notes.len() {
        if !has(at) {
            continue;
        }
        if has(at + 1) {
            out.push((at, Level::Joined));
        } else if at == 0 || !has(at - 1) {
            let part = notes[at].duration * 2;
            let begins_part = (notes[at].onset / part).is_integer();
            let leans_on = at == 0 || (begins_part && at + 1 < notes.len());
            out.push((
                at,
                if leans_on {
                    Level::StubOn
                } else {
                    Level::StubBack
                },
            ));
        }
    }
    out
}

/// The melody note that a symbol is part of.
pub fn note_index(written: &Written) -> Option<usize> {
    match written.symbol {
        Symbol::Note { index, .. } => Some(index),
        Symbol::Rest | Symbol::BarRest => None,
    }
}

#[cfg(test)]
mod tests {

    use super::super::rhythm::write_down;
    use super::*;
    use crate::melody::{Draft, Melody};

    fn check(meter: &str, durations: &str, expected: &str) {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some(meter.parse().unwrap()));
        draft.bar_line();
        for word in durations.split(' ') {
            match word.strip_prefix('r') {
                Some(word) => draft.rest(word.parse().unwrap()).unwrap(),
                None => draft
                    .note("B4".parse().unwrap(), word.parse().unwrap())
                    .unwrap(),
            }
        }
        let bars = write_down(&Melody::new(draft).unwrap());
        let found: Vec<String> = beams(&bars[0])
            .iter()
            .map(|run| format!("{}-{}", run.start + 1, run.end))
            .collect();
        assert_eq!(found.join(" "), expected, "{durations} in {meter}");
    }

    // Source: Gould, Behind Bars (2011), "Grouping"; from memory.
    #[test]
    fn beams_show_the_beats() {
        let eight = "1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2";
        let six = "1/2 1/2 1/2 1/2 1/2 1/2";
        check("4/4", eight, "1-4 5-8");
        check("2/2", eight, "1-4 5-8");
        check("3/4", six, "1-6");
        check("6/8", six, "1-3 4-6");
        check("2/4", "1/2 1/2 1/2 1/2", "1-4");
        check("3/8", "1/2 1/2 1/2", "1-3");
        check("5/8", "1/2 1/2 1/2 1/2 1/2", "1-3 4-5");
        check("7/8", "1/2 1/2 1/2 1/2 1/2 1/2 1/2", "1-2 3-4 5-7");
        check("4/4", "1/4 1/4 1/2 1/2 1/2 2", "1-3 4-5"); // sixteenths: by the beat
        check("4/4", "1/2 1 1/2 2", ""); // flags
        check("4/4", "3/4 1/4 3/4 1/4 2", "1-2 3-4");
        check("2/4", "1/3 1/3 1/3 1/2 1/2", "1-3 4-5");
        check("4/4", "1/2 r1/2 1/2 1/2 2", "3-4");
        check("4/4", "3/2 1/3 1/3 1/3 3/2", "2-4"); // a triplet off the beat
    }

    // Source: Gould, Behind Bars (2011), "Tuplets"; from memory. Issue 12.
    #[test]
    fn a_beam_goes_on_through_a_tuplet_inside_a_beat() {
        check("4/4", "1/2 1/6 1/6 1/6 3", "1-4");
        check("4/4", "1/6 1/6 1/6 1/2 3", "1-4");
        check("4/4", "1/6 1/6 1/6 1/4 1/4 1 2", "1-5");
        check("6/8", "1/2 1/6 1/6 1/6 1/2 3/2", "1-5");
        check("4/4", "1/2 1/2 1/3 1/3 1/3 2", "1-2 3-5"); // not from beat to beat
        check("4/4", "1 1/2 1/3 1/3 1/3 1/2 1", "3-5"); // nor into one that crosses the beat
        check("4/4", "1/2 1/6 1/6 r1/6 3", "1-3");
    }

    #[test]
    fn the_stub_of_a_lone_sixteenth_stays_in_its_beat() {
        let mut draft = Draft::default();
        draft.meters.set(Quarters::ZERO, Some(Meter::COMMON));
        for duration in ["3/4", "1/4", "1/4", "3/4", "1/4", "1/2", "1/4", "1"] {
            draft
                .note("B4".parse().unwrap(), duration.parse().unwrap())
                .unwrap();
        }
        let bar = write_down(&Melody::new(draft).unwrap()).remove(0);
        assert_eq!(level(&bar.symbols[0..2], 2), [(1, Level::StubBack)]);
        assert_eq!(level(&bar.symbols[2..4], 2), [(0, Level::StubOn)]);
        assert_eq!(
            level(&bar.symbols[4..7], 2),
            [(0, Level::StubOn), (2, Level::StubBack)]
        );
    }
}
