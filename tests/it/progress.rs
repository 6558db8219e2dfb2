//! `neckline progress`, `today` and `history`, over histories made by drilling.

use serde_json::Value;
use tests::{Folder, Run, neckline};

use crate::drill::JETTY;

/// Some days of practice: right answers where the answer is `yes` or a major second, the rest given up.
fn practised() -> (Folder, String) {
    let folder = Folder::new();
    let tune = folder.write("jetty.abc", JETTY);
    for day in ["2026-11-10", "2026-11-11", "2026-11-14"] {
        let typed = "yes\nM2\n?\n".repeat(30);
        let args = [
            "drill",
            &tune,
            "--now",
            day,
            "--seed",
            "3",
            "--questions",
            "15",
        ];
        assert_eq!(on(&folder, &args, &typed).code, 0);
    }
    (folder, tune)
}

fn on(folder: &Folder, args: &[&str], typed: &str) -> Run {
    let args: Vec<&str> = args
        .iter()
        .copied()
        .chain(["--data-dir", folder.text()])
        .collect();
    neckline(&args, typed.as_bytes())
}

#[test]
fn the_page_shows_what_is_weak_and_how_to_drill_it() {
    let (folder, tune) = practised();
    let page = on(&folder, &["progress", "--now", "2026-11-16"], "").stdout;
    assert!(page.contains("Jetty · guitar · 45 answers"), "{page}");
    assert!(
        page.contains("7 to play again today, 20 untouched"),
        "{page}"
    );
    assert!(page.contains("answers by day"), "{page}");
    // A command that is too long is broken with backslashes.
    assert!(
        page.lines().all(|line| line.chars().count() <= 80),
        "{page}"
    );
    let page = page.replace(" \\\n", " ");
    let command = page
        .lines()
        .find(|line| line.contains("neckline drill"))
        .unwrap();
    assert!(command.contains(&tune), "{page}");
    // The command runs.
    let words: Vec<&str> = command.split_whitespace().skip(1).collect();
    let run = on(&folder, &words, "q\n");
    assert_eq!(run.code, 0, "{}", run.stderr);
}

#[test]
fn the_page_shows_the_whole_neck_with_what_is_untouched() {
    let (folder, tune) = practised();
    let grid = || {
        let page = on(&folder, &["progress", "--now", "2026-11-16", "--ascii"], "").stdout;
        let (grid, legend) = page.split_once("\n\n").unwrap();
        assert!(legend.contains(". untouched"), "{page}");
        format!("{grid}\n")
    };
    let expected = "
Jetty · guitar · 45 answers
  0 hold, 7 to play again today, 20 untouched
  3 of 6 positions and octaves of its practice still untouched
  as written    1  2  3  4  5  6  7  8  9 10 11 12 13 14 15 16 17 18 19
  bars 1-4                 --    --             --
  octave +1     1  2  3  4  5  6  7  8  9 10 11 12 13 14 15 16 17 18 19
  untouched                                .                    .     .
  tune alone     1-4 --
";
    assert_eq!(grid(), expected[1..]);
    // Without the tune, its coverage is unknown.
    std::fs::remove_file(&tune).unwrap();
    let expected = "
Jetty · guitar · 45 answers
  0 hold, 7 to play again today
  its file is gone or has changed: only what was asked is shown
  as written    5  7 12
  phrase 1     -- -- --
  tune alone       1 ==
";
    assert_eq!(grid(), expected[1..]);
}

#[test]
fn the_json_counts_every_answer() {
    let (folder, _) = practised();
    let run = on(&folder, &["progress", "--json", "--now", "2026-11-16"], "");
    let document: Value = serde_json::from_str(&run.stdout).unwrap();
    assert_eq!(document["schema"], 1);
    assert_eq!(document["reviews"], 45);
    let cells = document["tunes"][0]["cells"].as_array().unwrap();
    let asked: u64 = cells
        .iter()
        .map(|cell| cell["asked"].as_u64().unwrap())
        .sum();
    assert_eq!(asked, 45);
    for cell in cells {
        let recall = cell["recall"].as_f64().unwrap();
        assert!((0.0..=1.0).contains(&recall), "{cell}");
        assert!(cell["right"].as_u64() <= cell["asked"].as_u64());
        assert_eq!(cell["position"].is_null(), cell["octave"].is_null());
    }
    let days = document["days"].as_array().unwrap();
    assert_eq!(days.len(), 3);
    assert_eq!(days[0]["date"], "2026-11-10");
}

#[test]
fn the_table_has_a_line_for_every_answer() {
    let (folder, _) = practised();
    let table = on(&folder, &["progress", "--csv"], "").stdout;
    assert_eq!(table.lines().count(), 46);
    assert!(table.lines().nth(1).unwrap().contains("Jetty"), "{table}");
}

