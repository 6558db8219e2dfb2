//! The sheet for a browser as it sounds: its score, and its string against the library's.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use fretlib::sound::{PluckedString, SampleRate, Strength, StringMaterial, Tone};
use tests::{Folder, neckline};

/// Two bars, the first repeated; E4 is written, E3 sounds.
const FERRY: &str = "X:1\nT:Ferry\nM:2/4\nL:1/4\nQ:1/4=60\nK:C\n|:EA:|c2|]\n";

fn page() -> String {
    let folder = Folder::new();
    let tune = folder.write("ferry.abc", FERRY);
    let file = format!("{}/ferry.html", folder.text());
    let run = neckline(&["sheet", &tune, "-o", &file], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    std::fs::read_to_string(file).unwrap()
}

#[test]
fn the_score_has_the_notes_as_they_sound() {
    let page = page();
    let (_, score) = page.split_once("id=\"score\">").unwrap();
    let score: serde_json::Value =
        serde_json::from_str(score.split_once("</script>").unwrap().0).unwrap();
    assert_eq!(score["seconds"], 6.0);
    assert_eq!(score["nylon"], false);
    let notes = score["notes"].as_array().unwrap();
    let number = |note: &serde_json::Value, at: usize| note[at].as_f64().unwrap();
    let found: Vec<[f64; 3]> = notes
        .iter()
        .map(|note| [number(note, 0), number(note, 1), number(note, 2)])
        .collect();
    assert_eq!(
        found,
        [
            [1.0, 0.0, 1.0],
            [2.0, 1.0, 2.0],
            [1.0, 2.0, 3.0],
            [2.0, 3.0, 4.0],
            [3.0, 4.0, 6.0]
        ]
    );
    // E3, A3 and C4 in equal temperament from A4 = 440 Hz (ISO 16:1975).
    for (note, hertz) in [(0, 164.8138), (1, 220.0), (4, 261.6256)] {
        assert!((number(&notes[note], 3) - hertz).abs() < 1e-3);
    }
    assert!(
        page.contains("default-src 'none'")
            && !page.contains("fetch(")
            && !page.contains("http://localhost")
    );
}

/// What a script prints, run by Node.js; nothing where that is not installed.
fn run_script(script: &str) -> Option<String> {
    let child = Command::new("node")
        .arg("-")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut child) = child else {
        eprintln!("skipped: node is not installed");
        return None;
    };
    child
        .stdin
        .take()
        .unwrap()
        .write_all(script.as_bytes())
        .unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    Some(String::from_utf8(output.stdout).unwrap())
}

#[test]
fn the_string_of_the_page_is_the_string_of_the_library() {
    let script = include_str!("../../fretlib/src/sheet/sheet_sound.js");
    for (frequency, material, hertz) in [
        (82.407, StringMaterial::Steel, 44_100),
        (220.0, StringMaterial::Nylon, 48_000),
        (1174.659, StringMaterial::Steel, 44_100),
        (329.628, StringMaterial::Nylon, 96_000),
    ] {
        let rate = SampleRate::new(hertz).unwrap();
        let tone = Tone::new(frequency, material).unwrap();
        let is_nylon = material == StringMaterial::Nylon;
        let call = format!(
            "pluckedString({frequency}, {}, {is_nylon}, 0.7, 0.2, {hertz})",
            tone.decay()
        );
        let Some(printed) = run_script(&format!(
            "{script}\nconsole.log(Array.from({call}).join(' '));"
        )) else {
            return;
        };
        let page: Vec<f32> = printed
            .split_whitespace()
            .map(|it| it.parse().unwrap())
            .collect();
        let mut library = vec![0.0; page.len()];
        PluckedString::new(tone, Strength::MELODY, rate)
            .unwrap()
            .fill(&mut library);
        assert_eq!(page.len(), rate.sample_at(0.2) as usize);
        let farthest = page
            .iter()
            .zip(&library)
            .map(|(one, other)| (one - other).abs())
            .fold(0.0, f32::max);
        assert!(farthest < 1e-4, "{frequency} Hz: {farthest}");
    }
}

/// Renders the score of the page without a loudspeaker and prints how far each long note is off, in cents.
const RENDERED: &str = r#"<script>
(async () => {
  const { seconds, notes } = readScore(document.getElementById("score").textContent);
  const rate = 44100;
  const context = new OfflineAudioContext(1, Math.ceil((seconds + 0.2) * rate), rate);
  const body = throughBody(context, context.destination);
  for (const note of notes) {
    const samples = dampedString(note, note.end - note.start, rate);
    const buffer = new AudioBuffer({ length: samples.length, sampleRate: rate });
    buffer.copyToChannel(samples, 0);
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(body);
    source.start(note.start);
  }
  const heard = (await context.startRendering()).getChannelData(0);
  const phase = (from, length, frequency) => {
    let [real, imaginary] = [0, 0];
    for (let at = 0; at < length; at++) {
      const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * (at + 0.5)) / length);
      const angle = (2 * Math.PI * frequency * at) / rate;
      real += weight * heard[from + at] * Math.cos(angle);
      imaginary -= weight * heard[from + at] * Math.sin(angle);
    }
    return Math.atan2(imaginary, real);
  };
  const cents = notes.map(({ start, end, frequency }) => {
    const from = Math.round(start * rate) + 2000;
    const length = Math.floor(((end - start) * rate - 3000) / 2);
    const turn = 2 * Math.PI * frequency * (length / rate);
    const left = (phase(from + length, length, frequency) - phase(from, length, frequency) - turn) / (2 * Math.PI);
    return 1200 * Math.log2(1 + (left - Math.round(left)) / (frequency * (length / rate)));
  });
  console.log("CENTS " + JSON.stringify(cents) + " END");
})();
</script>"#;

#[test]
fn a_browser_plays_the_right_frequencies() {
    let folder = Folder::new();
    let file = folder.write(
        "ferry.html",
        page().replace("</body>", &format!("{RENDERED}</body>")),
    );
    let browser = Command::new("chromium")
        .args([
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--enable-logging=stderr",
        ])
        .arg(format!("--user-data-dir={}/profile", folder.text()))
        .arg(format!("file://{file}"))
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn();
    let Ok(mut browser) = browser else {
        eprintln!("skipped: chromium is not installed");
        return;
    };
    let stderr = BufReader::new(browser.stderr.take().unwrap());
    let (found, said) = std::sync::mpsc::channel();
    let reading = std::thread::spawn(move || {
        let lines = stderr.lines().map_while(Result::ok);
        let line = { lines }.find(|line| line.contains("CENTS ") && line.contains(" END"));
        let _ = found.send(line);
    });
    let line = said.recv_timeout(Duration::from_secs(60)).ok().flatten();
    browser.kill().unwrap();
    browser.wait().unwrap();
    reading.join().unwrap();
    let Some(line) = line else {
        eprintln!("skipped: chromium does not run here");
        return;
    };
    let (_, cents) = line.split_once("CENTS ").unwrap();
    let cents: Vec<f64> = serde_json::from_str(cents.split_once(" END").unwrap().0).unwrap();
    assert_eq!(cents.len(), 5);
    assert!(cents.iter().all(|it| it.abs() < 1.0), "{cents:?}");
}
