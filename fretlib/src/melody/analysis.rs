//! Each note in relation to its key, its chord and the note before it.

use super::{KeyProfile, Melody, Note, Quarters, estimate_keys};
use crate::theory::{Chord, Degree, Interval, Key, Membership};

/// A note of a melody in its context.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct AnalysedNote {
    /// The note.
    pub note: Note,
    /// The number of the bar it begins in; a pickup is bar 0.
    pub bar: u32,
    /// Its degree in the key.
    pub degree: Degree,
    /// Whether it belongs to the key's scale.
    pub membership: Membership,
    /// The interval from the note before; `None` for the first note.
    pub interval: Option<Interval>,
    /// The chord that sounds when it begins.
    pub chord: Option<Chord>,
}

impl Melody {
    /// Analyses every note in the key in force when it begins, or in `home` where the melody
    /// declares no key.
    ///
    /// ```
    /// use fretlib::melody::{Draft, Melody, Quarters};
    ///
    /// let mut draft = Draft::default();
    /// draft.note("E4".parse()?, Quarters::from(1))?;
    /// draft.note("D#4".parse()?, Quarters::from(1))?;
    /// let notes = Melody::new(draft)?.analyse("E minor".parse()?);
    /// assert_eq!(notes[1].degree.to_string(), "7");
    /// assert_eq!(notes[1].membership.name(), "raised");
    /// assert_eq!(notes[1].interval.unwrap().to_string(), "-m2");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn analyse(&self, home: Key) -> Vec<AnalysedNote> {
        let mut bars = InForce::new(self.bars().iter().map(|bar| (bar.onset, bar.number)));
        let mut keys = InForce::new(self.keys().iter().map(|(onset, key)| (onset, *key)));
        let mut chords = InForce::new(self.chords().iter().map(|(onset, chord)| (onset, *chord)));
        let mut before = None;
        self.notes()
            .iter()
            .map(|note| {
                let key = keys.at(note.onset).unwrap_or(home);
                let class = note.pitch.class();
                let interval = before.replace(note.pitch).map(|before| note.pitch - before);
                AnalysedNote {
                    note: *note,
                    bar: bars.at(note.onset).unwrap_or_default(),
                    degree: key.degree(class),
                    membership: key.membership(class),
                    interval,
                    chord: chords.at(note.onset).flatten(),
                }
            })
            .collect()
    }
}

impl Melody {
    /// The key that the notes suggest where they do not fit those declared; `None` where they do, or none is declared.
    ///
    /// Notes fit when nine tenths of their time is in the scale, raised sixths and sevenths of minor included, or when the best
    /// estimate holds no more of them: a blues fits no scale. Chosen by ear.
    pub fn better_key(&self) -> Option<Key> {
        let first = *self.keys().first()?;
        let mut keys = InForce::new(self.keys().iter().map(|(onset, key)| (onset, *key)));
        let declared = self.share_in_key(|onset| keys.at(onset).unwrap_or(first));
        if declared >= 0.9 {
            return None;
        }
        let better = estimate_keys(self, KeyProfile::default()).first()?.key;
        (self.share_in_key(|_| better) > declared).then_some(better)
    }

    /// The share of their time in which the notes are in the key that is in force when they begin.
    fn share_in_key(&self, mut key_at: impl FnMut(Quarters) -> Key) -> f64 {
        let (mut time, mut in_key) = (0.0, 0.0);
        for note in self.notes() {
            let length = note.duration.to_f64();
            time += length;
            if key_at(note.onset).membership(note.pitch.class()) != Membership::Chromatic {
                in_key += length;
            }
        }
        in_key / time
    }
}

/// Steps through the changes along with the notes, so that a whole tune takes one pass.
struct InForce<T, I: Iterator<Item = (Quarters, T)>> {
    current: Option<T>,
    changes: std::iter::Peekable<I>,
}

impl<T: Copy, I: Iterator<Item = (Quarters, T)>> InForce<T, I> {
    fn new(changes: I) -> Self {
        InForce {
            current: None,
            changes: changes.peekable(),
        }
    }

    fn at(&mut self, now: Quarters) -> Option<T> {
        while let Some((_, value)) = self.changes.next_if(|(onset, _)| *onset <= now) {
            self.current = Some(value);
        }
        self.current
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Draft;

    #[test]
    fn a_key_change_holds_from_its_onset() {
        let mut draft = Draft::default();
        draft
            .keys
            .set(Quarters::from(0), "C major".parse().unwrap());
        draft
            .keys
            .set(Quarters::from(2), "Eb major".parse().unwrap());
        for name in ["C4", "Eb4", "Eb4", "C4"] {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
        let melody = Melody::new(draft).unwrap();
        let degrees: Vec<String> = melody
            .analyse("F major".parse().unwrap())
            .iter()
            .map(|line| line.degree.to_string())
            .collect();
        assert_eq!(degrees, ["1", "b3", "1", "6"]);
    }
}
