//! The compressed form of MusicXML: a ZIP archive around one score.

use std::borrow::Cow;
use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use super::xml::{Xml, decode};
use crate::format::Diagnostic;
use crate::format::limits::{LARGEST_FILE, MOST_ARCHIVED};

const CONTAINER: &str = "META-INF/container.xml";

/// Takes the score out of an archive: the first one named in its container, else the only one inside.
///
/// Source: MusicXML 4.0, "Compressed .mxl files"; the container must name the score.
pub(super) fn unpack(bytes: &[u8]) -> Result<Vec<u8>, Diagnostic> {
    let mut archive = ZipArchive::new(Cursor::new(bytes))
        .map_err(|error| fault(format!("the archive is broken: {error}")))?;
    if archive.len() > MOST_ARCHIVED {
        return Err(fault(format!(
            "{} files in one archive are more than the {MOST_ARCHIVED} looked at",
            archive.len()
        )));
    }
    let named = match entry(&mut archive, CONTAINER) {
        Ok(container) => score_name(&container).unwrap_or_default(),
        Err(_) => None,
    };
    if let Some(name) = named
        && archive.index_for_name(&name).is_some()
    {
        return entry(&mut archive, &name);
    }
    let scores: Vec<String> = archive
        .file_names()
        .filter_map(|name| name.ok().map(Cow::into_owned))
        .filter(|name| !name.starts_with("META-INF/") && is_score(name))
        .collect();
    match scores.as_slice() {
        [only] => entry(&mut archive, only),
        [] => Err(fault("there is no score in the archive".into())),
        several => Err(fault(format!(
            "there are {} scores in the archive and its container names none of them",
            several.len()
        ))),
    }
}

/// Puts a score into an archive, with the container that names it.
pub fn compress(score: &str) -> Vec<u8> {
    let container = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container><rootfiles>\
        <rootfile full-path=\"score.musicxml\" media-type=\"application/vnd.recordare.musicxml+xml\"/>\
        </rootfiles></container>\n";
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in [(CONTAINER, container), ("score.musicxml", score)] {
        // Writing to memory does not fail for scores of less than 4 GB.
        let _ = archive.start_file(name, SimpleFileOptions::default());
        let _ = archive.write_all(content.as_bytes());
    }
    archive.finish().map(Cursor::into_inner).unwrap_or_default()
}

fn is_score(name: &str) -> bool {
    [".musicxml", ".xml"]
        .iter()
        .any(|ending| name.to_lowercase().ends_with(ending))
}

fn score_name(container: &[u8]) -> Result<Option<String>, Diagnostic> {
    let text = decode(container)?;
    let mut xml = Xml::new(&text);
    xml.root()?;
    while let Some(child) = xml.child()? {
        if child.name().as_ref() != "rootfiles" {
            xml.skip(&child)?;
            continue;
        }
        if let Some(file) = xml.child()? {
            return Ok(Xml::attribute(&file, "full-path").map(Cow::into_owned));
        }
    }
    Ok(None)
}

fn entry(archive: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Result<Vec<u8>, Diagnostic> {
    let broken = |error: &dyn std::fmt::Display| {
        fault(format!(
            "the file in the archive cannot be unpacked: {error}"
        ))
    };
    let file = archive.by_name(name).map_err(|error| broken(&error))?;
    let mut unpacked = Vec::new();
    // The size in the archive's directory cannot be trusted, so the unpacked bytes are counted.
    file.take(LARGEST_FILE as u64 + 1)
        .read_to_end(&mut unpacked)
        .map_err(|error| broken(&error))?;
    if unpacked.len() > LARGEST_FILE {
        return Err(fault(format!(
            "the score unpacks to more than {} MB",
            LARGEST_FILE >> 20
        )));
    }
    Ok(unpacked)
}

fn fault(problem: String) -> Diagnostic {
    Diagnostic::of_file(
        problem,
        "export the score again, as uncompressed MusicXML if possible",
    )
}
