//! Boxes to tick: every position at every tempo.

use super::{GAP, Part, Sheet, part_title};
use crate::sheet::drawing::{Anchor, Ink, Mark, Point, Stroke};
use crate::sheet::font::Face;
use crate::sheet::staff_block::Block;

/// The least height of a row in which its name can be read.
const MIN_ROW: f64 = 3.2;

impl Sheet<'_> {
    /// A box for every placement at every tempo, on one page of this height.
    pub(super) fn grid(&self, width: f64, height: f64) -> Vec<Block> {
        if !self.has(Part::Grid) || self.grid.is_empty() {
            return Vec::new();
        }
        const SHARES: [i64; 5] = [60, 70, 80, 90, 100];
        let beats = self.tune.melody.first_tempo().count().to_f64();
        let names = 58.0f64.min(width * 0.4);
        let column = ((width - names) / SHARES.len() as f64).min(24.0);
        let mut head = part_title("Practice", width);
        let y = head.height + 4.0;
        for (index, share) in SHARES.iter().enumerate() {
            let x = names + column * (index as f64 + 0.5);
            let text = format!("{:.0}", beats * *share as f64 / 100.0);
            let at = Point::new(x, y);
            head.marks
                .push(Mark::text(text, at, 3.0, Face::Figure, Anchor::Middle));
        }
        let at = Point::new(0.0, y);
        let words = "position, octave; beats a minute";
        head.marks
            .push(Mark::text(words, at, 3.0, Face::Italic, Anchor::Start));
        head.height = y + 1.5;
        let words = "Warm up first. Stop when it hurts, rest, and see a teacher or a clinician if it comes back.";
        let at = Point::new(0.0, 5.0);
        let caution = Block {
            height: 6.0,
            marks: vec![Mark::text(words, at, 2.8, Face::Italic, Anchor::Start)],
        };
        // Many rows are set closer, so that all go on one page.
        let room = height - head.height - caution.height - 2.0 * GAP;
        let row = (room / self.grid.len() as f64 - GAP).clamp(MIN_ROW, 6.0);
        let mut blocks = vec![head];
        for placement in self.grid {
            let mut marks = Vec::new();
            let base = row / 2.0 + 1.2;
            let position = placement.position.to_string();
            let at = Point::new(0.0, base);
            marks.push(Mark::text(position, at, 3.4, Face::Bold, Anchor::Start));
            let at = Point::new(14.0, base);
            let octave = placement.octave.in_words();
            marks.push(Mark::text(octave, at, 3.0, Face::Text, Anchor::Start));
            let half = (row / 2.0 - 0.5).min(2.4);
            for index in 0..SHARES.len() {
                let x = names + column * (index as f64 + 0.5);
                let stroke = Stroke::solid(0.25, Ink::Black);
                let from = Point::new(x - 2.4, row / 2.0 - half);
                let to = Point::new(x + 2.4, row / 2.0 + half);
                marks.push(Mark::rectangle(from, to, None, Some(stroke)));
            }
            blocks.push(Block { height: row, marks });
        }
        blocks.push(caution);
        blocks
    }
}
