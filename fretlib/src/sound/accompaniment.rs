//! Quiet chords under a melody: the bass, the guide tones, and other tones that identify the chord.

use super::performance::{Layer, Pluck, Strength};
use super::tone::{ConcertPitch, StringMaterial, Tone};
use crate::neck::StringNumber;
use crate::theory::{Chord, PitchClass};

/// The notes of a chord as sounding MIDI numbers, the bass first.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct QuietChord(Vec<i16>);

/// The bass sounds in this octave: E2 to D#3, the first eight frets of a guitar's lowest strings.
const LOWEST_BASS: i16 = 40;
/// The upper notes sound from D3 to C#4: lower, thirds become muddy; higher, they get in the way of the melody. Common
/// practice, no source.
const LOWEST_UPPER: i16 = 50;
/// The middle of the upper notes of the very first chord.
const MIDDLE: i16 = 56;
/// Seconds from one string to the next when a chord is struck. Chosen by ear.
const STRUM: f64 = 0.012;
/// How strongly they are plucked, about 9 dB below the melody. Chosen by ear.
const QUIET: Strength = match Strength::percent(25) {
    Ok(strength) => strength,
    Err(_) => unreachable!(),
};

impl QuietChord {
    /// The voicing nearest to the one before.
    pub(super) fn after(before: Option<&QuietChord>, chord: Chord) -> QuietChord {
        let bass = at_or_above(chord.bass(), LOWEST_BASS);
        let mut notes = vec![bass];
        for class in upper_tones(chord) {
            let low = at_or_above(class, LOWEST_UPPER);
            // The note in this octave, or in the next one at the edges of the range.
            let wanted = before.map_or(MIDDLE, |before| before.nearest_upper(low));
            let note = [low, low + 12]
                .into_iter()
                .filter(|note| *note < LOWEST_UPPER + 14)
                .min_by_key(|note| (note - wanted).abs())
                .unwrap_or(low);
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
        QuietChord(notes)
    }

    /// The upper note nearest to this one or its octave.
    fn nearest_upper(&self, note: i16) -> i16 {
        let distance = |other: i16| {
            let up = (note - other).rem_euclid(12);
            up.min(12 - up)
        };
        let upper = self.0.iter().skip(1).copied();
        upper.min_by_key(|other| distance(*other)).unwrap_or(MIDDLE)
    }

    /// The chord struck from the bass up.
    pub(super) fn plucks(
        &self,
        start: f64,
        end: f64,
        a4: ConcertPitch,
        material: StringMaterial,
    ) -> Vec<Pluck> {
        let mut plucks = Vec::with_capacity(self.0.len());
        for (index, (midi, number)) in self.0.iter().zip([6, 5, 4, 3]).enumerate() {
            let start = start + STRUM * index as f64;
            // Bass and upper notes are within the range of strings and of MIDI numbers.
            let (Ok(tone), Ok(string)) = (
                Tone::new(a4.frequency(*midi), material),
                StringNumber::new(number),
            ) else {
                continue;
            };
            if start < end {
                plucks.push(Pluck {
                    layer: Layer::Chords,
                    strength: QUIET,
                    ..Pluck::new(tone, string, start, end)
                });
            }
        }
        plucks
    }
}

/// A chord by itself, as quietly as those under a melody: its plucks from the bass up, in seconds.
pub fn quiet_chord(
    chord: Chord,
    start: f64,
    end: f64,
    a4: ConcertPitch,
    material: StringMaterial,
) -> Vec<Pluck> {
    QuietChord::after(None, chord).plucks(start, end, a4, material)
}

/// The lowest MIDI number of a pitch class from `lowest` on.
fn at_or_above(class: PitchClass, lowest: i16) -> i16 {
    lowest + (i16::from(class.chroma()) - lowest).rem_euclid(12)
}

/// The tones that identify a chord over its root: the third or its suspension, the seventh or the sixth; and the fifth
/// when it is altered or alone.
fn upper_tones(chord: Chord) -> Vec<PitchClass> {
    let tones = chord.tones();
    let find = |numbers: &[u8]| {
        numbers.iter().find_map(|number| {
            let mut tones = tones.iter().copied();
            tones.find(|tone| chord.degree(*tone).number() == *number)
        })
    };
    let fifth = find(&[5]);
    let is_altered = fifth.is_some_and(|fifth| chord.degree(fifth).alteration() != 0);
    let guides: Vec<PitchClass> = [find(&[3, 4, 2]), find(&[7, 6])]
        .into_iter()
        .flatten()
        .collect();
    let needs_fifth = is_altered || guides.len() < 2;
    let upper = guides.into_iter().chain(fifth.filter(|_| needs_fifth));
    upper.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chords(symbols: &str) -> Vec<QuietChord> {
        let mut found: Vec<QuietChord> = Vec::new();
        for symbol in symbols.split(' ') {
            let next = QuietChord::after(found.last(), symbol.parse().unwrap());
            found.push(next);
        }
        found
    }

    // Common practice, no source: third and seventh tell a seventh chord, and move by a step or stay when roots fall by fifths.
    #[test]
    fn guide_tones_move_by_steps() {
        let found = chords("Dm7 G7 Cmaj7 C6");
        let midi: Vec<&[i16]> = found.iter().map(|chord| chord.0.as_slice()).collect();
        // D: F C; G: B F; C: E B; C6: E A.
        assert_eq!(
            midi,
            [
                &[50, 53, 60][..],
                &[43, 59, 53],
                &[48, 52, 59],
                &[48, 52, 57]
            ]
        );
    }

    #[test]
    fn every_kind_of_chord_has_its_identifying_tones() {
        let check = |symbol: &str, expected: &str| {
            let chord: Chord = symbol.parse().unwrap();
            let names: Vec<String> = upper_tones(chord)
                .into_iter()
                .map(|tone| chord.degree(tone).to_string())
                .collect();
            assert_eq!(names.join(" "), expected, "{symbol}");
        };
        check("C", "3 5");
        check("Cm7b5", "b3 b7 b5");
        check("C7#5", "3 b7 #5");
        check("C7sus4", "4 b7");
        check("Csus2", "2 5");
        check("C5", "5");
        check("Cdim7", "b3 bb7 b5");
        check("C6/9", "3 6");
        check("Caug", "3 #5");
    }

    #[test]
    fn the_bass_is_the_one_after_the_slash() {
        let found = chords("C/E");
        assert_eq!(found[0].0[0], 40);
    }
}
