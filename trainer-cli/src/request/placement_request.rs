//! From a request to the placements of a tune, and the one to draw.

use fretlib::mapping::{NeckMap, OpenStrings, Placement, Preference};
use fretlib::neck::{Instrument, Position, PositionSet};
use fretlib::theory::Octave;
use fretlib::theory::Pitch;

use crate::failure::Failure;
use crate::input::tune::Tune;

/// The placements of a tune to consider, and the one to draw.
#[derive(Clone, Debug, Default)]
pub struct PlacementRequest {
    /// The position to draw; `None` for the best.
    pub position: Option<Position>,
    /// The octave to draw; `None` for the best.
    pub octave: Option<Octave>,
    /// Only these positions.
    pub positions: Option<PositionSet>,
}

/// Maps a tune; fails when no octave of it fits the neck.
pub fn neck_map(
    tune: &Tune,
    instrument: &Instrument,
    open_strings: OpenStrings,
    preference: Preference,
) -> Result<NeckMap, Failure> {
    let map = NeckMap::new(&tune.melody, instrument, open_strings).preferring(preference);
    if map.placements().is_empty() {
        return Err(off_the_neck(tune, instrument));
    }
    Ok(map)
}

impl PlacementRequest {
    /// Whether a placement is in one of the positions to consider.
    pub fn is_in_range(&self, placement: &Placement) -> bool {
        let is_asked = |set: PositionSet| set.contains(placement.position);
        self.positions.is_none_or(is_asked)
    }

    /// Whether the player picked a position or an octave.
    pub fn is_picked(&self) -> bool {
        self.position.is_some() || self.octave.is_some()
    }

    /// The placement to draw: the requested one, else the best of those to consider.
    pub fn pick<'a>(
        &self,
        map: &'a NeckMap,
        instrument: &Instrument,
    ) -> Result<&'a Placement, Failure> {
        let octaves = map.octaves();
        if let Some(octave) = self.octave
            && !octaves.contains(&octave)
        {
            let octaves: Vec<String> = octaves.iter().map(|it| it.to_string()).collect();
            return Err(Failure::could_not(
                format!("at octave {octave} the tune leaves the neck"),
                format!("octaves on this instrument: {}", octaves.join(", ")),
            ));
        }
        map.best_where(|it| {
            self.is_in_range(it)
                && self.position.is_none_or(|position| position == it.position)
                && self.octave.is_none_or(|octave| octave == it.octave)
        })
        .ok_or_else(|| no_such_position(instrument))
    }
}

fn no_such_position(instrument: &Instrument) -> Failure {
    let highest = instrument
        .positions()
        .next_back()
        .unwrap_or(Position::FIRST);
    Failure::usage(
        "there is no such position to show",
        format!(
            "the {} has positions I to {highest}; `--position` must lie within `--positions`",
            instrument.name()
        ),
    )
}

/// The failure when no octave fits: by how much, and what would help.
fn off_the_neck(tune: &Tune, instrument: &Instrument) -> Failure {
    let (low, high) = tune.melody.range();
    let (lowest, highest) = instrument.midi_range();
    // Spelling does not matter here.
    let name = Pitch::from_midi;
    let wide = high.midi() - low.midi();
    let has = highest - lowest;
    let (problem, hint) = if wide > has {
        (
            format!(
                "the tune spans {wide} semitones ({low} to {high}), the {} only {has} ({} to {}): {} too many",
                instrument.name(),
                name(lowest),
                name(highest),
                wide - has
            ),
            "map a part of it with `--bars`, or take an instrument with more strings or frets",
        )
    } else {
        // Narrow enough, but no octave fits.
        let below = (lowest - low.midi()).rem_euclid(12);
        let above = (high.midi() - highest).rem_euclid(12);
        (
            format!(
                "at no octave does the tune ({low} to {high}) fit the {} ({} to {}): it is {below} semitones too low at one and {above} too high at the next",
                instrument.name(),
                name(lowest),
                name(highest)
            ),
            "move it with `--transpose` or `--to-key`, or map a part of it with `--bars`",
        )
    };
    Failure::could_not(problem, hint)
}
