//! Estimating the key of a melody that declares none.

use super::Melody;
use crate::theory::{Key, Mode};

/// A weight for each of the twelve pitch classes, upwards from the tonic or from C.
type PitchClassWeights = [f64; 12];

/// How well, or how often, each note goes with a major and a minor key, as published measurements have it.
///
/// The numbers were not compared with the printed works. A test compares their results: with each of the three
/// profiles, the likeliest key of each of the 240 reference tunes is the one that the music21 toolkit, version 10.5.1,
/// found with its profile of that name. A wrong digit that decides none of those tunes would not be noticed.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum KeyProfile {
    /// Ratings by listeners of how well a note fits after a cadence.
    ///
    /// The default: of the three it agreed most often with the printed key on the 240 reference tunes (186, against 176
    /// and 183; only 216 are in major or minor at all), and because it comes from listening tests, it favours no body
    /// of music.
    ///
    /// Source: C. L. Krumhansl and E. J. Kessler, "Tracing the dynamic changes in perceived tonal organization",
    /// Psychological Review 89 (1982), 334-368; used for finding keys in Krumhansl, Cognitive Foundations of Musical
    /// Pitch (1990), chapter 4.
    #[default]
    KrumhanslKessler,
    /// Counts of the notes in European folk songs.
    ///
    /// Source: B. J. Aarden, Dynamic Melodic Expectancy, PhD thesis, Ohio State University (2003), counting the Essen
    /// Folksong Collection. The numbers for minor may not be from the thesis: music21 says that it does not know their
    /// source.
    AardenEssen,
    /// The share of segments of textbook excerpts, mostly common-practice harmony, that contain the
    /// note.
    ///
    /// Source: D. Temperley, Music and Probability (2007), from the excerpts in the workbook of S. Kostka and D. Payne,
    /// Tonal Harmony.
    TemperleyKostkaPayne,
}

impl KeyProfile {
    /// All of them, the default first.
    pub const ALL: [KeyProfile; 3] = [
        KeyProfile::KrumhanslKessler,
        KeyProfile::AardenEssen,
        KeyProfile::TemperleyKostkaPayne,
    ];

    /// Author and year of the profile, for a screen.
    pub const fn name(self) -> &'static str {
        match self {
            KeyProfile::KrumhanslKessler => "Krumhansl and Kessler 1982",
            KeyProfile::AardenEssen => "Aarden 2003 (Essen)",
            KeyProfile::TemperleyKostkaPayne => "Temperley 2007 (Kostka and Payne)",
        }
    }

    /// The weights of the twelve notes from the tonic upwards, for a major and for a minor key.
    const fn weights(self) -> [(Mode, PitchClassWeights); 2] {
        let [major, minor] = match self {
            KeyProfile::KrumhanslKessler => [
                [
                    6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88,
                ],
                [
                    6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17,
                ],
            ],
            KeyProfile::AardenEssen => [
                [
                    17.7661, 0.145624, 14.9265, 0.160186, 19.8049, 11.3587, 0.291248, 22.062,
                    0.145624, 8.15494, 0.232998, 4.95122,
                ],
                [
                    18.2648, 0.737619, 14.0499, 16.8599, 0.702494, 14.4362, 0.702494, 18.6161,
                    4.56621, 1.93186, 7.37619, 1.75623,
                ],
            ],
            KeyProfile::TemperleyKostkaPayne => [
                [
                    0.748, 0.060, 0.488, 0.082, 0.670, 0.460, 0.096, 0.715, 0.104, 0.366, 0.057,
                    0.400,
                ],
                [
                    0.712, 0.084, 0.474, 0.618, 0.049, 0.460, 0.105, 0.747, 0.404, 0.067, 0.133,
                    0.330,
                ],
            ],
        };
        [(Mode::Major, major), (Mode::Minor, minor)]
    }
}

/// A key and how well it fits a melody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeyEstimate {
    /// The key, always major or minor.
    pub key: Key,
    /// The correlation, from −1 to 1; 0 when a melody has every note equally, so that no key fits
    /// better.
    pub score: f64,
}

