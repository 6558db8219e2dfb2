//! Chord symbols of MusicXML.

use crate::theory::{Chord, Letter, PitchClass};

/// A `<harmony>` as in the file.
#[derive(Clone, Debug, Default)]
pub(super) struct Harmony {
    pub(super) root: Option<(Letter, i8)>,
    pub(super) bass: Option<(Letter, i8)>,
    pub(super) kind: String,
    /// The kind as printed, without the root and the degrees.
    pub(super) shown: Option<String>,
    pub(super) degrees: Vec<DegreeChange>,
}

/// A `<degree>`: one tone added, altered or left out.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DegreeChange {
    pub(super) number: u8,
    pub(super) alteration: i8,
    pub(super) leaves_out: bool,
}

/// The kinds of functional analysis, by the chord they sound as; they are read, not written.
///
/// Source: MusicXML 4.0, data type kind-value. An Italian sixth is a seventh chord without its fifth, a German one
/// sounds as a seventh chord, a French one as that with a flat fifth; a Neapolitan is a major triad, and the Tristan
/// chord sounds half-diminished.
const FUNCTIONAL: [(&str, &str); 5] = [
    ("Neapolitan", ""),
    ("Italian", "7no5"),
    ("French", "7b5"),
    ("German", "7"),
    ("Tristan", "m7b5"),
];

impl Harmony {
    /// Its chord, where `Some(None)` is "no chord"; `None` when it cannot be read.
    pub(super) fn chord(&self) -> Option<Option<Chord>> {
        if self.kind == "none" {
            return Some(None);
        }
        let (letter, alteration) = self.root?;
        let root = PitchClass::new(letter, alteration).ok()?;
        let bass = match self.bass {
            Some((letter, alteration)) => format!("/{}", PitchClass::new(letter, alteration).ok()?),
            None => String::new(),
        };
        let kind = Chord::kinds_in_musicxml()
            .chain(FUNCTIONAL)
            .find(|(kind, _)| *kind == self.kind)
            .map(|(_, symbol)| symbol);
        let altered: String = self.degrees.iter().map(|step| step.symbol()).collect();
        let read = |suffix: &str| Chord::parse_symbol(&format!("{root}{suffix}{bass}")).ok();
        kind.and_then(|kind| read(&format!("{kind}{altered}")))
            .or_else(|| read(self.shown.as_deref()?))
            .or_else(|| read(kind?))
    }
}

impl Harmony {
    /// A chord for MusicXML: a kind of the standard, with the differing tones as degrees; if that is not enough, the
    /// kind `other` with the symbol as text.
    pub(super) fn of(chord: Chord) -> Harmony {
        let symbol = chord.to_string();
        let after_root = &symbol[chord.root().to_string().len()..];
        let suffix = match chord.bass() == chord.root() {
            true => after_root,
            false => after_root
                .strip_suffix(&format!("/{}", chord.bass()))
                .unwrap_or(after_root),
        };
        let note = |class: PitchClass| Some((class.letter(), class.alteration()));
        let with = |kind: &str, shown: &str, degrees: Vec<DegreeChange>| Harmony {
            root: note(chord.root()),
            bass: note(chord.bass()).filter(|_| chord.bass() != chord.root()),
            kind: kind.into(),
            shown: Some(shown.into()),
            degrees,
        };
        let mut kinds: Vec<(&str, &str)> = Chord::kinds_in_musicxml().collect();
        kinds.sort_by_key(|(_, symbol)| std::cmp::Reverse(symbol.len()));
        // The longest name that leaves only degrees; kinds with free text are excluded, since they would match
        // anything.
        kinds
            .into_iter()
            .filter_map(|(kind, name)| {
                let steps = read_steps(suffix.strip_prefix(name)?)?;
                Some(with(kind, name, steps))
            })
            .find(|harmony| {
                Harmony {
                    shown: None,
                    ..harmony.clone()
                }
                .chord()
                    == Some(Some(chord))
            })
            .unwrap_or_else(|| with("other", suffix, Vec::new()))
    }

    /// How a degree changes the tones of the kind: `add`, `alter` or `subtract`.
    pub(super) fn effect(&self, step: &DegreeChange) -> &'static str {
        let highest = match self.kind.as_str() {
            kind if kind.ends_with("13th") => 13,
            kind if kind.ends_with("11th") => 11,
            kind if kind.ends_with("ninth") => 9,
            kind if kind.ends_with("seventh") => 7,
            "dominant" | "half-diminished" | "major-minor" => 7,
            _ => 5,
        };
        let is_in_kind = step.number % 2 == 1 && step.number <= highest;
        match step.leaves_out {
            true => "subtract",
            false if is_in_kind && step.alteration != 0 => "alter",
            false => "add",
        }
    }
}

