//! In which octave a melody leaves room for what lies under it.

use super::bare_notes::BareStep;
use super::chord_role::ChordRoles;
use super::moment::{Density, moments};
use super::voicings::Arranger;
use crate::mapping::octaves_on;
use crate::melody::Melody;
use crate::theory::{Octave, Pitch};
use std::collections::HashMap;

/// How well an octave suits an arrangement.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct OctaveFit {
    /// Octaves from the written melody.
    pub octave: Octave,
    /// How many voicings are asked for.
    pub asked: usize,
    /// For how many of them one with every guide tone is within reach; any at all, in a style of fewer notes.
    pub suited: usize,
}

/// The octaves a melody may be arranged in, best first.
///
/// - The written octave is best when at least nineteen in twenty of the voicings asked for suit the style there.
/// - Else the octave with the most suitable voicings; of equals the nearest.
///
/// Nineteen in twenty is chosen by ear. Empty when the melody is on the neck in no octave.
pub fn octave_fits(arranger: &Arranger, melody: &Melody, density: Density) -> Vec<OctaveFit> {
    let asked = moments(melody, density, &arranger.style);
    let mut fits: Vec<OctaveFit> = octaves_on(melody, arranger.instrument)
        .filter(|octave| octave.distance() <= 2 && is_playable(arranger, melody, *octave))
        .map(|octave| {
            let mut known: HashMap<_, bool> = HashMap::new();
            let suited = asked.iter().filter(|moment| {
                let Some(pitch) = moved(melody.notes()[moment.note].pitch, octave) else {
                    return false;
                };
                *known
                    .entry((pitch.midi(), moment.chord, moment.resolves))
                    .or_insert_with(|| {
                        arranger.can_voice(&ChordRoles::new(moment.chord, moment.resolves), pitch)
                    })
            });
            OctaveFit {
                octave,
                asked: asked.len(),
                suited: suited.count(),
            }
        })
        .collect();
    let written =
        |fit: &OctaveFit| fit.octave == Octave::WRITTEN && 20 * fit.suited >= 19 * fit.asked;
    fits.sort_by_key(|fit| {
        (
            !written(fit),
            std::cmp::Reverse(fit.suited),
            fit.octave.distance(),
        )
    });
    fits
}

fn moved(pitch: Pitch, octave: Octave) -> Option<Pitch> {
    pitch.transpose(octave.interval()).ok()
}

fn is_playable(arranger: &Arranger, melody: &Melody, octave: Octave) -> bool {
    let mut notes = melody.notes().iter();
    notes.all(|note| {
        moved(note.pitch, octave)
            .is_some_and(|pitch| !BareStep::all(arranger.instrument, pitch.midi()).is_empty())
    })
}
