//! `neckline drill` line by line, from arguments and typed answers to the output.

use std::path::Path;

use expect_test::expect_file;
use tests::{Folder, neckline};

/// Two phrases with a note outside the scale.
pub const JETTY: &str = "\
X:1
T:Jetty
M:4/4
L:1/4
K:Bb
B d f e | d2 c2 | G A B =e | f4 |
";

#[test]
fn a_session_reads_as_it_should() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = [
        "drill",
        &tune,
        "--seed",
        "4",
        "--no-history",
        "--questions",
        "5",
    ];
    let run = neckline(&args, b"hello\n?\n5 12\nu\nD 8\n4 1\nG 5\nq\n");
    assert_eq!(
        run.stderr,
        "note: the tune is also whole in I on open strings, as written; `--positions I` asks about it there\n"
    );
    assert_eq!(run.code, 0);
    expect_file!["drill_session.txt"].assert_eq(&run.stdout);
}

#[test]
fn an_answer_that_cannot_be_read_is_asked_for_again() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = ["drill", &tune, "--no-history", "--kinds", "degree"];
    let run = neckline(&args, b"somewhere\n17\n?\nq\n");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let (_, first) = run.stdout.split_once("\n1. ").unwrap();
    let (first, _) = first.split_once("\n2. ").unwrap();
    let lines: Vec<&str> = first.lines().map(str::trim).collect();
    let question = lines[3];
    assert!(question.ends_with("(degree, such as b3)"), "{first}");
    for again in [4, 6] {
        assert!(
            lines[again].starts_with("expected a scale degree"),
            "{first}"
        );
        assert_eq!(lines[again + 1], question, "{first}");
    }
    assert!(lines[8].starts_with("it is "), "{first}");
    assert!(run.stdout.contains("0 of 1 right"), "{}", run.stdout);
}

#[test]
fn the_same_seed_asks_the_same_whatever_the_history() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let give_up = "?\n".repeat(30);
    let ask = |seed: &str| {
        let args = [
            "drill",
            &tune,
            "--seed",
            seed,
            "--data-dir",
            folder.text(),
            "--questions",
            "30",
        ];
        neckline(&args, give_up.as_bytes()).stdout
    };
    let first = ask("1");
    assert_eq!(first, ask("1"));
    assert_ne!(first, ask("2"));
}

#[test]
fn a_scheduled_session_is_the_same_over_the_same_history() {
    let kept = Folder::new();
    let tune = kept.write("jetty.abc", JETTY);
    let ask = |folder: &Path, now: &str, seed: &str| {
        let folder = folder.to_str().unwrap();
        let args = [
            "drill",
            &tune,
            "--seed",
            seed,
            "--now",
            now,
            "--data-dir",
            folder,
            "--questions",
            "12",
        ];
        neckline(&args, "?\n".repeat(12).as_bytes()).stdout
    };
    let first = ask(&kept.path().join("a"), "2026-11-20", "1");
    assert!(
        first.contains("\n0 to play again today, 7 untouched"),
        "{first}"
    );
    assert_eq!(first, ask(&kept.path().join("b"), "2026-11-20", "1"));
    let later = ask(&kept.path().join("a"), "2026-11-22", "1");
    assert!(!later.contains("\n0 to play again"), "{later}");
    assert_eq!(later, ask(&kept.path().join("b"), "2026-11-22", "1"));
}

#[test]
fn answers_are_kept_under_the_tune_whatever_its_file_is_called() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let renamed = folder.write("pier.abc", JETTY.replace("T:Jetty", "T:Pier"));
    let ask = |tune: &str, now: &str| {
        let args = [
            "drill",
            tune,
            "--now",
            now,
            "--data-dir",
            folder.text(),
            "--questions",
            "6",
        ];
        neckline(&args, "?\n".repeat(6).as_bytes()).stdout
    };
    ask(&tune, "2026-11-20");
    assert!(!ask(&renamed, "2026-11-23").contains("\n0 to play again"));
}

#[test]
fn an_unusable_history_is_reported_once_and_left_alone() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let history = folder.write("history.sqlite", "three tunes for Sunday");
    let args = [
        "drill",
        &tune,
        "--data-dir",
        folder.text(),
        "--questions",
        "3",
    ];
    let run = neckline(&args, b"?\n?\n?\n");
    assert_eq!(run.code, 1);
    assert_eq!(
        run.stderr.matches("warning: answers are not kept").count(),
        1,
        "{}",
        run.stderr
    );
    assert!(run.stderr.contains("error: 3 answers could not be kept"));
    // At its beginning and at its end it says what to do.
    let to_do = "`neckline history restore` puts a backup in its place";
    assert_eq!(run.stderr.matches(to_do).count(), 2, "{}", run.stderr);
    assert!(run.stdout.contains("0 of 3 right"));
    assert_eq!(
        std::fs::read_to_string(history).unwrap(),
        "three tunes for Sunday"
    );
}

