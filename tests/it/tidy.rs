//! The rules of the house that no compiler checks.

use std::fs;
use std::path::{Path, PathBuf};

/// The floors of `fretlib`, each with those it may stand on.
const FLOORS: [(&str, &[&str]); 9] = [
    ("theory", &[]),
    ("melody", &["theory"]),
    ("notation", &["theory", "melody"]),
    ("neck", &["theory"]),
    ("mapping", &["theory", "melody", "neck"]),
    ("practice", &["theory", "melody", "neck", "mapping"]),
    ("view", &["theory", "melody", "neck", "mapping", "practice"]),
    (
        "format",
        &["theory", "melody", "notation", "neck", "mapping"],
    ),
    (
        "sheet",
        &["theory", "melody", "notation", "neck", "mapping"],
    ),
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|it| it == "rs") {
            found.push(path);
        }
    }
    found
}

/// The part of a file before its unit tests, which may look anywhere.
fn without_tests(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    let end = text.find("#[cfg(test)]\nmod tests").unwrap_or(text.len());
    text[..end].to_owned()
}

#[test]
fn imports_run_down_only() {
    for (floor, below) in FLOORS {
        for path in sources(&root().join("fretlib/src").join(floor)) {
            if path
                .file_stem()
                .is_some_and(|it| it == "tests" || it == "laws")
            {
                continue;
            }
            for line in without_tests(&path)
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"))
            {
                for part in line.split("crate::").skip(1) {
                    let used: String = part
                        .chars()
                        .take_while(|c| c.is_lowercase() || *c == '_')
                        .collect();
                    let is_floor = FLOORS.iter().any(|(name, _)| *name == used);
                    let allowed = !is_floor || used == floor || below.contains(&used.as_str());
                    assert!(
                        allowed,
                        "{}: {floor} may not use {used}: {line}",
                        path.display()
                    );
                }
            }
        }
    }
}

#[test]
fn no_room_is_called_utils() {
    for folder in ["fretlib/src", "trainer-cli/src", "tests"] {
        for path in sources(&root().join(folder)) {
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            assert!(
                !["utils", "util", "helpers", "common", "misc", "prelude"].contains(&name.as_str()),
                "{}",
                path.display()
            );
        }
    }
}

#[test]
fn every_data_file_names_its_source() {
    let data = root().join("tests/data");
    let readme = fs::read_to_string(data.join("README.md")).unwrap();
    for entry in fs::read_dir(&data).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name == "README.md" || readme.contains(&format!("`{name}")),
            "{name} has no source named"
        );
    }
}
