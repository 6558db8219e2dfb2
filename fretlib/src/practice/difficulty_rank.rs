//! How hard the tunes of a shelf are compared with each other, and why. There are no grades: even with exact labels,
//! models guess them right in only two of five cases (Ramoneda et al., piano).

use std::collections::BTreeMap;

use crate::fingering::{
    FingeredNote, Fingering, FingeringMeasure, FingeringSearch, Player, TimedMelody,
};
use crate::melody::Melody;
use crate::neck::Fret;
use crate::theory::{Key, Membership, Octave};

/// What makes a tune hard to play. The choice follows Sébastien et al. 2012 (ISMIR) as far as a fretted instrument allows.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum DifficultyMeasure {
    /// [`FingeringMeasure::Speed`] of the best fingering.
    Speed,
    /// [`FingeringMeasure::Shifts`].
    Shifts,
    /// Millimetres a second that the hand moves, in the fastest of nine shifts in ten.
    ShiftSpeed,
    /// [`FingeringMeasure::Stretches`].
    Stretches,
    /// The widest move compared with the limit of the hand.
    WidestMove,
    /// Notes outside the scale in a hundred.
    OutsideScale,
    /// [`FingeringMeasure::Leaps`].
    Leaps,
    /// The variety of durations: their entropy in bits.
    Rhythm,
    /// [`FingeringMeasure::Height`].
    HighestPosition,
    /// Crossings over a string, in a hundred notes.
    StringCrossings,
}

impl DifficultyMeasure {
    /// Every measure, in the order of [`Difficulty::values`].
    pub const ALL: [DifficultyMeasure; 10] = [
        DifficultyMeasure::Speed,
        DifficultyMeasure::Shifts,
        DifficultyMeasure::ShiftSpeed,
        DifficultyMeasure::Stretches,
        DifficultyMeasure::WidestMove,
        DifficultyMeasure::OutsideScale,
        DifficultyMeasure::Leaps,
        DifficultyMeasure::Rhythm,
        DifficultyMeasure::HighestPosition,
        DifficultyMeasure::StringCrossings,
    ];

    /// The reason in words.
    pub const fn name(self) -> &'static str {
        match self {
            DifficultyMeasure::Speed => "fast notes",
            DifficultyMeasure::Shifts => "many shifts",
            DifficultyMeasure::ShiftSpeed => "fast shifts",
            DifficultyMeasure::Stretches => "stretches",
            DifficultyMeasure::WidestMove => "wide moves",
            DifficultyMeasure::OutsideScale => "notes outside the scale",
            DifficultyMeasure::Leaps => "wide leaps",
            DifficultyMeasure::Rhythm => "varied rhythm",
            DifficultyMeasure::HighestPosition => "high positions",
            DifficultyMeasure::StringCrossings => "string crossings",
        }
    }
}

/// The measures of one tune, in the order of [`DifficultyMeasure::ALL`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difficulty {
    /// The values; none is negative or not a number.
    pub values: [f64; 10],
}

impl Difficulty {
    /// Measures a melody in the fingering that is shown for it; `None` when there is none.
    pub fn of(melody: &Melody, key: Key, player: Player) -> Option<Difficulty> {
        let line = TimedMelody::new(melody, Octave::WRITTEN, None)?;
        let fingering = FingeringSearch::new(player).best(melody, Octave::WRITTEN)?;
        let count = melody.notes().len() as f64;
        let of_fingering = fingering.measures(&player, &line);
        let measured = |measure| {
            let found = of_fingering.iter().find(|(it, _)| *it == measure);
            found.map_or(0.0, |(_, amount)| *amount)
        };
        let outside = melody
            .analyse(key)
            .iter()
            .filter(|note| note.membership != Membership::Scale)
            .count();
        let crossings = fingering
            .notes
            .windows(2)
            .filter(|pair| {
                let strings = [pair[0].place.string.get(), pair[1].place.string.get()];
                strings[0].abs_diff(strings[1]) > 1
            })
            .count();
        let values = [
            measured(FingeringMeasure::Speed),
            measured(FingeringMeasure::Shifts),
            ninth_of_ten(shift_speeds(&fingering, &line, player)),
            measured(FingeringMeasure::Stretches),
            widest_move(&fingering, player),
            100.0 * outside as f64 / count,
            measured(FingeringMeasure::Leaps),
            entropy(melody),
            measured(FingeringMeasure::Height),
            100.0 * crossings as f64 / count,
        ];
        values
            .iter()
            .all(|value| value.is_finite())
            .then_some(Difficulty { values })
    }
}

/// The speed of each shift: the distance of the move in the time the hand has.
fn shift_speeds(fingering: &Fingering, line: &TimedMelody, player: Player) -> Vec<f64> {
    let at = |index: usize| {
        let position = fingering.notes[index].position.get();
        let millimetres = |fret| player.instrument.millimetres_at(fret);
        Fret::new(position).map_or(0.0, millimetres)
    };
    let speed = |index: usize| {
        let time = fingering.time_to_move(line, index).max(0.02);
        (at(index) - at(index - 1)).abs() / time
    };
    fingering.shifts().map(speed).collect()
}

