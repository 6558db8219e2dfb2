//! A melody cut into what a line of ABC can hold: notes and rests that end with their bar.

use crate::melody::{Melody, Quarters};

/// One bar.
pub(super) struct Measure {
    pub(super) onset: Quarters,
    pub(super) pieces: Vec<Piece>,
}

/// A note, a rest or a part of one, within one bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Piece {
    pub(super) onset: Quarters,
    pub(super) duration: Quarters,
    /// The index of the note; none for a rest.
    pub(super) note: Option<usize>,
    /// The note was begun by the piece before.
    pub(super) is_tied: bool,
    /// The note goes on in the next piece.
    pub(super) ties_on: bool,
}

/// Cuts a melody at its bar lines and wherever else something must be written between notes.
///
/// `cuts` rise; times outside the melody are passed over.
pub(super) fn measures(melody: &Melody, cuts: &[Quarters]) -> Vec<Measure> {
    let bars = melody.bars();
    let mut measures: Vec<Measure> = bars
        .iter()
        .map(|bar| Measure {
            onset: bar.onset,
            pieces: Vec::new(),
        })
        .collect();
    let mut edges: Vec<Quarters> = bars
        .iter()
        .map(|bar| bar.onset)
        .chain(cuts.iter().copied())
        .collect();
    edges.sort_unstable();
    edges.dedup();
    let mut measure = 0;
    let mut edge = 0;
    let mut add = |start: Quarters, end: Quarters, note: Option<usize>| {
        let mut onset = start;
        while onset < end {
            while edges.get(edge).is_some_and(|at| *at <= onset) {
                edge += 1;
            }
            let until = edges.get(edge).map_or(end, |at| end.min(*at));
            while measures
                .get(measure + 1)
                .is_some_and(|next| next.onset <= onset)
            {
                measure += 1;
            }
            measures[measure].pieces.push(Piece {
                onset,
                duration: until - onset,
                note,
                is_tied: note.is_some() && onset > start,
                ties_on: note.is_some() && until < end,
            });
            onset = until;
        }
    };
    let mut now = Quarters::from(0);
    for (index, note) in melody.notes().iter().enumerate() {
        add(now, note.onset, None);
        add(note.onset, note.end(), Some(index));
        now = note.end();
    }
    add(now, melody.length(), None);
    measures
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Draft;

    #[test]
    fn notes_are_cut_at_bar_lines_and_where_asked() {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::from(0), Some("2/4".parse().unwrap()));
        draft.rest(Quarters::from(1)).unwrap();
        draft
            .note("E4".parse().unwrap(), Quarters::from(4))
            .unwrap();
        let melody = Melody::new(draft).unwrap();
        let pieces: Vec<String> = measures(&melody, &[Quarters::new(5, 2)])
            .iter()
            .map(|measure| {
                let pieces = measure.pieces.iter().map(|piece| {
                    let tie = |is: bool| if is { "-" } else { "" };
                    let what = piece.note.map_or("r", |_| "E");
                    format!(
                        "{}{what}{}{}",
                        tie(piece.is_tied),
                        piece.duration,
                        tie(piece.ties_on)
                    )
                });
                pieces.collect::<Vec<_>>().join(" ")
            })
            .collect();
        assert_eq!(pieces, ["r1 E1-", "-E1/2- -E3/2-", "-E1"]);
    }
}
