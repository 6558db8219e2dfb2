//! Phrases that were played and heard, remembered beside what is asked: `neckline listen`, `progress` and `today`.

use serde_json::Value;
use tests::{Folder, Run, neckline, neckline_on};

use crate::listen_live::{silence, sound, with_microphone};

/// A tune of 32 bars with a phrase every four bars; its best position is VII.
const WALTZ: &str = include_str!("../../melodies/oars-in-three.ron");

/// A player with a history of their own.
struct Player(Folder);

impl Player {
    fn new() -> Player {
        Player(Folder::new())
    }

    fn run(&self, args: &[&str], now: &str) -> Run {
        let data = ["--now", now, "--data-dir", self.0.text()];
        let run = neckline_on(&[args, &data].concat(), b"", 200);
        assert_eq!((run.code, run.stderr.as_str()), (0, ""), "{}", run.stdout);
        run
    }

    /// The tune, played into a recording and listened to; the last line of the page.
    fn listen(&self, tune: &str, played: &[&str], heard: &[&str], now: &str) -> String {
        let take = self.0.file("take.wav");
        let play = [&["play", tune, "-o", &take, "--replace"], played].concat();
        assert_eq!(neckline(&play, b"").code, 0);
        let listen = [&["listen", "oars-in-three", "--take", &take], heard].concat();
        let page = self.run(&listen, now).stdout;
        page.lines().last().unwrap_or_default().to_owned()
    }

    fn progress(&self, now: &str) -> Value {
        let run = self.run(&["progress", "--json"], now);
        serde_json::from_str(&run.stdout).unwrap()
    }

    /// What was played: `phrase position octave asked/right standing`.
    fn played(&self, now: &str) -> Vec<String> {
        let progress = self.progress(now);
        let Some(cells) = progress["tunes"][0]["cells"].as_array() else {
            return Vec::new();
        };
        let played = cells.iter().filter(|cell| cell["kind"] == "play");
        played
            .map(|it| {
                let standing = it["standing"].as_str().unwrap_or_default();
                format!(
                    "{} {} {} {}/{} {standing}",
                    it["phrase"], it["position"], it["octave"], it["asked"], it["right"]
                )
            })
            .collect()
    }
}

const MONDAY: &str = "2026-11-23T18:00";

/// What is remembered of a tune played with some options and heard with others: the last line of the page, and the items.
fn check(tune: &str, played: &[&str], heard: &[&str], said: &str, remembered: &[&str]) {
    let player = Player::new();
    assert_eq!(player.listen(tune, played, heard, MONDAY), said);
    assert_eq!(player.played(MONDAY), remembered, "{played:?} {heard:?}");
}

#[test]
fn a_phrase_played_whole_is_remembered_where_the_hand_stands() {
    let waltz = "oars-in-three";
    check(
        waltz,
        &["--bars", "3-12"],
        &[],
        "remembered in position VII: bars 5-12 right; play it again in 2 days",
        &["2 7 0 1/1 holds", "3 7 0 1/1 holds"],
    );
    // Right but slow: held less long.
    check(
        waltz,
        &["--bars", "5-8", "--tempo", "75%"],
        &[],
        "remembered in position VII: bars 5-8 right but under tempo; play it again tomorrow",
        &["2 7 0 1/1 holds"],
    );
    // An octave is heard, a position is said.
    check(
        waltz,
        &["--bars", "5-8", "--octave", "+1"],
        &[],
        "remembered in position XIX, an octave higher: bars 5-8 right; play it again in 2 days",
        &["2 19 1 1/1 holds"],
    );
    check(
        waltz,
        &["--bars", "5-8"],
        &["--position", "II"],
        "remembered in position II: bars 5-8 right; play it again in 2 days",
        &["2 2 0 1/1 holds"],
    );
    let nothing = "Nothing to mend, and at the tune's tempo.";
    // Where it does not lie whole, in another key, and half of it: nothing.
    check(
        waltz,
        &["--bars", "5-8"],
        &["--position", "XII"],
        nothing,
        &[],
    );
    check(
        waltz,
        &["--bars", "5-8", "--transpose", "M2"],
        &[],
        nothing,
        &[],
    );
    check(waltz, &["--bars", "5-7"], &[], nothing, &[]);
    check(waltz, &["--bars", "5-8"], &["--no-history"], nothing, &[]);
}

