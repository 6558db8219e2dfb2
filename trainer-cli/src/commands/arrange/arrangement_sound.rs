//! An arrangement as it sounds: the melody, and what lies under it more softly.

use std::ops::Range;

use fretlib::arranging::{Arrangement, Voicing};
use fretlib::melody::{Melody, Tempo};
use fretlib::neck::{Instrument, Place};
use fretlib::sound::{
    ConcertPitch, Layer, Manner, Performance, PerformanceError, PlayThrough, Pluck, Strength, Tone,
    play_through,
};

use crate::commands::play::under_melody;
use crate::failure::Failure;

/// What sounds, and how.
pub struct ArrangementSound<'a> {
    pub melody: &'a Melody,
    pub instrument: &'a Instrument,
    pub arrangement: &'a Arrangement,
    /// Decibels from the melody down to what lies under it.
    pub contrast: f64,
    /// In place of the tune's own tempo.
    pub tempo: Option<Tempo>,
}

impl ArrangementSound<'_> {
    /// Once through, or some bars of it, counted in the order in which they sound.
    pub fn played(&self, bars: Option<Range<usize>>) -> Result<PlayThrough, Failure> {
        let tempos = self.melody.tempos();
        let own = tempos.first().copied().unwrap_or(Tempo::DEFAULT);
        let asked = self.tempo.unwrap_or(own);
        let speed = asked.quarters_per_minute().to_f64() / own.quarters_per_minute().to_f64();
        let under = self.arrangement.struck_notes(self.melody);
        let manner = Manner {
            speed,
            under: Some(under_melody(&under, self.contrast)),
            bars,
            ..Manner::of(self.melody)
        };
        let notes = self.arrangement.notes.iter();
        let places: Vec<Option<Place>> = notes.map(|note| Some(note.melody.place)).collect();
        let octave = self.arrangement.octave;
        let played = play_through(self.melody, &places, octave, self.instrument, &manner);
        played.map_err(too_long)
    }

    /// The bar with this index in the tune and the one that sounds after it.
    pub fn two_bars(&self, index: usize) -> Result<PlayThrough, Failure> {
        let all = self.played(None)?.bars;
        let first = all.iter().position(|bar| bar.index == index);
        let first = first.unwrap_or_default();
        self.played(Some(first..(first + 2).min(all.len())))
    }
}

/// Seconds that a voicing is heard alone.
const ALONE: f64 = 2.0;

/// One voicing with its melody note, alone.
pub fn one_voicing(
    voicing: &Voicing,
    instrument: &Instrument,
    contrast: f64,
) -> Result<Performance, Failure> {
    // All that lies under the melody together sounds as loud as one note.
    let share = 10.0 * (voicing.under().len() as f64).log10();
    let quiet = Strength::MELODY.softer(contrast + share);
    let plucks = voicing.places().filter_map(|at| {
        let tone = Tone::at(instrument, at.place, ConcertPitch::A440)?;
        let (layer, strength) = match at == voicing.melody {
            true => (Layer::Melody, Strength::MELODY),
            false => (Layer::Chords, quiet),
        };
        Some(Pluck {
            layer,
            strength,
            ..Pluck::new(tone, at.place.string, 0.0, ALONE)
        })
    });
    Performance::new(plucks.collect(), Vec::new(), ALONE).map_err(too_long)
}

fn too_long(error: PerformanceError) -> Failure {
    Failure::could_not(
        error.to_string(),
        "arrange a part of the tune, as in `--bars 1-32`",
    )
}
