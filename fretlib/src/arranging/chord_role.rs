//! The role of every note in the voicing of a chord: guide tone, root, fifth, tension or none.

use crate::theory::{Chord, ChordDegree, MidiNumber, Pitch, PitchClass};

/// The role of a note in a voicing.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ChordRole {
    /// The root.
    Root,
    /// A note that defines the chord: third and seventh; the sixth of a sixth chord, the fourth or second of a
    /// suspension, the third alone of a triad.
    Guide,
    /// The chord's own fifth, altered or not.
    Fifth,
    /// A colour beyond the seventh; it needs the guide tones with it.
    Tension,
    /// The bass of a slash chord that is not a chord tone; always the lowest note.
    Bass,
}

/// A chord for an arranger: which of the twelve notes may sound under a melody, and in which role.
#[derive(Clone, Debug)]
pub struct ChordRoles {
    chord: Chord,
    /// By semitones above the root.
    roles: [Option<(ChordRole, ChordDegree)>; 12],
    is_dominant: bool,
    has_major_seventh: bool,
}

/// A bit for each semitone above the root.
pub(super) type ToneSet = u16;

/// The degrees of a chord, by role.
struct Degrees {
    third: Option<i8>,
    seventh: Option<i8>,
    has_sixth: bool,
    fifths: Vec<ChordDegree>,
    all: Vec<ChordDegree>,
}

impl Degrees {
    fn of(chord: Chord) -> Degrees {
        let all: Vec<ChordDegree> = chord
            .tones()
            .into_iter()
            .map(|tone| chord.degree(tone))
            .collect();
        let alteration = |number: u8| {
            let found = all.iter().find(|degree| degree.number() == number);
            found.map(|degree| degree.alteration())
        };
        Degrees {
            third: alteration(3),
            seventh: alteration(7),
            has_sixth: alteration(6) == Some(0),
            fifths: all
                .iter()
                .copied()
                .filter(|degree| degree.number() == 5)
                .collect(),
            all,
        }
    }

    fn role(&self, degree: ChordDegree) -> ChordRole {
        match degree.number() {
            1 => ChordRole::Root,
            3 | 7 => ChordRole::Guide,
            2 | 4 if self.third.is_none() => ChordRole::Guide,
            6 if self.has_sixth && degree.alteration() == 0 && self.seventh.is_none() => {
                ChordRole::Guide
            }
            // The altered dominant has two fifths, which are colours.
            5 if self.fifths.len() == 1 => ChordRole::Fifth,
            _ => ChordRole::Tension,
        }
    }

    fn alters(&self, number: u8) -> bool {
        self.all
            .iter()
            .any(|degree| degree.number() == number && degree.alteration() != 0)
    }

    /// Available tensions: not named by the symbol, but allowed.
    ///
    /// Common practice, no source: 9 and 13 on major seventh and dominant chords, the raised eleventh on major sevenths
    /// and on dominants that do not resolve, b9, #9 and b13 on dominants that do, 9 and 11 on minor sevenths, 9, 11 and
    /// b13 on half-diminished ones. A number that the symbol alters stays altered; triads stay triads.
    fn free_tensions(&self, resolves: bool) -> Vec<&'static str> {
        let half_diminished = self
            .fifths
            .first()
            .is_some_and(|fifth| fifth.alteration() == -1);
        let mut free = match (self.third, self.seventh) {
            (Some(0), Some(0)) => vec!["9", "13", "#11"],
            (Some(0), Some(-1)) if self.fifths.len() > 1 => vec![],
            (Some(0), Some(-1)) => {
                let mut free = vec![];
                let plain_ninth = !self.alters(9);
                if plain_ninth {
                    free.push("9");
                }
                if !self.alters(13) && !self.has_raised_fifth() {
                    free.push("13");
                }
                if resolves {
                    free.extend(
                        ["b9", "#9"]
                            .iter()
                            .filter(|_| self.all.iter().all(|it| it.number() != 9)),
                    );
                    if self.all.iter().all(|it| it.number() != 13) {
                        free.push("b13");
                    }
                } else {
                    free.push("#11");
                }
                free
            }
            (Some(-1), Some(-1)) if half_diminished => vec!["9", "11", "b13"],
            (Some(-1), Some(-1 | 0)) => vec!["9", "11"],
            (None, Some(-1)) => vec!["9", "13"],
            (Some(0), None) if self.has_sixth => vec!["9", "#11"],
            (Some(-1), None) if self.has_sixth => vec!["9", "11"],
            _ => vec![],
        };
        free.retain(|name| {
            let altered = |number| name.starts_with(['b', '#']) || !self.alters(number);
            altered(name.trim_start_matches(['b', '#']).parse().unwrap_or(0))
        });
        free
    }

    fn has_raised_fifth(&self) -> bool {
        self.fifths.iter().any(|fifth| fifth.alteration() == 1)
    }
}