#[test]
fn a_tune_too_wide_for_any_position_is_asked_where_its_notes_are() {
    let folder = Folder::new();
    let tune = folder.write(
        "wide.abc",
        "X:1\nT:Wide\nM:4/4\nL:1/4\nK:C\nE, B, e b | g' e' B E, |\n",
    );
    let args = [
        "drill",
        &tune,
        "--seed",
        "1",
        "--no-history",
        "--questions",
        "20",
    ];
    let run = neckline(&args, "?\n".repeat(20).as_bytes());
    assert_eq!(run.code, 0);
    assert!(
        run.stderr.contains("no position there holds the whole of"),
        "{}",
        run.stderr
    );
    assert!(run.stdout.contains("0 of 20 right"));
}

#[test]
fn impossible_questions_are_errors() {
    let folder = Folder::new();
    let tune = folder.write("one.abc", "X:1\nT:One\nM:4/4\nL:1/4\nK:C\nC4 |\n");
    let cases: [(&[&str], u8, &str); 4] = [
        (
            &["drill", &tune, "--kinds", "interval", "--no-history"],
            1,
            "nothing to ask",
        ),
        (
            &["drill", &tune, "--kinds", "riff", "--no-history"],
            2,
            "riff",
        ),
        (
            &["drill", &tune, "--bars", "7-9", "--no-history"],
            2,
            "bars 7-9",
        ),
        (
            &["drill", &tune, "--now", "soon", "--no-history"],
            2,
            "soon",
        ),
    ];
    for (args, code, message) in cases {
        let run = neckline(args, b"");
        assert_eq!(run.code, code, "{}", run.stderr);
        assert!(run.stderr.contains(message), "{}", run.stderr);
    }
}

#[test]
fn only_the_bars_and_positions_asked_for_come_up() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = [
        "drill",
        &tune,
        "--seed",
        "5",
        "--no-history",
        "--questions",
        "40",
        "--bars",
        "3-4",
        "--positions",
        "VI-VIII",
    ];
    let stdout = neckline(&args, "?\n".repeat(40).as_bytes()).stdout;
    assert!(stdout.contains("0 of 40 right"));
    for line in stdout.lines().filter(|line| line.contains(". bar ")) {
        assert!(line.contains("bar 3") || line.contains("bar 4"), "{line}");
        let elsewhere = line.contains("position")
            && !["VI", "VII", "VIII"]
                .iter()
                .any(|it| line.contains(&format!("position {it}")));
        assert!(!elsewhere, "{line}");
    }
}

/// "Where is D6?" looks like a chord: on screens a note is a letter with its place, and the strip shows which one it
/// is.
#[test]
fn no_question_names_an_octave_number() {
    let args = [
        "drill",
        "oars-in-three",
        "--seed",
        "2",
        "--no-history",
        "--questions",
        "60",
    ];
    let stdout = neckline(&args, "?\n".repeat(60).as_bytes()).stdout;
    let questions = stdout
        .lines()
        .filter(|line| line.ends_with(')') && line.contains('?'));
    let mut count = 0;
    for question in questions {
        count += 1;
        let names_an_octave = |word: &str| {
            word.starts_with(|c| ('A'..='G').contains(&c))
                && word
                    .trim_end_matches(['?', ','])
                    .ends_with(|c: char| c.is_ascii_digit())
        };
        assert!(!question.split(' ').any(names_an_octave), "{question}");
    }
    assert_eq!(count, 60);
}

#[test]
fn an_untouched_phrase_is_shown_before_it_is_asked() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let now = ["--now", "2026-11-20", "--data-dir", folder.text()];
    let ask = |more: &[&str]| {
        let args = [&["drill", &tune, "--questions", "3"], more, &now].concat();
        neckline(&args, b"?\n?\n?\n").stdout
    };
    let at_once = ask(&["--ask-at-once", "--no-history"]);
    assert!(!at_once.contains("Learn bars"), "{at_once}");
    let first = ask(&[]);
    let (lesson, question) = (
        first.find("Learn bars 1-4 in position"),
        first.find("\n1. bar"),
    );
    assert!(lesson.is_some() && lesson < question, "{first}");
    assert_eq!(first.matches("Learn bars").count(), 1, "{first}");
    // A phrase asked yesterday is asked again today, but not shown again.
    assert!(!ask(&[]).contains("Learn bars"));
}

