//! An arrangement as a file: MusicXML with two voices, MIDI, or sound.

use std::path::Path;

use fretlib::arranging::{Arrangement, FingeredPlace};
use fretlib::format::musicxml::{ChordUnder, Fingered, NoteUnder};
use fretlib::format::{midi, musicxml};
use fretlib::melody::{Melody, Note, Quarters, Tempo};
use fretlib::neck::Instrument;
use fretlib::sound::{ConcertPitch, Layer, Performance, Pluck, SampleRate, Strength, Tone};

use super::Arranged;
use crate::audio::{SampleFormat, wav_bytes};
use crate::failure::Failure;
use crate::output::{Existing, write_file};

/// What is written where.
pub struct ArrangementFile<'a> {
    pub path: &'a Path,
    pub existing: Existing,
    /// Decibels from the melody down to what lies under it.
    pub contrast: f64,
    /// In place of the tune's own tempo.
    pub tempo: Option<Tempo>,
}

impl ArrangementFile<'_> {
    /// Writes the best arrangement in the format the file's name asks for.
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
                let under: Vec<Note> = arrangement
                    .lower_notes(&melody)
                    .into_iter()
                    .map(|(note, _)| note)
                    .collect();
                midi::write_over(&melody, instrument, &under, self.contrast).map_err(|error| {
                    Failure::could_not(error.to_string(), "try another `--octave`")
                })?
            }
            Some("wav") => self.sound(&melody, instrument, arrangement)?,
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
        let clock = Clock::new(melody, self.tempo);
        let pluck = |note: &Note, at: FingeredPlace, layer: Layer, strength: Strength| {
            let tone = Tone::at(instrument, at.place, ConcertPitch::A440)?;
            let (start, end) = (clock.seconds(note.onset), clock.seconds(note.end()));
            Some(Pluck {
                layer,
                strength,
                ..Pluck::new(tone, at.place.string, start, end)
            })
        };
        let quiet = Strength::MELODY.softer(self.contrast);
        let tune = melody.notes().iter().zip(&arrangement.notes);
        let mut plucks: Vec<Pluck> = tune
            .filter_map(|(note, it)| pluck(note, it.melody, Layer::Melody, Strength::MELODY))
            .collect();
        let under = arrangement.lower_notes(melody);
        plucks.extend(
            under
                .iter()
                .filter_map(|(note, at)| pluck(note, *at, Layer::Chords, quiet)),
        );
        let performance = Performance::new(plucks, Vec::new(), clock.seconds(melody.length()))
            .map_err(|error| {
                Failure::could_not(
                    error.to_string(),
                    "arrange a part of the tune, as in `--bars 1-32`",
                )
            })?;
        let minutes = performance.seconds() / 60.0;
        if minutes > LONGEST_MINUTES {
            return Err(Failure::could_not(
                format!("that would be {minutes:.0} minutes of sound"),
                "arrange a part of the tune, as in `--bars 1-32`",
            ));
        }
        wav_bytes(
            &performance.samples(SampleRate::CD),
            SampleRate::CD,
            SampleFormat::Int16,
        )
    }
}

/// The longest sound that is written, in minutes.
const LONGEST_MINUTES: f64 = 60.0;

/// When each time of the tune comes, in written order.
struct Clock {
    /// From when, at how many seconds, in which tempo; the first from the start.
    stretches: Vec<(Quarters, f64, Tempo)>,
}

impl Clock {
    fn new(melody: &Melody, tempo: Option<Tempo>) -> Clock {
        let mut stretches = vec![(Quarters::ZERO, 0.0, tempo.unwrap_or(Tempo::DEFAULT))];
        for (onset, next) in melody.tempos().iter().filter(|_| tempo.is_none()) {
            let (from, seconds, before) = stretches[stretches.len() - 1];
            stretches.push((onset, seconds + before.seconds(onset - from), *next));
        }
        Clock { stretches }
    }

    fn seconds(&self, time: Quarters) -> f64 {
        let after = self.stretches.partition_point(|(from, ..)| *from <= time);
        let (from, seconds, tempo) = self.stretches[after.saturating_sub(1)];
        seconds + tempo.seconds(time - from)
    }
}

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