impl ChordRoles {
    /// The roles of a chord; `resolves` is true when the next chord's root is a fifth or a semitone below.
    ///
    /// ```
    /// use fretlib::arranging::{ChordRole, ChordRoles};
    /// use fretlib::theory::Chord;
    ///
    /// let chord: Chord = "C7".parse()?;
    /// let role = |note: &str, resolves| -> Result<Option<ChordRole>, fretlib::ParseError> {
    ///     Ok(ChordRoles::new(chord, resolves).role(note.parse()?).map(|(role, _)| role))
    /// };
    /// assert_eq!(role("E", false)?, Some(ChordRole::Guide));
    /// assert_eq!(role("Db", true)?, Some(ChordRole::Tension));
    /// assert_eq!(role("Db", false)?, None);
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn new(chord: Chord, resolves: bool) -> ChordRoles {
        let degrees = Degrees::of(chord);
        let mut found = ChordRoles {
            chord,
            roles: [None; 12],
            is_dominant: degrees.seventh == Some(-1) && matches!(degrees.third, Some(0) | None),
            has_major_seventh: degrees.third == Some(0) && degrees.seventh == Some(0),
        };
        for name in degrees.free_tensions(resolves) {
            if let Ok(degree) = name.parse::<ChordDegree>() {
                found.set(chord.class_of(degree), ChordRole::Tension);
            }
        }
        for tone in chord.tones() {
            found.set(tone, degrees.role(chord.degree(tone)));
        }
        if found.role(chord.bass()).is_none() {
            found.set(chord.bass(), ChordRole::Bass);
        }
        found
    }

    fn set(&mut self, class: PitchClass, role: ChordRole) {
        let above = self.above_root(class.chroma());
        self.roles[usize::from(above)] = Some((role, self.chord.degree(class)));
    }

    /// The chord itself.
    pub fn chord(&self) -> Chord {
        self.chord
    }

    /// The role of a note and its degree; `None` when it must not sound under a melody.
    pub fn role(&self, class: PitchClass) -> Option<(ChordRole, ChordDegree)> {
        self.at(self.above_root(class.chroma()))
    }

    /// The same by semitones above the root, 0 to 11.
    pub(super) fn at(&self, above: u8) -> Option<(ChordRole, ChordDegree)> {
        self.roles[usize::from(above % 12)]
    }

    /// Semitones from the root up to a MIDI number or a chroma, ignoring octaves.
    pub(super) fn above_root(&self, midi: u8) -> u8 {
        (midi % 12 + 12 - self.chord.root().chroma()) % 12
    }

    /// The pitch of a MIDI number over this chord, spelled by its degree.
    pub(super) fn spell(&self, midi: u8) -> Option<Pitch> {
        let (role, degree) = self.at(self.above_root(midi))?;
        let class = match role {
            ChordRole::Bass => self.chord.bass(),
            _ => self.chord.class_of(degree),
        };
        class.at_midi(MidiNumber::new(midi).ok()?)
    }

    /// True for a dominant, suspended or not: only over its root may a minor ninth sound.
    pub(super) fn is_dominant(&self) -> bool {
        self.is_dominant
    }

    /// The guide tones, as semitones above the root; the sixth replaces the seventh when the melody is the root of a
    /// major seventh chord and the sixth sounds.
    pub(super) fn guides(&self, melody_above: u8, sounding: ToneSet) -> ToneSet {
        if self.has_major_seventh && melody_above == 0 && sounding & 1 << 9 != 0 {
            return 1 << 4 | 1 << 9;
        }
        self.set_of(ChordRole::Guide)
    }

