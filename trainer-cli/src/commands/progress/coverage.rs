//! Everything that can be asked about a tune, and what was played of it.

use std::collections::{BTreeMap, BTreeSet};
use std::io;

use fretlib::neck::Position;
use fretlib::practice::{Item, Kind, PlacementKey};

use crate::history::TuneEntry;
use crate::session::{PracticeTune, bars_in_words};
use crate::terminal::Streams;

/// Everything that a drill can ask about a tune, answered or not.
pub struct Coverage {
    /// The positions of the instrument.
    pub positions: Vec<Position>,
    /// The number of items for each phrase and placement (`None` for questions about the melody alone).
    pub cells: BTreeMap<(u32, Option<PlacementKey>), usize>,
    /// The phrases that can be played, at each placement where one of them was heard.
    pub played: BTreeSet<(u32, Option<PlacementKey>)>,
    /// Whether it is played along a fingering of the player's own.
    pub is_fingered: bool,
    /// The bars of each phrase, in words.
    pub bars: Vec<String>,
}

impl Coverage {
    /// The coverage of a tune of the history of which these items were asked; none when it is gone or has changed.
    pub fn of(entry: &TuneEntry, met: &[Item]) -> Option<Coverage> {
        // What is wrong with the tune is for the commands that play it to say.
        let mut quiet = Streams::captured(io::empty(), io::sink(), io::sink());
        let mut tune = PracticeTune::reopen(entry, &mut quiet).ok()?;
        if tune.entry.id != entry.id {
            return None;
        }
        let placements = met.iter().filter_map(|item| item.placement);
        tune.material.add_placements(placements);
        let kinds = Kind::counted(met.iter().map(|item| item.kind));
        let heard = met.iter().filter(|item| item.kind == Kind::Play);
        let heard: BTreeSet<Option<PlacementKey>> = heard.map(|item| item.placement).collect();
        let (mut cells, mut played) = (BTreeMap::new(), BTreeSet::new());
        for item in Item::all(&tune.material, entry.id, &kinds) {
            match item.kind {
                Kind::Play if heard.contains(&item.placement) => {
                    played.insert((item.phrase, item.placement));
                }
                Kind::Play => {}
                _ => *cells.entry((item.phrase, item.placement)).or_default() += 1,
            }
        }
        let phrases = 0..tune.material.phrases().len();
        Some(Coverage {
            positions: tune.material.instrument().positions().collect(),
            cells,
            played,
            is_fingered: tune.material.is_fingered(),
            bars: phrases
                .map(|phrase| bars_in_words(&tune.material, phrase as u32))
                .collect(),
        })
    }

    /// How many items there are to be asked.
    pub fn items(&self) -> usize {
        self.cells.values().sum()
    }
}
