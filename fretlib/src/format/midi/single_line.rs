//! One note at a time out of whatever sounds together.

use super::grid::Clock;
use super::tracks::Line;
use crate::format::left_out::LeftOut;

/// A note by its number, in parts of a quarter note.
pub(super) struct Span {
    pub(super) onset: u64,
    pub(super) end: u64,
    pub(super) key: u8,
}

/// One note after the other on the grid: of those that begin together the highest, each cut where the next begins.
pub(super) fn single_line(line: &Line, clock: &Clock, remarks: &mut Vec<String>) -> Vec<Span> {
    let mut left_out = LeftOut::default();
    let mut spans: Vec<Span> = Vec::with_capacity(line.notes.len());
    let mut last_end = 0;
    for note in &line.notes {
        let onset = clock.onset(note.start);
        let end = Some(clock.end(note.end))
            .filter(|end| *end > onset)
            .unwrap_or(onset + clock.step());
        match spans.last_mut() {
            Some(last) if last.onset == onset => {
                left_out.stacked += 1;
                if note.key > last.key {
                    (last.key, last.end, last_end) = (note.key, end, note.end);
                }
                continue;
            }
            Some(last) if last.end > onset => {
                last.end = onset;
                // Rounding alone is not worth a remark.
                left_out.cut += usize::from(last_end > note.start);
            }
            _ => {}
        }
        last_end = note.end;
        spans.push(Span {
            onset,
            end,
            key: note.key,
        });
    }
    left_out.remark(remarks);
    spans
}
