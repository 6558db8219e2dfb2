//! Divisions that are no power of two.

use num_integer::Integer;
use num_traits::Zero;

use crate::melody::Quarters;

/// So many in the time of so many.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Tuplet {
    /// How many there are.
    pub count: i64,
    /// In the time of how many.
    pub time_of: i64,
    pub(super) start: Quarters,
    pub(super) end: Quarters,
}

/// Finds the stretches whose inner times lie on no dyadic grid, and the ratio that puts them on one.
pub(super) fn find_tuplets(times: &[Quarters], length: Quarters, offset: Quarters) -> Vec<Tuplet> {
    let is_dyadic = |time: Quarters| (*time.denom() as u64).is_power_of_two();
    let mut tuplets: Vec<Tuplet> = Vec::new();
    for &time in times {
        let is_covered = tuplets.last().is_some_and(|tuplet| time <= tuplet.end);
        if is_dyadic(time) || is_covered {
            continue;
        }
        // Where a sound leaves the stretch in the middle of a division, it is cut and tied.
        let window = window_around(time, times, length, offset, Edges::Closed)
            .or_else(|| window_around(time, times, length, offset, Edges::Open));
        tuplets.extend(window);
    }
    tuplets
}

/// Whether a sound may lead from inside a tuplet over its edge.
#[derive(Clone, Copy, PartialEq)]
enum Edges {
    Closed,
    Open,
}

/// The shortest stretch of 1/4, 1/2, 1 … quarter notes around a time whose times lie on one odd division of it.
fn window_around(
    time: Quarters,
    times: &[Quarters],
    length: Quarters,
    offset: Quarters,
    edges: Edges,
) -> Option<Tuplet> {
    let is_dyadic = |time: Quarters| (*time.denom() as u64).is_power_of_two();
    let mut width = match edges {
        Edges::Closed => Quarters::new(1, 4),
        Edges::Open => Quarters::from(1),
    };
    while width <= Quarters::from(8) {
        let start = ((time + offset) / width).floor() * width - offset;
        let end = start + width;
        // Spans come as pairs: from, to.
        let is_closed = edges == Edges::Open
            || times.chunks(2).all(|span| {
                let (from, to) = (span[0], span[span.len() - 1]);
                let off_grid_inside = |at: Quarters| at > start && at < end && !is_dyadic(at);
                let crosses = |edge: Quarters| from < edge && edge < to;
                !((crosses(start) || crosses(end))
                    && (off_grid_inside(from) || off_grid_inside(to)))
            });
        let count = times
            .iter()
            .filter(|at| **at > start && **at < end)
            .fold(1, |count: i64, at| {
                count.lcm(&odd_part(*((at - start) / width).denom()))
            });
        if is_closed && start >= Quarters::zero() && end <= length && count <= 13 {
            let mut time_of = 1;
            while time_of * 2 < count {
                time_of *= 2;
            }
            return Some(Tuplet {
                count,
                time_of,
                start,
                end,
            });
        }
        width *= 2;
    }
    None
}

fn odd_part(number: i64) -> i64 {
    number >> number.trailing_zeros()
}
