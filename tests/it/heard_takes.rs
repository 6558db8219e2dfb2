//! How well takes of our own strings are heard: over quiet chords, in noise, in a room, and without a fault.
//!
//! The tunes are those of `harmonised.jsonl` that are kept out of all tuning: two of them, or with `HEAR_ALL=1` all twenty
//! and more of each. Every test prints what it measured.

use std::fmt;

use fretlib::hearing::{Heard, RecordingRate, StruckNote, Take};
use fretlib::melody::{Melody, Note, Quarters, Tempo};
use fretlib::neck::Instrument;
use fretlib::sound::{
    Layer, Manner, Performance, PlayThrough, Pluck, SampleRate, Strength, play_through,
};
use fretlib::theory::{MidiNumber, Octave, Pitch};
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use tests::harmonised::{self, Harmonised};

/// A note that was played: its onset in seconds and its sounding MIDI number.
type PlayedNote = (f64, u8);

/// A tune as our own strings play it.
struct OwnTake {
    melody: Melody,
    samples: Vec<f32>,
    notes: Vec<PlayedNote>,
    // The chords under it, in written time and pitch.
    under: Vec<Note>,
}

/// How softly the chords are plucked, each string of them against a string of the melody.
const UNDER_MELODY: f64 = 12.0;

/// The notes of a take whose passes are counted.
const NOTES: usize = 64;

/// The notes of any other take.
fn few_notes() -> usize {
    if hears_all() { NOTES } else { 20 }
}

fn hears_all() -> bool {
    std::env::var_os("HEAR_ALL").is_some()
}

impl OwnTake {
    /// Plays the first `notes` of a tune at 90 quarter notes a minute, each as strongly as `strength` says.
    fn new(
        tune: &Harmonised,
        notes: usize,
        octave: Octave,
        has_chords: bool,
        mut strength: impl FnMut() -> Strength,
    ) -> OwnTake {
        let mut draft = tune.melody().into_draft();
        let tempo = Tempo::new(Quarters::ONE, Quarters::from(90)).unwrap();
        draft.tempos = Default::default();
        draft.tempos.set(Quarters::ZERO, tempo);
        draft.form = Default::default();
        let melody = Melody::new(draft).unwrap();
        let end = melody
            .notes()
            .get(notes)
            .map_or(melody.length(), |it| it.onset);
        let melody = melody.between(Quarters::ZERO, end).unwrap();
        let guitar = Instrument::default();
        let places = vec![None; melody.notes().len()];
        let played = play_through(&melody, &places, octave, &guitar, &Manner::default()).unwrap();
        let under = chords(&played, &melody, octave);
        let plucks = played.performance.plucks().filter_map(|pluck| {
            let strength = match pluck.layer {
                Layer::Melody => strength(),
                Layer::Chords if has_chords => Strength::MELODY.softer(UNDER_MELODY),
                _ => return None,
            };
            Some(Pluck { strength, ..*pluck })
        });
        let seconds = played.performance.seconds();
        let performance = Performance::new(plucks.collect(), Vec::new(), seconds).unwrap();
        let rate = SampleRate::new(RecordingRate::WORKING.get()).unwrap();
        let melody_plucks = performance.plucks().filter(|it| it.note.is_some());
        OwnTake {
            notes: melody_plucks.map(|it| (it.start, sounding(it))).collect(),
            samples: performance.samples(rate),
            melody,
            under,
        }
    }

    fn heard(&self) -> Heard {
        Heard::whole(&self.samples, RecordingRate::WORKING)
    }
}

/// The sounding MIDI number of a pluck.
fn sounding(pluck: &Pluck) -> u8 {
    (69.0 + 12.0 * (pluck.tone.frequency() / 440.0).log2()).round() as u8
}

/// The notes of the chords in written time and pitch.
fn chords(played: &PlayThrough, melody: &Melody, octave: Octave) -> Vec<Note> {
    let plucks = played.performance.plucks();
    let chords = plucks.filter(|it| it.layer == Layer::Chords);
    chords
        .filter_map(|pluck| {
            let bar = played.bars.iter().rfind(|it| it.start <= pluck.start)?;
            let written = melody.bars()[bar.index];
            let within = (pluck.start - bar.start) / (bar.end - bar.start);
            // Chords change on an eighth at the finest; a strum is much shorter.
            let eighths = (2.0 * within * (written.end - written.onset).to_f64()).round();
            let midi = i16::from(sounding(pluck)) + 12 - octave.semitones();
            Some(Note {
                pitch: Pitch::from_midi(MidiNumber::new(midi.try_into().ok()?).ok()?),
                onset: written.onset + Quarters::new(eighths as i64, 2),
                duration: Quarters::ONE,
            })
        })
        .collect()
}

