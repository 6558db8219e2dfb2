//! `neckline progress`: what of each tune holds, fades or is untouched, and where.

mod coverage;
mod progress_json;
mod progress_neck;
mod progress_page;
mod set_page;

use std::io::Write;

use fretlib::practice::{Item, TuneId};
use jiff::civil::DateTime;
use rayon::prelude::*;

use self::coverage::Coverage;
use crate::failure::Failure;
use crate::history::{History, Progress, ReviewLine};
use crate::practice_sets::{PracticeSets, ShortName};
use crate::report::json::write_json;
use crate::request::{HistoryFolder, TuneRequest};
use crate::terminal::{Clock, Streams, colour};

/// What to show of the history.
#[derive(Debug)]
pub struct ProgressRequest {
    /// Only this tune.
    pub tune: Option<TuneRequest>,
    /// The tunes of this set, on one page.
    pub set: Option<ShortName>,
    /// The form of the output.
    pub form: ProgressForm,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// The form in which the history is shown.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ProgressForm {
    /// A page to read.
    Page,
    /// One JSON object.
    Json,
    /// Every answer as comma-separated values.
    Table,
}

/// Prints the page, the JSON or the table.
pub fn run(request: &ProgressRequest, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(request.now)?;
    let folder = request.folder.path()?;
    let history = History::open_to_read(&folder)?;
    if let Some(name) = &request.set {
        let sets = PracticeSets::open(&folder)?;
        return set_page::print(sets.expect(name)?, history.as_ref(), clock.now(), streams);
    }
    let only = match &request.tune {
        Some(tune) => Some(TuneId::of(&tune.whole().open(streams)?.melody)),
        None => None,
    };
    let progress = match &history {
        Some(history) if request.form != ProgressForm::Table => {
            let model = history.model()?;
            history.progress(&model, clock.now(), only)?
        }
        _ => Progress::default(),
    };
    let coverages: Vec<Option<Coverage>> = progress
        .tunes
        .par_iter()
        .map(|tune| {
            let met: Vec<Item> = tune.cells.iter().map(|cell| cell.item).collect();
            Coverage::of(&tune.tune, &met)
        })
        .collect();
    match request.form {
        ProgressForm::Json => {
            let document = progress_json::ProgressDocument::new(&progress, &coverages);
            return write_json(streams, &document);
        }
        ProgressForm::Table => return table(history.as_ref(), &clock, streams),
        ProgressForm::Page => {}
    }
    if let (Some(tune), true) = (&request.tune, progress.tunes.is_empty()) {
        let name = tune.source.clone().unwrap_or_default();
        return Err(Failure::could_not(
            format!("`{name}` has not been practised yet"),
            format!("begin with `neckline drill {name}`"),
        ));
    }
    if progress.tunes.is_empty() {
        writeln!(
            streams.stdout,
            "no answers yet: `neckline drill` asks the first questions"
        )?;
        return Ok(());
    }
    let page = progress_page::ProgressPage {
        progress: &progress,
        coverages: &coverages,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

/// Every answer, one a line.
fn table(history: Option<&History>, clock: &Clock, streams: &mut Streams) -> Result<(), Failure> {
    let out = &mut streams.stdout;
    writeln!(
        out,
        "time,tune,note,phrase,kind,position,octave,question,answer,right,seconds"
    )?;
    let Some(history) = history else {
        return Ok(());
    };
    // A line is written at once: the stream looks at every piece it gets.
    let mut row = Vec::new();
    history.each_review(|line: &ReviewLine| -> Result<(), Failure> {
        row.clear();
        row.extend_from_slice(clock.written(line.at).as_bytes());
        row.push(b',');
        quoted(&mut row, line.tune);
        let (note, phrase) = (line.note + 1, line.item.phrase + 1);
        write!(row, ",{note},{phrase},{},", line.item.kind.name())?;
        match line.item.placement {
            Some(it) => write!(row, "{},{},", it.position.get(), it.octave)?,
            None => row.extend_from_slice(b",,"),
        }
        quoted(&mut row, line.question);
        row.push(b',');
        quoted(&mut row, line.answer);
        writeln!(row, ",{},{:.1}", line.is_right, line.seconds)?;
        Ok(out.write_all(&row)?)
    })
}

/// Adds a field as RFC 4180 has it, and safe in a spreadsheet: an answer that begins like a formula is none.
fn quoted(row: &mut Vec<u8>, field: &str) {
    let is_formula = field.starts_with(['=', '+', '-', '@']) && field.parse::<f64>().is_err();
    let mark = if is_formula { "'" } else { "" };
    let is_special = |byte: &u8| matches!(byte, b'"' | b',' | b'\n' | b'\r');
    if field.as_bytes().iter().any(is_special) {
        row.extend_from_slice(format!("\"{mark}{}\"", field.replace('"', "\"\"")).as_bytes());
    } else {
        row.extend_from_slice(mark.as_bytes());
        row.extend_from_slice(field.as_bytes());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_are_quoted_where_they_must_be() {
        let cases = [
            ("Eb", "Eb"),
            ("Eb, b3", "\"Eb, b3\""),
            ("say \"yes\"", "\"say \"\"yes\"\"\""),
            ("=1+1", "'=1+1"),
            ("-1", "-1"),
            ("-m3", "'-m3"),
        ];
        for (field, expected) in cases {
            let mut out = Vec::new();
            quoted(&mut out, field);
            assert_eq!(String::from_utf8(out).unwrap(), expected);
        }
    }
}
