//! Shared ground of the checks in `it/`: where the data lies and how it is read.

use std::path::PathBuf;

/// A file or folder below `tests/data`.
pub fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("data")
        .join(name)
}

/// The lines of a JSON Lines file below `tests/data`.
///
/// # Panics
///
/// When the file is missing or a line is not the JSON that `T` expects: the data belongs to the checks.
pub fn json_lines<T: serde::de::DeserializeOwned>(name: &str) -> Vec<T> {
    let path = data(name);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    text.lines()
        .enumerate()
        .map(|(index, line)| {
            serde_json::from_str(line)
                .unwrap_or_else(|error| panic!("{}:{}: {error}", path.display(), index + 1))
        })
        .collect()
}

/// A JSON file below `tests/data`.
///
/// # Panics
///
/// When the file is missing or is not the JSON that `T` expects.
pub fn json<T: serde::de::DeserializeOwned>(name: &str) -> T {
    let path = data(name);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