/// Hits, notes found and notes played.
#[derive(Clone, Copy, Default)]
struct Score {
    hits: usize,
    found: usize,
    played: usize,
}

impl Score {
    /// Counts a note found where onsets are within 50 ms and pitches equal, each note once.
    ///
    /// Source: C. Raffel and others, "mir_eval", ISMIR 2014.
    fn add(&mut self, found: &[PlayedNote], played: &[PlayedNote]) {
        let mut is_taken = vec![false; found.len()];
        for note in played {
            let hit = (0..found.len()).find(|&k| {
                !is_taken[k] && found[k].1 == note.1 && (found[k].0 - note.0).abs() < 0.05
            });
            if let Some(hit) = hit {
                is_taken[hit] = true;
                self.hits += 1;
            }
        }
        self.found += found.len();
        self.played += played.len();
    }

    fn f(self) -> f64 {
        2.0 * self.hits as f64 / (self.found + self.played) as f64
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "F {:.4} of {} notes", self.f(), self.played)
    }
}

fn played_note(note: &StruckNote) -> PlayedNote {
    (note.onset, note.pitch.get())
}

/// What was taken for the melody: its notes and those that match nothing.
fn melody_heard(take: &Take) -> Vec<PlayedNote> {
    let notes = take.notes().filter_map(|it| it.heard);
    notes
        .chain(take.extra.iter().copied())
        .map(|it| played_note(&it))
        .collect()
}

/// The tunes kept out of all tuning: all with `HEAR_ALL=1`, else two.
fn tunes() -> Vec<Harmonised> {
    let kept_out = harmonised::tunes().into_iter().filter(|it| it.kept_out);
    kept_out.step_by(if hears_all() { 1 } else { 10 }).collect()
}

/// Strengths of 45 to 120 of 127, by the square as synthesisers map them to amplitudes.
fn uneven(seed: u64) -> impl FnMut() -> Strength {
    let mut random = SmallRng::seed_from_u64(seed);
    move || {
        let velocity = random.random_range(45.0..=120.0) / 127.0_f64;
        Strength::percent((100.0 * velocity * velocity).round() as u8).unwrap()
    }
}

fn even() -> Strength {
    Strength::MELODY
}

#[test]
fn a_melody_is_heard_over_quiet_chords() {
    let (mut alone, mut arranged, mut transcribed) =
        (Score::default(), Score::default(), Score::default());
    for tune in tunes() {
        // As it is written, among the notes of the chords, and an octave above.
        for octave in [0, 1].map(|it| Octave::new(it).unwrap()) {
            let take = OwnTake::new(&tune, few_notes(), octave, true, even);
            let heard = take.heard();
            let struck: Vec<PlayedNote> = heard.struck_notes().iter().map(played_note).collect();
            transcribed.add(&struck, &take.notes);
            let line = Take::of(&heard, &take.melody).unwrap();
            alone.add(&melody_heard(&line), &take.notes);
            let over = Take::of_arranged(&heard, &take.melody, &take.under).unwrap();
            arranged.add(&melody_heard(&over), &take.notes);
        }
    }
    println!("over chords that are known: {arranged}");
    println!("over chords that are not: {alone}");
    println!("all notes struck, without the tune: {transcribed}");
    assert!(arranged.f() >= 0.95 && alone.f() >= 0.95);
}

/// White noise between −1 and 1, or pink: its power falls by 3 dB an octave.
fn noise(length: usize, is_pink: bool) -> Vec<f32> {
    let mut random = SmallRng::seed_from_u64(10);
    let mut white = || random.random_range(-1.0..=1.0_f32);
    if !is_pink {
        return (0..length).map(|_| white()).collect();
    }
    // Three first-order filters in parallel, within 0.5 dB of pink. From memory: P. Kellet's, 1999.
    let mut state = [0.0f32; 3];
    let filters = [
        (0.99765, 0.0990460),
        (0.96300, 0.2965164),
        (0.57000, 1.0526913),
    ];
    let pink = (0..length).map(|_| {
        let white = white();
        for (state, (keeps, adds)) in state.iter_mut().zip(filters) {
            *state = keeps * *state + adds * white;
        }
        state.iter().sum::<f32>() + 0.1848 * white
    });
    pink.collect()
}

