//! Takes made of plain decaying harmonics, with faults put in.

use super::*;
use crate::hearing::{Heard, Listener, RecordingRate};
use crate::melody::{Draft, Feel, FormSign, Meter, Note, Quarters, Times};

const RATE: u32 = 22_050;

/// Adds a struck string: eight harmonics that die away, damped at `end`.
fn pluck(samples: &mut Vec<f32>, onset: f64, end: f64, midi: u8, loudness: f32) {
    let first = (onset * f64::from(RATE)) as usize;
    let last = ((end + 0.06) * f64::from(RATE)) as usize;
    if samples.len() < last {
        samples.resize(last, 0.0);
    }
    let hertz = 440.0 * ((f64::from(midi) - 69.0) / 12.0).exp2();
    for (k, sample) in samples[first..last].iter_mut().enumerate() {
        let t = k as f64 / f64::from(RATE);
        let damping = if onset + t > end {
            (-(onset + t - end) / 0.01).exp()
        } else {
            1.0
        };
        let wave: f64 = (1..=8)
            .map(f64::from)
            .map(|h| {
                (std::f64::consts::TAU * hertz * h * t).sin() * (-t * (1.5 + 0.7 * h)).exp() / h
            })
            .sum();
        *sample += loudness * 0.3 * (wave * damping) as f32 * ((t / 0.002).min(1.0)) as f32;
    }
}

/// Written pitches in quarter notes, four to a bar.
fn melody(names: &str) -> Melody {
    let mut draft = Draft::default();
    draft.meters.set(Quarters::ZERO, Some(Meter::COMMON));
    for name in names.split_whitespace() {
        draft
            .note(name.parse().unwrap(), Quarters::from(1))
            .unwrap();
    }
    Melody::new(draft).unwrap()
}

const TUNE: &str = "E4 G4 A4 B4 D5 B4 A4 G4 E4 D4 E4 G4 A4 G4 E4 E4";

/// The played notes: onset in seconds and pitch.
type Played = Vec<(f64, u8)>;

/// The tune played right, at 100 to the minute.
fn faultless(melody: &Melody) -> Played {
    melody
        .notes()
        .iter()
        .map(|note| {
            (
                0.4 + 0.6 * note.onset.to_f64(),
                note.pitch.midi().get() - 12,
            )
        })
        .collect()
}

fn sound(played: &Played) -> Vec<f32> {
    let mut samples = Vec::new();
    for (k, &(onset, midi)) in played.iter().enumerate() {
        let next = played.get(k + 1).map_or(onset + 0.6, |it| it.0);
        pluck(
            &mut samples,
            onset,
            (next - 0.005).min(onset + 0.6),
            midi,
            0.6 + 0.1 * (k % 4) as f32,
        );
    }
    samples.resize(samples.len() + 8_000, 0.0);
    samples
}

fn hear(played: &Played) -> Heard {
    Heard::whole(&sound(played), RecordingRate::new(RATE).unwrap())
}

/// The verdicts that are not `Right`, as `number: verdict`, and the extra notes by their MIDI numbers.
fn faults(take: &Take) -> String {
    let notes = take
        .notes()
        .filter(|it| it.verdict != NoteVerdict::Right)
        .map(|it| format!("{}: {:?}", it.index + 1, it.verdict).to_lowercase());
    let extra = take
        .extra
        .iter()
        .map(|it| format!("extra {}", it.pitch.get()));
    notes.chain(extra).collect::<Vec<_>>().join(", ")
}

fn check(change: impl Fn(&mut Played), expected: &str) {
    let melody = melody(TUNE);
    let mut played = faultless(&melody);
    change(&mut played);
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert_eq!(faults(&take), expected);
    assert!(take.fits());
    assert_eq!(take.passes.len(), 1);
    assert_eq!(take.passes[0].is_right(), expected.is_empty());
}

/// Of a phrase that comes three times, the time that was left out is found by when the others were played.
#[test]
fn a_time_through_a_repeated_phrase_that_is_left_out_is_missing() {
    let melody = melody("A4 B4 C5 B4 A4 E4 G4 D5 E4 G4 D5 E4 G4 D5 B4 A4 C5 B4 A4 F4");
    for first in [5, 8, 11] {
        let mut played = faultless(&melody);
        played.drain(first..first + 3);
        let take = Take::of(&hear(&played), &melody).unwrap();
        let missing: Vec<String> = (first + 1..first + 4)
            .map(|number| format!("{number}: missing"))
            .collect();
        assert_eq!(faults(&take), missing.join(", "), "from note {first} on");
    }
}

