//! A tune while it is being read.

use super::Quarters;
use super::feel::Feel;
use super::form::Form;
use super::lyric::Syllable;
use super::meter::Meter;
use super::playing_order::FormError;
use super::tempo::Tempo;
use super::timeline::Timeline;
use super::tuplet::Tuplet;
use super::{Melody, MelodyError, Note};
use crate::theory::{Chord, Key, Pitch};

/// A tune as a reader collects it, unchecked; [`Melody::new`] checks it.
///
/// The methods advance a clock, so that a reader can add what it finds in the order it finds it.
///
/// ```
/// use fretlib::melody::{Draft, Melody, Quarters};
///
/// let mut draft = Draft::default();
/// draft.bar_line();
/// draft.note("E4".parse()?, Quarters::from(1))?;
/// draft.rest(Quarters::new(1, 2))?;
/// draft.note("G4".parse()?, Quarters::new(1, 2))?;
/// let melody = Melody::new(draft)?;
/// assert_eq!(melody.notes()[1].onset, Quarters::new(3, 2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(default)
)]
#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// The tune's name.
    pub title: String,
    /// Who made it, when known.
    pub composer: Option<String>,
    /// The book or the player it comes from, when known.
    pub source: Option<String>,
    /// Who wrote it down in this form, when known.
    pub transcriber: Option<String>,
    /// Keys as declared; empty when the source does not say.
    pub keys: Timeline<Key>,
    /// Meters; `None` stands for free meter.
    pub meters: Timeline<Option<Meter>>,
    /// Tempos.
    pub tempos: Timeline<Tempo>,
    /// How pairs of notes are meant; `None` when the source does not say.
    pub feel: Option<Feel>,
    /// Chords; `None` stands for "no chord".
    pub chords: Timeline<Option<Chord>>,
    /// Names of sections, such as rehearsal letters.
    pub sections: Timeline<String>,
    /// Onsets at which the source says a phrase begins; empty when it does not say.
    pub phrase_starts: Vec<Quarters>,
    /// Repeats, endings and jumps.
    pub form: Form,
    /// Tuplet brackets, as in the source.
    pub tuplets: Vec<Tuplet>,
    /// What is sung to the notes.
    pub lyrics: Vec<Syllable>,
    /// Words that are printed after the tune, line by line: verses, mostly.
    pub words: Vec<String>,
    /// Where the source broke its lines, in order.
    pub line_breaks: Vec<Quarters>,
    /// The notes.
    pub notes: Vec<Note>,
    /// The onsets of the bars.
    pub bars: Vec<Quarters>,
    /// When the next thing begins.
    #[cfg_attr(feature = "serde", serde(rename = "length"))]
    pub now: Quarters,
}

impl Draft {
    /// Adds a note that begins now and lasts `duration`.
    ///
    /// # Errors
    ///
    /// When the time leaves the exact range; [`Melody`] has the limits.
    pub fn note(&mut self, pitch: Pitch, duration: Quarters) -> Result<(), MelodyError> {
        let onset = self.now;
        self.rest(duration)?;
        self.notes.push(Note {
            pitch,
            onset,
            duration,
        });
        Ok(())
    }

    /// Lets `duration` pass.
    ///
    /// # Errors
    ///
    /// As for [`Draft::note`].
    pub fn rest(&mut self, duration: Quarters) -> Result<(), MelodyError> {
        let note = self.notes.len() + 1;
        self.now = self
            .now
            .checked_add(duration)
            .ok_or(MelodyError::TooFine { note })?;
        check_time(self.now, note)
    }

    /// Ties `duration` to the last note, which must still be sounding now; adds nothing when there is none.
    ///
    /// # Errors
    ///
    /// As for [`Draft::note`].
    pub fn tie(&mut self, duration: Quarters) -> Result<(), MelodyError> {
        self.rest(duration)?;
        let now = self.now;
        if let Some(last) = self.notes.last_mut() {
            last.duration = now - last.onset;
        }
        Ok(())
    }

    /// Removes signs of the form that cannot be followed, for sources that are read leniently.
    pub fn settle_form(&mut self) -> Vec<FormError> {
        self.form = std::mem::take(&mut self.form).normalised(self.now);
        self.form.settle(&self.sections, self.now)
    }

    /// Begins a bar now; two bar lines in one place count once.
    pub fn bar_line(&mut self) {
        if self.bars.last() != Some(&self.now) {
            self.bars.push(self.now);
        }
    }
}

/// Times within these limits can be added, subtracted and compared without overflow: each is at most
/// [`Melody::LONGEST`] over a denominator of at most [`Melody::FINEST`], so cross products stay below 2^63.
pub(super) fn check_time(time: Quarters, note: usize) -> Result<(), MelodyError> {
    if time.denom() > Melody::FINEST {
        return Err(MelodyError::TooFine { note });
    }
    if time.numer() > Melody::LONGEST * time.denom() {
        return Err(MelodyError::TooLong { note });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inexact_times_are_refused_not_wrapped() {
        let mut draft = Draft::default();
        let primes = [999_983, 999_979, 999_961, 999_959];
        let results: Vec<_> = primes
            .iter()
            .map(|prime| draft.note("C4".parse().unwrap(), Quarters::new(1, *prime)))
            .collect();
        assert!(
            results.contains(&Err(MelodyError::TooFine { note: 2 })),
            "{results:?}"
        );
    }
}
