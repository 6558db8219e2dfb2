//! The command line.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};
use fretlib::melody::Quarters;
use fretlib::neck::Position;
use fretlib::theory::{Interval, Octave, PitchClass};

use crate::commands::{
    convert, drill, fingering, history, instruments, map, progress, sheet, today, tunes,
};

/// Own a melody everywhere on the neck before you arrange it.
#[derive(Debug, Parser)]
#[command(
    name = "neckline",
    version,
    about,
    arg_required_else_help = true,
    max_term_width = 100,
    after_help = "Exit codes: 0 done, 1 could not, 2 wrong usage or unreadable input.",
    after_long_help = "\
Examples:
  neckline map                      where the first built-in tune lies
  neckline map my-tune.ron          a tune of your own
  neckline map tune.abc --position V
  neckline fingering tune.abc       the best way through it along the neck
  neckline drill tune.abc           questions about it, wherever it lies
  neckline sheet tune.abc -o t.pdf  a page for the music stand
  neckline tunes                    the built-in tunes

Exit codes: 0 done, 1 could not, 2 wrong usage or unreadable input."
)]
pub struct Args {
    #[command(subcommand)]
    pub command: Command,

    /// When to use colour
    #[arg(long, global = true, value_enum, default_value_t = Color::Auto, value_name = "WHEN", help_heading = "Screen")]
    pub color: Color,

    /// Draw with ASCII characters only
    #[arg(long, global = true, help_heading = "Screen")]
    pub ascii: bool,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Show where a melody lies on the neck, position by position and octave by octave
    Map(map::Map),
    /// Ask where the notes of a melody are, and what they are
    Drill(drill::Drill),
    /// Say what is due today over all tunes practised, and drill it
    Today(today::Today),
    /// Show how much of each tune is remembered, and where on the neck
    Progress(progress::ProgressArgs),
    /// Back up the practice history, or restore it
    History(history::HistoryArgs),
    /// Make a page for the music stand: notation, tablature, necks and a practice grid
    Sheet(sheet::Sheet),
    /// Write a tune in another format: RON, ABC, MusicXML with tablature, or MIDI
    Convert(convert::Convert),
    /// Find the best way through a melody along the neck: positions, shifts, fingers
    Fingering(Box<fingering::Fingering>),
    /// List the built-in tunes, or the tunes of a file
    Tunes(tunes::Tunes),
    /// List the built-in instruments
    Instruments(instruments::Instruments),
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub enum Color {
    /// When the terminal takes it
    Auto,
    /// In any case
    Always,
    /// Not at all
    Never,
}

/// Which tune, and what is done to it before anything else.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Tune")]
pub struct TuneArgs {
    /// A built-in tune, a file, or `-` for standard input [default: the first built-in tune]
    #[arg(value_name = "TUNE", display_order = 0)]
    pub tune: Option<String>,

    /// The number of the tune in a tune book
    #[arg(long = "tune", value_name = "N", display_order = 1)]
    pub number: Option<u32>,

    /// The voice to read, by its id or name
    #[arg(long, value_name = "VOICE")]
    pub voice: Option<String>,

    /// The part of a score to read, by its name or number [default: the one most like a lead line]
    #[arg(long, value_name = "PART")]
    pub part: Option<String>,

    /// The track of a MIDI file to read, by its name or number [default: the most melodic]
    #[arg(long, value_name = "TRACK")]
    pub track: Option<String>,

    /// The note value that a MIDI file's notes are rounded to, such as 1/16 [default: found from the file]
    #[arg(long, value_name = "VALUE", value_parser = note_value)]
    pub grid: Option<Quarters>,

    /// Octaves from the numbers in a MIDI file to the written notes, such as +1 [default: by its program]
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = clap::value_parser!(i8).range(-10..=10))]
    pub octave_shift: Option<i8>,

    /// The key, such as `E minor`, or `estimate` to find it from the notes [default: the tune's own]
    #[arg(long, value_name = "KEY")]
    pub key: Option<String>,

    /// Only these bars, such as 1-8 or 5
    #[arg(long, value_name = "BARS", value_parser = numbers)]
    pub bars: Option<RangeInclusive<u32>>,

    /// Move the tune by an interval, such as +m3 or -P4
    #[arg(
        long,
        value_name = "INTERVAL",
        conflicts_with = "to_key",
        allow_hyphen_values = true
    )]
    pub transpose: Option<Interval>,

    /// Move the tune to the key on this note, the nearest way
    #[arg(long, value_name = "TONIC")]
    pub to_key: Option<PitchClass>,
}

