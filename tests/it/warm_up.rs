//! `neckline warm-up`: exercises from the tune, with the cautions at the top.

use tests::{Folder, neckline};

#[test]
fn a_warm_up_uses_the_tune_and_shows_the_cautions() {
    let run = neckline(&["warm-up", "oars-in-three", "--print"], b"");
    assert_eq!(run.code, 0, "{}", run.stderr);
    let head: Vec<&str> = run.stdout.lines().take(5).collect();
    assert_eq!(head[0], "Warm-up for Oars in Three, about 7 minutes");
    let cautions = head[2..].join(" ");
    for word in [
        "pain",
        "numbness",
        "tingling",
        "ten minutes an hour",
        "doctor",
        "hand therapist",
    ] {
        assert!(cautions.contains(word), "{cautions}");
    }
    for part in [
        "the scale of D minor in position VII",
        "seconds along the scale",
        "outside the scale, between its neighbours",
        "the widest comfortable move",
        " in position II",
        "50 % of the tempo",
    ] {
        assert!(run.stdout.contains(part), "{part}: {}", run.stdout);
    }
    // It makes no promise.
    for word in ["prevent", "protect", "injur"] {
        assert!(!run.stdout.contains(word), "{word}");
    }
    // On a pipe it does not wait.
    let piped = neckline(&["warm-up", "oars-in-three"], b"");
    assert_eq!(piped.stdout, run.stdout);
}

#[test]
fn a_warm_up_takes_a_set_a_hand_and_five_to_ten_minutes() {
    let folder = Folder::new();
    let data = ["--data-dir", folder.text()];
    neckline(
        &[
            &["set", "sunday", "pedalo-blues", "oars-in-three"],
            &data[..],
        ]
        .concat(),
        b"",
    );
    let of_set = neckline(
        &[&["warm-up", "--set", "sunday", "--print"], &data[..]].concat(),
        b"",
    );
    // Each tune of the set has its exercises.
    for part in [
        "Warm-up for sunday, about 7 minutes",
        "Pedalo Blues: the scale of G major",
        "Oars in Three: the scale of D minor",
    ] {
        assert!(of_set.stdout.contains(part), "{part}: {}", of_set.stdout);
    }
    let small = neckline(
        &["warm-up", "--hand", "small", "--minutes", "5", "--print"],
        b"",
    );
    assert!(small.stdout.contains("about 5 minutes"), "{}", small.stderr);
    assert_eq!(neckline(&["warm-up", "--minutes", "30"], b"").code, 2);
    let missing = neckline(&[&["warm-up", "--set", "monday"], &data[..]].concat(), b"");
    assert_eq!(missing.code, 1, "{}", missing.stderr);
}
