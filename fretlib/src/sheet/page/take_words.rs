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
    /// A block a sentence, the first under a title, so that a page can end between two of them.
    pub(super) fn blocks(&self, width: f64) -> Vec<Block> {
        let sentences = self.sentences.iter().map(String::as_str);
        let texts = [self.legend].into_iter().chain(sentences);
        let mut blocks: Vec<Block> = texts.map(|text| sentence(text, width)).collect();
        let mut first = part_title("What was heard", width);
        let legend = blocks.remove(0);
        let y = first.height;
        let marks = legend.marks.into_iter();
        first.marks.extend(marks.map(|mark| mark.moved(0.0, y)));
        first.height += legend.height;
        blocks.insert(0, first);
        blocks
    }
}

fn sentence(text: &str, width: f64) -> Block {
    let lines = lines(text, width);
    Block {
        height: lines.len() as f64 * LINE,
        marks: (1..)
            .zip(&lines)
            .map(|(number, line)| {
                let at = Point::new(0.0, f64::from(number) * LINE - 1.0);
                let line = fitted(line, SIZE, Face::Text, width);
                Mark::text(line, at, SIZE, Face::Text, Anchor::Start)
            })
            .collect(),
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
        assert_eq!(sentence(text, 190.0).marks.len(), 1);
        assert!(sentence(text, 30.0).height > 3.0 * LINE);
    }
}
