//! `neckline convert` as a whole.

use tests::{Folder, Run, data, neckline};

fn convert(args: &[&str]) -> Run {
    neckline(&[&["convert"], args].concat(), b"")
}

#[test]
fn a_tune_goes_through_every_format_and_comes_back() {
    let folder = Folder::new();
    let names = ["a.abc", "b.musicxml", "c.mxl", "d.ron"].map(|name| folder.file(name));
    let mut source = "oars-in-three".to_owned();
    for name in &names {
        let run = convert(&[&source, name]);
        // The phrases of the source are lost on the way, and scores have a tablature: this tune is whole in I on open
        // strings as well.
        let notes: Vec<&str> = run.stderr.lines().collect();
        let wanted = match name.rsplit('.').next() {
            Some("abc") => vec!["ABC has no place for phrases"],
            Some("musicxml" | "mxl") => vec!["the tune is also whole in I on open strings"],
            _ => Vec::new(),
        };
        assert_eq!(
            (run.code, notes.len()),
            (0, wanted.len()),
            "{name}: {notes:?}"
        );
        for (note, words) in notes.iter().zip(wanted) {
            assert!(note.contains(words), "{name}: {note}");
        }
        source.clone_from(name);
    }
    let tune = |name: &str| neckline(&["map", name, "--json"], b"").stdout;
    assert_eq!(tune(&names[3]), tune("oars-in-three"));
}

#[test]
fn tablature_is_of_the_position_asked_for() {
    let run = convert(&[
        "oars-in-three",
        "-",
        "--format",
        "musicxml",
        "--position",
        "V",
    ]);
    assert_eq!(run.code, 0, "{}", run.stderr);
    let first = run.stdout.split("<technical>").nth(1).unwrap();
    assert!(
        first
            .replace([' ', '\n'], "")
            .starts_with("<fingering>3</fingering><string>4</string><fret>7</fret>"),
        "{first:.200}"
    );
    let run = convert(&[
        "oars-in-three",
        "-",
        "--format",
        "musicxml",
        "--octave",
        "+5",
    ]);
    assert_eq!(run.code, 1);
    assert!(run.stderr.contains("no such placement"), "{}", run.stderr);
}

#[test]
fn files_that_are_there_are_left_alone_unless_asked() {
    let folder = Folder::new();
    let file = folder.file("a.abc");
    std::fs::write(&file, "mine").unwrap();
    let run = convert(&["oars-in-three", &file]);
    assert_eq!(run.code, 1);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
    assert_eq!(convert(&["oars-in-three", &file, "--replace"]).code, 0);
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("X:1"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1); // no file is left beside it
}

/// Renaming a new file over a link or a device would destroy it.
#[cfg(unix)]
#[test]
fn links_are_followed_and_devices_stay_devices() {
    use std::os::unix::fs::{FileTypeExt, symlink};
    let folder = Folder::new();
    let [file, link, socket] = ["a.abc", "link.abc", "socket.abc"].map(|it| folder.file(it));
    std::fs::write(&file, "mine").unwrap();
    symlink(&file, &link).unwrap();
    assert_eq!(convert(&["oars-in-three", &link, "--replace"]).code, 0);
    assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("X:1"));
    let _listener = std::os::unix::net::UnixListener::bind(&socket).unwrap();
    let run = convert(&["oars-in-three", &socket, "--replace"]);
    assert_eq!(run.code, 1, "{}", run.stderr);
    assert!(std::fs::metadata(&socket).unwrap().file_type().is_socket());
}

