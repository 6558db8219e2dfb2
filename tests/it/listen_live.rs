//! Listening live: what is heard comes from a list of samples instead of a microphone.

use std::time::Duration;

use fretlib::format::abc;
use fretlib::hearing::{Heard, LiveEvent, LiveListener, LivePass, RecordingRate, Take};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use fretlib::sound::{
    ConcertPitch, Layer, Manner, Performance, PlayThrough, Renderer, SampleRate, play_through,
};
use fretlib::theory::Octave;
use tests::{Folder, Run, neckline};
use trainer_cli::{SoundInput, Streams};

const RATE: u32 = 48_000;

const FERRY: &str = "X:1\nT:Ferry\nM:4/4\nL:1/4\nQ:1/4=140\nK:G\nG A B d|e d B A|G B d g|e d G2|\n";
/// The same with an F# for the first d and the second e left out.
const FAULTY: &str =
    "X:1\nT:Ferry\nM:4/4\nL:1/4\nQ:1/4=140\nK:G\nG A B f|e d B A|G B d g|z d G2|\n";

fn melody(text: &str) -> Melody {
    abc::read(text.as_bytes(), &abc::AbcOptions::default())
        .unwrap()
        .melody
}

fn played(text: &str, speed: f64, a4: f64) -> PlayThrough {
    let melody = melody(text);
    let manner = Manner {
        speed,
        a4: ConcertPitch::new(a4).unwrap(),
        ..Manner::default()
    };
    let places = vec![None; melody.notes().len()];
    let guitar = Instrument::default();
    play_through(&melody, &places, Octave::WRITTEN, &guitar, &manner).unwrap()
}

/// The strings alone, as they sound.
fn samples_of(performance: &std::sync::Arc<Performance>) -> Vec<f32> {
    let rate = SampleRate::new(RATE).unwrap();
    let mut renderer = Renderer::new(rate);
    renderer.silence(Layer::Chords);
    renderer.silence(Layer::Click);
    renderer.then(performance.clone());
    let mut samples = vec![0.0; rate.sample_at(performance.seconds()) as usize];
    renderer.render(&mut samples);
    samples
}

pub fn sound(text: &str, speed: f64) -> Vec<f32> {
    samples_of(&played(text, speed, 440.0).performance)
}

/// White noise from -1 to 1, the same on every machine: a linear congruential generator.
fn noise() -> impl FnMut() -> f32 {
    let mut state = 7u32;
    move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    }
}

pub fn silence(seconds: f64) -> Vec<f32> {
    vec![0.0; (seconds * f64::from(RATE)) as usize]
}

fn rate() -> RecordingRate {
    RecordingRate::new(RATE).unwrap()
}

/// Everything that is heard of samples in pieces of this size, each with the second at which it was told.
fn heard_live(text: &str, samples: &[f32], piece: usize) -> Vec<(f64, LiveEvent)> {
    let mut listener = LiveListener::new(rate(), &melody(text));
    let mut told = Vec::new();
    let mut count = 0u64;
    for piece in samples.chunks(piece) {
        count += piece.len() as u64;
        let now = rate().seconds(count);
        told.extend(listener.push(piece).into_iter().map(|event| (now, event)));
    }
    let last = listener.finish().map(Box::new).map(LiveEvent::Ended);
    told.extend(last.map(|event| (rate().seconds(count), event)));
    told
}