/// Degrees such as `b9#11`, `add9` or `no3`, perhaps in brackets.
fn read_steps(text: &str) -> Option<Vec<DegreeChange>> {
    let mut steps = Vec::new();
    let mut rest = text.trim_start_matches('(').trim_end_matches(')');
    while !rest.is_empty() {
        let word_end = rest.find(|c: char| c.is_ascii_digit())?;
        let (word, after) = rest.split_at(word_end);
        let digits = after
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(after.len());
        let (number, after) = after.split_at(digits);
        let (leaves_out, signs) = match word.strip_prefix("no") {
            Some(signs) => (true, signs),
            None => (false, word.strip_prefix("add").unwrap_or(word)),
        };
        let alteration = match signs {
            "" => 0,
            "b" => -1,
            "#" => 1,
            "bb" => -2,
            "##" => 2,
            _ => return None,
        };
        steps.push(DegreeChange {
            number: number.parse().ok()?,
            alteration,
            leaves_out,
        });
        rest = after.trim_start_matches([',', ' ']);
    }
    Some(steps)
}

impl DegreeChange {
    fn symbol(self) -> String {
        if self.leaves_out {
            return format!("no{}", self.number);
        }
        let sign = if self.alteration < 0 { "b" } else { "#" };
        match self.alteration.unsigned_abs() {
            0 => format!("add{}", self.number),
            times => format!("{}{}", sign.repeat(times.min(4).into()), self.number),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_the_standard_is_a_chord() {
        // Source: MusicXML 4.0, data type kind-value: 33 words, of which `other` and `pedal` name no chord.
        let kinds = Chord::kinds_in_musicxml()
            .chain(FUNCTIONAL)
            .chain([("none", "N.C.")]);
        let mut count = 0;
        for (kind, symbol) in kinds {
            let harmony = Harmony {
                root: Some((Letter::E, -1)),
                kind: kind.into(),
                ..Harmony::default()
            };
            let expected = match kind {
                "none" => None,
                _ => Chord::parse_symbol(&format!("Eb{symbol}")).unwrap(),
            };
            assert_eq!(harmony.chord(), Some(expected), "{kind}");
            count += 1;
        }
        assert_eq!(count, 33 - 2);
    }

    #[test]
    fn degrees_change_the_kind() {
        let step = |number, alteration, leaves_out| DegreeChange {
            number,
            alteration,
            leaves_out,
        };
        let cases = [
            ("dominant", vec![step(9, -1, false)], "C7b9"),
            (
                "dominant",
                vec![step(9, 1, false), step(5, 1, false)],
                "C7#9#5",
            ),
            ("major", vec![step(9, 0, false)], "Cadd9"),
            ("dominant", vec![step(3, 0, true)], "C7no3"),
            ("minor-seventh", vec![step(5, -1, false)], "Cm7b5"),
        ];
        for (kind, degrees, symbol) in cases {
            let harmony = Harmony {
                root: Some((Letter::C, 0)),
                kind: kind.into(),
                degrees,
                ..Harmony::default()
            };
            assert_eq!(
                harmony.chord(),
                Some(Chord::parse_symbol(symbol).unwrap()),
                "{symbol}"
            );
        }
    }

    /// A symbol as its kind, the text of the kind, and its degrees with their changes.
    #[test]
    fn chords_are_written_as_kinds_and_degrees() {
        let cases = [
            ("Cm7b5/Gb", "half-diminished `m7b5`"),
            ("F#maj9", "major-ninth `maj9`"),
            ("C7b9", "dominant `7` add 9-1"),
            ("C7b5", "dominant `7` alter 5-1"),
            ("C13#11", "dominant-13th `13` alter 11+1"),
            ("C7no3", "dominant `7` subtract 3+0"),
            ("Cadd9", "major `` add 9+0"),
            ("C6/9", "other `6/9`"),
            ("C7alt", "other `7alt`"),
        ];
        for (symbol, expected) in cases {
            let chord = Chord::parse_symbol(symbol).unwrap().unwrap();
            let harmony = Harmony::of(chord);
            assert_eq!(harmony.chord(), Some(Some(chord)), "{symbol}");
            let mut written = format!("{} `{}`", harmony.kind, harmony.shown.clone().unwrap());
            for step in &harmony.degrees {
                let effect = harmony.effect(step);
                written += &format!(" {effect} {}{:+}", step.number, step.alteration);
            }
            assert_eq!(written, expected, "{symbol}");
        }
    }
}