/// All 24 major and minor keys, the likeliest first.
///
/// The time each pitch class sounds is correlated (Pearson) with the profile turned to every tonic. Source: C. L.
/// Krumhansl and M. A. Schmuckler's key-finding algorithm, in Krumhansl, Cognitive Foundations of Musical Pitch (1990),
/// chapter 4.
///
/// The sounds decide the key, the spelling decides its name: of `Db major` and `C# major`, the one nearer to the
/// melody's own notes on the line of fifths is chosen. No key has more than seven accidentals. Keys that fit equally
/// well are ordered by their accidentals: fewest first, sharps before flats, major before minor.
///
/// ```
/// use fretlib::melody::{Draft, KeyProfile, Melody, Quarters, estimate_keys};
///
/// let mut draft = Draft::default();
/// for name in ["E4", "G4", "B4", "A4", "G4", "F#4", "E4", "D#4", "E4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// let ranked = estimate_keys(&Melody::new(draft)?, KeyProfile::default());
/// assert_eq!(ranked[0].key.to_string(), "E minor");
/// assert!(ranked[0].score > ranked[1].score);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn estimate_keys(melody: &Melody, profile: KeyProfile) -> Vec<KeyEstimate> {
    let sounding = time_by_chroma(melody);
    let spelling = mean_place_on_line_of_fifths(melody);
    let mut ranked: Vec<KeyEstimate> = profile
        .weights()
        .into_iter()
        .flat_map(|(mode, weights)| {
            (0..12).map(move |tonic| {
                let turned = std::array::from_fn(|chroma| weights[(chroma + 12 - tonic) % 12]);
                KeyEstimate {
                    key: nearest_spelling(tonic as u8, mode, spelling),
                    score: correlation(&sounding, &turned),
                }
            })
        })
        .collect();
    // Smaller differences of scores are rounding: the last digits depend on the order of summing.
    let grade = |estimate: &KeyEstimate| (estimate.score * 1e9).round() as i64;
    ranked.sort_by_key(|estimate| {
        let signature = estimate.key.signature();
        (
            -grade(estimate),
            signature.abs(),
            signature < 0,
            estimate.key.mode() == Mode::Minor,
        )
    });
    ranked
}

fn time_by_chroma(melody: &Melody) -> PitchClassWeights {
    let mut time = [0.0; 12];
    for note in melody.notes() {
        time[usize::from(note.pitch.class().chroma())] += note.duration.to_f64();
    }
    time
}

fn mean_place_on_line_of_fifths(melody: &Melody) -> f64 {
    let (sum, total) = melody
        .notes()
        .iter()
        .fold((0.0, 0.0), |(sum, total), note| {
            let weight = note.duration.to_f64();
            let fifths = f64::from(note.pitch.class().fifths());
            (sum + weight * fifths, total + weight)
        });
    sum / total
}

fn nearest_spelling(tonic: u8, mode: Mode, place: f64) -> Key {
    // The notes of a scale are seven neighbours on the line of fifths, F to B without accidentals,
    // so its middle is D.
    let distance = |key: &Key| (f64::from(2 + key.signature()) - place).abs();
    (-7..=7)
        .filter_map(|signature| Key::from_signature(signature, mode).ok())
        .filter(|key| key.tonic().chroma() == tonic)
        .min_by(|one, other| {
            let nearer = distance(one).total_cmp(&distance(other));
            nearer.then(one.signature().abs().cmp(&other.signature().abs()))
        })
        .unwrap_or_else(|| unreachable!("fifteen signatures have every tonic"))
}

