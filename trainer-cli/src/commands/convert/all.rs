//! Every tune of a folder or a tune book.

use std::collections::HashSet;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

use fretlib::format::{abc, detect};
use fretlib::neck::Instrument;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;

use super::{ConvertRequest, TablatureChoice, target};
use crate::failure::Failure;
use crate::input::read_file;
use crate::input::tune::{KeySource, read_bytes, settled};
use crate::output::write_file;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// One tune to convert: where it is, which of a book, what it is called, and where it goes.
pub(in crate::commands) struct Job {
    pub source: PathBuf,
    pub number: Option<u32>,
    pub name: String,
    out: PathBuf,
}

/// What is to be said of a tune that was converted.
struct Done {
    warnings: Vec<String>,
    key_source: KeySource,
}

/// Converts all tunes there are; those that cannot be are reported, and the rest are done.
pub fn run(
    request: &ConvertRequest,
    out: &Path,
    instrument: &Instrument,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let Some(format) = request.format else {
        return Err(Failure::usage(
            "--all needs a format to write",
            "add --format musicxml, for example",
        ));
    };
    let Some(source) = &request.tune.source else {
        return Err(Failure::usage(
            "--all needs a folder or a tune book",
            "as in `neckline convert --all tunes/ scores/ --format abc`",
        ));
    };
    let jobs = jobs(Path::new(source), out, format.ending())?;
    std::fs::create_dir_all(out).map_err(|error| {
        Failure::could_not(
            format!("cannot make the folder `{}`: {error}", out.display()),
            "choose another folder",
        )
    })?;
    let tablature = request.tablature(streams)?;
    let progress = progress_bar(jobs.len(), streams.ascii);
    let results: Vec<Result<Done, Failure>> = jobs
        .par_iter()
        .map(|job| {
            let done = convert(job, request, instrument, format, tablature);
            progress.inc(1);
            done
        })
        .collect();
    progress.finish_and_clear();
    report(&jobs, &results, out, streams)
}

/// What was remarked, each remark once with the tunes it is about; then what failed; then how many were written.
fn report(
    jobs: &[Job],
    results: &[Result<Done, Failure>],
    out: &Path,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let mut warnings: Vec<(&str, Vec<&str>)> = Vec::new();
    let (mut done, mut estimated) = (0, 0);
    for (job, result) in jobs.iter().zip(results) {
        let Ok(of_tune) = result else { continue };
        done += 1;
        estimated += usize::from(of_tune.key_source == KeySource::Estimated);
        for remark in &of_tune.warnings {
            match warnings.iter_mut().find(|(known, _)| known == remark) {
                Some((_, names)) => names.push(&job.name),
                None => warnings.push((remark, vec![&job.name])),
            }
        }
    }
    for (remark, names) in warnings {
        writeln!(streams.stderr, "note: {}: {remark}", names.join(", "))?;
    }
    for failure in results.iter().filter_map(|result| result.as_ref().err()) {
        failure.report(streams)?;
        writeln!(streams.stderr)?;
    }
    let of_keys = match estimated {
        0 => String::new(),
        1 => ", one of them in a key found from its notes".into(),
        _ => format!(", {estimated} of them in keys found from their notes"),
    };
    writeln!(
        streams.stdout,
        "{done} of {} tunes written to {}{of_keys}",
        jobs.len(),
        out.display()
    )?;
    if done < jobs.len() {
        streams.stdout.flush()?;
        let problem = match jobs.len() - done {
            1 => "one tune could not be converted".into(),
            failed => format!("{failed} tunes could not be converted"),
        };
        return Err(Failure::could_not(problem, "see the errors above"));
    }
    Ok(())
}