/// The widest distance of two successive fingers, compared with the greatest reach of those two.
fn widest_move(fingering: &Fingering, player: Player) -> f64 {
    let moves = fingering.notes.windows(2).filter_map(|pair| {
        let (one, other) = (pair[0].finger?, pair[1].finger?);
        if one == other || pair[0].position != pair[1].position {
            return None;
        }
        let (_, utmost) = player.hand.reach(one, other);
        let at = |note: &FingeredNote| player.instrument.millimetres_at(note.place.fret);
        let apart = at(&pair[0]) - at(&pair[1]);
        Some(apart.abs() / utmost.max(1.0))
    });
    moves.fold(0.0, f64::max)
}

/// The entropy of the durations, in bits.
fn entropy(melody: &Melody) -> f64 {
    let mut counts: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    for note in melody.notes() {
        let duration = (note.duration.numer(), note.duration.denom());
        *counts.entry(duration).or_default() += 1;
    }
    let all = melody.notes().len().max(1) as f64;
    let share = |count: &usize| *count as f64 / all;
    -counts
        .values()
        .map(|it| share(it) * share(it).log2())
        .sum::<f64>()
}

/// The value that nine in ten do not exceed.
fn ninth_of_ten(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let index = (values.len() * 9).div_ceil(10).saturating_sub(1);
    values.get(index).copied().unwrap_or(0.0)
}

/// A tune's place on a shelf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifficultyRank {
    /// The mean of its three highest percentiles: 0 is the easiest tune of the shelf, 100 the hardest.
    pub score: f64,
    /// The three measures that make it hard, with their percentiles, the highest first.
    pub reasons: [(DifficultyMeasure, f64); 3],
}

/// Where each tune stands among all of them: each measure as a percentile of this shelf.
///
/// ```
/// use fretlib::practice::{Difficulty, DifficultyMeasure, rank_difficulties};
///
/// let easy = Difficulty { values: [1.0; 10] };
/// let mut fast = easy;
/// fast.values[0] = 8.0;
/// let ranks = rank_difficulties(&[easy, fast]);
/// assert!(ranks[1].score > ranks[0].score);
/// assert_eq!(ranks[1].reasons[0].0, DifficultyMeasure::Speed);
/// ```
pub fn rank_difficulties(tunes: &[Difficulty]) -> Vec<DifficultyRank> {
    let sorted: Vec<Vec<f64>> = (0..DifficultyMeasure::ALL.len())
        .map(|measure| {
            let mut values: Vec<f64> = tunes.iter().map(|tune| tune.values[measure]).collect();
            values.sort_by(f64::total_cmp);
            values
        })
        .collect();
    let percentile = |measure: usize, value: f64| {
        let values = &sorted[measure];
        // How many of the others are easier; a measure that is 0 never counts.
        let easier = values.partition_point(|it| *it < value);
        100.0 * easier as f64 / (values.len() - 1).max(1) as f64
    };
    let rank = |tune: &Difficulty| {
        let mut all: Vec<(DifficultyMeasure, f64)> = DifficultyMeasure::ALL
            .into_iter()
            .enumerate()
            .map(|(index, measure)| (measure, percentile(index, tune.values[index])))
            .collect();
        all.sort_by(|one, other| other.1.total_cmp(&one.1));
        let reasons = [all[0], all[1], all[2]];
        DifficultyRank {
            score: reasons
                .iter()
                .map(|(_, percentile)| percentile)
                .sum::<f64>()
                / 3.0,
            reasons,
        }
    };
    tunes.iter().map(rank).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::neck::{Hand, Instrument};

    fn difficulty(source: &str) -> Difficulty {
        let melody = abc::read(source.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let instrument = Instrument::default();
        let player = Player {
            instrument: &instrument,
            hand: Hand::MEDIUM,
        };
        Difficulty::of(&melody, *melody.keys().first().unwrap(), player).unwrap()
    }

    #[test]
    fn a_fast_chromatic_tune_with_leaps_is_harder_than_a_slow_scale() {
        let easy = "X:1\nM:4/4\nL:1/2\nQ:1/4=60\nK:C\nC D | E F | G F | E D | C2 |\n";
        let middle = "X:1\nM:4/4\nL:1/4\nQ:1/4=90\nK:C\nC E G E | F A c A | G2 E2 | C4 |\n";
        let hard =
            "X:1\nM:4/4\nL:1/16\nQ:1/4=160\nK:C\nC^c'D^F Gb3e a'^G,2c' | c'^C_e'G, A4 ^F2 |\n";
        let ranks = rank_difficulties(&[difficulty(easy), difficulty(middle), difficulty(hard)]);
        assert!(
            ranks[0].score < ranks[1].score && ranks[1].score < ranks[2].score,
            "{ranks:?}"
        );
        let reasons: Vec<_> = ranks[2].reasons.iter().map(|(_, it)| *it).collect();
        assert!(reasons.iter().all(|it| *it > 80.0), "{ranks:?}");
    }

    #[test]
    fn the_measures_are_what_they_say() {
        // Quarter notes at 120: two a second; every note in the scale; one leap of an octave in four notes.
        let found = difficulty("X:1\nM:4/4\nL:1/4\nQ:1/4=120\nK:C\nC c B c |\n");
        assert_eq!(found.values[0], 2.0);
        assert_eq!(found.values[5], 0.0);
        assert_eq!(found.values[6], 25.0);
        assert_eq!(found.values[7], 0.0);
    }
}
