//! What lies under the melody as a voice of its own: chords in time, for scores, files and sound.

use super::arrangement::Arrangement;
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
    /// It goes on from the chord before.
    pub tied_back: bool,
    /// It goes on in the next chord.
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
            for it in &arranged.under {
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
                tie(voice.last_mut(), &chord);
                voice.push(chord);
            }
        }
        voice
    }

    /// The same as notes for themselves, each as long as it sounds, with its place.
    pub fn lower_notes(&self, melody: &Melody) -> Vec<(Note, FingeredPlace)> {
        let mut notes: Vec<(Note, FingeredPlace)> = Vec::new();
        for chord in self.lower_voice(melody) {
            for it in &chord.notes {
                let before = notes
                    .iter_mut()
                    .rev()
                    .find(|(note, at)| *at == it.at && note.end() == chord.onset);
                match before {
                    Some((note, _)) if it.tied_back => note.duration += chord.duration,
                    _ => notes.push((
                        Note {
                            pitch: it.pitch,
                            onset: chord.onset,
                            duration: chord.duration,
                        },
                        it.at,
                    )),
                }
            }
        }
        notes
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
    use crate::arranging::{Arranger, ArrangingSettings, Density, Lattice, Style};
    use crate::format::tune_ron;
    use crate::neck::{Hand, Instrument};

    #[test]
    fn a_ringing_bass_is_one_note_tied_on() {
        let source =
            r#"(key: "C major", meter: "4/4", lines: [(chords: "C", notes: "E5 q G E h")])"#;
        let melody = tune_ron::read(source.as_bytes()).unwrap().melody;
        let guitar = Instrument::default();
        let arranger = Arranger {
            instrument: &guitar,
            hand: Hand::MEDIUM,
            style: Style::BASS,
        };
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
            .lower_notes(&melody)
            .iter()
            .map(|(note, _)| note.duration.to_string())
            .collect();
        assert_eq!(lengths, ["2", "2"]);
    }
}
