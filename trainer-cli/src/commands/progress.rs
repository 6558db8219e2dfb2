//! `neckline progress`: what of each tune holds, fades or is untouched, and where.

mod coverage;
mod progress_json;
mod progress_neck;
mod progress_page;
mod set_page;

use std::io::Write;

use fretlib::practice::{Item, TuneId};
use jiff::civil::DateTime;

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
        .iter()
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
    history.each_review(|line: &ReviewLine| -> Result<(), Failure> {
        let (position, octave) = match line.item.placement {
            Some(placement) => (
                placement.position.get().to_string(),
                placement.octave.to_string(),
            ),
            None => (String::new(), String::new()),
        };
        let fields = [
            clock.written(line.at),
            line.tune.clone(),
            (line.note + 1).to_string(),
            (line.item.phrase + 1).to_string(),
            line.item.kind.to_string(),
            position,
            octave,
            line.question.clone(),
            line.answer.clone(),
            line.is_right.to_string(),
            format!("{:.1}", line.seconds),
        ];
        let fields: Vec<String> = fields.iter().map(|field| quoted(field)).collect();
        writeln!(out, "{}", fields.join(","))?;
        Ok(())
    })
}

/// A field by RFC 4180, made safe for a spreadsheet: an answer that begins like a formula is not taken for one.
fn quoted(field: &str) -> String {
    let is_number = field.parse::<f64>().is_ok();
    let field = if field.starts_with(['=', '+', '-', '@']) && !is_number {
        format!("'{field}")
    } else {
        field.to_string()
    };
    if field.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field
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
            assert_eq!(quoted(field), expected);
        }
    }
}
