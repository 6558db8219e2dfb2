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
    let mut row = String::new();
    let mut times = clock.times();
    let mut digits = itoa::Buffer::new();
    history.each_review(|line: &ReviewLine| -> Result<(), Failure> {
        row.clear();
        times.push(&mut row, line.at);
        row.push(',');
        quoted(&mut row, line.tune);
        for number in [line.note + 1, line.item.phrase + 1] {
            row.push(',');
            row.push_str(digits.format(number));
        }
        row.push(',');
        row.push_str(line.item.kind.name());
        row.push(',');
        if let Some(it) = line.item.placement {
            row.push_str(digits.format(it.position.get()));
            row.push(',');
            // As it is displayed, but a million times.
            row.push_str(if it.octave.get() > 0 { "+" } else { "" });
            row.push_str(digits.format(it.octave.get()));
        } else {
            row.push(',');
        }
        row.push(',');
        quoted(&mut row, line.question);
        row.push(',');
        quoted(&mut row, line.answer);
        row.push_str(if line.is_right { ",true," } else { ",false," });
        seconds(&mut row, line.milliseconds);
        row.push('\n');
        Ok(out.write_all(row.as_bytes())?)
    })
}

/// Adds seconds with one decimal place.
fn seconds(row: &mut String, milliseconds: i64) {
    let past_tenth = milliseconds.rem_euclid(100);
    if milliseconds < 0 || past_tenth == 50 {
        // Whether the seconds as a fraction of two lie above or below the middle is a long calculation.
        row.push_str(&format!("{:.1}", milliseconds as f64 / 1000.0));
        return;
    }
    let tenths = milliseconds / 100 + i64::from(past_tenth > 50);
    row.push_str(itoa::Buffer::new().format(tenths / 10));
    row.push('.');
    row.push_str(itoa::Buffer::new().format(tenths % 10));
}

/// Adds a field as RFC 4180 has it, and safe in a spreadsheet: an answer that begins like a formula is none.
fn quoted(row: &mut String, field: &str) {
    let is_formula = field.starts_with(['=', '+', '-', '@']) && field.parse::<f64>().is_err();
    let mark = if is_formula { "'" } else { "" };
    if field.contains(['"', ',', '\n', '\r']) {
        row.push_str(&format!("\"{mark}{}\"", field.replace('"', "\"\"")));
    } else {
        row.push_str(mark);
        row.push_str(field);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_have_one_decimal_place() {
        for milliseconds in (-200..20_000).chain([86_400_049, 86_400_051, 1 << 40]) {
            let mut row = String::new();
            seconds(&mut row, milliseconds);
            assert_eq!(row, format!("{:.1}", milliseconds as f64 / 1000.0));
        }
    }

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
            let mut row = String::new();
            quoted(&mut row, field);
            assert_eq!(row, expected);
        }
    }
}