/// The tune with its last but one note struck at this loudness, or left out, over the same pitch sounding on.
fn repeated_softly(loudness: Option<f32>) -> JudgedNote {
    let melody = melody("E4 G4 A4 B4 D5 B4 A4 G4 E4 D4 E4 G4 A4 A4 E4 G4");
    let mut samples = Vec::new();
    for (number, (onset, midi)) in faultless(&melody).into_iter().enumerate() {
        match (number, loudness) {
            (12, None) => pluck(&mut samples, onset, onset + 1.195, midi, 0.8),
            (13, None) => {}
            (13, Some(loudness)) => pluck(&mut samples, onset, onset + 0.595, midi, loudness),
            _ => pluck(&mut samples, onset, onset + 0.595, midi, 0.8),
        }
    }
    samples.resize(samples.len() + 8_000, 0.0);
    let heard = Heard::whole(&samples, RecordingRate::new(RATE).unwrap());
    let take = Take::of(&heard, &melody).unwrap();
    take.passes[0].notes[13]
}

#[test]
fn a_soft_note_after_the_same_loud_one_is_not_missing() {
    // The softest has no strike of its own: it takes the second look.
    for loudness in [0.8, 0.2, 0.05, 0.03] {
        let note = repeated_softly(Some(loudness));
        assert_eq!(note.verdict, NoteVerdict::Right, "{loudness}");
    }
    let left_out = repeated_softly(None);
    assert_eq!(
        (left_out.verdict, left_out.heard),
        (NoteVerdict::Missing, None)
    );
}

#[test]
fn each_kind_of_fault_is_reported() {
    check(|_| {}, "");
    check(|played| played[4].1 += 1, "5: wrong");
    // Another octave is another note.
    check(|played| played[6].1 += 12, "7: wrong");
    check(
        |played| {
            played.remove(9);
        },
        "10: missing",
    );
    check(|played| played[7].0 += 0.17, "8: late");
    check(|played| played[11].0 -= 0.16, "12: early");
    check(|played| played.insert(6, (3.7, 56)), "extra 56");
    check(
        |played| {
            played[3].1 -= 2;
            played[4].0 += 0.15;
        },
        "4: wrong, 5: late",
    );
    // Another note far from the time of the one left out.
    check(
        |played| played[10] = (played[10].0 - 0.101, 60),
        "11: missing, extra 60",
    );
    // A string that was struck twice within 80 ms was struck once.
    check(
        |played| played.insert(7, (played[6].0 + 0.08, played[6].1)),
        "",
    );
    // A late note beside the first or the last one does not make that early.
    check(|played| played[1].0 += 0.25, "2: late");
    check(|played| played[14].0 -= 0.25, "15: early");
    // Where the whole tune is an octave lower, nothing is wrong.
    check(|played| played.iter_mut().for_each(|it| it.1 -= 12), "");
}

#[test]
fn slowing_down_is_not_a_fault() {
    check(
        |played| played.iter_mut().for_each(|it| it.0 *= 1.0 + 0.01 * it.0),
        "",
    );
}

/// Eighths in 4/4, with a feel that the tune may name.
fn eighths(feel: Option<Feel>) -> Melody {
    let mut draft = Draft::default();
    draft.meters.set(Quarters::ZERO, Some(Meter::COMMON));
    draft.feel = feel;
    let names = "E4 G4 A4 B4 D5 B4 A4 G4 E4 D4 E4 G4 A4 G4 E4 D4";
    for name in names.split_whitespace().chain(names.split_whitespace()) {
        draft
            .note(name.parse().unwrap(), Quarters::new(1, 2))
            .unwrap();
    }
    Melody::new(draft).unwrap()
}

#[test]
fn a_swing_moves_what_is_expected() {
    // At 75 to the minute; the first eighth of a beat takes this share of it.
    let take = |feel: Option<Feel>, share: f64| {
        let melody = eighths(feel);
        let played: Played = melody
            .notes()
            .iter()
            .map(|note| {
                let (beat, off) = (note.onset.floor().to_f64(), !note.onset.is_integer());
                let moved = if off { beat + share } else { beat };
                (0.4 + 0.8 * moved, note.pitch.midi().get() - 12)
            })
            .collect();
        Take::of(&hear(&played), &melody).unwrap()
    };
    // What the tune says is expected.
    let as_said = take(Some(Feel::Swing), 0.667);
    assert_eq!((faults(&as_said).as_str(), as_said.swing), ("", None));
    // What it does not say is estimated and not judged.
    let found = take(None, 0.667);
    assert_eq!(faults(&found), "");
    let share = found.swing.unwrap().share();
    assert!((share - 0.667).abs() < 0.03, "{share}");
    // Even playing has none.
    let even = take(None, 0.5);
    assert_eq!((faults(&even).as_str(), even.swing), ("", None));
    // Where the tune says straight, none is looked for.
    assert_eq!(take(Some(Feel::Straight), 0.667).swing, None);
}

