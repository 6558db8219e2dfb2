//! A sheet of every tune of a folder or a tune book.

use std::io::Write;
use std::path::Path;

use fretlib::fingering::Player;
use fretlib::sheet::pages;
use rayon::prelude::*;

use super::SheetRequest;
use super::prepared_sheet::{PreparedSheet, SheetPlayer};
use super::sheet_file::{SheetFormat, write_html, write_pages};
use crate::failure::Failure;
use crate::input::tune_collection::{CollectedTune, tunes_of};
use crate::output::make_folder;
use crate::report::count::count;
use crate::report::progress_bar::progress_bar;
use crate::terminal::Streams;

/// Writes a sheet for each tune, on all cores; those that cannot be set are reported, and the rest are done.
pub fn run(
    request: &SheetRequest,
    format: SheetFormat,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let Some(source) = &request.tune.source else {
        return Err(Failure::usage(
            "--all needs a folder or a tune book",
            "as in `neckline sheet --all tunes/ -o sheets/`",
        ));
    };
    let tunes = tunes_of(Path::new(source))?;
    let player = SheetPlayer {
        hand: request.hand.open(streams)?,
        open_strings: request.hand.open_strings(streams)?,
        preference: request.hand.preference(streams)?,
        recalls: None,
    };
    request.instrument.open()?;
    make_folder(&request.output)?;
    let folder = streams.settings_folder();
    let progress = progress_bar(tunes.len(), streams.ascii);
    let results: Vec<Result<Vec<String>, Failure>> = tunes
        .par_iter()
        .map(|tune| {
            let done = write(tune, request, &player, format, folder);
            progress.inc(1);
            done
        })
        .collect();
    progress.finish_and_clear();
    let mut done = 0;
    for (tune, result) in tunes.iter().zip(results) {
        match result {
            Ok(remarks) => {
                done += 1;
                for remark in remarks {
                    writeln!(streams.stderr, "note: {}: {remark}", tune.name)?;
                }
            }
            Err(failure) => {
                writeln!(streams.stderr, "{}:", tune.name)?;
                failure.report(streams)?;
                writeln!(streams.stderr)?;
            }
        }
    }
    writeln!(
        streams.stdout,
        "{done} of {} set on paper in {}",
        count(tunes.len(), "tune"),
        request.output.display()
    )?;
    if done < tunes.len() {
        streams.stdout.flush()?;
        let failed = count(tunes.len() - done, "tune");
        return Err(Failure::could_not(
            format!("{failed} could not be set on paper"),
            "see the errors above",
        ));
    }
    Ok(())
}

fn write(
    tune: &CollectedTune,
    request: &SheetRequest,
    player: &SheetPlayer,
    format: SheetFormat,
    folder: Option<&Path>,
) -> Result<Vec<String>, Failure> {
    let (read, mut remarks) = tune.read(&request.tune)?;
    let instrument = request.instrument.open()?;
    let (own, said) = match request.shows_own() {
        true => {
            let player = Player {
                instrument: &instrument,
                hand: player.hand,
            };
            tune.own_fingering(&request.tune, &read, player, folder)?
        }
        false => (None, Vec::new()),
    };
    let (sheet, more) = PreparedSheet::new(read, instrument, own, request, player)?;
    remarks.extend(said.into_iter().chain(more));
    let file = tune.file(&request.output, format.ending());
    let title = sheet.title();
    sheet.with(request, |sheet| match format {
        SheetFormat::Html => write_html(sheet, request.paper, &file, request.existing),
        _ => {
            let pages = pages(sheet, request.paper);
            write_pages(pages, title, format, &file, request.existing).map(|_| ())
        }
    })?;
    Ok(remarks)
}
