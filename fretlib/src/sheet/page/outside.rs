//! The notes outside the scale, in words.

use super::{GAP, Sheet, line_of_text, part_title};
use crate::melody::Quarters;
use crate::sheet::drawing::{Anchor, Mark, Point};
use crate::sheet::font::Face;
use crate::sheet::notation::Block;
use crate::sheet::words;
use crate::theory::Membership;

impl Sheet<'_> {
    pub(super) fn outside(&self, width: f64) -> Vec<Block> {
        let mut blocks = vec![part_title("Outside the scale", width)];
        let outside: Vec<usize> = (0..self.notes.len())
            .filter(|&index| self.notes[index].membership != Membership::Scale)
            .collect();
        if outside.is_empty() {
            let text = "Every note belongs to the scale.";
            blocks.push(line_of_text(text, 3.2, Face::Text));
            return blocks;
        }
        let columns = (width / 85.0).floor().max(1.0) as usize;
        for row in outside.chunks(columns) {
            let mut marks = Vec::new();
            for (column, index) in row.iter().enumerate() {
                let x = width / columns as f64 * column as f64;
                let at = Point::new(x, 3.2);
                let text = self.outside_line(*index);
                marks.push(Mark::text(text, at, 3.2, Face::Text, Anchor::Start));
            }
            // Closer than blocks usually stand.
            blocks.push(Block {
                height: 3.4 - GAP + 1.6,
                marks,
            });
        }
        blocks.push(Block {
            height: 1.0,
            marks: Vec::new(),
        });
        blocks
    }

    fn outside_line(&self, index: usize) -> String {
        let note = &self.notes[index];
        let bar = self.melody.bar_at(note.note.onset);
        let meter = self.melody.meters().at(bar.onset).copied().flatten();
        let beat_length = meter.map_or(Quarters::from(1), |meter| meter.beat());
        let beat = (note.note.onset - bar.onset) / beat_length + 1;
        let left = match self.notes.get(index + 1).and_then(|next| next.interval) {
            Some(interval) => format!(", left by {}", words::minus(&interval.to_string())),
            None => String::new(),
        };
        format!(
            "bar {}, beat {}: {}, {}{}",
            note.bar,
            mixed(beat),
            words::signs(&note.note.pitch.to_string()),
            words::signs(&note.degree.to_string()),
            left
        )
    }
}

/// A number of beats as players say it: `2`, `2½`, `1⅓` is written `1 1/3`.
fn mixed(beat: Quarters) -> String {
    let whole = beat.to_integer();
    match beat.fract() {
        part if part.numer() == 0 => whole.to_string(),
        part => format!("{whole} {}/{}", part.numer(), part.denom()),
    }
}
