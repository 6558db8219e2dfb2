//! An arrangement as a file: MusicXML with two voices, MIDI, or sound.

use std::path::Path;
use std::sync::Arc;

use fretlib::arranging::{Arrangement, FingeredPlace};
use fretlib::format::musicxml::{ChordUnder, Fingered, NoteUnder};
use fretlib::format::{midi, musicxml};
use fretlib::melody::{Melody, Note, Tempo};
use fretlib::neck::Instrument;
use fretlib::sound::SampleRate;

use super::Arranged;
use super::arrangement_sound::ArrangementSound;
use crate::audio::{SampleFormat, wav_bytes};
use crate::commands::play::samples;
use crate::failure::Failure;
use crate::output::{Existing, write_file};

/// What to write, and where.
pub struct ArrangementFile<'a> {
    pub path: &'a Path,
    pub existing: Existing,
    /// Decibels from the melody down to the voicings.
    pub contrast: f64,
    /// Replaces the tune's own tempo.
    pub tempo: Option<Tempo>,
}

impl ArrangementFile<'_> {
    /// Writes the best arrangement, in the format given by the file's ending.
    pub fn write(&self, arranged: &Arranged) -> Result<(), Failure> {
        let Some(arrangement) = arranged.arrangements.first() else {
            return Ok(());
        };
        let instrument = arranged.lattice.arranger().instrument;
        let octave = arranged.lattice.settings().octave;
        let melody = arranged.tune.melody.transposed(octave.interval());
        let melody = melody
            .map_err(|error| Failure::could_not(error.to_string(), "try another `--octave`"))?;
        let ending = self
            .path
            .extension()
            .map(|it| it.to_string_lossy().to_lowercase());
        let bytes = match ending.as_deref() {
            Some("musicxml" | "xml") => score(&melody, instrument, arrangement).into_bytes(),
            Some("mid" | "midi") => {
                let under: Vec<(Note, f64)> = arrangement
                    .struck_notes(&melody)
                    .iter()
                    .map(|it| (it.note, self.contrast + it.share_db))
                    .collect();
                midi::write_over(&melody, instrument, &under).map_err(|error| {
                    Failure::could_not(error.to_string(), "try another `--octave`")
                })?
            }
            Some("wav") => self.sound(&arranged.tune.melody, instrument, arrangement)?,
            _ => {
                return Err(Failure::usage(
                    format!(
                        "an arrangement cannot be written to `{}`",
                        self.path.display()
                    ),
                    "name a file ending in .musicxml, .mid or .wav",
                ));
            }
        };
        write_file(self.path, &bytes, self.existing)
    }

    fn sound(
        &self,
        melody: &Melody,
        instrument: &Instrument,
        arrangement: &Arrangement,
    ) -> Result<Vec<u8>, Failure> {
        let sound = ArrangementSound {
            melody,
            instrument,
            arrangement,
            contrast: self.contrast,
            tempo: self.tempo,
        };
        let played = sound.played(None)?;
        let minutes = played.performance.seconds() / 60.0;
        if minutes > LONGEST_MINUTES {
            return Err(Failure::could_not(
                format!("that would be {minutes:.0} minutes of sound"),
                "arrange a part of the tune, as in `--bars 1-32`",
            ));
        }
        let passes = [Arc::new(played)];
        let samples = samples(&passes, [true, true, false], SampleRate::CD);
        wav_bytes(&samples, SampleRate::CD, SampleFormat::Int16)
    }
}

/// The longest sound that is written, in minutes.
const LONGEST_MINUTES: f64 = 60.0;

fn score(melody: &Melody, instrument: &Instrument, arrangement: &Arrangement) -> String {
    let fingered = |at: FingeredPlace| Fingered {
        place: at.place,
        finger: at.finger,
    };
    let places: Vec<Option<Fingered>> = arrangement
        .notes
        .iter()
        .map(|note| Some(fingered(note.melody)))
        .collect();
    let under = arrangement
        .lower_voice(melody)
        .into_iter()
        .map(|chord| ChordUnder {
            onset: chord.onset,
            duration: chord.duration,
            notes: chord
                .notes
                .iter()
                .map(|note| NoteUnder {
                    pitch: note.pitch,
                    fingered: fingered(note.at),
                    tied_back: note.tied_back,
                    tied_on: note.tied_on,
                })
                .collect(),
        });
    musicxml::write_over(melody, instrument, &places, &under.collect::<Vec<_>>())
}