/// Which instrument.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Instrument")]
pub struct InstrumentArgs {
    /// A built-in instrument or a file that describes one [default: guitar]
    #[arg(long, value_name = "NAME")]
    pub instrument: Option<String>,

    /// The open strings from the lowest, such as `D A D G B E` or `G3 C4 E4 A4`
    #[arg(long, value_name = "STRINGS")]
    pub tuning: Option<String>,

    /// The number of frets [default: the instrument's own]
    #[arg(long, value_name = "N")]
    pub frets: Option<u8>,

    /// The fret the capo is on [default: none]
    #[arg(long, value_name = "FRET")]
    pub capo: Option<u8>,

    /// Draw the neck for a left-handed player
    #[arg(long)]
    pub left_handed: bool,
}

/// Which of a tune's placements on the neck are looked at, and which one is drawn.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Position and octave")]
pub struct PlacementArgs {
    /// The position to draw, such as V or 5 [default: the best]
    #[arg(long, value_name = "POSITION")]
    pub position: Option<Position>,

    /// The octave to draw, such as +1 [default: the best]
    #[arg(long, value_name = "OCTAVE", allow_hyphen_values = true)]
    pub octave: Option<Octave>,

    /// Only these positions, such as 2-9 or II-IX
    #[arg(long, value_name = "POSITIONS", value_parser = positions)]
    pub positions: Option<RangeInclusive<Position>>,
}

/// Where the practice history is.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "History")]
pub struct DataArgs {
    /// The folder of the practice history [default: neckline in the user's data folder]
    #[arg(
        long,
        value_name = "FOLDER",
        env = "NECKLINE_DATA_DIR",
        hide_env_values = true
    )]
    pub data_dir: Option<PathBuf>,
}

/// Reads `5` or `2-9`.
pub fn range<T: PartialOrd + Clone>(
    text: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<RangeInclusive<T>, String> {
    // The en dash is what a player's notes app makes of a hyphen.
    let (first, last) = match text.split_once(['-', '–']) {
        Some((first, last)) => (read(first.trim())?, read(last.trim())?),
        None => (read(text)?, read(text)?),
    };
    if first > last {
        return Err(format!("`{text}` ends before it begins"));
    }
    Ok(first..=last)
}

/// Reads a note value such as `1/16` as its length in quarter notes.
fn note_value(text: &str) -> Result<Quarters, String> {
    let denominator = text.strip_prefix("1/").and_then(|it| it.parse().ok());
    denominator
        .filter(|denominator| (1..=64).contains(denominator))
        .map(|denominator| Quarters::new(4, denominator))
        .ok_or_else(|| format!("expected a note value such as 1/8, 1/12 or 1/16, found `{text}`"))
}

/// Reads a number or a range of numbers: `5`, `1-8`.
pub fn numbers(text: &str) -> Result<RangeInclusive<u32>, String> {
    range(text, |number| {
        number
            .parse()
            .map_err(|_| format!("expected numbers such as 1-8, found `{text}`"))
    })
}

/// Reads a position or a range of positions: `V`, `2-9`, `II-IX`.
pub fn positions(text: &str) -> Result<RangeInclusive<Position>, String> {
    range(text, |word| {
        word.parse::<Position>().map_err(|error| error.to_string())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Args::command().debug_assert();
    }

    #[test]
    fn ranges_are_read_and_checked() {
        assert_eq!(numbers("1-8"), Ok(1..=8));
        assert_eq!(numbers("5"), Ok(5..=5));
        for text in ["", "8-1", "a", "1-", "-3", "99999999999"] {
            assert!(numbers(text).is_err(), "{text}");
        }
        let found = positions("II-IX").unwrap();
        assert_eq!((found.start().get(), found.end().get()), (2, 9));
        assert!(positions("0-4").is_err());
    }
}