#[test]
fn offset_tempo_and_level_are_those_of_the_playing() {
    let melody = melody(TUNE);
    let mut played = faultless(&melody);
    played[7].0 += 0.15;
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert!(
        (take.tempo.unwrap() - 100.0).abs() < 1.0,
        "{:?}",
        take.tempo
    );
    assert_eq!(take.shift, -12);
    let late = take.notes().nth(7).unwrap();
    assert!((late.offset().unwrap() - 0.15).abs() < 0.02, "{late:?}");
    let heard = late.heard.unwrap();
    assert!((heard.onset - played[7].0).abs() < 0.02, "{heard:?}");
    assert!((-30.0..-3.0).contains(&heard.level_db), "{heard:?}");
}

#[test]
fn silence_between_joined_notes_is_a_break() {
    let melody = melody(TUNE);
    let mut samples = Vec::new();
    for (k, (onset, midi)) in faultless(&melody).into_iter().enumerate() {
        let end = onset + if k == 5 { 0.35 } else { 0.59 };
        pluck(&mut samples, onset, end, midi, 0.8);
    }
    let heard = Heard::whole(&samples, RecordingRate::new(RATE).unwrap());
    let take = Take::of(&heard, &melody).unwrap();
    let breaks: Vec<usize> = take
        .notes()
        .filter(|it| it.break_after > 0.1)
        .map(|it| it.index + 1)
        .collect();
    assert_eq!(breaks, [6]);
}

#[test]
fn the_player_may_begin_anywhere_and_come_back() {
    let melody = melody("E4 G4 A4 B4 D5 B4 A4 G4 F4 D4 C4 G4 A4 C5 E5 E4");
    let all = faultless(&melody);
    // Bars 3 and 4 only.
    let played: Played = all[8..].iter().map(|it| (it.0 - 4.0, it.1)).collect();
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert_eq!(faults(&take), "");
    assert_eq!(take.passes[0].bars, (3, 4));
    assert_eq!(take.notes().next().unwrap().index, 8);
    // The whole tune, a pause, and bars 1 and 2 again.
    let mut played = all.clone();
    played.extend(all[..8].iter().map(|it| (it.0 + 12.3, it.1)));
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert_eq!(faults(&take), "");
    let bars: Vec<(u32, u32)> = take.passes.iter().map(|it| it.bars).collect();
    assert_eq!(bars, [(1, 4), (1, 2)]);
    assert_eq!(take.passes[1].notes[0].time, 2);
}

#[test]
fn a_stop_is_one_late_note_and_the_rest_goes_on() {
    let melody = melody(TUNE);
    let mut played = faultless(&melody);
    played[9..].iter_mut().for_each(|it| it.0 += 2.0);
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert_eq!(faults(&take), "10: late");
    let late = take.notes().nth(9).unwrap();
    assert!((late.offset().unwrap() - 2.0).abs() < 0.1, "{late:?}");
}

#[test]
fn a_repeated_strain_has_an_entry_for_each_time() {
    let mut draft = melody("E4 G4 A4 B4 D5 B4 A4 G4").into_draft();
    draft
        .form
        .add(Quarters::from(4), FormSign::RepeatEnd(Times::TWICE));
    let melody = Melody::new(draft).unwrap();
    let order = [0, 1, 2, 3, 0, 1, 2, 3, 4, 5, 6, 7];
    let played: Played = order
        .iter()
        .enumerate()
        .map(|(k, &note)| {
            (
                0.4 + 0.6 * k as f64,
                melody.notes()[note].pitch.midi().get() - 12,
            )
        })
        .collect();
    let take = Take::of(&hear(&played), &melody).unwrap();
    assert_eq!(faults(&take), "");
    assert_eq!(take.passes.len(), 1);
    let entries: Vec<(usize, u32)> = take.notes().map(|it| (it.index, it.time)).collect();
    let expected: Vec<(usize, u32)> = (0..12)
        .map(|k| (order[k], if (4..8).contains(&k) { 2 } else { 1 }))
        .collect();
    assert_eq!(entries, expected);
}

#[test]
fn a_repeat_may_be_left_out() {
    let mut draft = melody("E4 G4 A4 B4 D5 B4 A4 G4").into_draft();
    draft
        .form
        .add(Quarters::from(4), FormSign::RepeatEnd(Times::TWICE));
    let melody = Melody::new(draft).unwrap();
    let take = Take::of(&hear(&faultless(&melody)), &melody).unwrap();
    assert_eq!(faults(&take), "");
    let entries: Vec<(usize, u32)> = take.notes().map(|it| (it.index, it.time)).collect();
    assert_eq!(entries, (0..8).map(|k| (k, 1)).collect::<Vec<_>>());
}

