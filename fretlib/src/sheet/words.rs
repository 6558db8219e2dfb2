//! Names as printed, with real sharps and flats, and notes in words for screen readers.

use crate::melody::AnalysedNote;
use crate::neck::Place;
use crate::theory::Membership;

/// The name of a note, a key, a degree or a chord with real signs: `Bb` becomes `B♭`, `m7b5` becomes `m7♭5`.
///
/// A `b` is a flat after a letter A to G, after another flat, and before a figure or another flat.
pub fn signs(name: &str) -> String {
    let characters: Vec<char> = name.chars().collect();
    let mut out = String::with_capacity(name.len() + 4);
    for (at, &character) in characters.iter().enumerate() {
        let before = at.checked_sub(1).map(|before| characters[before]);
        let after = characters.get(at + 1).copied();
        let is_flat = before.is_some_and(|it| ('A'..='G').contains(&it) || it == 'b')
            || after.is_some_and(|it| it.is_ascii_digit() || it == 'b');
        out.push(match character {
            '#' => '♯',
            'b' if is_flat => '♭',
            other => other,
        });
    }
    out
}

/// An interval with a real minus sign.
pub(super) fn minus(interval: &str) -> String {
    interval.replace('-', "−")
}

/// A chord symbol, split into the root and the rest, which is set smaller.
pub(super) fn split_chord(name: &str) -> (String, String) {
    if name.starts_with('N') {
        return (name.to_string(), String::new());
    }
    let rest = name
        .char_indices()
        .skip(1)
        .find(|(_, it)| !"♯♭".contains(*it));
    let (root, kind) = name.split_at(rest.map_or(name.len(), |(at, _)| at));
    (root.to_string(), kind.to_string())
}

/// A note for a screen reader: `note 3, bar 1, B flat 4, degree flat 3, string 2 fret 5`.
pub(super) fn note(index: usize, note: &AnalysedNote, place: Option<Place>) -> String {
    let mut out = format!(
        "note {}, bar {}, {}, degree {}",
        index + 1,
        note.bar,
        spoken(&note.note.pitch.to_string()),
        spoken(&note.degree.to_string())
    );
    if note.membership != Membership::Scale {
        out.push_str(", outside the scale");
    }
    if let Some(place) = place {
        out.push_str(&format!(", string {} fret {}", place.string, place.fret));
    }
    out
}

/// Signs as words: `Bb4` is `B flat 4`, `#4` is `sharp 4`.
pub(super) fn spoken(name: &str) -> String {
    let mut out = String::new();
    for character in signs(name).chars() {
        match character {
            '♯' => out.push_str(" sharp "),
            '♭' => out.push_str(" flat "),
            other => out.push(other),
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_get_real_accidentals() {
        let cases = [
            ("Bb", "B♭"),
            ("F#m7b5", "F♯m7♭5"),
            ("Eb major", "E♭ major"),
            ("b3", "♭3"),
            ("Ebb", "E♭♭"),
            ("#4", "♯4"),
            ("bb7", "♭♭7"),
            ("B minor", "B minor"),
            ("Ab7/Gb", "A♭7/G♭"),
            ("G7sus4", "G7sus4"),
            ("Cmaj7#11", "Cmaj7♯11"),
        ];
        for (typed, printed) in cases {
            assert_eq!(signs(typed), printed);
        }
    }

    #[test]
    fn notes_are_spoken() {
        assert_eq!(spoken("Bb4"), "B flat 4");
        assert_eq!(spoken("#4"), "sharp 4");
        assert_eq!(spoken("bb7"), "flat flat 7");
    }

    #[test]
    fn a_chord_is_a_root_and_a_kind() {
        assert_eq!(split_chord("B♭m7"), ("B♭".into(), "m7".into()));
        assert_eq!(split_chord("C"), ("C".into(), String::new()));
        assert_eq!(split_chord("N.C."), ("N.C.".into(), String::new()));
    }
}
