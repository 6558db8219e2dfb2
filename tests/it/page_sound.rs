//! The sound of the sheet for a browser: its score, and its string compared with the library's.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use fretlib::sound::{
    Click, Performance, PluckedString, SampleRate, Strength, StringMaterial, Tone,
};
use tests::{Folder, neckline};

/// Two bars, the first repeated; E4 is written, E3 sounds.
const FERRY: &str = "X:1\nT:Ferry\nM:2/4\nL:1/4\nQ:1/4=60\nK:C\n|:\"Am\"EA:|\"C\"c2|]\n";

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
    assert_eq!(score["count"].as_f64(), Some(60.0));
    assert_eq!(score["unit"], "quarter notes");
    // Am, struck at both times, and C: the bass and two or three notes over it.
    let chords = score["chords"].as_array().unwrap();
    assert!((9..=12).contains(&chords.len()), "{chords:?}");
    let clicks: Vec<(f64, bool)> = serde_json::from_value(score["clicks"].clone()).unwrap();
    let beats = [true, false, true, false, true, false];
    let expected = (0..6).map(|beat| (f64::from(beat), beats[beat as usize]));
    assert_eq!(clicks, expected.collect::<Vec<_>>());
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

/// The output of a script run by Node.js; `None` if that is not installed.
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

#[test]
fn the_click_of_the_page_is_the_click_of_the_library() {
    let script = include_str!("../../fretlib/src/sheet/sheet_sound.js");
    for accent in [false, true] {
        let Some(printed) = run_script(&format!(
            "{script}\nconsole.log(Array.from(click({accent}, 44100)).join(' '));"
        )) else {
            return;
        };
        let page: Vec<f32> = printed
            .split_whitespace()
            .map(|it| it.parse().unwrap())
            .collect();
        let once = Click {
            at: 0.0,
            accent,
            count_in: false,
        };
        let performance = Performance::new(Vec::new(), vec![once], 1.0).unwrap();
        assert_eq!(performance.gain(), 1.0);
        let library = performance.samples(SampleRate::CD);
        assert!(page.len() > 1_900 && page[0] > 0.2);
        for (one, other) in page.iter().zip(&library) {
            assert!((one - other).abs() < 1e-6, "{one} {other}");
        }
    }
}

/// Renders the score of the page without a loudspeaker and prints how far each long note is off, in cents; then how much of
/// the sound of the whole page is left where chords and clicks are turned off.
const RENDERED: &str = r#"<script>
(async () => {
  const score = readScore(document.getElementById("score").textContent);
  const { seconds, notes } = score;
  const rate = 44100;
  const render = async (names) => {
    const context = new OfflineAudioContext(1, Math.ceil((seconds + 0.2) * rate), rate);
    const parts = partsOf(context, score.gain);
    for (const name of names) {
      for (const sound of score[name]) {
        const source = sourceOf(context, sound, 1);
        source.connect(parts[name]);
        source.start(sound.start);
      }
    }
    return (await context.startRendering()).getChannelData(0);
  };
  const heard = await render(["notes"]);
  const beside = await render(["chords", "clicks"]);
  const all = await render(["notes", "chords", "clicks"]);
  const sums = all.reduce((far, it, at) => Math.max(far, Math.abs(it - heard[at] - beside[at])), 0);
  const peak = (samples, from) => samples.slice(from * rate, (from + 0.04) * rate).reduce((it, other) => Math.max(it, Math.abs(other)), 0);
  const peaks = score.clicks.map(({ start }) => peak(beside, start) / score.gain);
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
  console.log("CENTS " + JSON.stringify({ cents, peaks, sums, highest: peak(all, 0) }) + " END");
})();
</script>"#;

#[derive(Debug, serde::Deserialize)]
struct Rendered {
    cents: Vec<f64>,
    /// The peak at each click, of chords and clicks alone, before all is turned down.
    peaks: Vec<f64>,
    /// The farthest that the whole is from the sum of its parts.
    sums: f64,
    highest: f64,
}

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
    let found: Rendered = serde_json::from_str(cents.split_once(" END").unwrap().0).unwrap();
    assert_eq!(found.cents.len(), 5);
    assert!(found.cents.iter().all(|it| it.abs() < 1.0), "{found:?}");
    // Six beats, each with a click that is heard through the chord, and nothing clipped.
    assert_eq!(found.peaks.len(), 6);
    assert!(found.peaks.iter().all(|it| *it > 0.2), "{found:?}");
    assert!(found.sums < 1e-4 && found.highest < 1.0, "{found:?}");
}
