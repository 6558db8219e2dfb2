//! How much of the neck a tune has to meet the player on.

use std::collections::BTreeSet;
use std::io;

use fretlib::neck::Position;
use fretlib::practice::{Item, Kind, Spot};

use crate::history::TuneEntry;
use crate::session::PracticeTune;
use crate::terminal::Streams;

/// All that a drill can ask of a tune, answered or not.
pub struct Coverage {
    /// The positions of the instrument.
    pub positions: Vec<Position>,
    /// Each phrase, and where it can be asked; none for questions about the melody alone.
    pub cells: BTreeSet<(u32, Option<Spot>)>,
}

impl Coverage {
    /// The coverage of a tune of the history; none when it is gone or has changed.
    pub fn of(entry: &TuneEntry) -> Option<Coverage> {
        // What is wrong with the tune is for the commands that play it to say.
        let mut quiet = Streams::captured(io::empty(), io::sink(), io::sink());
        let tune = PracticeTune::reopen(entry, &mut quiet).ok()?;
        if tune.entry.id != entry.id {
            return None;
        }
        let items = Item::all(&tune.material, entry.id, &Kind::ALL);
        Some(Coverage {
            positions: tune.material.instrument().positions().collect(),
            cells: items.iter().map(|it| (it.phrase, it.spot)).collect(),
        })
    }
}
