//! Several sheets bound together behind a front page that lists them.

use super::{Leaf, MARGIN, Sheet, fitted, heading_mark, numbered};
use crate::sheet::drawing::{Anchor, Ink, Mark, Page, Point, Stroke};
use crate::sheet::font::Face;
use crate::sheet::page::Paper;
use crate::sheet::words;

/// What stands on the front page over the list of tunes.
#[derive(Clone, Debug)]
pub struct FrontPage {
    /// The name of the set.
    pub title: String,
    /// A line under it, such as the day.
    pub words: String,
}

/// The pages of one tune, to be bound with those of others.
#[derive(Clone, Debug)]
pub struct UnboundPages {
    title: String,
    /// Key and tempo.
    facts: String,
    leaves: Vec<Leaf>,
}

impl UnboundPages {
    /// Sets a sheet on paper as [`pages`](super::pages) does, without numbers.
    pub fn of(sheet: &Sheet<'_>, paper: Paper) -> UnboundPages {
        let beats = sheet.tune.melody.first_tempo().count().to_f64();
        let key = words::signs(&sheet.tune.key.to_string());
        UnboundPages {
            title: sheet.title().to_owned(),
            facts: format!("{key}, {beats:.0} beats a minute"),
            leaves: sheet.leaves(paper, true),
        }
    }
}

/// Binds sheets in this order behind a front page, numbered through.
pub fn bound(front: &FrontPage, tunes: Vec<UnboundPages>, paper: Paper) -> Vec<Page> {
    let mut leaves = front_leaves(front, &tunes, paper);
    leaves.extend(tunes.into_iter().flat_map(|tune| tune.leaves));
    numbered(leaves, paper)
}

/// The tunes with the page each begins on; more than one page where there are too many for one.
fn front_leaves(front: &FrontPage, tunes: &[UnboundPages], paper: Paper) -> Vec<Leaf> {
    const FIRST: f64 = 62.0;
    const ROW: f64 = 11.0;
    let (width, height) = paper.size();
    let rows = ((height - MARGIN - 12.0 - FIRST) / ROW) as usize;
    let count = tunes.len().div_ceil(rows).max(1);
    let mut page = count + 1;
    let mut leaves: Vec<Leaf> = Vec::new();
    for chunk in 0..count {
        let room = width - 2.0 * MARGIN;
        let middle = Point::new(width / 2.0, 32.0);
        let title = fitted(&front.title, 11.0, Face::Bold, room);
        let title = Mark::text(title, middle, 11.0, Face::Bold, Anchor::Middle);
        let under = Point::new(width / 2.0, 41.0);
        let line = fitted(&front.words, 4.2, Face::Italic, room);
        let mut marks = vec![
            heading_mark(1, title),
            Mark::text(line, under, 4.2, Face::Italic, Anchor::Middle),
        ];
        let (left, right) = (MARGIN + 14.0, width - MARGIN - 14.0);
        for (row, tune) in tunes.iter().skip(chunk * rows).take(rows).enumerate() {
            let y = FIRST + ROW * row as f64;
            let number = format!("{}.", chunk * rows + row + 1);
            let at = Point::new(left + 6.0, y);
            marks.push(Mark::text(number, at, 4.6, Face::Text, Anchor::End));
            let facts_width = Face::Text.width(&tune.facts, 3.2);
            let name_room = right - left - 26.0 - facts_width;
            let name = fitted(&tune.title, 4.6, Face::Bold, name_room);
            let at = Point::new(left + 9.0, y);
            marks.push(Mark::text(name, at, 4.6, Face::Bold, Anchor::Start));
            let at = Point::new(right - 12.0, y);
            marks.push(Mark::text(&tune.facts, at, 3.2, Face::Text, Anchor::End));
            let at = Point::new(right, y);
            marks.push(Mark::text(
                page.to_string(),
                at,
                4.6,
                Face::Text,
                Anchor::End,
            ));
            let rule = Stroke::solid(0.15, Ink::Grey);
            let (from, to) = (Point::new(left, y + 3.4), Point::new(right, y + 3.4));
            marks.push(Mark::line(from, to, rule));
            page += tune.leaves.len();
        }
        leaves.push(Leaf {
            marks,
            title: front.title.clone(),
            is_key: false,
        });
    }
    leaves
}
