//! `neckline tunes`: the built-in tunes, or the tunes of a book.

use std::io::Write;

use fretlib::format::abc;
use fretlib::melody::Melody;

use crate::failure::Failure;
use crate::streams::Streams;
use crate::tune::{self, built_in};
use crate::tunes::BUILT_IN;

/// List the built-in tunes, or the tunes of a file.
#[derive(Debug, clap::Args)]
pub struct Tunes {
    /// A tune book in ABC; its tunes are listed with the numbers for `--tune`
    #[arg(value_name = "FILE")]
    pub file: Option<String>,

    /// Print the text of a built-in tune, to start one of your own from
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    pub show: Option<String>,
}

/// Prints a line for each tune.
pub fn run(args: &Tunes, streams: &mut Streams) -> Result<(), Failure> {
    if let Some(name) = &args.show {
        let Some(tune) = built_in(name) else {
            return Err(Failure::usage(
                format!("there is no built-in tune called `{name}`"),
                "`neckline tunes` lists them",
            ));
        };
        streams.stdout.write_all(tune.source().as_bytes())?;
        return Ok(());
    }
    if let Some(name) = &args.file {
        return list_book(name, streams);
    }
    let out = &mut streams.stdout;
    let width = BUILT_IN.iter().map(|it| it.name.len()).max().unwrap_or(0);
    for it in &BUILT_IN {
        writeln!(out, "{:width$}  {}", it.name, summary(it.melody()))?;
    }
    Ok(())
}

/// Title, key, meter and length.
fn summary(melody: &Melody) -> String {
    let key = melody.keys().first().map(|key| format!(", {key}"));
    let meter = melody
        .meters()
        .first()
        .copied()
        .flatten()
        .map(|meter| format!(", {meter}"));
    let bars = melody.bars().iter().filter(|bar| bar.number > 0).count();
    format!(
        "{}{}{}, {bars} bars",
        melody.title(),
        key.unwrap_or_default(),
        meter.unwrap_or_default()
    )
}

fn list_book(name: &str, streams: &mut Streams) -> Result<(), Failure> {
    let bytes = tune::bytes_of(name, streams)?;
    let tunes = abc::tunes(&bytes);
    if tunes.is_empty() {
        return Err(Failure::usage(
            format!("`{name}` is no tune book"),
            "a tune book is ABC: each tune begins with a line such as `X: 1`",
        ));
    }
    for tune in tunes {
        writeln!(streams.stdout, "{:>5}  {}", tune.number, tune.title)?;
    }
    Ok(())
}
