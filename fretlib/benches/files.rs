//! The files that benches measure with.
#![allow(
    clippy::disallowed_methods,
    reason = "a bench is a program of its own and may read files"
)]

use std::path::Path;

/// The files below the repository's `folder` that end so.
pub fn files(folder: &str, ending: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("..")
        .join(folder);
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|it| it.expect("it can be listed").path())
        .collect();
    paths.sort();
    let wanted = paths
        .iter()
        .filter(|path| path.extension().is_some_and(|it| it == ending));
    wanted
        .map(|path| std::fs::read(path).expect("the file can be read"))
        .collect()
}
