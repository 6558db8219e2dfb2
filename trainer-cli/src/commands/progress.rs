//! `neckline progress`: how much of each tune is remembered, and where.

mod ground;
mod json;
mod neck;
mod page;

use std::io::Write;

use crate::args::DataArgs;
use crate::clock::{self, Clock};
use crate::failure::Failure;
use crate::history::{History, HistoryError, Progress, ReviewLine};
use crate::paint;
use crate::streams::Streams;
use ground::Ground;

/// Show how much of each tune is remembered, and where on the neck.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
For each tune and octave a grid of phrases by positions, shaded by how likely each is to be remembered now, with a dot \
where nothing has been asked yet; then the weakest with the command that drills them, what keeps slipping, and the answers of the last days.

Examples:
  neckline progress
  neckline progress --json
  neckline progress --csv > answers.csv")]
pub struct ProgressArgs {
    /// Print one JSON object instead of a page
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,

    /// Print every answer as comma-separated values
    #[arg(long)]
    pub csv: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = clock::read_time)]
    pub now: Option<jiff::civil::DateTime>,

    #[command(flatten)]
    pub data: DataArgs,
}

/// Prints the page, the JSON or the table.
pub fn run(args: &ProgressArgs, streams: &mut Streams) -> Result<(), Failure> {
    let clock = Clock::from_option(args.now)?;
    let folder = args.data.folder()?;
    let history = History::open_to_read(&folder).map_err(|error| unreadable(&error))?;
    let progress = match &history {
        Some(history) if !args.csv => {
            let model = history.model().map_err(|error| unreadable(&error))?;
            history
                .progress(&model, clock.now())
                .map_err(|error| unreadable(&error))?
        }
        _ => Progress::default(),
    };
    if args.json {
        serde_json::to_writer(&mut streams.stdout, &json::Document::new(&progress))
            .map_err(std::io::Error::from)?;
        writeln!(streams.stdout)?;
        return Ok(());
    }
    if args.csv {
        return table(history.as_ref(), &clock, streams);
    }
    if progress.reviews == 0 {
        writeln!(
            streams.stdout,
            "no answers yet: `neckline drill` asks the first questions"
        )?;
        return Ok(());
    }
    let grounds: Vec<Option<Ground>> = progress
        .tunes
        .iter()
        .map(|tune| Ground::of(&tune.tune))
        .collect();
    let page = page::Page {
        progress: &progress,
        grounds: &grounds,
        ascii: streams.ascii,
        width: streams.width,
    };
    paint::write(streams, &page.draw())?;
    Ok(())
}

fn unreadable(error: &HistoryError) -> Failure {
    Failure::could_not(
        error.to_string(),
        "the file is left as it is; `neckline history restore` puts a backup in its place",
    )
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
        let (position, octave) = match line.item.spot {
            Some(spot) => (spot.position.get().to_string(), spot.octave.to_string()),
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

/// A field as RFC 4180 has it, and safe in a spreadsheet: an answer that begins like a formula is none.
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

impl From<HistoryError> for Failure {
    fn from(error: HistoryError) -> Self {
        unreadable(&error)
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
