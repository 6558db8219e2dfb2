//! The real binary plays to a real sound server started here, and its sound is recorded back.
//!
//! Needs `pulseaudio`, which Debian has as a package of that name; without it these checks are skipped.
#![cfg(all(unix, not(target_os = "macos")))]

use std::ffi::CString;
use std::io::{BufReader, Read, Write};
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::thread::{JoinHandle, sleep, spawn};
use std::time::{Duration, Instant};

use fretlib::hearing::{Heard, RecordingRate};
use pulseaudio::protocol::{self, Command as Message};

/// A private sound server with a silent sink; ended when it is dropped.
struct Server {
    child: Child,
    folder: tempfile::TempDir,
}

impl Server {
    /// Starts it; nothing when it is not installed.
    fn start() -> Option<Server> {
        let folder = tempfile::tempdir().unwrap();
        let socket = folder.path().join("native");
        let child = Command::new("pulseaudio")
            .args([
                "-n",
                "--daemonize=no",
                "--exit-idle-time=-1",
                "--use-pid-file=no",
                "--disable-shm=yes",
            ])
            // The sink comes first, so that every client that can connect can play.
            .args([
                "-L",
                "module-null-sink sink_name=quiet rate=48000 channels=1 format=float32le",
            ])
            .arg("-L")
            .arg(format!(
                "module-native-protocol-unix auth-anonymous=1 socket={}",
                socket.display()
            ))
            .env("XDG_RUNTIME_DIR", folder.path())
            .env("HOME", folder.path())
            .stderr(Stdio::null())
            .spawn();
        let Ok(child) = child else {
            eprintln!("skipped: pulseaudio is not installed");
            return None;
        };
        let server = Server { child, folder };
        let begun = Instant::now();
        while UnixStream::connect(&socket).is_err() {
            if begun.elapsed() > Duration::from_secs(20) {
                eprintln!("skipped: pulseaudio does not start here");
                return None;
            }
            sleep(Duration::from_millis(20));
        }
        Some(server)
    }

    fn socket(&self) -> std::path::PathBuf {
        self.folder.path().join("native")
    }

