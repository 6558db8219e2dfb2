//! How long after a strike it is shown, and its name: in the library, and through a sound server of its own where
//! `pulseaudio` is installed. Run with `cargo bench -p trainer-cli --bench listening`.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use fretlib::format::abc;
use fretlib::hearing::{LiveEvent, LiveListener, RecordingRate};
use fretlib::melody::Melody;
use fretlib::neck::Instrument;
use fretlib::sound::{Layer, Manner, PlayThrough, Renderer, SampleRate, play_through};
use fretlib::theory::Octave;
use trainer_cli::Streams;

/// The rate of the server and of what is played to it.
const RATE: u32 = 48_000;
/// How often sound is handed over, as by a sound card: every 5 ms.
const PIECE: usize = RATE as usize / 200;
/// The variable that tells this program, when it starts itself, where the server's sound comes from.
const SOUND_OF_SERVER: &str = "NECKLINE_BENCH_SOUND";
/// An event later than this after a strike belongs to another one, in seconds.
const LONGEST: f64 = 0.4;

const TUNE: &str = "X:1\nT:Ferry\nM:4/4\nL:1/4\nQ:1/4=140\nK:G\n\
    G A B d|e d B A|G B d g|e d G2|G A B d|e d B A|G B d g|e d G2|\n\
    G A B d|e d B A|G B d g|e d G2|G A B d|e d B A|G B d g|e d G2|\n";

fn main() {
    // Cargo passes options such as `--bench`; there is nothing to choose here.
    if let Some(sound) = std::env::var_os(SOUND_OF_SERVER) {
        through_the_server(Path::new(&sound));
        return;
    }
    in_the_library();
    match Server::start() {
        Ok(server) => server.measure(),
        Err(reason) => println!("through a sound server: not measured, {reason}"),
    }
}

/// What is played: the tune as strings sound it, and when each note is struck.
struct Played {
    melody: Melody,
    samples: Vec<f32>,
    /// In seconds, with the MIDI number that sounds.
    strikes: Vec<(f64, u8)>,
}

impl Played {
    fn new() -> Played {
        let read = abc::read(TUNE.as_bytes(), &abc::AbcOptions::default());
        let melody = read.expect("the tune is ABC").melody;
        let places = vec![None; melody.notes().len()];
        let guitar = Instrument::default();
        let pass: PlayThrough = play_through(
            &melody,
            &places,
            Octave::WRITTEN,
            &guitar,
            &Manner::default(),
        )
        .expect("a guitar can play it");
        let rate = SampleRate::new(RATE).expect("a usual rate");
        let mut renderer = Renderer::new(rate);
        renderer.silence(Layer::Chords);
        renderer.silence(Layer::Click);
        let before = RATE as usize;
        let mut samples = vec![0.0; before + rate.sample_at(pass.performance.seconds()) as usize];
        let plucks = pass.performance.plucks();
        let strikes = plucks
            .filter_map(|pluck| Some((pluck.start + 1.0, pluck.note?)))
            .map(|(start, note)| (start, melody.notes()[note].pitch.midi().get() - 12))
            .collect();
        renderer.then(pass.performance);
        renderer.render(&mut samples[before..]);
        Played {
            melody,
            samples,
            strikes,
        }
    }

    fn listener(&self) -> LiveListener {
        let rate = RecordingRate::new(RATE).expect("a usual rate");
        LiveListener::new(rate, &self.melody)
    }

    /// Prints the delays of what was told, each event with the second at which it was.
    fn print(&self, how: &str, told: &[(f64, LiveEvent)]) {
        let after = |start: f64, is_it: &dyn Fn(&LiveEvent) -> bool| {
            let delays = told.iter().filter(|(_, event)| is_it(event));
            let mut delays = delays.map(|(now, _)| now - start);
            delays.find(|delay| (0.0..LONGEST).contains(delay))
        };
        let shown = self.strikes.iter().filter_map(|&(start, _)| {
            after(start, &|event| matches!(event, LiveEvent::Struck { .. }))
        });
        let named = self.strikes.iter().filter_map(|&(start, midi)| {
            after(
                start,
                &|event| matches!(event, LiveEvent::Named(it) if it.pitch.get() == midi),
            )
        });
        for (what, delays) in [
            ("strike", shown.collect::<Vec<f64>>()),
            ("name", named.collect()),
        ] {
            print_delays(&format!("{how}, {what}"), delays, self.strikes.len());
        }
    }
}

