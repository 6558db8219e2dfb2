//! Chords for a tune without any.

use crate::melody::{Melody, Note, Quarters, Timeline};
use crate::theory::{Chord, Key, PitchClass};

/// For every bar the first, fourth or fifth chord of the key: the one whose tones the melody sounds longest there,
/// where a note on the bar line counts twice, and the earlier of equals. The last bar and bars without notes get the
/// first chord.
///
/// An estimate from the melody alone, common practice, no source. The fifth of a minor key has a major third.
pub fn chords_by_key(melody: &Melody, key: Key) -> Timeline<Option<Chord>> {
    let chords = basic_chords(key);
    let mut timeline = Timeline::default();
    let bars = melody.bars();
    for (index, bar) in bars.iter().enumerate() {
        let end = bars.get(index + 1).map_or(melody.length(), |bar| bar.onset);
        let is_last = index + 1 == bars.len();
        let best = (0..chords.len())
            .rev()
            .max_by_key(|chord| share(melody, chords[*chord], bar.onset, end));
        let chosen = if is_last { Some(0) } else { best };
        if let Some(chord) = chosen.and_then(|index| chords.get(index)) {
            timeline.set(bar.onset, Some(*chord));
        }
    }
    timeline
}

/// I, IV and V; `None` when one would need more than four sharps or flats.
fn basic_chords(key: Key) -> Vec<Chord> {
    let scale = key.scale();
    let triad = |degree: usize, raised: bool| {
        let (root, third) = (scale[degree], scale[(degree + 2) % 7]);
        let minor = !raised && (third.fifths() - root.fifths() == -3);
        let symbol = format!("{root}{}", if minor { "m" } else { "" });
        symbol.parse::<Chord>().ok()
    };
    let has_minor_third = scale[2].fifths() - scale[0].fifths() == -3;
    [triad(0, false), triad(3, false), triad(4, has_minor_third)]
        .into_iter()
        .flatten()
        .collect()
}

fn share(melody: &Melody, chord: Chord, start: Quarters, end: Quarters) -> Quarters {
    let tones: Vec<u8> = chord.tones().into_iter().map(PitchClass::chroma).collect();
    let first = melody.notes().partition_point(|note| note.end() <= start);
    let sounding = melody.notes()[first..]
        .iter()
        .take_while(|note| note.onset < end);
    let weight = |note: &Note| {
        let length = note.end().min(end) - note.onset.max(start);
        if note.onset == start {
            length * 2
        } else {
            length
        }
    };
    sounding
        .filter(|note| tones.contains(&note.pitch.class().chroma()))
        .fold(Quarters::ZERO, |sum, note| sum + weight(note))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::tune_ron;

    fn check(key: &str, notes: &str, expected: &str) {
        let source = format!("(key: \"{key}\", meter: \"4/4\", lines: [(notes: \"{notes}\")])");
        let melody = tune_ron::read(source.as_bytes()).unwrap().melody;
        let found: Vec<String> = chords_by_key(&melody, key.parse().unwrap())
            .iter()
            .map(|(_, chord)| chord.unwrap().to_string())
            .collect();
        assert_eq!(found.join(" "), expected, "{notes}");
    }

    #[test]
    fn each_bar_has_the_chord_it_sounds_most() {
        check("C major", "C5 h E | F h A4 | G4 h B | B4 w", "C F G C");
        check("A minor", "A4 h C5 | D5 h F | G#4 h E | A4 w", "Am Dm E Am");
    }
}