    fn neckline(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_neckline"));
        command
            .args(args)
            .env("PULSE_SERVER", format!("unix:{}", self.socket().display()))
            // An invalid cookie, since a user may have none.
            .env("HOME", self.folder.path())
            .stdin(Stdio::null());
        command
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Records what the sink plays until the server says no more or the connection is shut.
struct Recorder {
    socket: UnixStream,
    samples: JoinHandle<Vec<f32>>,
}

impl Recorder {
    fn start(socket: &Path) -> Recorder {
        let socket = UnixStream::connect(socket).unwrap();
        let mut stream = BufReader::new(socket.try_clone().unwrap());
        let version = protocol::MAX_VERSION;
        let auth = protocol::AuthParams {
            version,
            supports_shm: false,
            supports_memfd: false,
            cookie: vec![0; 256],
        };
        protocol::write_command_message(stream.get_mut(), 0, &Message::Auth(auth), version)
            .unwrap();
        let (_, reply) =
            protocol::read_reply_message::<protocol::AuthReply>(&mut stream, version).unwrap();
        let version = version.min(reply.version);
        let mut props = protocol::Props::new();
        props.set(
            protocol::Prop::ApplicationName,
            CString::new("recorder").unwrap(),
        );
        protocol::write_command_message(
            stream.get_mut(),
            1,
            &Message::SetClientName(props),
            version,
        )
        .unwrap();
        protocol::read_reply_message::<protocol::SetClientNameReply>(&mut stream, version).unwrap();
        let params = protocol::RecordStreamParams {
            sample_spec: protocol::SampleSpec {
                format: protocol::SampleFormat::Float32Le,
                channels: 1,
                sample_rate: 48_000,
            },
            channel_map: protocol::ChannelMap::mono(),
            source_name: Some(CString::new("quiet.monitor").unwrap()),
            // In short pieces: else the sink wakes every two seconds, and what begins has to wait for it.
            buffer_attr: protocol::stream::BufferAttr {
                fragment_size: 4 * 960,
                ..Default::default()
            },
            flags: protocol::stream::StreamFlags {
                adjust_latency: true,
                ..Default::default()
            },
            ..Default::default()
        };
        protocol::write_command_message(
            stream.get_mut(),
            2,
            &Message::CreateRecordStream(params),
            version,
        )
        .unwrap();
        protocol::read_reply_message::<protocol::CreateRecordStreamReply>(&mut stream, version)
            .unwrap();
        let samples = spawn(move || {
            let mut samples = Vec::new();
            while let Ok(head) = protocol::read_descriptor(&mut stream) {
                let mut bytes = vec![0; head.length as usize];
                if stream.read_exact(&mut bytes).is_err() {
                    break;
                }
                if head.channel != u32::MAX {
                    let sample = |bytes: &[u8]| f32::from_le_bytes(bytes.try_into().unwrap());
                    samples.extend(bytes.chunks_exact(4).map(sample));
                }
            }
            samples
        });
        Recorder { socket, samples }
    }

    fn stop(self) -> Vec<f32> {
        let _ = self.socket.shutdown(std::net::Shutdown::Both);
        self.samples.join().unwrap()
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn write_tune(folder: &Path) -> String {
    let path = folder.join("ferry.abc");
    std::fs::write(
        &path,
        "X:1\nT:Ferry\nM:3/4\nL:1/4\nQ:1/4=150\nK:G\n\"G\"G A B|\"D7\"A2 F|\n",
    )
    .unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn what_is_heard_is_what_is_written_to_a_file() {
    let Some(server) = Server::start() else {
        return;
    };
    let tune = write_tune(server.folder.path());
    let options = [
        "play",
        &tune,
        "--chords",
        "--click",
        "all",
        "--position",
        "I",
    ];
    let recorder = Recorder::start(&server.socket());
    let live = server.neckline(&[&options[..], &["--plain", "--latency", "400"]].concat());
    let Output {
        status,
        stdout,
        stderr,
    } = { live }.output().unwrap();
    sleep(Duration::from_millis(300));
    let recorded = recorder.stop();
    assert!(status.success(), "{}", text(&stderr));
    assert_eq!(
        text(&stdout),
        "Ferry, 150 quarter notes a minute\n\
         bar 1    G                G4 3:0  A4 3:2  B4 3:4\n\
         bar 2    D7               A4 3:2  F#4 4:4\n"
    );
    let file = server.folder.path().join("take.wav");
    let take = [
        "-o",
        file.to_str().unwrap(),
        "--rate",
        "48000",
        "--bits",
        "32",
    ];
    let written = server
        .neckline(&[&options[..], &take].concat())
        .output()
        .unwrap();
    assert!(written.status.success(), "{}", text(&written.stderr));
    let mut reader = hound::WavReader::open(&file).unwrap();
    let expected: Vec<f32> = reader.samples::<f32>().map(Result::unwrap).collect();
    let start = recorded.iter().position(|sample| *sample != 0.0).unwrap();
    let first = expected.iter().position(|sample| *sample != 0.0).unwrap();
    let heard = &recorded[start..];
    // It begins at −18 dB and rises over the first beat.
    let ratio = heard[0] / expected[first];
    assert!((0.3..0.4).contains(&ratio), "{ratio}");
    if !stderr.is_empty() {
        eprintln!("not compared further: {}", text(&stderr));
        return;
    }
    let beat = 19_200;
    for (index, (heard, expected)) in heard
        .iter()
        .zip(&expected[first..])
        .enumerate()
        .skip(beat + 1)
    {
        assert!(
            (heard - expected).abs() < 1e-3,
            "sample {index}: {heard} for {expected}"
        );
    }
    assert!(heard.len() > expected.len() - 4_800);
}

#[test]
fn a_lost_server_is_reported_without_a_crash() {
    let Some(mut server) = Server::start() else {
        return;
    };
    let tune = write_tune(server.folder.path());
    let mut playing = server
        .neckline(&["play", &tune, "--loop", "endless", "--plain"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The second line is printed when the first bar is heard.
    let mut line = String::new();
    let mut stdout = BufReader::new(playing.stdout.take().unwrap());
    for _ in 0..2 {
        std::io::BufRead::read_line(&mut stdout, &mut line).unwrap();
    }
    assert!(line.contains("bar 1"), "{line}");
    server.child.kill().unwrap();
    let output = playing.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let stderr = text(&output.stderr);
    assert!(
        stderr
            .starts_with("error: the sound has stopped: the sound server has gone away\n\nhint: "),
        "{stderr}"
    );
}

/// What the program plays to the silent sink it hears at the sink's monitor: the notes in order, then the verdict.
#[test]
fn what_sounds_at_the_microphone_is_heard_and_judged() {
    let Some(server) = Server::start() else {
        return;
    };
    let tune = write_tune(server.folder.path());
    let mut listening = server
        .neckline(&["listen", &tune, "--loop", "1", "--no-history", "--plain"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdout = BufReader::new(listening.stdout.take().unwrap());
    let mut first = String::new();
    std::io::BufRead::read_line(&mut stdout, &mut first).unwrap();
    assert!(first.contains("the microphone is open"), "{first}");
    let playing = server.neckline(&["play", &tune, "--plain", "--latency", "400"]);
    assert!({ playing }.output().unwrap().status.success());
    let mut heard = String::new();
    stdout.read_to_string(&mut heard).unwrap();
    let output = listening.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", text(&output.stderr));
    let lines: Vec<&str> = heard.lines().collect();
    assert_eq!(lines[0], "G4 A4 B4 A4 F#4", "{heard}");
    assert!(lines[1].starts_with("pass 1, bars 1-2: "), "{heard}");
}

/// The verdicts on a ladder are kept, and `progress` says at which tempo the phrase is held.
#[test]
fn what_is_said_of_passes_is_kept() {
    let Some(server) = Server::start() else {
        return;
    };
    let tune = server.folder.path().join("quick.abc");
    std::fs::write(
        &tune,
        "X:1\nT:Quick\nM:4/4\nL:1/4\nQ:1/4=400\nK:C\nC D E F |\n",
    )
    .unwrap();
    let (tune, data) = (tune.to_str().unwrap(), server.folder.path().join("data"));
    let data = ["--data-dir", data.to_str().unwrap()];
    let ladder = |args: &[&str], verdicts: &str| {
        let play = ["play", tune, "--ladder", "80-90%", "--plain"];
        let mut playing = server
            .neckline(&[&play[..], &data, args].concat())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = playing.stdin.take().unwrap();
        std::io::Write::write_all(&mut stdin, verdicts.as_bytes()).unwrap();
        drop(stdin);
        let output = playing.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        text(&output.stdout)
    };
    let progress = || {
        let output = server.neckline(&[&["progress", "--json"], &data[..]].concat());
        text(&{ output }.output().unwrap().stdout)
    };
    ladder(&["--no-history"], "y\ny\nq\n");
    assert!(progress().contains("\"tunes\":[]"), "{}", progress());
    let said = ladder(&[], "y\ny\ny\ny\nn\nq\n");
    assert!(said.ends_with("held: bar 1 at 85%\n"), "{said}");
    let held = "\"tempos\":[{\"phrase\":1,\"bars\":\"1\",\"held_percent\":85}]";
    assert!(progress().contains(held), "{}", progress());
}

#[test]
fn without_a_server_a_file_is_offered() {
    let folder = tempfile::tempdir().unwrap();
    let tune = write_tune(folder.path());
    let output = Command::new(env!("CARGO_BIN_EXE_neckline"))
        .args(["play", &tune, "--plain"])
        .env(
            "PULSE_SERVER",
            format!("unix:{}/none", folder.path().display()),
        )
        .env("XDG_RUNTIME_DIR", folder.path())
        .env_remove("PULSE_RUNTIME_PATH")
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(
        text(&output.stderr),
        "error: nothing can be heard here: no sound server is running\n\nhint: write a file with `-o take.wav` and play that\n"
    );
}

#[test]
fn a_question_by_ear_is_heard_and_its_answer_after_it() {
    let Some(server) = Server::start() else {
        return;
    };
    let tune = server.folder.path().join("slip.abc");
    std::fs::write(&tune, "X:1\nM:2/4\nL:1/4\nK:C\nC G|\n").unwrap();
    let recorder = Recorder::start(&server.socket());
    // A sink that nobody listened to is up to two seconds ahead of its clock.
    sleep(Duration::from_millis(2_200));
    let mut drill = server
        .neckline(&["drill", tune.to_str().unwrap(), "--no-history"])
        .args([
            "--kinds",
            "interval-by-ear",
            "--questions",
            "1",
            "--seed",
            "1",
        ])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = drill.stdin.take().unwrap();
    let mut stdout = BufReader::new(drill.stdout.take().unwrap());
    let mut printed = String::new();
    while !printed.contains("Which interval") {
        assert_ne!(
            std::io::BufRead::read_line(&mut stdout, &mut printed).unwrap(),
            0
        );
    }
    // Two notes of 1.2 seconds.
    sleep(Duration::from_millis(3_000));
    writeln!(stdin, "r").unwrap();
    sleep(Duration::from_millis(3_000));
    writeln!(stdin, "fifth up").unwrap();
    stdout.read_to_string(&mut printed).unwrap();
    assert!(drill.wait().unwrap().success());
    let samples = recorder.stop();
    assert!(
        printed.contains("   yes, it is a perfect fifth up, from C to G\n"),
        "{printed}"
    );
    let rate = RecordingRate::new(48_000).unwrap();
    let heard = Heard::whole(&samples, rate).struck_notes();
    let pitches: Vec<u8> = heard.iter().map(|note| note.pitch.get()).collect();
    // C4 and G4 sound an octave lower on a guitar: once, and once again.
    assert_eq!(
        pitches.get(..4),
        Some(&[48, 55, 48, 55][..]),
        "{pitches:?} in {}",
        samples.len()
    );
}
