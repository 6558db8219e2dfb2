//! `neckline tunes`: the built-in tunes, or the tunes of a book.

mod check;

use std::io::Write;

use fretlib::format::abc;
use fretlib::melody::Melody;

use crate::failure::Failure;
use crate::input::built_in_tunes::{BUILT_IN, built_in};
use crate::input::bytes_of;
use crate::report::count::count;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// What to list.
#[derive(Debug)]
pub enum TunesRequest {
    /// The built-in tunes.
    BuiltIn,
    /// The text of the built-in tune of this name.
    Show(String),
    /// The tunes of the book of this name.
    OfBook(String),
    /// What is read of a file, and what is guessed.
    Check(TuneRequest),
}

/// Prints a line for each tune, or the text of one.
pub fn run(request: &TunesRequest, streams: &mut Streams) -> Result<(), Failure> {
    match request {
        TunesRequest::BuiltIn => list_built_in(streams),
        TunesRequest::Show(name) => show(name, streams),
        TunesRequest::OfBook(name) => list_book(name, streams),
        TunesRequest::Check(tune) => check::run(tune, streams),
    }
}

fn show(name: &str, streams: &mut Streams) -> Result<(), Failure> {
    let Some(tune) = built_in(name) else {
        return Err(Failure::usage(
            format!("there is no built-in tune called `{name}`"),
            "`neckline tunes` lists them",
        ));
    };
    streams.stdout.write_all(tune.source().as_bytes())?;
    Ok(())
}

fn list_built_in(streams: &mut Streams) -> Result<(), Failure> {
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
        "{}{}{}, {}",
        melody.title(),
        key.unwrap_or_default(),
        meter.unwrap_or_default(),
        count(bars, "bar")
    )
}

fn list_book(name: &str, streams: &mut Streams) -> Result<(), Failure> {
    let bytes = bytes_of(name, streams)?;
    let tunes = abc::tunes(&bytes);
    if tunes.is_empty() {
        return Err(Failure::usage(
            format!("`{name}` is not a tune book"),
            "a tune book is ABC: each tune begins with a line such as `X: 1`",
        ));
    }
    for tune in tunes {
        writeln!(streams.stdout, "{:>5}  {}", tune.number, tune.title)?;
    }
    Ok(())
}
