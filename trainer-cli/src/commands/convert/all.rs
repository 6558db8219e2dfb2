//! Every tune of a folder or a tune book.

use std::io::Write;
use std::path::Path;

use fretlib::fingering::Player;
use fretlib::neck::Instrument;
use rayon::prelude::*;

use super::target::Written;
use super::{ConvertRequest, TablatureChoice, target};
use crate::failure::Failure;
use crate::input::tune::KeySource;
use crate::input::tune_collection::{CollectedTune, tunes_of};
use crate::output::{FileBatch, WaitingFile, make_folder};
use crate::report::progress_bar::progress_bar;
use crate::terminal::Streams;

/// The notes about a converted tune.
struct Done {
    warnings: Vec<String>,
    key_source: KeySource,
}

/// Converts all tunes; failures are reported, and the rest is done.
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
    let jobs = tunes_of(Path::new(source))?;
    make_folder(out)?;
    let tablature = request.tablature(streams)?;
    let folder = streams.settings_folder();
    let progress = progress_bar(jobs.len(), streams.ascii);
    let batch = FileBatch::new(out, request.existing);
    let converted: Vec<Result<(Done, WaitingFile), Failure>> = jobs
        .par_iter()
        .map(|job| {
            let converted = convert(job, request, instrument, format, &tablature, folder);
            let converted = converted.and_then(|(done, written)| {
                let file = job.file(out, format.ending());
                let file = batch.write(&file, |it| written.write_to(it))?;
                Ok((done, file))
            });
            progress.inc(1);
            converted
        })
        .collect();
    progress.finish_and_clear();
    let results = into_place(batch, converted)?;
    report(&jobs, &results, out, streams)
}

/// Puts what was converted into place, all at once.
fn into_place(
    batch: FileBatch,
    converted: Vec<Result<(Done, WaitingFile), Failure>>,
) -> Result<Vec<Result<Done, Failure>>, Failure> {
    let mut files = Vec::new();
    let mut results: Vec<Result<Done, Failure>> = Vec::new();
    for converted in converted {
        results.push(converted.map(|(done, file)| {
            files.push(file);
            done
        }));
    }
    let placed = batch.into_place(files)?;
    for (result, placed) in results.iter_mut().filter(|it| it.is_ok()).zip(placed) {
        if let Err(failure) = placed {
            *result = Err(failure);
        }
    }
    Ok(results)
}

/// Prints every remark once with its tunes, then the failures, then how many were written.
fn report(
    jobs: &[CollectedTune],
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
    job: &CollectedTune,
    request: &ConvertRequest,
    instrument: &Instrument,
    format: target::Target,
    tablature: &TablatureChoice,
    folder: Option<&Path>,
) -> Result<(Done, Written), Failure> {
    let (tune, mut warnings) = job.read(&request.tune)?;
    let mut tablature = tablature.clone();
    if request.shows_own() {
        let player = Player {
            instrument,
            hand: tablature.hand,
        };
        let (own, remarks) = job.own_fingering(&request.tune, &tune, player, folder)?;
        tablature.own = own.map(|own| (own.fingering.clone(), own.octave()));
        warnings.extend(remarks);
    }
    let mut written = target::write(
        &tune.melody,
        instrument,
        format,
        &tablature,
        request.midi_order,
    )?;
    if tune.key_source == KeySource::Estimated {
        warnings.push(format!("no key declared; wrote {} (estimated)", tune.key));
    }
    warnings.append(&mut written.warnings);
    let done = Done {
        warnings,
        key_source: tune.key_source,
    };
    Ok((done, written))
}