    /// The root, fifth and guide tones that do not sound, by what does, in semitones above the root.
    pub(super) fn left_out(
        &self,
        melody_above: Option<u8>,
        under: impl IntoIterator<Item = u8>,
    ) -> Vec<ChordDegree> {
        let under = under.into_iter().chain(melody_above);
        let sounding = under.fold(0, |set: ToneSet, above| set | 1 << above);
        let guides = match melody_above {
            Some(melody) => self.guides(melody, sounding),
            None => self.set_of(ChordRole::Guide),
        };
        let basics = self.set_of(ChordRole::Root) | guides | self.set_of(ChordRole::Fifth);
        (0..12u8)
            .filter(|above| basics & !sounding & 1 << above != 0)
            .filter_map(|above| self.at(above).map(|(_, degree)| degree))
            .collect()
    }

    /// All notes of one role, as semitones above the root.
    pub(super) fn set_of(&self, wanted: ChordRole) -> ToneSet {
        (0..12)
            .filter(|above| self.roles[*above].is_some_and(|(role, _)| role == wanted))
            .fold(0, |set, above| set | 1 << above)
    }

    /// True when the sixth may replace the seventh under this melody note.
    pub(super) fn takes_sixth(&self, melody_above: u8) -> bool {
        self.has_major_seventh && melody_above == 0
    }

    /// The degree of a melody note a semitone above one of the guide tones, which clashes with the chord.
    ///
    /// ```
    /// use fretlib::arranging::ChordRoles;
    ///
    /// let roles = ChordRoles::new("G7".parse()?, true);
    /// assert_eq!(roles.fight("C5".parse()?).unwrap().to_string(), "11");
    /// assert!(roles.fight("E5".parse()?).is_none());
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn fight(&self, melody: Pitch) -> Option<ChordDegree> {
        let above = self.above_root(melody.midi().get());
        if self
            .at(above)
            .is_some_and(|(role, _)| role != ChordRole::Bass)
        {
            return None;
        }
        let below = (above + 11) % 12;
        let is_guide = self.set_of(ChordRole::Guide) & 1 << below != 0;
        is_guide.then(|| self.chord.degree(melody.class()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The notes of each role as degrees, from the root upwards.
    fn check(chord: &str, resolves: bool, guides: &str, fifth: &str, tensions: &str) {
        let roles = ChordRoles::new(chord.parse().unwrap(), resolves);
        let names = |wanted| {
            let degrees = (0..12).filter_map(|above| roles.at(above));
            let named = degrees.filter(|(role, _)| *role == wanted);
            named
                .map(|(_, degree)| degree.to_string())
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(names(ChordRole::Guide), guides, "{chord}");
        assert_eq!(names(ChordRole::Fifth), fifth, "{chord}");
        assert_eq!(names(ChordRole::Tension), tensions, "{chord}");
    }

    // Common practice, no source.
    #[test]
    fn every_kind_has_its_guide_tones_and_its_free_tensions() {
        check("Cmaj7", false, "3 7", "5", "9 #11 13");
        check("C6", false, "3 6", "5", "9 #11");
        check("C", false, "3", "5", "");
        check("Cm7", false, "b3 b7", "5", "9 11");
        check("Cm6", false, "b3 6", "5", "9 11");
        check("CmMaj7", false, "b3 7", "5", "9 11");
        check("Cm7b5", false, "b3 b7", "b5", "9 11 b13");
        check("Cdim7", false, "b3 bb7", "b5", "");
        check("C7", false, "3 b7", "5", "9 #11 13");
        check("C7", true, "3 b7", "5", "b9 9 #9 b13 13");
        check("C7b9", true, "3 b7", "5", "b9 b13 13");
        check("C9", true, "3 b7", "5", "9 b13 13");
        check("C7#5", false, "3 b7", "#5", "9 #11");
        check("C7alt", true, "3 b7", "", "b9 #9 b5 #5");
        check("C7sus4", false, "4 b7", "5", "9 13");
        check("Csus2", false, "2", "5", "");
        check("C5", false, "", "5", "");
    }

    #[test]
    fn a_foreign_bass_may_sound_and_is_spelled_as_written() {
        let roles = ChordRoles::new("C/Db".parse().unwrap(), false);
        assert_eq!(
            roles.role("Db".parse().unwrap()).unwrap().0,
            ChordRole::Bass
        );
        assert_eq!(roles.spell(61).unwrap().to_string(), "Db4");
        assert_eq!(roles.role("D".parse().unwrap()), None);
    }
}