fn passes(told: Vec<(f64, LiveEvent)>) -> Vec<LivePass> {
    let pass = |(_, event)| match event {
        LiveEvent::Ended(pass) => Some(*pass),
        LiveEvent::Struck { .. } | LiveEvent::Named(_) | LiveEvent::Dropped { .. } => None,
    };
    told.into_iter().filter_map(pass).collect()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[test]
fn a_strike_shows_within_45_ms_and_its_name_within_100() {
    let pass = played(FERRY, 1.0, 440.0);
    let before = silence(0.5);
    let samples = [before, samples_of(&pass.performance)].concat();
    let told = heard_live(FERRY, &samples, 96);
    let (mut shown, mut named) = (Vec::new(), Vec::new());
    let plucks: Vec<(f64, u8)> = pass
        .performance
        .plucks()
        .filter_map(|pluck| Some((pluck.start, pluck.note?)))
        .map(|(start, note)| {
            (
                start + 0.5,
                melody(FERRY).notes()[note].pitch.midi().get() - 12,
            )
        })
        .collect();
    for &(start, midi) in &plucks {
        let near = |at: f64| (at - start).abs() < 0.05;
        shown.extend(told.iter().find_map(|(now, event)| match event {
            LiveEvent::Struck { at } if near(*at) => Some(now - start),
            _ => None,
        }));
        named.extend(told.iter().find_map(|(now, event)| match event {
            LiveEvent::Named(it) if near(it.at) && it.pitch.get() == midi => Some(now - start),
            _ => None,
        }));
    }
    assert_eq!((shown.len(), named.len()), (plucks.len(), plucks.len()));
    let (shown, named) = (median(shown), median(named));
    assert!(shown <= 0.045, "{shown}");
    assert!(named <= 0.100, "{named}");
}

/// A right pass, a silence, a faulty one, and a right one that follows in time.
fn three_passes() -> Vec<f32> {
    let mut samples = silence(0.7);
    for (text, pause) in [(FERRY, 2.5), (FAULTY, 0.0), (FERRY, 0.3)] {
        samples.extend(sound(text, 1.0));
        samples.extend(silence(pause));
    }
    samples
}

#[test]
fn the_verdicts_of_a_pass_are_those_of_the_whole_take() {
    let samples = three_passes();
    for piece in [333, 480, 20_000] {
        let passes = passes(heard_live(FERRY, &samples, piece));
        let right: Vec<bool> = passes
            .iter()
            .map(|pass| {
                let take = pass.take.as_ref().unwrap();
                let range = pass.samples.start as usize..pass.samples.end as usize;
                let whole = Heard::whole(&samples[range], rate());
                assert_eq!(Some(take), Take::of(&whole, &melody(FERRY)).as_ref());
                assert_eq!(take.passes.len(), 1, "{piece}");
                take.passes[0].is_right()
            })
            .collect();
        assert_eq!(right, [true, false, true], "{piece}");
    }
}

/// Samples in pieces of 10 ms.
struct Samples(Vec<f32>, usize);

impl SoundInput for Samples {
    fn open(&mut self) -> Result<RecordingRate, String> {
        Ok(rate())
    }

    fn next(&mut self, _: Duration) -> Result<Option<Vec<f32>>, String> {
        let rest = &self.0[self.1..];
        let piece = &rest[..rest.len().min(RATE as usize / 100)];
        self.1 += piece.len();
        Ok((!piece.is_empty()).then(|| piece.to_vec()))
    }

    fn close(&mut self) {}
}

/// Runs the program with these samples at its microphone.
pub fn with_microphone(args: &[&str], samples: Vec<f32>) -> Run {
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    let mut streams = Streams::captured(&b""[..], &mut stdout, &mut stderr);
    streams.microphone = Box::new(Samples(samples, 0));
    let args = std::iter::once("neckline").chain(args.iter().copied());
    let code = trainer_cli::run(args.map(Into::into), &mut streams);
    drop(streams);
    Run {
        code,
        stdout: String::from_utf8_lossy(&stdout).into_owned(),
        stderr: String::from_utf8_lossy(&stderr).into_owned(),
    }
}

#[test]
fn each_pass_gets_its_verdict_when_it_ends() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", FERRY);
    let run = with_microphone(
        &["listen", &tune, "--data-dir", folder.text()],
        three_passes(),
    );
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    expect_test::expect![[r#"
        Ferry, at your own tempo: the microphone is open, Ctrl-C closes it
        G4 A4 B4 D5 E5 D5 B4 A4 G4 B4 D5 G5 E5 D5 G4
        pass 1, bars 1-4: right, 15 of 15 notes, 140 quarter notes a minute
          Nothing to mend, and at the tune's tempo.
        G4 A4 B4 F#5 E5 D5 B4 A4 G4 B4 D5 G5 D5 G4
        pass 2, bars 1-4: with faults, 13 of 15 notes, 140 quarter notes a minute
          Wrong: bar 1 beat 4, F#5 for D5 (string 2, fret 3).
          Missing: bar 4 beat 1, E5.
          Practise next: bars 1 and 4.
        G4 A4 B4 D5 E5 D5 B4 A4 G4 B4 D5 G5 E5 D5 G4
        pass 3, bars 1-4: right, 15 of 15 notes, 140 quarter notes a minute
          Nothing to mend, and at the tune's tempo.
        remembered in position II: bars 1-4 right; play it again tomorrow
    "#]]
    .assert_eq(&run.stdout);
    // What was heard is kept.
    let progress = neckline(&["progress", "--json", "--data-dir", folder.text()], b"");
    assert!(
        progress.stdout.contains("\"tempos\":[{\"phrase\":1"),
        "{}",
        progress.stdout
    );
}

#[test]
fn a_ladder_is_climbed_by_right_passes_at_tempo() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", FERRY);
    let mut samples = silence(0.5);
    for (text, speed) in [
        (FERRY, 0.9),
        (FERRY, 0.75),
        (FAULTY, 0.95),
        (FERRY, 0.9),
        (FERRY, 0.95),
    ] {
        samples.extend(sound(text, speed));
        samples.extend(silence(2.5));
    }
    let args = ["listen", &tune, "--ladder", "90-95%", "--passes", "1"];
    let data = ["--data-dir", folder.text()];
    let run = with_microphone(&[&args[..], &data].concat(), samples);
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    let said: Vec<&str> = run
        .stdout
        .lines()
        .filter(|line| {
            ["Up", "Down", "Slower", "Climbed", "held", "remembered"]
                .iter()
                .any(|it| line.trim_start().starts_with(it))
        })
        .map(str::trim)
        .collect();
    let expected = [
        "Up to 95%.",
        "Slower than 133 quarter notes a minute: does not count.",
        "Down to 90%.",
        "Up to 95%.",
        "Climbed: 95% is yours.",
        "held: bars 1-4 at 90%",
        "remembered in position II: bars 1-4 right but under tempo; play it again",
    ];
    assert_eq!(said, expected, "{}", run.stdout);
    // Right, and slower the same day, which says nothing new; with faults; right again, and faster.
    let progress = neckline(&["progress", "--json", "--data-dir", folder.text()], b"");
    let played = "\"kind\":\"play\",\"position\":2,\"octave\":0,\"asked\":3,\"right\":2";
    assert!(progress.stdout.contains(played), "{}", progress.stdout);
}

/// One layer of a tune, played as it is written.
fn layer_of(text: &str, layer: Layer) -> Vec<f32> {
    let performance = played(text, 1.0, 440.0).performance;
    let rate = SampleRate::new(RATE).unwrap();
    let mut renderer = Renderer::new(rate);
    for other in [Layer::Melody, Layer::Chords, Layer::Click] {
        if other != layer {
            renderer.silence(other);
        }
    }
    renderer.then(performance.clone());
    let mut samples = vec![0.0; rate.sample_at(performance.seconds()) as usize];
    renderer.render(&mut samples);
    samples
}

/// Notes that begin beside the beats, and long ones over several.
const WALTZ: &str = "X:1\nT:Waltz\nM:3/4\nL:1/8\nQ:1/4=120\nK:Dm\n\
    A3 e3|d3 A3|B2 A2 G2|E6|A3 e3|d3 c3|B2 G2 E2|^C4 z2|d3 c B2|c3 A G2|c3 =B A2|A3 ^F3|\n";

#[test]
fn a_click_in_the_recording_is_no_fault() {
    let peak = |samples: &[f32]| samples.iter().fold(0.0, |a: f32, b| a.max(b.abs()));
    let strings = layer_of(WALTZ, Layer::Melody);
    let click = layer_of(WALTZ, Layer::Click);
    // As loud as the strings' peak less this many dB; the player is so many seconds behind the click.
    for (level, behind) in [(0.0f32, 0.0), (-6.0, 0.08), (-20.0, 0.0), (-20.0, 0.08)] {
        let gain = 10f32.powf(level / 20.0) * peak(&strings) / peak(&click);
        let played = [silence(behind), strings.clone()].concat();
        let both = played.iter().zip(&click);
        let mixed: Vec<f32> = both.map(|(string, click)| string + gain * click).collect();
        let take = Take::of(&Heard::whole(&mixed, rate()), &melody(WALTZ)).unwrap();
        let is_right = take.passes.iter().all(|pass| pass.is_right());
        assert!(is_right, "{level} dB, {behind} s: {:?}", take.passes);
    }
}

#[test]
fn passes_are_kept_only_where_they_are_asked_for_and_never_over_others() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", FERRY);
    let takes = folder.path().join("takes");
    std::fs::create_dir(&takes).unwrap();
    std::fs::write(takes.join("ferry-1.wav"), "mine").unwrap();
    let keep = ["--keep", takes.to_str().unwrap(), "--no-history"];
    let args = ["listen", &tune];
    let run = with_microphone(&[&args[..], &keep].concat(), sound(FERRY, 1.0));
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    assert_eq!(std::fs::read(takes.join("ferry-1.wav")).unwrap(), b"mine");
    // What was kept is judged the same as a recording.
    let file = takes.join("ferry-2.wav");
    let take = ["--take", file.to_str().unwrap(), "--no-history"];
    let page = neckline(&[&args[..], &take].concat(), b"");
    assert!(
        page.stdout.contains("15 of 15 notes right"),
        "{}",
        page.stdout
    );
    let missing = folder.path().join("nowhere");
    let keep = ["--keep", missing.to_str().unwrap()];
    let run = with_microphone(&[&args[..], &keep].concat(), sound(FERRY, 1.0));
    assert_eq!(run.code, 2, "{}", run.stderr);
}