fn print_delays(what: &str, mut delays: Vec<f64>, of: usize) {
    delays.sort_by(f64::total_cmp);
    let at = |share: f64| delays.get((share * delays.len() as f64) as usize);
    match (at(0.5), at(0.95)) {
        (Some(median), Some(most)) => println!(
            "{what}: median {:.0} ms, 95 % within {:.0} ms, {} of {of} strikes",
            1000.0 * median,
            1000.0 * most,
            delays.len()
        ),
        _ => println!("{what}: nothing was heard"),
    }
}

/// In samples: what is needed of the sound after a strike, without the time of the computation.
fn in_the_library() {
    let played = Played::new();
    let mut listener = played.listener();
    let mut told = Vec::new();
    let mut count = 0;
    let began = Instant::now();
    for piece in played.samples.chunks(PIECE) {
        count += piece.len();
        let now = count as f64 / f64::from(RATE);
        told.extend(listener.push(piece).into_iter().map(|event| (now, event)));
    }
    let share = began.elapsed().as_secs_f64() * f64::from(RATE) / count as f64;
    played.print("in the library", &told);
    println!(
        "in the library, computation: {:.0} % of the time that the music lasts",
        100.0 * share
    );
}

/// A sound server of this bench alone, whose microphone is a pipe.
struct Server {
    folder: tempfile::TempDir,
    process: Child,
}

impl Server {
    fn start() -> Result<Server, String> {
        let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
        let sound = folder.path().join("sound");
        let microphone = format!(
            "module-pipe-source source_name=microphone file={} format=float32le rate={RATE} channels=1",
            sound.display()
        );
        let process = Command::new("pulseaudio")
            .args(["--daemonize=no", "--exit-idle-time=-1", "-n"])
            .arg(format!("--load={microphone}"))
            .arg("--load=module-native-protocol-unix auth-anonymous=1")
            .env("XDG_RUNTIME_DIR", folder.path())
            .env("HOME", folder.path())
            .env_remove("PULSE_SERVER")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|error| format!("pulseaudio does not start: {error}"))?;
        let server = Server { folder, process };
        let deadline = Instant::now() + Duration::from_secs(5);
        while !server.socket().exists() || !sound.exists() {
            if Instant::now() > deadline {
                return Err("pulseaudio does not answer".into());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(server)
    }

    fn socket(&self) -> std::path::PathBuf {
        self.folder.path().join("pulse/native")
    }

    /// Starts this program again: which server is asked follows from the environment.
    fn measure(&self) {
        let this = std::env::current_exe().and_then(|this| {
            Command::new(this)
                .env("PULSE_SERVER", format!("unix:{}", self.socket().display()))
                .env("XDG_RUNTIME_DIR", self.folder.path())
                .env(SOUND_OF_SERVER, self.folder.path().join("sound"))
                .status()
        });
        match this {
            Ok(status) if status.success() => {}
            Ok(status) => println!("through a sound server: not measured, {status}"),
            Err(error) => println!("through a sound server: not measured, {error}"),
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Plays into the server's microphone as fast as it sounds, and listens through the program's own.
fn through_the_server(sound: &Path) {
    let played = Played::new();
    let mut streams = Streams::of_process();
    if let Err(reason) = streams.microphone.open() {
        println!("through a sound server: not measured, {reason}");
        return;
    }
    let pipe = OpenOptions::new().write(true).open(sound);
    let mut pipe = pipe.expect("the server reads its pipe");
    let began = Instant::now();
    let samples = played.samples.clone();
    let player = std::thread::spawn(move || {
        for (number, piece) in (1u32..).zip(samples.chunks(PIECE)) {
            // A piece is handed over when its last sample has sounded.
            let at = Duration::from_secs_f64(f64::from(number) * PIECE as f64 / f64::from(RATE));
            std::thread::sleep(at.saturating_sub(began.elapsed()));
            let bytes: Vec<u8> = piece.iter().flat_map(|it| it.to_le_bytes()).collect();
            if pipe.write_all(&bytes).is_err() {
                return;
            }
        }
    });
    let mut listener = played.listener();
    let mut told = Vec::new();
    let end = played.samples.len() as f64 / f64::from(RATE);
    while began.elapsed().as_secs_f64() < end {
        match streams.microphone.next(Duration::from_millis(20)) {
            Ok(Some(samples)) => {
                let events = listener.push(&samples);
                let now = began.elapsed().as_secs_f64();
                told.extend(events.into_iter().map(|event| (now, event)));
            }
            Ok(None) => break,
            Err(reason) => {
                println!("through a sound server: stopped, {reason}");
                break;
            }
        }
    }
    streams.microphone.close();
    // The player ends with the music.
    let _ = player.join();
    played.print("through a sound server", &told);
}