fn convert(
    job: &Job,
    request: &ConvertRequest,
    instrument: &Instrument,
    format: target::Target,
    tablature: TablatureChoice,
) -> Result<Done, Failure> {
    let name = job.source.to_string_lossy();
    let tune_request = TuneRequest {
        number: job.number.or(request.tune.number),
        ..request.tune.clone()
    };
    let reading = read_bytes(&name, read_file(&name)?, &tune_request)?;
    let tune = settled(reading.melody, &tune_request)?;
    let written = target::write(
        &tune.melody,
        instrument,
        format,
        tablature,
        request.midi_order,
    )?;
    write_file(&job.out, &written.bytes, request.existing)?;
    let mut warnings = reading.warnings;
    if tune.key_source == KeySource::Estimated {
        warnings.push(format!("no key declared; wrote {} (estimated)", tune.key));
    }
    warnings.extend(written.warnings);
    Ok(Done {
        warnings,
        key_source: tune.key_source,
    })
}

/// Drawn on a terminal only, and gone when the work is done.
pub(in crate::commands) fn progress_bar(length: usize, ascii: bool) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length as u64);
    match ProgressStyle::with_template("{wide_bar} {pos} of {len} tunes ") {
        Ok(style) => bar.with_style(style.progress_chars(if ascii { "#-" } else { "█░" })),
        Err(_) => bar,
    }
}

/// The tunes of a folder, by name, or those of a tune book.
pub(in crate::commands) fn jobs(
    source: &Path,
    out: &Path,
    ending: &str,
) -> Result<Vec<Job>, Failure> {
    let mut names = HashSet::new();
    let mut free_name = |stem: &str| {
        let name = (1..)
            .map(|number| {
                if number == 1 {
                    stem.to_owned()
                } else {
                    format!("{stem}-{number}")
                }
            })
            .find(|name| names.insert(name.to_lowercase()))
            .unwrap_or_default();
        out.join(format!("{name}.{ending}"))
    };
    let mut jobs = Vec::new();
    if source.is_dir() {
        let failed = |error: std::io::Error| {
            Failure::usage(
                format!("cannot read the folder `{}`: {error}", source.display()),
                "check the folder and try again",
            )
        };
        let entries: Result<Vec<_>, _> = std::fs::read_dir(source).map_err(failed)?.collect();
        let mut paths: Vec<PathBuf> = entries
            .map_err(failed)?
            .into_iter()
            .map(|entry| entry.path())
            .filter(|path| path.is_file())
            .collect();
        paths.sort();
        for path in paths {
            // What is in no format of ours is no tune; a file that cannot be read is reported when its turn comes.
            if read_file(&path.to_string_lossy()).is_ok_and(|bytes| detect(&bytes).is_none()) {
                continue;
            }
            let stem = path
                .file_stem()
                .map(|stem| stem.to_string_lossy().into_owned())
                .unwrap_or_default();
            jobs.push(Job {
                out: free_name(&stem),
                name: path
                    .file_name()
                    .map(|name| name.to_string_lossy().into_owned())
                    .unwrap_or_default(),
                source: path,
                number: None,
            });
        }
    } else {
        let bytes = read_file(&source.to_string_lossy())?;
        for entry in abc::tunes(&bytes) {
            jobs.push(Job {
                out: free_name(&file_name(&entry.title)),
                name: format!("tune {} ({})", entry.number, entry.title),
                source: source.to_owned(),
                number: Some(entry.number),
            });
        }
    }
    if jobs.is_empty() {
        return Err(Failure::usage(
            format!("there is no tune in `{}`", source.display()),
            "give a folder of tunes, or a tune book in ABC",
        ));
    }
    Ok(jobs)
}

/// A title as a name for a file: small letters, figures and hyphens.
fn file_name(title: &str) -> String {
    let plain: String = title
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .take(80)
        .collect();
    let name = plain.split_whitespace().collect::<Vec<_>>().join("-");
    if name.is_empty() { "tune".into() } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_become_names_of_files() {
        let cases = [
            ("Jetty at Dusk", "jetty-at-dusk"),
            ("../../Gull's  Egg!", "gull-s-egg"),
            ("", "tune"),
            ("///", "tune"),
        ];
        for (title, name) in cases {
            assert_eq!(file_name(title), name);
        }
    }
}