#[test]
fn what_cannot_be_heard_well_enough_is_not_judged() {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", FERRY);
    let listen = |samples| {
        let run = with_microphone(&["listen", &tune, "--no-history"], samples);
        assert_eq!((run.code, run.stderr.as_str()), (0, ""));
        run.stdout
    };
    // Clipped.
    let loud = sound(FERRY, 1.0)
        .iter()
        .map(|it| (20.0 * it).clamp(-1.0, 1.0))
        .collect();
    let said = listen(loud);
    assert!(said.contains("not judged: the sound is clipped"), "{said}");
    // A room as loud as the strings.
    let mut noise = noise();
    let loudest = sound(FERRY, 1.0)
        .iter()
        .fold(0.0, |a: f32, b| a.max(b.abs()));
    let noisy = sound(FERRY, 1.0);
    let noisy = noisy.iter().map(|it| it + 0.5 * loudest * noise());
    let said = listen(noisy.collect());
    assert!(
        said.contains("not judged: the room is too loud; come closer to the microphone"),
        "{said}"
    );
    // Nothing but silence and noise is no pass.
    assert_eq!(listen(silence(4.0)).lines().count(), 1);
    let hiss = (0..4 * RATE).map(|_| 0.3 * noise()).collect();
    let said = listen(hiss);
    assert!(!said.contains("pass"), "{said}");
    // A quarter of a semitone and more sharp: A4 = 450 Hz is 39 cents above 440.
    let sharp = samples_of(&played(FERRY, 1.0, 450.0).performance);
    let said = listen(sharp);
    assert!(said.contains("cents sharp: tune them first"), "{said}");
    // Another tune.
    let other = "X:1\nT:Other\nM:4/4\nL:1/4\nQ:1/4=140\nK:Ab\nA _d e c|_d _a _g =B|_G _c _A _e|\n";
    let said = listen(sound(other, 1.0));
    assert!(
        said.contains("not judged: this does not fit the tune"),
        "{said}"
    );
}

#[test]
fn without_a_microphone_a_recording_is_asked_for() {
    let run = neckline(&["listen", "--no-history"], b"");
    assert_eq!(
        (run.code, run.stderr.as_str()),
        (
            1,
            "error: the microphone cannot be heard: there is no microphone\n\nhint: connect a microphone and start the sound \
             server, or record a file and name it with `--take`\n"
        )
    );
}