#[test]
fn a_certain_fault_brings_its_phrase_back_today() {
    let folder = Folder::new();
    // Bar 6 of the first eight with E5 for D5.
    let faulty = WALTZ.replacen("A4 q. E5 | D5 q. C |", "A4 q. E5 | E5 q. C |", 1);
    assert_ne!(faulty, WALTZ);
    let faulty = folder.write("faulty.ron", faulty);
    check(
        &faulty,
        &["--bars", "1-8"],
        &[],
        "remembered in position VII: bars 1-4 right, bars 5-8 not yet; play it again today",
        &["1 7 0 1/1 holds", "2 7 0 1/0 fades"],
    );
    let player = Player::new();
    player.listen(&faulty, &["--bars", "1-8"], &[], MONDAY);
    let table = player.run(&["progress", "--csv"], MONDAY).stdout;
    let line = table.lines().find(|line| line.contains(",false,"));
    assert_eq!(
        line,
        Some(
            "2026-11-23 18:00:00,Oars in Three,11,2,play,7,0,Play bars 5-8 in position VII,\"bar 6, D5, at 100%\",false,3.6"
        )
    );
}

#[test]
fn a_recording_counts_once_and_only_as_a_page() {
    let player = Player::new();
    for (form, asked) in [
        ("--json", 0),
        ("--svg=-", 0),
        ("--bars=1-32", 1),
        ("--bars=1-32", 1),
    ] {
        player.listen("oars-in-three", &["--bars", "1-4"], &[form], MONDAY);
        let played = player.played(MONDAY);
        let expected: &[&str] = if asked == 0 {
            &[]
        } else {
            &["1 7 0 1/1 holds"]
        };
        assert_eq!(played, expected, "{form}");
    }
}

#[test]
fn what_fades_in_the_hands_is_offered_to_be_heard_and_never_asked() {
    let player = Player::new();
    player.listen("oars-in-three", &["--bars", "1-16"], &[], MONDAY);
    let list = ["today", "--list", "--minutes", "20"];
    let monday = player.run(&list, MONDAY).stdout;
    assert!(!monday.contains("for the microphone"), "{monday}");
    let thursday = player.run(&list, "2026-11-26T18:00").stdout;
    assert!(
        thursday.contains(
            "play bars 1-16 in position VII again, for the microphone\n          \
             neckline listen oars-in-three --bars=1-16 --position=VII\n"
        ),
        "{thursday}"
    );
    // Nothing was asked, so that nothing is to be asked again.
    assert!(
        thursday.contains("Oars in Three: 0 to play again, "),
        "{thursday}"
    );
    let quiz = ["drill", "oars-in-three", "--questions", "40"];
    let data = ["--data-dir", player.0.text(), "--ask-at-once"];
    let asked = neckline(&[&quiz[..], &data].concat(), "?\n".repeat(40).as_bytes()).stdout;
    assert!(asked.contains("0 of 40 right"), "{asked}");
    assert!(!asked.contains("Play bars"), "{asked}");
    // Played again, it holds for longer.
    player.listen(
        "oars-in-three",
        &["--bars", "1-17"],
        &[],
        "2026-11-26T18:00",
    );
    let later = player.run(&list, "2026-11-29T18:00").stdout;
    assert!(!later.contains("for the microphone"), "{later}");
    let run = neckline(&["drill", "oars-in-three", "--kinds", "play"], b"");
    assert_eq!(run.code, 2);
    assert!(
        run.stderr.contains("`neckline listen` hears it"),
        "{}",
        run.stderr
    );
}

