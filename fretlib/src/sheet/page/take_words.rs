//! What was heard of the player, in words.

use super::{fitted, part_title};
use crate::sheet::drawing::{Anchor, Mark, Point};
use crate::sheet::font::Face;
use crate::sheet::staff_block::Block;

/// What was heard of the player's own playing, as it is printed.
#[derive(Clone, Copy, Debug)]
pub struct TakeOnPaper<'a> {
    /// The sign under each note of the melody, empty where it was right.
    pub signs: &'a [String],
    /// What the signs mean.
    pub legend: &'a str,
    /// What matters about the take, a sentence each.
    pub sentences: &'a [String],
}

const SIZE: f64 = 3.0;
const LINE: f64 = 4.2;

impl TakeOnPaper<'_> {
    /// All of it under a title.
    pub(super) fn block(&self, width: f64) -> Block {
        let mut block = part_title("What was heard", width);
        let sentences = self.sentences.iter().map(String::as_str);
        let texts = [self.legend].into_iter().chain(sentences);
        for line in texts.flat_map(|text| lines(text, width)) {
            block.height += LINE;
            let at = Point::new(0.0, block.height - 1.0);
            let line = fitted(&line, SIZE, Face::Text, width);
            let mark = Mark::text(line, at, SIZE, Face::Text, Anchor::Start);
            block.marks.push(mark);
        }
        block
    }
}

/// A text in lines of this width, broken at spaces.
fn lines(text: &str, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if Face::Text.width(&format!("{line} {word}"), SIZE) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_are_broken_into_lines_that_fit() {
        let text =
            "Wrong: bar 3 Eb4 for E4 (string 4, fret 2), bar 7 A4 for G4 (string 1, fret 3).";
        for width in [30.0, 80.0, 190.0] {
            let lines = lines(text, width);
            assert_eq!(lines.join(" "), text);
            assert!(
                lines
                    .iter()
                    .all(|line| Face::Text.width(line, SIZE) <= width),
                "{lines:?}"
            );
        }
        let take = TakeOnPaper {
            signs: &[],
            legend: "x wrong",
            sentences: &[text.to_owned()],
        };
        let (wide, narrow) = (take.block(190.0), take.block(40.0));
        // The title and its rule, the legend, the sentence in a line or in several.
        assert_eq!(wide.marks.len(), 4);
        assert!(narrow.marks.len() > 5 && narrow.height > wide.height);
    }
}