/// Pearson's correlation coefficient; `other` must vary, and the result is 0 when `one` does not.
fn correlation(one: &PitchClassWeights, other: &PitchClassWeights) -> f64 {
    let mean = |weights: &PitchClassWeights| weights.iter().sum::<f64>() / 12.0;
    let (one_mean, other_mean) = (mean(one), mean(other));
    let mut product = 0.0;
    let mut one_square = 0.0;
    let mut other_square = 0.0;
    for (one, other) in one.iter().zip(other) {
        let (one, other) = (one - one_mean, other - other_mean);
        product += one * other;
        one_square += one * one;
        other_square += other * other;
    }
    // Relative to the size of the weights, so that rounding errors of a constant do not look like
    // variation.
    if one_square <= 1e-18 * one_mean * one_mean {
        return 0.0;
    }
    product / (one_square * other_square).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Draft;
    use crate::melody::Quarters;
    use crate::theory::{Interval, Pitch};

    fn melody(notes: impl IntoIterator<Item = (Pitch, Quarters)>) -> Melody {
        let mut draft = Draft::default();
        for (pitch, duration) in notes {
            draft.note(pitch, duration).unwrap();
        }
        Melody::new(draft).unwrap()
    }

    fn evenly(names: &str) -> Melody {
        let third = Quarters::new(1, 3);
        melody(names.split(' ').map(|name| (name.parse().unwrap(), third)))
    }

    fn first(names: &str, profile: KeyProfile) -> String {
        estimate_keys(&evenly(names), profile)[0].key.to_string()
    }

    #[test]
    fn the_spelling_of_the_melody_names_the_key() {
        let cases = [
            ("C4 D4 E4 F4 G4 A4 B4 C5 G4 E4 C4", "C major"),
            ("Db4 Eb4 F4 Gb4 Ab4 Bb4 C5 Db5 Ab4 F4 Db4", "Db major"),
            ("C#4 D#4 E#4 F#4 G#4 A#4 B#4 C#5 G#4 E#4 C#4", "C# major"),
            ("Gb4 Ab4 Bb4 Cb5 Db5 Eb5 F5 Gb5 Db5 Bb4 Gb4", "Gb major"),
            ("F#4 G#4 A#4 B4 C#5 D#5 E#5 F#5 C#5 A#4 F#4", "F# major"),
            ("G#4 A#4 B4 C#5 D#5 E5 F##5 G#5 D#5 B4 G#4", "G# minor"),
            ("Ab4 Bb4 Cb5 Db5 Eb5 Fb5 G5 Ab5 Eb5 Cb5 Ab4", "Ab minor"),
            // No key has eight sharps: it gets the other name.
            ("G#4 A#4 B#4 C#5 D#5 E#5 F##5 G#5 D#5 B#4 G#4", "Ab major"),
        ];
        for profile in KeyProfile::ALL {
            for (names, key) in cases {
                assert_eq!(first(names, profile), key, "{names} by {profile:?}");
            }
        }
    }

    #[test]
    fn a_melody_of_all_twelve_notes_still_has_scores_and_an_order() {
        let chromatic = "C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4";
        let three_times = evenly(&[chromatic; 3].join(" "));
        for profile in KeyProfile::ALL {
            let ranked = estimate_keys(&three_times, profile);
            assert!(ranked.iter().all(|estimate| estimate.score == 0.0));
            let keys: Vec<String> = ranked[..5].iter().map(|it| it.key.to_string()).collect();
            assert_eq!(
                keys,
                ["C major", "A minor", "G major", "E minor", "F major"]
            );
        }
    }

    #[test]
    fn long_notes_weigh_more_than_short_ones() {
        let scale = "C4 D4 E4 F4 G4 A4 B4".split(' ');
        let long_a = scale.map(|name| {
            let beats = if "A4 C4 E4".contains(name) { 8 } else { 1 };
            (name.parse().unwrap(), Quarters::from(beats))
        });
        let ranked = estimate_keys(&melody(long_a), KeyProfile::default());
        assert_eq!(ranked[0].key.to_string(), "A minor");
    }

    quickcheck::quickcheck! {
        fn every_key_is_ranked_once_with_a_true_correlation(notes: Vec<(Pitch, u8)>, first: Pitch) -> bool {
            let notes = std::iter::once((first, 0)).chain(notes);
            let melody = melody(notes.map(|(pitch, length)| (pitch, Quarters::new(i64::from(length) + 1, 12))));
            KeyProfile::ALL.into_iter().all(|profile| {
                let ranked = estimate_keys(&melody, profile);
                let mut sounds: Vec<_> = ranked.iter().map(|it| (it.key.mode().name(), it.key.tonic().chroma())).collect();
                sounds.sort_unstable();
                sounds.dedup();
                sounds.len() == 24
                    && ranked.iter().all(|it| it.score.abs() <= 1.0 + 1e-9)
                    && ranked.is_sorted_by(|one, other| one.score >= other.score - 1e-9)
            })
        }

        fn the_key_moves_with_the_melody(notes: Vec<(Pitch, u8)>, first: Pitch, up: bool) -> bool {
            let notes = std::iter::once((first, 0)).chain(notes);
            let melody = melody(notes.map(|(pitch, length)| (pitch, Quarters::new(i64::from(length) + 1, 12))));
            let fifth: Interval = if up { "+P5" } else { "-P5" }.parse().unwrap();
            let Ok(moved) = melody.transposed(fifth) else { return true };
            let before = estimate_keys(&melody, KeyProfile::default());
            let after = estimate_keys(&moved, KeyProfile::default());
            // Ties are ordered by accidentals, and transposing changes those.
            before[0].score - before[1].score < 1e-6
                || (after[0].key.mode() == before[0].key.mode()
                    && i16::from(after[0].key.tonic().chroma())
                        == (i16::from(before[0].key.tonic().chroma()) + i16::from(fifth.semitones())).rem_euclid(12))
        }
    }
}
