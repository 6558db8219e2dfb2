//! The lower voice under the melody: chords in time, for scores, files and sound.

use super::arrangement::{Accompaniment, Arrangement};
use super::texture::RestChord;
use super::voicing::FingeredPlace;
use crate::melody::{Melody, Note, Quarters};
use crate::theory::Pitch;

/// A note of the lower voice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowerNote {
    /// Written pitch.
    pub pitch: Pitch,
    /// Where and with which finger.
    pub at: FingeredPlace,
    /// It is tied from the chord before.
    pub tied_back: bool,
    /// It is tied to the next chord.
    pub tied_on: bool,
}

/// Notes of the lower voice that sound together.
#[derive(Clone, Debug, PartialEq)]
pub struct LowerChord {
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// How long it lasts.
    pub duration: Quarters,
    /// Its notes, lowest first; not empty.
    pub notes: Vec<LowerNote>,
}

/// A note of the lower voice as it is struck: once, however many chords it goes on through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PluckedNote {
    /// Written pitch, when it is struck and how long it sounds.
    pub note: Note,
    /// Where and with which finger.
    pub at: FingeredPlace,
    /// By how many decibels it is softer, so that all that is struck with it sounds as loud as one note.
    ///
    /// n notes of different pitch have n times the power of one: 10·log10(n).
    pub share_db: f64,
}

impl LowerChord {
    /// When it ends.
    pub fn end(&self) -> Quarters {
        self.onset + self.duration
    }
}

impl Arrangement {
    /// The lower voice of the melody this was made for: chords in order, none overlapping, in written order of the bars.
    pub fn lower_voice(&self, melody: &Melody) -> Vec<LowerChord> {
        let mut voice: Vec<LowerChord> = Vec::new();
        for (note, arranged) in melody.notes().iter().zip(&self.notes) {
            for it in arranged.under.iter().flat_map(Accompaniment::steps) {
                let notes = it.voicing.under().iter().zip(&it.staging.held);
                let chord = LowerChord {
                    onset: note.onset + it.at,
                    duration: it.until - it.at,
                    notes: notes
                        .map(|(note, held)| LowerNote {
                            pitch: note.pitch,
                            at: note.at,
                            tied_back: *held,
                            tied_on: false,
                        })
                        .collect(),
                };
                voice.push(chord);
            }
        }
        voice.extend(self.in_rests.iter().map(rest));
        voice.sort_by_key(|chord| chord.onset);
        for index in 1..voice.len() {
            let (before, rest) = voice.split_at_mut(index);
            tie(before.last_mut(), &rest[0]);
        }
        voice
    }

    /// The same as notes for themselves, each as long as it sounds.
    pub fn struck_notes(&self, melody: &Melody) -> Vec<PluckedNote> {
        let mut notes: Vec<PluckedNote> = Vec::new();
        for chord in self.lower_voice(melody) {
            let struck = chord.notes.iter().filter(|it| !it.tied_back).count();
            for it in &chord.notes {
                let before = notes
                    .iter_mut()
                    .rev()
                    .find(|before| before.at == it.at && before.note.end() == chord.onset);
                match before {
                    Some(before) if it.tied_back => before.note.duration += chord.duration,
                    _ => notes.push(PluckedNote {
                        note: Note {
                            pitch: it.pitch,
                            onset: chord.onset,
                            duration: chord.duration,
                        },
                        at: it.at,
                        share_db: 10.0 * (struck.max(1) as f64).log10(),
                    }),
                }
            }
        }
        notes
    }
}

fn rest(it: &RestChord) -> LowerChord {
    let notes = it.under.iter().map(|note| LowerNote {
        pitch: note.pitch,
        at: note.at,
        tied_back: false,
        tied_on: false,
    });
    LowerChord {
        onset: it.onset + it.at,
        duration: it.until - it.at,
        notes: notes.collect(),
    }
}

/// Says in the chord before which of its notes go on.
fn tie(before: Option<&mut LowerChord>, chord: &LowerChord) {
    let Some(before) = before.filter(|before| before.end() == chord.onset) else {
        return;
    };
    for note in &mut before.notes {
        note.tied_on = chord
            .notes
            .iter()
            .any(|next| next.tied_back && next.at == note.at);
    }
}

#[cfg(test)]
mod tests {
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::arranging::{ArrangingSettings, Density, Lattice, Style};
    use crate::neck::Instrument;

    #[test]
    fn a_ringing_bass_is_one_note_tied_on() {
        let melody = tune("C major", r#"(chords: "C", notes: "E5 q G E h")"#);
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::BASS);
        let settings = ArrangingSettings {
            density: Density::Sparse,
            ..ArrangingSettings::default()
        };
        let lattice = Lattice::new(arranger, &melody, settings).unwrap();
        let best = lattice.solve(1).remove(0);
        let voice: Vec<(String, String, bool, bool)> = best
            .lower_voice(&melody)
            .iter()
            .map(|chord| {
                let note = chord.notes[0];
                (
                    chord.onset.to_string(),
                    chord.duration.to_string(),
                    note.tied_back,
                    note.tied_on,
                )
            })
            .collect();
        let line = |onset: &str, duration: &str, back, on| {
            (onset.to_owned(), duration.to_owned(), back, on)
        };
        assert_eq!(
            voice,
            [
                line("0", "1", false, true),
                line("1", "1", true, false),
                line("2", "2", false, false)
            ]
        );
        let lengths: Vec<String> = best
            .struck_notes(&melody)
            .iter()
            .map(|it| it.note.duration.to_string())
            .collect();
        assert_eq!(lengths, ["2", "2"]);
    }
}
