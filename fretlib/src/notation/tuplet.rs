//! Divisions that are no power of two.

use num_integer::Integer;

use super::value::Value;
use crate::melody::Quarters;

/// `count` notes in the time of `time_of`.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Tuplet {
    /// How many there are.
    pub count: i64,
    /// In the time of how many.
    pub time_of: i64,
    /// When the first begins, from the start of the bar.
    pub start: Quarters,
    /// When the last ends.
    pub end: Quarters,
}

impl Tuplet {
    /// The note value counted; `None` if it is dotted.
    pub fn unit(self) -> Option<Value> {
        match Value::exactly((self.end - self.start) / self.time_of) {
            Some((value, 0)) => Some(value),
            _ => None,
        }
    }
}

/// From when to when something sounds or is silent.
pub(super) type Extent = (Quarters, Quarters);

/// Finds the stretches whose inner times lie on no dyadic grid, and the ratio that puts them on one.
///
/// The extents follow each other.
pub(super) fn find_tuplets(extents: &[Extent], length: Quarters, offset: Quarters) -> Vec<Tuplet> {
    let mut tuplets: Vec<Tuplet> = Vec::new();
    for time in extents.iter().flat_map(|(from, to)| [*from, *to]) {
        let is_covered = tuplets.last().is_some_and(|tuplet| time <= tuplet.end);
        if is_dyadic(time) || is_covered {
            continue;
        }
        // Where a sound leaves the stretch in the middle of a division, it is cut and tied.
        let window = window_around(time, extents, length, offset, Edges::Closed)
            .or_else(|| window_around(time, extents, length, offset, Edges::Open));
        tuplets.extend(window);
    }
    tuplets
}

/// Those that touch a stretch of time: a bar in free meter may have thousands, of which a tuplet concerns a few.
fn touching(extents: &[Extent], (start, end): Extent) -> &[Extent] {
    let first = extents.partition_point(|(_, to)| *to < start);
    let after = extents.partition_point(|(from, _)| *from <= end);
    &extents[first..after.max(first)]
}

/// Whether a sound may lead from inside a tuplet over its edge.
#[derive(Clone, Copy, PartialEq)]
enum Edges {
    Closed,
    Open,
}

/// The shortest stretch of 1/4, 1/2, 1 … quarter notes around a time whose times lie on one odd division of it.
///
/// It begins on a multiple of its length or, a short one, off the beat where a sound begins.
fn window_around(
    time: Quarters,
    extents: &[Extent],
    length: Quarters,
    offset: Quarters,
    edges: Edges,
) -> Option<Tuplet> {
    let shortest = match edges {
        Edges::Closed => Quarters::new(1, 4),
        Edges::Open => Quarters::from(1),
    };
    let widths = std::iter::successors(Some(shortest), |width| Some(*width * 2))
        .take_while(|width| *width <= Quarters::from(8));
    let off_beat = touching(extents, (time - 1, time))
        .iter()
        .rev()
        .map(|(from, _)| *from)
        .find(|from| *from < time && is_dyadic(*from))
        .filter(|from| edges == Edges::Closed && !from.is_integer());
    widths
        .flat_map(|width| {
            let on_beat = ((time + offset) / width).floor() * width - offset;
            let off_beat = off_beat.filter(|_| width <= Quarters::from(1));
            let starts = std::iter::once(on_beat).chain(off_beat);
            starts.map(move |start| (start, start + width))
        })
        .filter(|(start, end)| *start >= Quarters::ZERO && *end <= length && *end > time)
        .filter(|window| edges == Edges::Open || is_closed(*window, extents))
        .find_map(|(start, end)| {
            let inside = touching(extents, (start, end))
                .iter()
                .flat_map(|(from, to)| [*from, *to])
                .filter(|at| *at > start && *at < end);
            let count = inside.fold(1, |count: i64, at| {
                count.lcm(&odd_part(((at - start) / (end - start)).denom()))
            });
            let mut time_of = 1;
            while time_of * 2 < count {
                time_of *= 2;
            }
            (count <= 13).then_some(Tuplet {
                count,
                time_of,
                start,
                end,
            })
        })
}

/// Whether no sound that begins or ends on an odd division inside leads over an edge.
fn is_closed((start, end): Extent, extents: &[Extent]) -> bool {
    touching(extents, (start, end)).iter().all(|&(from, to)| {
        let off_grid_inside = |at: Quarters| at > start && at < end && !is_dyadic(at);
        let crosses = |edge: Quarters| from < edge && edge < to;
        !((crosses(start) || crosses(end)) && (off_grid_inside(from) || off_grid_inside(to)))
    })
}

/// Whether a time is a whole number of halves of halves of a quarter note.
pub(super) fn is_dyadic(time: Quarters) -> bool {
    (time.denom() as u64).is_power_of_two()
}

fn odd_part(number: i64) -> i64 {
    number >> number.trailing_zeros()
}