#[test]
fn progress_shows_hands_beside_head() {
    let player = Player::new();
    player.listen("oars-in-three", &["--bars", "1-8"], &[], MONDAY);
    let page = player.run(&["progress"], MONDAY).stdout;
    for words in [
        "Oars in Three · guitar · 0 answers\n  0 hold, 0 to play again today, 152 untouched\n  \
         in the hands: 2 hold, 0 to play again today, 6 not heard yet\n",
        "\n  played VII     1-4 ██   5-8 ██  9-12  · 13-16  ·",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(!page.contains("weakest now"), "all of it holds: {page}");
    let data = ["--now", MONDAY, "--data-dir", player.0.text()];
    let narrow = neckline_on(&[&["progress"], &data[..]].concat(), b"", 60).stdout;
    let is_wide = |line: &&str| line.chars().count() > 60;
    assert_eq!(narrow.lines().find(is_wide), None);
    let page = player.run(&["progress"], "2026-12-23T18:00").stdout;
    for words in [
        "bars 1-4, played in position VII",
        "neckline listen oars-in-three --bars=1-4 --position=VII",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    let tune = &player.progress("2026-12-23T18:00")["tunes"][0];
    let hands = serde_json::json!({"holds": 0, "fades": 2, "untouched": 6});
    assert_eq!((&tune["hands"], &tune["holds"]), (&hands, &0.into()));
}

#[test]
fn a_fingering_of_their_own_says_where_the_hand_stands() {
    let player = Player::new();
    let tune = player.0.write("waltz.ron", WALTZ);
    let save = ["fingering", &tune, "--positions", "V-VI", "--save"];
    assert_eq!(neckline(&save, b"").code, 0);
    let take = player.0.file("take.wav");
    let play = ["play", &tune, "--bars", "1-4", "-o", &take];
    assert_eq!(neckline(&play, b"").code, 0);
    let page = player
        .run(&["listen", &tune, "--take", &take], MONDAY)
        .stdout;
    assert!(
        page.contains("remembered in position V: bars 1-4 right"),
        "{page}"
    );
    let later = player.run(&["today", "--list"], "2026-12-23T18:00").stdout;
    assert!(later.contains("--bars=1-4\n"), "{later}");
}

#[test]
fn what_fades_in_the_hands_is_heard_where_answers_are_played() {
    let player = Player::new();
    player.listen("oars-in-three", &["--bars", "1-4"], &[], MONDAY);
    let bars = "X:1\nT:Bars\nM:3/4\nL:1/4\nQ:1/4=152\nK:Dm\nA3/2e3/2|d3/2A3/2|BAG|E3|\n";
    let samples = [silence(0.5), sound(bars, 1.0), silence(2.5)].concat();
    let data = ["--data-dir", player.0.text(), "--now", "2026-11-26T18:00"];
    let today = ["today", "--by", "playing", "--untouched", "0"];
    let run = with_microphone(&[&today[..], &data].concat(), samples);
    assert_eq!((run.code, run.stderr.as_str()), (0, ""));
    for words in [
        "the microphone is open",
        "pass 1, bars 1-4: right, 8 of 8 notes",
        "remembered in position VII: bars 1-4 right",
    ] {
        assert!(run.stdout.contains(words), "{words}: {}", run.stdout);
    }
    assert_eq!(player.played("2026-11-26T18:00"), ["1 7 0 2/2 holds"]);
}

#[test]
fn live_passes_are_remembered_and_only_the_first_slow_one_of_a_day() {
    const FERRY: &str =
        "X:1\nT:Ferry\nM:4/4\nL:1/4\nQ:1/4=140\nK:G\nG A B d|e d B A|G B d g|e d G2|\n";
    let player = Player::new();
    let tune = player.0.write("ferry.abc", FERRY);
    let mut samples = silence(0.5);
    for speed in [0.7, 0.75, 0.8] {
        samples.extend(sound(FERRY, speed));
        samples.extend(silence(2.5));
    }
    let data = ["--data-dir", player.0.text(), "--now", MONDAY];
    let listen = |samples| {
        let run = with_microphone(&[&["listen", &tune], &data[..]].concat(), samples);
        assert_eq!((run.code, run.stderr.as_str()), (0, ""));
        run.stdout.replace('\n', " ")
    };
    let said = listen(samples);
    let slow = "position II: bars 1-4 right but under tempo; play it again tomorrow";
    assert!(said.contains(slow), "{said}");
    assert_eq!(player.played(MONDAY), ["1 2 0 1/1 holds"]);
    let said = listen(sound(FERRY, 1.0));
    assert!(said.contains("position II: bars 1-4 right; play"), "{said}");
    assert_eq!(player.played(MONDAY), ["1 2 0 2/2 holds"]);
}
