//! Divisions other than powers of two.

use num_integer::Integer;

use crate::melody::{Quarters, Tuplet};

/// Start and end of a note or rest.
pub(super) type Extent = (Quarters, Quarters);

/// Whether the times under a bracket are on the grid of its notes, so that it can be written as typed.
pub(super) fn fits(tuplet: Tuplet, extents: &[Extent]) -> bool {
    let is_inside = |at: &Quarters| *at > tuplet.start && *at < tuplet.end;
    let on_grid = |at: Quarters| is_dyadic((at - tuplet.start) * tuplet.count / tuplet.time_of);
    let inside = touching(extents, (tuplet.start, tuplet.end)).iter();
    is_dyadic(tuplet.start)
        && is_dyadic(tuplet.end)
        && inside
            .flat_map(|(from, to)| [*from, *to])
            .filter(is_inside)
            .all(on_grid)
}

/// Adds brackets for all other times off the dyadic grid, with the ratio that puts them on it.
///
/// The extents must follow each other.
pub(super) fn find_tuplets(
    extents: &[Extent],
    length: Quarters,
    offset: Quarters,
    given: Vec<Tuplet>,
) -> Vec<Tuplet> {
    let mut tuplets: Vec<Tuplet> = Vec::new();
    let mut given = given.into_iter().peekable();
    for time in extents.iter().flat_map(|(from, to)| [*from, *to]) {
        while let Some(tuplet) = given.next_if(|it| it.start <= time) {
            tuplets.push(tuplet);
        }
        let is_covered = tuplets.last().is_some_and(|tuplet| time <= tuplet.end);
        if is_dyadic(time) || is_covered {
            continue;
        }
        // A note that ends in the middle of a division is cut and tied.
        let window = window_around(time, extents, length, offset, Edges::Closed)
            .or_else(|| window_around(time, extents, length, offset, Edges::Open));
        let before = tuplets.last().map_or(Quarters::ZERO, |it| it.end);
        let after = given.peek().map_or(length, |it| it.start);
        tuplets.extend(window.filter(|it| it.start >= before && it.end <= after));
    }
    tuplets.extend(given);
    tuplets
}

/// The extents that touch a span of time. A bar in free meter may have thousands; a tuplet concerns only a few.
fn touching(extents: &[Extent], (start, end): Extent) -> &[Extent] {
    let first = extents.partition_point(|(_, to)| *to < start);
    let after = extents.partition_point(|(from, _)| *from <= end);
    &extents[first..after.max(first)]
}

/// Whether a note may cross the edge of a tuplet.
#[derive(Clone, Copy, PartialEq)]
enum Edges {
    Closed,
    Open,
}

/// The shortest span of 1/4, 1/2, 1 … quarter notes around a time in which all times are on one odd division.
///
/// It begins on a multiple of its length, or else at the start of a note.
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
    widths
        .flat_map(|width| {
            let on_beat = ((time + offset) / width).floor() * width - offset;
            let nearest_first = touching(extents, (time - width, time)).iter().rev();
            let off_beat = nearest_first.map(|(from, _)| *from).filter(move |from| {
                edges == Edges::Closed && *from < time && is_dyadic(*from) && *from != on_beat
            });
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
            let count = inside.clone().fold(1, |count: i64, at| {
                count.lcm(&odd_part(((at - start) / (end - start)).denom()))
            });
            let mut time_of = 1;
            while time_of * 2 < count {
                time_of *= 2;
            }
            // A long span that begins elsewhere is counted in notes of its own value, not in fractions of them.
            let is_on_beat = ((start + offset) / (end - start)).is_integer();
            let may_stand = is_on_beat
                || end - start <= Quarters::ONE
                || inside
                    .clone()
                    .all(|at| ((at - start) * count / (end - start)).is_integer());
            (count <= 13 && may_stand).then_some(Tuplet {
                count,
                time_of,
                start,
                end,
            })
        })
}

/// Whether no note that begins or ends on an odd division inside crosses an edge.
fn is_closed((start, end): Extent, extents: &[Extent]) -> bool {
    touching(extents, (start, end)).iter().all(|&(from, to)| {
        let off_grid_inside = |at: Quarters| at > start && at < end && !is_dyadic(at);
        let crosses = |edge: Quarters| from < edge && edge < to;
        !((crosses(start) || crosses(end)) && (off_grid_inside(from) || off_grid_inside(to)))
    })
}

/// Whether a time is a quarter note divided by powers of two.
pub(super) fn is_dyadic(time: Quarters) -> bool {
    (time.denom() as u64).is_power_of_two()
}

fn odd_part(number: i64) -> i64 {
    number >> number.trailing_zeros()
}