fn mean_square(samples: &[f32]) -> f32 {
    samples.iter().map(|it| it * it).sum::<f32>() / samples.len() as f32
}

/// Adds noise that is softer than the sound by this many dB.
fn add_noise(samples: &mut [f32], decibels: f32, is_pink: bool) {
    let noise = noise(samples.len(), is_pink);
    let power = mean_square(samples) / mean_square(&noise);
    let gain = power.sqrt() * 10f32.powf(-decibels / 20.0);
    for (sample, noise) in samples.iter_mut().zip(noise) {
        *sample += gain * noise;
    }
}

/// Adds the sound of a room that falls by 60 dB in one second, 6 dB softer than the string itself.
///
/// Four combs side by side and two all-pass filters after them. Source: M. Schroeder, "Natural Sounding Artificial
/// Reverberation", Journal of the Audio Engineering Society 10, 1962.
fn add_room(samples: &mut [f32]) {
    let rate = RecordingRate::WORKING.get() as f32;
    let mut room = vec![0.0; samples.len()];
    for seconds in [0.0297, 0.0371, 0.0411, 0.0437] {
        let delay = (seconds * rate) as usize;
        let keeps = 10f32.powf(-3.0 * seconds);
        let mut comb = samples.to_vec();
        for k in delay..comb.len() {
            comb[k] += keeps * comb[k - delay];
        }
        room.iter_mut()
            .zip(comb)
            .for_each(|(room, comb)| *room += comb);
    }
    for seconds in [0.005, 0.0017] {
        let delay = (seconds * rate) as usize;
        let mut passed = room.clone();
        for k in 0..room.len() {
            let (sound, before) = match k.checked_sub(delay) {
                Some(k) => (room[k], passed[k]),
                None => (0.0, 0.0),
            };
            passed[k] = sound - 0.7 * room[k] + 0.7 * before;
        }
        room = passed;
    }
    let gain = 0.5 * (mean_square(samples) / mean_square(&room)).sqrt();
    for (sample, room) in samples.iter_mut().zip(room) {
        *sample += gain * room;
    }
}

#[test]
fn noise_and_a_room_hide_few_notes() {
    let check = |name: &str, least: f64, change: &dyn Fn(&mut [f32])| {
        let mut score = Score::default();
        for tune in tunes() {
            let mut take = OwnTake::new(&tune, few_notes(), Octave::WRITTEN, false, even);
            change(&mut take.samples);
            let heard = take.heard();
            let struck: Vec<PlayedNote> = heard.struck_notes().iter().map(played_note).collect();
            score.add(&struck, &take.notes);
        }
        println!("{name}: {score}");
        assert!(score.f() >= least, "{name}: {score}");
    };
    check("clean", 0.99, &|_| {});
    check("white noise at 20 dB", 0.99, &|it| {
        add_noise(it, 20.0, false)
    });
    check("pink noise at 20 dB", 0.99, &|it| add_noise(it, 20.0, true));
    check("white noise at 10 dB", 0.985, &|it| {
        add_noise(it, 10.0, false)
    });
    check("pink noise at 10 dB", 0.985, &|it| {
        add_noise(it, 10.0, true)
    });
    check("a room of one second", 0.99, &|it| add_room(it));
}

#[test]
fn faultless_takes_are_right_passes() {
    let (mut right_passes, mut takes, mut faults, mut notes) = (0, 0, 0, 0);
    for (number, tune) in tunes().iter().enumerate() {
        for octave in [0, 1].map(|it| Octave::new(it).unwrap()) {
            let seed = 2 * number as u64 + octave.get() as u64;
            let take = OwnTake::new(tune, NOTES, octave, false, uneven(seed));
            let judged = Take::of(&take.heard(), &take.melody).unwrap();
            let sure = judged.notes().filter(|it| it.is_sure_fault());
            faults += sure.count() + judged.extra.len();
            notes += take.notes.len();
            right_passes += usize::from(judged.passes.iter().all(|it| it.is_right()));
            takes += 1;
        }
    }
    println!("sure faults: {faults} in {notes} notes played right");
    println!("right passes: {right_passes} of {takes}");
    assert!(100 * faults < notes && 100 * right_passes >= 95 * takes);
}
