//! The words printed after a tune: further verses, mostly.

use super::{Sheet, fitted};
use crate::sheet::drawing::{Anchor, Mark, Point};
use crate::sheet::font::Face;
use crate::sheet::staff_block::Block;

const SIZE: f64 = 3.2;
const LINE: f64 = 4.2;

impl Sheet<'_> {
    /// A block for every verse, so that a page can end between two of them.
    pub(super) fn words_after(&self, width: f64) -> Vec<Block> {
        let verses = self.tune.melody.words().split(|line| line.is_empty());
        let verses = verses.filter(|lines| !lines.is_empty());
        let block = |lines: &[String]| Block {
            height: lines.len() as f64 * LINE,
            marks: (1..)
                .zip(lines)
                .map(|(number, line)| {
                    let at = Point::new(0.0, f64::from(number) * LINE - 1.0);
                    let line = fitted(line, SIZE, Face::Text, width);
                    Mark::text(line, at, SIZE, Face::Text, Anchor::Start)
                })
                .collect(),
        };
        verses.map(block).collect()
    }
}
