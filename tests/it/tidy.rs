//! Rules of this project that no compiler checks.

use std::fs;
use std::path::{Path, PathBuf};

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

#[test]
fn no_module_is_called_utils() {
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

/// Few dependencies, each with its reason.
#[test]
fn every_dependency_is_named_for_contributors() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let list = guide.split("## Dependencies").nth(1).unwrap();
    let listed: Vec<&str> = list
        .split(|c: char| !(c.is_alphanumeric() || "_-".contains(c)))
        .collect();
    let table = manifest.split("[workspace.dependencies]").nth(1).unwrap();
    let table = table.split("\n[").next().unwrap();
    for name in table
        .lines()
        .filter_map(|line| line.split_once(" = "))
        .map(|it| it.0)
    {
        let is_ours = ["fretlib", "trainer-cli"].contains(&name);
        assert!(
            is_ours || listed.contains(&name),
            "{name} has no reason in DEVELOPERS.md"
        );
    }
}