#[test]
fn a_lesson_follows_the_choice_of_open_strings() {
    let folder = Folder::new();
    let settings = folder.write("settings.ron", "(open_strings: \"nowhere\")");
    let ballad = "lamps-along-the-jetty";
    let args = ["drill", ballad, "--positions", "I", "--questions", "1"];
    let lesson = |more: &[&str]| {
        let args = [&args, more, &["--now", "2026-11-20", "--no-history"]].concat();
        let page = neckline(&args, b"?\n").stdout;
        let start = page.find("Learn bars").unwrap();
        page[start..page.find("\n1. bar").unwrap()].to_owned()
    };
    // The open D and G strings, in the tablature and left of the nut of the neck.
    let open = lesson(&[]);
    assert!(
        open.contains("D │─0─3─│") && open.contains("G4   6  ╫"),
        "{open}"
    );
    for more in [&["--no-open"][..], &["--settings", &settings]] {
        let stopped = lesson(more);
        assert!(stopped.contains("A │─5───│"), "{stopped}");
        assert!(stopped.contains("G4      ╫"), "{stopped}");
    }
}

#[test]
fn a_session_ends_by_itself_when_the_days_work_is_done() {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    let args = [
        "drill",
        &tune,
        "--kinds",
        "scale",
        "--now",
        "2026-11-20",
        "--data-dir",
        folder.text(),
    ];
    // One phrase has one item of this kind: after a right answer there is nothing more to do.
    let run = neckline(&args, "yes\nno #4\n".repeat(20).as_bytes());
    assert_eq!(run.code, 0);
    let last: Vec<&str> = run.stdout.lines().rev().take(3).collect();
    assert!(last[0].starts_with("come back tomorrow"), "{}", run.stdout);
    assert!(last[1].starts_with("play next: "), "{}", run.stdout);
    assert!(last[2].contains(" right"), "{}", run.stdout);
    let again = neckline(&args, b"yes\n").stdout;
    assert!(again.contains("nothing fades today"), "{again}");
}

// x-10-x-10-11-10 under the fifth of a minor seventh chord: a shape every player is taught, common practice.
#[test]
fn an_arrangement_is_asked_about_where_one_is_kept() {
    let folder = Folder::new();
    let tune = folder.write(
        "bell.abc",
        "X:1\nT:Bell\nM:4/4\nL:1/4\nK:F\n\"Gm7\"d'4|\"C7\"d'4|\n",
    );
    let ask = |kinds: &str, typed: &str, more: &[&str]| {
        let fixed = ["drill", &tune, "--plain", "--no-history", "--seed", "1"];
        let args = [&fixed[..], &["--kinds", kinds, "--questions", "2"], more].concat();
        neckline(&args, typed.as_bytes())
    };
    let none = ask("arrangement", "", &[]);
    assert_eq!(none.code, 1);
    assert!(
        none.stderr.contains("no arrangement of this tune"),
        "{}",
        none.stderr
    );
    // Without a word nothing about an arrangement is asked, with one kept it is.
    folder.write(
        "bell.abc.arrangement.ron",
        "(octave: 0, style: \"plucked\", density: \"medium\", choices: [
            (note: 1, shape: \"x-10-x-10-11-10\"),
            (note: 2, shape: \"x-x-x-9-11-10\"),
        ])",
    );
    let under = ask("under", "b7 1 b3\n3 b7\n", &[]);
    assert_eq!((under.code, under.stderr.as_str()), (0, ""));
    let told = under.stdout.as_str();
    assert!(
        told.contains("What lies under D on string 1, fret 10 over Gm7?"),
        "{told}"
    );
    assert!(
        told.contains("What lies under D on string 1, fret 10 over C7?"),
        "{told}"
    );
    let line = ask("line", "1 10\n2 15\n", &[]);
    let told = line.stdout.as_str();
    assert!(
        told.contains("D is on string 1, fret 10. Where does the arrangement play the next note?"),
        "{told}"
    );
    assert!(told.contains("yes, D: string 1, fret 10"), "{told}");
    assert!(
        told.contains("the arrangement plays it elsewhere"),
        "{told}"
    );
    // The seventh falls to the third with another finger; the melody's own stays.
    let stays = ask("stays", "9\n?\n?\n", &[]);
    assert!(
        stays
            .stdout
            .contains("expected fingers, such as 1 4, or none"),
        "{}",
        stays.stdout
    );
    let out = ask("left-out", "none\nnone\n", &[]);
    let told = out.stdout.as_str();
    assert!(
        told.contains("yes, nothing is left out") && told.contains("no, left out: 1"),
        "{told}"
    );
    // A file that cannot be read keeps nobody from the melody.
    folder.write("bell.abc.arrangement.ron", "(octave: ");
    let degree = ask("degree", "6\n6\n", &[]);
    assert_eq!(degree.code, 0);
    assert!(
        degree
            .stderr
            .contains("nothing is asked about the arrangement"),
        "{}",
        degree.stderr
    );
    let named = ask("degree", "6\n", &["--arrangement"]);
    assert!(named.code > 0, "{}", named.stderr);
}
