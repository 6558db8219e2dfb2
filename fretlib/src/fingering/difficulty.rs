//! What makes a fingering hard, in measures a player knows, each compared with other tunes.

use super::{Fingering, Player, TimedMelody};
use crate::neck::{Finger, Position};

/// The smallest leap of more than a fifth, in semitones.
const WIDE_LEAP: u16 = 8;

macro_rules! measures {
    ($($measure:ident, $words:literal, $deciles:expr, $doc:literal;)*) => {
        /// A measure of difficulty: the more of it, the harder the fingering.
        #[derive(Clone, Copy, Debug, Eq, PartialEq)]
        pub enum FingeringMeasure { $(#[doc = $doc] $measure,)* }

        impl FingeringMeasure {
            /// Every measure.
            pub const ALL: &[FingeringMeasure] = &[$(FingeringMeasure::$measure),*];

            /// More of it, in words that go before "than".
            pub const fn more(self) -> &'static str {
                match self { $(FingeringMeasure::$measure => $words,)* }
            }

            /// The nine deciles of the reference tunes.
            #[doc(hidden)]
            pub const fn deciles(self) -> [f64; 9] {
                match self { $(FingeringMeasure::$measure => $deciles,)* }
            }
        }
    };
}

// Deciles of those of the 240 reference tunes in `tests/data/abc` that fit on a guitar, at their own tempo, with a
// medium hand, each in its usual region; a test computes them again. The choice of measures follows the criteria of
// Sébastien et al. 2012 (ISMIR), from the abstract.
measures! {
    Speed, "faster notes", [4.0, 4.0, 4.0, 4.0, 5.9, 6.9, 8.0, 8.0, 8.0], "Notes a second, where one in ten goes faster.";
    Shifts, "more shifts", [0.0, 0.0, 0.0, 0.8, 1.6, 2.4, 3.4, 4.5, 5.7], "Shifts per 100 notes.";
    Travel, "a longer way along the neck", [0.0, 0.0, 0.0, 24.9, 59.2, 129.5, 246.5, 341.4, 477.0], "Millimetres the hand moves per 100 notes.";
    Stretches, "more stretches", [0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.7, 2.6, 4.8], "Stretches per 100 notes.";
    Height, "higher positions", [1.0, 1.0, 2.0, 2.0, 3.0, 4.0, 5.0, 5.0, 5.0], "The highest position.";
    StringChanges, "more string changes", [37.3, 40.3, 43.3, 46.6, 48.4, 50.7, 54.1, 57.5, 62.2], "Changes of string per 100 notes.";
    Leaps, "more wide leaps", [0.0, 0.9, 1.5, 2.3, 3.0, 3.8, 5.0, 6.5, 9.1], "Leaps of more than a fifth per 100 notes.";
}

impl FingeringMeasure {
    /// How many of 100 tunes have less of it, from 0 to 95; interpolated between two deciles.
    pub fn percentile(self, amount: f64) -> u8 {
        let deciles = self.deciles();
        let below = deciles
            .iter()
            .take_while(|decile| **decile < amount)
            .count();
        let part = match (
            below.checked_sub(1).map(|at| deciles[at]),
            deciles.get(below),
        ) {
            (Some(from), Some(to)) => (amount - from) / (to - from),
            (None, Some(_)) => 0.0,
            (_, None) => 0.5,
        };
        (10.0 * (below as f64 + part)) as u8
    }
}

impl Fingering {
    /// The value of every measure for this fingering of a melody, in the order of [`FingeringMeasure::ALL`].
    pub fn measures(&self, player: &Player, line: &TimedMelody) -> Vec<(FingeringMeasure, f64)> {
        let per_100 = |amount: f64| 100.0 * amount / self.notes.len() as f64;
        let nut = |position: Position| {
            let fret = position.fret(Finger::First);
            player.instrument.millimetres_at(fret)
        };
        let pairs = || self.notes.windows(2);
        let mut speeds: Vec<f64> = line
            .notes()
            .iter()
            .map(|note| 1.0 / note.seconds.max(0.01))
            .collect();
        speeds.sort_by(f64::total_cmp);
        let stretches = self.notes.iter().filter(|note| note.is_stretched());
        let leaps = line.notes().windows(2).filter(|pair| {
            let [one, other] = [0, 1].map(|at| pair[at].pitch.midi());
            (one - other).unsigned_abs() >= WIDE_LEAP
        });
        let amount = |measure| match measure {
            FingeringMeasure::Speed => speeds[9 * (speeds.len() - 1) / 10],
            FingeringMeasure::Shifts => per_100(self.shifts().count() as f64),
            FingeringMeasure::Travel => per_100(
                pairs()
                    .map(|pair| (nut(pair[0].position) - nut(pair[1].position)).abs())
                    .sum(),
            ),
            FingeringMeasure::Stretches => per_100(stretches.clone().count() as f64),
            FingeringMeasure::Height => self
                .notes
                .iter()
                .map(|note| f64::from(note.position.get()))
                .fold(0.0, f64::max),
            FingeringMeasure::StringChanges => per_100(
                pairs()
                    .filter(|pair| pair[0].place.string != pair[1].place.string)
                    .count() as f64,
            ),
            FingeringMeasure::Leaps => per_100(leaps.clone().count() as f64),
        };
        FingeringMeasure::ALL
            .iter()
            .map(|measure| (*measure, amount(*measure)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_lie_between_the_deciles() {
        for measure in FingeringMeasure::ALL {
            let deciles = measure.deciles();
            assert!(deciles.is_sorted(), "{measure:?}");
            assert_eq!(measure.percentile(-1.0), 0);
            assert_eq!(measure.percentile(deciles[8] + 1.0), 95);
            let middle = measure.percentile(deciles[4]);
            assert!(middle <= 50, "{measure:?}: {middle}");
        }
    }
}
