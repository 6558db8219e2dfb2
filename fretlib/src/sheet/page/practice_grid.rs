//! Boxes to tick: every position at every tempo.

use super::{GAP, Sheet, line_of_text, part_title};
use crate::melody::Tempo;
use crate::sheet::drawing::{Anchor, Ink, Mark, Point, Stroke};
use crate::sheet::font::Face;
use crate::sheet::notation::Block;

impl Sheet<'_> {
    /// A box for every placement at every tempo.
    pub(super) fn grid(&self, width: f64) -> Vec<Block> {
        const SHARES: [i64; 5] = [60, 70, 80, 90, 100];
        let tempo = self.melody.tempos().first().copied();
        let tempo = tempo.unwrap_or(Tempo::DEFAULT);
        let beats = (tempo.quarters_per_minute() / self.beat()).to_f64();
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
        head.height = y - GAP + 2.5;
        let mut blocks = vec![head];
        for placement in self.placements {
            let mut marks = Vec::new();
            let position = format!("{}", placement.position);
            let at = Point::new(0.0, 4.6);
            marks.push(Mark::text(position, at, 3.6, Face::Bold, Anchor::Start));
            let at = Point::new(14.0, 4.6);
            let octave = placement.octave.in_words();
            marks.push(Mark::text(octave, at, 3.2, Face::Text, Anchor::Start));
            for index in 0..SHARES.len() {
                let x = names + column * (index as f64 + 0.5);
                let stroke = Stroke::solid(0.25, Ink::Black);
                let (from, to) = (Point::new(x - 2.4, 1.0), Point::new(x + 2.4, 5.8));
                marks.push(Mark::rectangle(from, to, None, Some(stroke)));
            }
            blocks.push(Block {
                height: 6.8 - GAP,
                marks,
            });
        }
        let words = "Warm up first. Stop when it hurts, rest, and see a teacher or a clinician if it comes back.";
        let mut last = line_of_text(words, 2.8, Face::Italic);
        last.marks = last
            .marks
            .into_iter()
            .map(|mark| mark.moved(0.0, 4.0))
            .collect();
        last.height += 4.0;
        blocks.push(last);
        blocks
    }
}