#[test]
fn one_bad_file_does_not_stop_the_rest() {
    let folder = Folder::new();
    let source = folder.file("in");
    std::fs::create_dir_all(&source).unwrap();
    for name in [
        "musicxml/northumbrian_53_107847d1.mxl",
        "midi/airdsAirs_0273_704aee3b.mid",
        "abc/airdsAirs_0273_704aee3b.abc",
    ] {
        let path = data(name);
        std::fs::copy(
            &path,
            format!("{source}/{}", path.file_name().unwrap().display()),
        )
        .unwrap();
    }
    std::fs::write(format!("{source}/broken.musicxml"), "<score-partwise><part").unwrap();
    std::fs::write(format!("{source}/notes.txt"), "milk, strings").unwrap();
    let out = folder.file("out");
    let run = convert(&["--all", &source, &out, "--format", "abc"]);
    assert_eq!(run.code, 1);
    assert!(
        run.stdout.starts_with("3 of 4 tunes written"),
        "{}",
        run.stdout
    );
    assert!(run.stderr.contains("broken.musicxml:1:"), "{}", run.stderr);
    let mut names: Vec<_> = std::fs::read_dir(&out)
        .unwrap()
        .map(|it| it.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "airdsAirs_0273_704aee3b-2.abc",
            "airdsAirs_0273_704aee3b.abc",
            "northumbrian_53_107847d1.abc"
        ]
    );
}

/// A note about several tunes is printed once, and an estimated key is not presented as a declared one.
#[test]
fn a_whole_book_says_which_keys_were_found_from_the_notes() {
    let folder = Folder::new();
    let book = "X:1\nT:Jetty at Dusk\nL:1/4\nM:4/4\nK:none\nDFAd|\n\nX:2\nT:Low Water\nL:1/4\nM:4/4\nK:Em\nEGBe|\n\nX:3\nT:Oars\nL:1/4\nM:4/4\nK:none\nDFAd|\n";
    let source = folder.file("book.abc");
    std::fs::write(&source, book).unwrap();
    let out = folder.file("out");
    let run = convert(&["--all", &source, &out, "--format", "ron"]);
    assert_eq!(
        (run.code, run.stdout),
        (
            0,
            format!("3 of 3 tunes written to {out}, 2 of them in keys found from their notes\n")
        )
    );
    assert_eq!(
        run.stderr,
        "note: tune 1 (Jetty at Dusk), tune 3 (Oars): no key declared; wrote D minor (estimated)\n"
    );
    let run = convert(&[
        "--all",
        &source,
        &out,
        "--format",
        "ron",
        "--replace",
        "--key",
        "D dorian",
    ]);
    assert_eq!(run.stdout, format!("3 of 3 tunes written to {out}\n"));
}

#[test]
fn wrong_usage_says_what_to_type() {
    for (args, hint) in [
        (&["oars-in-three"][..], "as in `neckline convert"),
        (&["oars-in-three", "tune.pdf"], "end the name in"),
        (&["--all", "x", "y"], "--format"),
        (
            &["oars-in-three", "/no/such/folder/a.abc"],
            "check that the folder",
        ),
    ] {
        let run = convert(args);
        assert_ne!(run.code, 0);
        assert!(run.stderr.contains(hint), "{}", run.stderr);
    }
}

#[test]
fn a_check_tells_what_was_read_and_what_was_guessed() {
    let abc = b"X:1\nT:Ferry\nM:3/4\nL:1/4\nK:none\nQ:\"swing\" 1/2=60\nC|:\"C\"EGc|E2^D/E/:|\nw:Fer-ry at noon\n";
    // A built-in tune by its name, as everywhere.
    let built_in = neckline(&["tunes", "pedalo-blues", "--check"], b"");
    assert_eq!(built_in.code, 0, "{}", built_in.stderr);
    assert!(
        built_in.stdout.starts_with("Pedalo Blues\n"),
        "{}",
        built_in.stdout
    );

    let run = neckline(&["tunes", "-", "--check"], abc);
    assert_eq!(run.code, 0);
    for line in [
        "Ferry\n",
        ", estimated from the notes (then ",
        "  tempo     60 half notes a minute, swing\n",
        "  bars      2, and a pickup of 1/4\n",
        "  played    bars 0-2, 1-2\n",
        "  chords    1 symbol\n",
        "  lyrics    1 verse\n",
        "\nNothing was left out.\n",
        "  RON       nothing\n",
        "  MIDI      the signs of repeats and jumps, chord symbols",
    ] {
        assert!(run.stdout.contains(line), "{line}\n{}", run.stdout);
    }
    assert!(run.stderr.is_empty());
}
