//! Progress on the neck: a table of phrases by positions for each octave.

use std::collections::BTreeSet;

use fretlib::neck::Position;
use fretlib::practice::PlacementKey;
use fretlib::text::{Role, StyledText};
use fretlib::theory::Octave;

use super::coverage::Coverage;
use super::progress_page::{indented, line};
use crate::history::{PhraseCell, RecallGrid};

/// The part of a tune's items that has been asked.
pub struct Neck<'a> {
    met: &'a RecallGrid,
    // The phrases that were played.
    hands: &'a RecallGrid,
    // `None` when it is unknown.
    coverage: Option<&'a Coverage>,
    // All cells, asked or not.
    cells: BTreeSet<PhraseCell>,
    placements: BTreeSet<PlacementKey>,
    ascii: bool,
    width: usize,
}

impl<'a> Neck<'a> {
    /// The table, with the recall of each cell that was asked, and of the phrases that were played.
    pub fn new(
        met: &'a RecallGrid,
        hands: &'a RecallGrid,
        coverage: Option<&'a Coverage>,
        ascii: bool,
        width: usize,
    ) -> Neck<'a> {
        let known = coverage
            .into_iter()
            .flat_map(|coverage| coverage.cells.keys());
        let cells: BTreeSet<PhraseCell> = met.keys().chain(known).copied().collect();
        Neck {
            placements: cells
                .iter()
                .filter_map(|(_, placement)| *placement)
                .collect(),
            met,
            hands,
            coverage,
            cells,
            ascii,
            width,
        }
    }

    /// Draws it: how much is untouched, a table for each octave, the melody alone, and what was played.
    pub fn draw(&self, text: &mut StyledText) {
        indented(text, &self.untouched(), self.width, Role::Faint);
        let octaves: BTreeSet<Octave> = self
            .placements
            .iter()
            .map(|placement| placement.octave)
            .collect();
        for octave in octaves {
            let columns = self.columns(octave);
            // A column is a position: three characters each, after a margin for the phrase.
            for part in columns.chunks(self.fitting(3)) {
                let lies = |position| self.placements.contains(&PlacementKey { position, octave });
                if part.iter().copied().any(lies) {
                    self.grid(text, octave, part);
                }
            }
        }
        self.alone(text);
        self.played(text);
    }

    fn untouched(&self) -> String {
        if self.coverage.is_none() {
            return "its file is gone or has changed: only what was asked is shown".into();
        }
        let is_met =
            |placement: &&PlacementKey| self.met.keys().any(|(_, met)| *met == Some(**placement));
        let all = self.placements.len();
        match all - self.placements.iter().filter(is_met).count() {
            0 => format!("asked in all {all} positions and octaves of its practice"),
            left => {
                format!("{left} of {all} positions and octaves of its practice still untouched")
            }
        }
    }

    /// The whole neck if it is known, so that the columns of all octaves and tunes line up.
    fn columns(&self, octave: Octave) -> Vec<Position> {
        let here = self
            .placements
            .iter()
            .filter(|placement| placement.octave == octave);
        let neck = self
            .coverage
            .into_iter()
            .flat_map(|it| &it.positions)
            .copied();
        let columns: BTreeSet<Position> = here
            .map(|placement| placement.position)
            .chain(neck)
            .collect();
        columns.into_iter().collect()
    }

    /// How many columns of this width fit beside the margin.
    fn fitting(&self, column: usize) -> usize {
        (self.width.saturating_sub(MARGIN) / column).max(1)
    }

    /// One octave in some positions; a single row when nothing was asked there.
    fn grid(&self, text: &mut StyledText, octave: Octave, columns: &[Position]) {
        let heading = match octave {
            Octave::WRITTEN => octave.in_words(),
            _ => format!("octave {octave}"),
        };
        let numbers = columns.iter().map(|position| position.get().to_string());
        line(text, &row(&heading, numbers), Role::Faint);
        let mut met = self.met.keys().filter_map(|(_, placement)| *placement);
        if !met.any(|placement| placement.octave == octave) {
            let lies = |position| self.placements.contains(&PlacementKey { position, octave });
            let shades = columns.iter().map(|it| match lies(*it) {
                true => shade(None, self.ascii),
                false => "",
            });
            line(text, &row("untouched", shades), Role::Plain);
            return;
        }
        for phrase in self.phrases() {
            let placement = |position: &Position| PlacementKey {
                position: *position,
                octave,
            };
            let shades = columns
                .iter()
                .map(|it| self.shade((phrase, Some(placement(it)))));
            line(
                text,
                &row(&self.phrase_in_words(phrase), shades),
                Role::Plain,
            );
        }
    }

    /// The questions about the melody alone, phrase by phrase.
    fn alone(&self, text: &mut StyledText) {
        let here = |phrase: &u32| self.cells.contains(&(*phrase, None));
        let phrases: Vec<u32> = self.phrases().into_iter().filter(here).collect();
        for part in phrases.chunks(self.fitting(9)) {
            let shades = part
                .iter()
                .map(|phrase| self.phrase_shade(*phrase, self.shade((*phrase, None))));
            line(text, &row("tune alone", shades), Role::Plain);
        }
    }

    /// What was played, a row for each place of the hand.
    fn played(&self, text: &mut StyledText) {
        let known = self.coverage.into_iter().flat_map(|it| &it.played);
        let cells: BTreeSet<PhraseCell> = self.hands.keys().chain(known).copied().collect();
        let spots: BTreeSet<PlacementKey> = cells.iter().filter_map(|it| it.1).collect();
        for spot in spots {
            let mut heading = format!("played {}", spot.position);
            if spot.octave != Octave::WRITTEN {
                heading.push_str(&format!(" {}", spot.octave));
            }
            let here: Vec<PhraseCell> = cells
                .iter()
                .filter(|it| it.1 == Some(spot))
                .copied()
                .collect();
            for part in here.chunks(self.fitting(9)) {
                let shades = part.iter().map(|cell| {
                    let recall = self.hands.get(cell).copied();
                    self.phrase_shade(cell.0, shade(recall, self.ascii))
                });
                line(text, &row(&heading, shades), Role::Plain);
            }
        }
    }

    /// ` 9-12 ██`
    fn phrase_shade(&self, phrase: u32, shade: &str) -> String {
        let bars = self.phrase_in_words(phrase);
        let bars = bars.rsplit(' ').next().unwrap_or_default();
        format!(" {bars:>5} {shade}")
    }

    fn phrase_in_words(&self, phrase: u32) -> String {
        let bars = self.coverage.and_then(|it| it.bars.get(phrase as usize));
        bars.cloned()
            .unwrap_or_else(|| format!("phrase {}", phrase + 1))
    }

    fn phrases(&self) -> BTreeSet<u32> {
        self.cells.iter().map(|(phrase, _)| *phrase).collect()
    }

    fn shade(&self, cell: PhraseCell) -> &'static str {
        match self.met.get(&cell) {
            Some(recall) => shade(Some(*recall), self.ascii),
            None if self.coverage.is_none() || self.cells.contains(&cell) => {
                shade(None, self.ascii)
            }
            // The phrase is not playable there.
            None => "",
        }
    }
}

/// From this recall on the shade is full, and nothing is weak.
pub const FULL: f64 = 0.9;

/// Two characters for a recall, fuller for a higher one; their shapes differ, so that no colour is needed.
pub fn shade(recall: Option<f64>, ascii: bool) -> &'static str {
    let shades = if ascii {
        [" .", "--", "==", "%%", "##"]
    } else {
        [" ·", "░░", "▒▒", "▓▓", "██"]
    };
    shades[match recall {
        None => 0,
        Some(recall) if recall < 0.5 => 1,
        Some(recall) if recall < 0.7 => 2,
        Some(recall) if recall < FULL => 3,
        Some(_) => 4,
    }]
}

/// Columns before the table.
const MARGIN: usize = 14;

/// A heading and its columns, three characters each or as wide as they are.
fn row(heading: &str, columns: impl Iterator<Item = impl AsRef<str>>) -> String {
    let mut row = format!("  {heading:<width$}", width = MARGIN - 2);
    for column in columns {
        row.push_str(&format!("{:>3}", column.as_ref()));
    }
    row.truncate(row.trim_end().len());
    row
}
