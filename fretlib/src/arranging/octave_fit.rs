//! The octaves in which a melody leaves space for voicings under it.

use super::bare_notes::BareStep;
use super::chord_role::ChordRoles;
use super::moment::{ChordMoment, Density, moments};
use super::voicings::Arranger;
use crate::mapping::octaves_on;
use crate::melody::Melody;
use crate::theory::{Interval, Octave, Pitch};
use std::collections::HashMap;

/// How well an octave suits an arrangement.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct OctaveFit {
    /// Octaves from the written melody.
    pub octave: Octave,
    /// How many voicings are needed.
    pub asked: usize,
    /// For how many of them a voicing with every guide tone is within reach, or any voicing in a style of fewer notes.
    pub suited: usize,
}

/// The octaves a melody may be arranged in, best first.
///
/// - The written octave is best when at least nineteen in twenty of the voicings suit the style there.
/// - Otherwise, the octave with the most suitable voicings; of equals the nearest.
///
/// Nineteen in twenty is chosen by ear. Empty when the melody is on the neck in no octave.
pub fn octave_fits(arranger: &Arranger, melody: &Melody, density: Density) -> Vec<OctaveFit> {
    let asked = moments(melody, density, &arranger.style);
    let mut fits: Vec<OctaveFit> = octaves_on(melody, arranger.instrument)
        .filter(|octave| octave.distance() <= 2 && is_playable(arranger, melody, *octave))
        .map(|octave| OctaveFit {
            octave,
            asked: asked.len(),
            suited: suited(arranger, melody, &asked, octave),
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

/// How well another key suits an arrangement.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct TranspositionFit {
    /// From the tune's key to the other one.
    pub interval: Interval,
    /// For how many voicings one with every guide tone is within reach; any at all, in a style of fewer notes.
    pub suited: usize,
}

/// The keys a melody may be arranged in at an octave, best first: within a tritone up or down, its own left out.
///
/// - First the nearest of those in which at least nineteen in twenty of the voicings asked for suit the style.
/// - Then by the number of suitable voicings; of equals the nearest.
pub fn transposition_fits(
    arranger: &Arranger,
    melody: &Melody,
    density: Density,
    octave: Octave,
) -> Vec<TranspositionFit> {
    // Diatonic steps and semitones: the usual spelling of each distance.
    const UP: [(i16, i16); 6] = [(1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6)];
    let intervals = UP.into_iter().flat_map(|(steps, semitones)| {
        [(steps, semitones), (-steps, -semitones)]
            .into_iter()
            .filter_map(|(steps, semitones)| Interval::new(steps, semitones).ok())
    });
    let mut fits: Vec<(bool, u8, TranspositionFit)> = intervals
        .filter_map(|interval| {
            let moved = melody.transposed(interval).ok()?;
            if !is_playable(arranger, &moved, octave) {
                return None;
            }
            let asked = moments(&moved, density, &arranger.style);
            let suited = suited(arranger, &moved, &asked, octave);
            let is_roomy = 20 * suited >= 19 * asked.len();
            let distance = interval.semitones().unsigned_abs();
            Some((is_roomy, distance, TranspositionFit { interval, suited }))
        })
        .collect();
    fits.sort_by_key(|(is_roomy, distance, fit)| {
        let suited = if *is_roomy { 0 } else { fit.suited };
        (!is_roomy, std::cmp::Reverse(suited), *distance)
    });
    fits.into_iter().map(|(.., fit)| fit).collect()
}

/// For how many moments something suits the style.
fn suited(arranger: &Arranger, melody: &Melody, asked: &[ChordMoment], octave: Octave) -> usize {
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
    suited.count()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::Style;
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::neck::Instrument;

    #[test]
    fn a_tune_that_lies_low_is_proposed_higher() {
        // Under the lowest notes of the neck nothing can sound.
        let melody = tune(
            "E minor",
            r#"(chords: "Em7 | Am7 | Em7", notes: "G3 w | E4 w | B3 w")"#,
        );
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::PLUCKED);
        let fits = transposition_fits(&arranger, &melody, Density::Medium, Octave::WRITTEN);
        let best = fits[0];
        let as_it_is = octave_fits(&arranger, &melody, Density::Medium);
        let as_it_is = as_it_is.iter().find(|fit| fit.octave == Octave::WRITTEN);
        assert!(best.suited > as_it_is.unwrap().suited, "{fits:?}");
        assert!(best.interval.semitones() > 0);
        // Every other distance within a tritone is there once.
        let mut all: Vec<i8> = fits.iter().map(|fit| fit.interval.semitones()).collect();
        all.sort_unstable();
        assert!(all.windows(2).all(|pair| pair[0] < pair[1]) && !all.contains(&0));
    }
}