#[test]
fn another_tune_does_not_fit() {
    let other = melody("C5 F4 C#5 D4 A#4 F#5 C4 G#4 B4 F5 D#4 A4 C#4 F#4 D5 G#4");
    let take = Take::of(&hear(&faultless(&melody(TUNE))), &other).unwrap();
    assert!(!take.fits(), "{}", take.fit);
}

#[test]
fn in_silence_and_noise_no_string_is_heard() {
    let rate = RecordingRate::new(RATE).unwrap();
    let heard = Heard::whole(&[0.0; 60_000], rate);
    assert!(heard.struck_notes().is_empty());
    assert!(Take::of(&heard, &melody(TUNE)).is_none());
    // White noise of a fixed seed.
    let mut state = 1u32;
    let noise: Vec<f32> = (0..220_500)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 8_388_608.0 - 1.0
        })
        .collect();
    let heard = Heard::whole(&noise, rate);
    assert!(
        heard.struck_notes().len() <= 1,
        "{:?}",
        heard.struck_notes()
    );
    for broken in [f32::NAN, f32::INFINITY, 1e30] {
        let heard = Heard::whole(&[broken; 30_000], rate);
        assert!(heard.seconds() > 1.0);
    }
    assert!(Heard::whole(&[], rate).struck_notes().is_empty());
}

#[test]
fn a_stream_is_heard_as_the_whole_recording() {
    let melody = melody(TUNE);
    let mut played = faultless(&melody);
    played[4].1 += 1;
    // Longer than one section.
    let mut samples = sound(&played);
    samples.resize(70 * RATE as usize, 0.0);
    samples.extend(sound(&faultless(&melody)));
    let rate = RecordingRate::new(RATE).unwrap();
    let whole = Take::of(&Heard::whole(&samples, rate), &melody);
    let mut listener = Listener::new(rate);
    for piece in samples.chunks(4_801) {
        listener.push(piece);
    }
    assert_eq!(Take::of(&listener.finish(), &melody), whole);
    let whole = whole.unwrap();
    assert_eq!(faults(&whole), "5: wrong");
    assert_eq!(whole.passes.len(), 2);
}

/// What lies under the tune: two notes with the first of each bar, and a bass note half way between its third and fourth.
fn under(melody: &Melody) -> Vec<Note> {
    let note = |name: &str, onset: Quarters| Note {
        pitch: name.parse().unwrap(),
        onset,
        duration: Quarters::ONE,
    };
    let half = Quarters::new(1, 2);
    let bars = melody.bars().iter();
    bars.flat_map(|bar| {
        let later = bar.onset + Quarters::from(2) + half;
        [
            note("C4", bar.onset),
            note("F3", bar.onset),
            note("Bb2", later),
        ]
    })
    .collect()
}

#[test]
fn what_lies_under_the_melody_is_neither_extra_nor_a_certain_fault() {
    let melody = melody(TUNE);
    let under = under(&melody);
    let arranged = |change: &dyn Fn(&mut Played)| {
        let mut played = faultless(&melody);
        change(&mut played);
        let mut samples = sound(&played);
        for (k, it) in under.iter().enumerate() {
            // A hand spreads a chord a little.
            let onset = 0.4 + 0.6 * it.onset.to_f64() + 0.008 * (k % 3) as f64;
            pluck(
                &mut samples,
                onset,
                onset + 0.5,
                it.pitch.midi().get() - 12,
                0.25,
            );
        }
        samples.resize(samples.len() + 8_000, 0.0);
        let heard = Heard::whole(&samples, RecordingRate::new(RATE).unwrap());
        let alone = Take::of(&heard, &melody).unwrap();
        (Take::of_arranged(&heard, &melody, &under).unwrap(), alone)
    };
    let (take, alone) = arranged(&|_| {});
    assert_eq!(faults(&take), "");
    assert!(take.passes[0].is_right());
    // Taken for a line alone, the bass notes are extra.
    assert!(!alone.extra.is_empty());
    // Struck alone, a wrong note is certain; struck with others it is told, and does not count.
    let (take, _) = arranged(&|played| played[5].1 += 1);
    assert_eq!(faults(&take), "6: wrong");
    assert!(!take.passes[0].is_right());
    let (take, _) = arranged(&|played| played[4].1 += 1);
    assert!(take.passes[0].is_right(), "{}", faults(&take));
}