#[test]
fn without_a_history_there_is_nothing_to_show_and_nothing_is_made() {
    let folder = Folder::new();
    assert!(
        on(&folder, &["progress"], "")
            .stdout
            .contains("no answers yet")
    );
    let json = on(&folder, &["progress", "--json"], "").stdout;
    assert_eq!(serde_json::from_str::<Value>(&json).unwrap()["reviews"], 0);
    assert_eq!(on(&folder, &["today"], "").code, 1);
    assert_eq!(on(&folder, &["history", "backup", "copy"], "").code, 1);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn today_plans_within_its_minutes_and_asks_fading_items() {
    let (folder, tune) = practised();
    let run = on(&folder, &["today", "--now", "2026-11-20", "--list"], "");
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(
        run.stdout.contains("Jetty: 7 to play again"),
        "{}",
        run.stdout
    );
    let args = [
        "today",
        "--now",
        "2026-11-20",
        "--minutes",
        "1",
        "--seed",
        "1",
    ];
    let short = on(&folder, &args, &"?\n".repeat(200));
    let asked = short.stdout.matches(" position").count() + short.stdout.matches(". bar").count();
    assert!(
        short.code == 0 && asked > 0 && asked < 60,
        "{}",
        short.stdout
    );

    // A tune that has changed or gone is left out with a note.
    std::fs::write(&tune, JETTY.replace("B d f e", "B d f =e")).unwrap();
    let changed = on(&folder, &["today", "--now", "2026-11-20", "--list"], "");
    assert!(
        changed.stderr.contains("Jetty has changed"),
        "{}",
        changed.stderr
    );
    std::fs::remove_file(&tune).unwrap();
    let gone = on(&folder, &["today", "--now", "2026-11-20", "--list"], "");
    assert!(gone.stderr.contains("Jetty is left out"), "{}", gone.stderr);
    assert_eq!(gone.code, 1);
}

#[test]
fn many_tunes_that_are_gone_or_have_changed_are_two_notes() {
    let folder = Folder::new();
    let titles = ["Slip", "Quay", "Oar", "Reed", "Weir"];
    let tune = |title: &str, note: &str| {
        let text = format!("X:1\nT:{title}\nM:4/4\nL:1/4\nK:G\nG A B {note}|d4|\n");
        folder.write(&format!("{title}.abc"), text)
    };
    // What a tune is called does not tell it from others; its notes do.
    for (title, note) in titles.into_iter().zip(["c", "d", "e", "f", "g"]) {
        let (tune, now) = (tune(title, note), "2026-11-22T18:00");
        let args = ["drill", &tune, "--questions", "1", "--now", now];
        let run = on(&folder, &args, "?\n");
        assert_eq!(run.code, 0, "{}", run.stderr);
    }
    let notes = || on(&folder, &["today", "--list"], "").stderr;
    for title in ["Quay", "Weir"] {
        tune(title, "a");
    }
    let changed = "note: 2 tunes have changed since they were practised: Quay, Weir; drill each once to begin anew\n";
    assert_eq!(notes(), changed);
    for title in titles {
        std::fs::remove_file(folder.file(&format!("{title}.abc"))).unwrap();
    }
    let first = format!(
        "note: 5 tunes are left out: Slip, Quay, Oar and 2 more; of the first: cannot read `{}`",
        folder.file("Slip.abc")
    );
    let notes = notes();
    assert!(notes.starts_with(&first), "{notes}");
    assert_eq!(notes.matches("note: ").count(), 1, "{notes}");
}

#[test]
fn one_tune_is_wiped_after_a_backup_and_a_history_exported() {
    let (folder, tune) = practised();
    let export = || -> Value {
        let run = on(&folder, &["history", "export"], "");
        serde_json::from_str(&run.stdout).unwrap()
    };
    let exported = export();
    assert_eq!(exported["answers"].as_array().unwrap().len(), 45);
    assert_eq!(exported["answers"][0]["tune"], "Jetty");
    // Nobody can confirm.
    let asked = on(&folder, &["history", "wipe", &tune], "yes\n");
    assert!(
        asked.code == 1 && asked.stderr.contains("--force"),
        "{}",
        asked.stderr
    );
    let wiped = on(&folder, &["history", "wipe", "Jetty", "--force"], "");
    assert!(
        wiped.stdout.starts_with("45 answers about Jetty wiped"),
        "{}",
        wiped.stderr
    );
    assert!(folder.path().join("before-wipe-1.sqlite").is_file());
    assert_eq!(export()["answers"].as_array().unwrap().len(), 0);
    let again = on(&folder, &["history", "wipe", "Jetty", "--force"], "");
    assert_ne!(again.code, 0);
    let backup = format!("{}/before-wipe-1.sqlite", folder.text());
    on(&folder, &["history", "restore", &backup], "");
    assert_eq!(export()["answers"].as_array().unwrap().len(), 45);
}

#[test]
fn a_backup_is_written_once_and_restored_whole() {
    let (folder, tune) = practised();
    let copy = format!("{}/copy.sqlite", folder.text());
    assert_eq!(
        on(&folder, &["history", "backup", &copy], "").stdout,
        format!("45 answers copied to {copy}\n")
    );
    let again = on(&folder, &["history", "backup", &copy], "");
    assert_eq!(again.code, 1);
    assert!(again.stderr.contains("--replace"), "{}", again.stderr);
    on(
        &folder,
        &["drill", &tune, "--seed", "1", "--questions", "3"],
        "?\n?\n?\n",
    );
    let restored = on(&folder, &["history", "restore", &copy], "");
    assert!(
        restored.stdout.starts_with("45 answers restored"),
        "{}",
        restored.stdout
    );
    assert!(restored.stdout.contains("before-1"), "{}", restored.stdout);
    let missing = on(&folder, &["history", "restore", "nowhere.sqlite"], "");
    assert_eq!(missing.code, 1);
}

/// Thirteen of fourteen answers given up: one right answer holds for minutes, not for the day; items never answered right
/// are not known; and the rest of the tune is untouched.
#[test]
fn items_never_answered_right_are_not_known() {
    let now = ["--now", "2026-11-20"];
    let check = |last: &str, right: u64, at_once: &str, an_hour_later: &str| {
        let folder = Folder::new();
        // Every note is in the scale, so that "yes" is right whichever is asked.
        let tune = folder.write("jetty.abc", JETTY.replace("=e", "e"));
        let args = [
            "drill",
            &tune,
            "--questions",
            "14",
            "--kinds",
            "scale",
            now[0],
            now[1],
        ];
        let typed = format!("{}{last}\n", "?\n".repeat(13));
        assert_eq!(on(&folder, &args, &typed).code, 0);
        let run = on(&folder, &["progress", "--json", now[0], now[1]], "");
        let document: Value = serde_json::from_str(&run.stdout).unwrap();
        let cells = document["tunes"][0]["cells"].as_array().unwrap();
        assert_eq!(cells.len(), 1);
        assert_eq!(
            (&cells[0]["asked"], &cells[0]["right"]),
            (&14.into(), &right.into())
        );
        for (time, expected) in [("2026-11-20", at_once), ("2026-11-20T13:00", an_hour_later)] {
            let page = on(&folder, &["progress", "--now", time], "").stdout;
            let line = page.lines().nth(1).unwrap();
            assert_eq!(line, format!("  {expected}, 38 untouched"), "{page}");
            assert!(!page.contains("100 %"), "{page}");
        }
        let plan = on(
            &folder,
            &["today", "--list", "--now", "2026-11-20T13:00"],
            "",
        );
        assert!(
            plan.stdout.contains("Jetty: 1 to play again"),
            "{}",
            plan.stdout
        );
    };
    let fades = "0 hold, 1 to play again today";
    check("yes", 1, "1 hold, 0 to play again today", fades);
    check("?", 0, fades, fades);
    check("no #4", 0, fades, fades);

    let all = Folder::new();
    let tune = all.write("jetty.abc", JETTY);
    let args = ["drill", &tune, "--questions", "14", now[0], now[1]];
    on(&all, &args, &"?\n".repeat(14));
    let run = on(&all, &["progress", "--json", now[0], now[1]], "");
    let document: Value = serde_json::from_str(&run.stdout).unwrap();
    let progress = &document["tunes"][0];
    assert_eq!(progress["holds"], 0);
    let fades = progress["fades"].as_u64().unwrap();
    assert!(fades > 0 && progress["untouched"].as_u64().unwrap() > fades);
    for cell in progress["cells"].as_array().unwrap() {
        assert_eq!(
            (&cell["recall"], &cell["standing"]),
            (&0.0.into(), &"fades".into())
        );
    }
    let plan = on(&all, &["today", "--list", now[0], now[1]], "").stdout;
    assert!(
        plan.contains(&format!("Jetty: {fades} to play again")),
        "{plan}"
    );
    let page = on(&all, &["progress", now[0], now[1]], "").stdout;
    assert!(!page.contains("100 %"), "{page}");
}

#[test]
fn one_tune_is_shown_by_itself() {
    let (folder, tune) = practised();
    let other = folder.write(
        "pier.abc",
        JETTY.replace("T:Jetty", "T:Pier").replace("f4", "d4"),
    );
    on(
        &folder,
        &["drill", &other, "--now", "2026-11-15", "--questions", "2"],
        "?\n?\n",
    );
    let page = on(&folder, &["progress", &other, "--now", "2026-11-16"], "").stdout;
    assert!(page.contains("Pier") && !page.contains("Jetty"), "{page}");
    let page = on(&folder, &["progress", "--now", "2026-11-16"], "").stdout;
    assert!(page.contains("Pier") && page.contains("Jetty"), "{page}");
    let run = on(&folder, &["progress", "oars-in-three"], "");
    assert!(
        run.code == 1 && run.stderr.contains("not been practised"),
        "{}",
        run.stderr
    );
    assert!(page.contains(&tune));
}
