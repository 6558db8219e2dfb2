//! A set on paper: a front page, then its tunes in the order they are played.

use std::io::Write;

use fretlib::sheet::{FrontPage, UnboundPages, bound};
use jiff::civil::Date;

use super::sheet_file::{SheetFormat, write_pages};
use super::{SheetRequest, prepared};
use crate::failure::Failure;
use crate::practice_sets::{PracticeSets, ShortName};
use crate::report::heading::title_or_untitled;
use crate::request::{InstrumentRequest, TuneOnInstrument};
use crate::terminal::Streams;

/// Writes the set; nothing is written when one of its tunes cannot be read.
pub fn run(
    request: &SheetRequest,
    name: &ShortName,
    format: SheetFormat,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if format == SheetFormat::Html {
        return Err(Failure::usage(
            "a page for a browser holds one tune, not a set",
            "end the name with .pdf, .svg or .png",
        ));
    }
    let sets = PracticeSets::open(&request.folder.path()?)?;
    let set = sets.expect(name)?;
    let mut tunes = Vec::new();
    for tune in &set.tunes {
        let opens = TuneOnInstrument {
            tune: tune.request.tune.clone(),
            // How the neck is drawn is for the player to say, what it is, for the set.
            instrument: InstrumentRequest {
                left_handed: request.instrument.left_handed,
                ..tune.request.instrument.clone()
            },
        };
        let sheet = match prepared(request, &opens, streams) {
            Ok(sheet) => sheet,
            Err(failure) => {
                // The error itself comes last, and says what to do.
                let title = title_or_untitled(&tune.title);
                writeln!(streams.stderr, "note: {title} of the set `{name}`:")?;
                return Err(failure);
            }
        };
        tunes.push(sheet.with(request, |sheet| UnboundPages::of(sheet, request.paper)));
    }
    if tunes.is_empty() {
        return Err(Failure::could_not(
            format!("there is no tune in the set `{name}`"),
            format!("add one with `neckline set {name} TUNE`"),
        ));
    }
    let front = FrontPage {
        title: name.to_string(),
        words: set.by.map_or(String::new(), in_words),
    };
    let pages = bound(&front, tunes, request.paper);
    let title = name.to_string();
    for path in write_pages(pages, &title, format, &request.output, request.existing)? {
        writeln!(streams.stdout, "{}", path.display())?;
    }
    Ok(())
}

/// `Sunday, 29 November 2026`.
fn in_words(day: Date) -> String {
    day.strftime("%A, %-d %B %Y").to_string()
}
