//! A long line, its parts searched side by side.
//!
//! Where the hand began soon makes no difference to what is best later on: the best paths from different starts meet.
//! So a part can be searched from a few notes before it, from anywhere, while the part before it is still being searched.
//! Where both find the same nodes at the note where they meet, and the same differences between their costs, all that
//! follows is the same. Where they do not, the part is searched again from what the one before it found.

use std::ops::Range;

use super::super::Fingering;
use super::frontier::Node;
use super::walk::Walk;
use super::{Criterion, Search};

/// How a line is divided.
#[derive(Clone, Copy)]
pub(super) struct Division {
    /// The notes of each part.
    pub(super) part: usize,
    /// The notes before a part at which its search begins.
    pub(super) lead_in: usize,
}

impl Division {
    /// By timing: shorter lines are not worth a thread. Always the same, so that what is found does not depend on the machine.
    pub(super) fn of(notes: usize) -> Division {
        Division {
            part: notes.div_ceil(16).max(1 << 15),
            lead_in: 256,
        }
    }

    fn parts(self, notes: usize) -> Vec<Range<usize>> {
        let begins = (0..notes).step_by(self.part);
        begins
            .map(|begin| begin..(begin + self.part).min(notes))
            .collect()
    }
}

/// A part after its search.
struct Part<'a> {
    /// The nodes of the note before it, as found from a few notes earlier.
    origins: Vec<Node>,
    walk: Walk<'a>,
}

impl Search<'_> {
    /// The fingering that costs least, or the index of the first note that no path reaches.
    pub(super) fn cheapest_in_parts(&self, division: Division) -> Result<Fingering, usize> {
        let ranges = division.parts(self.line.notes().len());
        let searched = std::thread::scope(|scope| {
            let search = |notes: &Range<usize>| {
                let notes = notes.clone();
                scope.spawn(move || self.search_part(notes, division.lead_in))
            };
            let threads: Vec<_> = ranges.iter().map(search).collect();
            let joined = threads.into_iter().map(|thread| thread.join());
            joined
                .map(|part| part.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
                .collect::<Vec<_>>()
        });
        let mut parts: Vec<Part> = Vec::new();
        for (notes, part) in ranges.into_iter().zip(searched) {
            match (parts.last_mut(), part) {
                (None, part) => parts.push(part?),
                (Some(last), Ok(part)) if are_alike(last.walk.ends(), &part.origins) => {
                    parts.push(part);
                }
                (Some(last), _) => last.walk.along(notes)?,
            }
        }
        Ok(join(&parts))
    }

    fn search_part(&self, notes: Range<usize>, lead_in: usize) -> Result<Part<'_>, usize> {
        let mut walk = Walk::new(self, Criterion::CHEAPEST, None);
        walk.along(notes.start.saturating_sub(lead_in)..notes.start)?;
        let origins = walk.ends().to_vec();
        walk.forget_way();
        walk.along(notes)?;
        Ok(Part { origins, walk })
    }
}

/// True when all that follows costs the same from these nodes as from those, but for one difference. Sums in another order
/// differ in their last digits.
fn are_alike(these: &[Node], those: &[Node]) -> bool {
    let difference = apart(these, those);
    let pair = |(one, other): (&Node, &Node)| {
        one.note == other.note
            && one.state == other.state
            && (one.cost - other.cost - difference).abs() < 1e-6
    };
    these.len() == those.len() && these.iter().zip(those).all(pair)
}

/// How much more the first of these nodes costs than the first of those.
fn apart(these: &[Node], those: &[Node]) -> f64 {
    let pair = these.first().zip(those.first());
    pair.map_or(0.0, |(one, other)| one.cost - other.cost)
}

/// The cheapest fingering of the whole line. Each part's origins are the ends of the part before it.
fn join(parts: &[Part]) -> Fingering {
    let ends = parts.last().map_or(&[][..], |last| last.walk.ends());
    let ends = (0..).zip(ends.iter().map(|node| node.cost));
    let (mut end, mut cost) = ends
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .unwrap_or_default();
    cost += parts
        .windows(2)
        .map(|pair| apart(pair[0].walk.ends(), &pair[1].origins))
        .sum::<f64>();
    let mut ways = Vec::new();
    for part in parts.iter().rev() {
        let (way, origin) = part.walk.way_to(end);
        ways.push(way);
        end = origin;
    }
    ways.reverse();
    Fingering {
        notes: ways.concat(),
        cost,
    }
}
