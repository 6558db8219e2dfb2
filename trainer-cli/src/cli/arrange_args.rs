//! `neckline arrange`.

use std::path::PathBuf;

use fretlib::arranging::{Density, Shape, Style};
use fretlib::melody::Tempo;
use fretlib::theory::Octave;

use super::fingering_args::tempo;
use super::hand_args::HandArgs;
use super::instrument_args::InstrumentArgs;
use super::tune_args::TuneArgs;
use crate::commands::arrange::ArrangeRequest;

/// Prepare what sounds under a melody: voicings, fingers, the way between them.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The melody is the highest note and keeps its length. Under it each voicing is drawn with string 1 on top and the lower
fret at the left; a figure is the finger, `o` an open string, `x` one that does not sound. Below stand the shape from the
lowest string, the degrees of the chord from the lowest note up to the melody, the order in which the fingers go down
(`+` together), what is left out and which fingers stay.

Styles: plucked, pick, bass, two-voices, shells, full. Densities: sparse (new chords), medium (also the first note on a
beat of each bar and notes of two beats), full (every note on a beat).

Playing can hurt a hand: keep stretches and barres short, stop at the first pain and rest; see a teacher or clinician
when it stays.

Examples:
  neckline arrange                              the first built-in tune
  neckline arrange tune.abc --style shells --density sparse
  neckline arrange tune.ron --octave 0 --bare 7,12
  neckline arrange tune.ron --choose 13=x-10-x-10-11-10 --save
  neckline arrange tune.abc --chords-by-key --style bass
  neckline arrange tune.ron --json")]
pub struct ArrangeArgs {
    /// How it is plucked [default: plucked]
    #[arg(long, value_name = "STYLE")]
    style: Option<Style>,

    /// How many notes get a voicing [default: medium]
    #[arg(long, value_name = "DENSITY")]
    density: Option<Density>,

    /// The octave to play in, such as +1
    ///
    /// Left open it is the written one, or the one with most room under the melody.
    #[arg(
        long,
        value_name = "OCTAVE",
        allow_hyphen_values = true,
        hide_short_help = true
    )]
    octave: Option<Octave>,

    /// Quarter notes a minute [default: the tune's own]
    #[arg(long, value_name = "BPM", value_parser = tempo, hide_short_help = true)]
    tempo: Option<Tempo>,

    /// Leave these notes bare, such as 7,12
    #[arg(long, value_name = "NOTES", value_delimiter = ',')]
    bare: Vec<usize>,

    /// Put a shape under a note, `NOTE=x-10-x-10-11-10`
    ///
    /// Frets from the lowest string, the melody's own among them. The rest is found anew around it.
    #[arg(long = "choose", value_name = "NOTE=SHAPE", value_parser = shape)]
    shapes: Vec<(usize, Shape)>,

    /// Keep what was chosen in the file beside the tune
    ///
    /// `tune.abc.arrangement.ron`, or `book.abc#3.arrangement.ron` with `--tune 3`: text to edit by hand. It is read again
    /// whenever the tune is arranged, and never written over when somebody else changed it meanwhile.
    #[arg(long)]
    save: bool,

    /// The file of the choices [default: the one beside the tune]
    #[arg(long, value_name = "FILE", hide_short_help = true)]
    choices: Option<PathBuf>,

    /// For a tune without chords: I, IV or V by the key, the one that fits each bar best
    #[arg(long, hide_short_help = true)]
    chords_by_key: bool,

    /// Show this many arrangements that differ somewhere
    #[arg(long, value_name = "K", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=9), hide_short_help = true)]
    best: u8,

    /// Show what each note costs, term by term
    #[arg(long)]
    why: bool,

    /// Print one JSON object instead of a page
    #[arg(long, conflicts_with = "best")]
    json: bool,

    #[command(flatten)]
    hand: HandArgs,

    #[command(flatten)]
    tune: TuneArgs,

    #[command(flatten)]
    instrument: InstrumentArgs,
}

impl From<ArrangeArgs> for ArrangeRequest {
    fn from(args: ArrangeArgs) -> Self {
        ArrangeRequest {
            style: args.style,
            density: args.density,
            octave: args.octave,
            tempo: args.tempo,
            bare: args.bare,
            shapes: args.shapes,
            choices: args.choices,
            save: args.save,
            chords_by_key: args.chords_by_key,
            best: args.best,
            why: args.why,
            json: args.json,
            hand: args.hand.into(),
            tune: args.tune.into(),
            instrument: args.instrument.into(),
        }
    }
}

fn shape(text: &str) -> Result<(usize, Shape), String> {
    let expected =
        || format!("expected a note and a shape such as 13=x-10-x-10-11-10, found `{text}`");
    let (number, shape) = text.split_once('=').ok_or_else(expected)?;
    let number: usize = number.trim().parse().map_err(|_| expected())?;
    let shape: Shape = shape.parse().map_err(|_| expected())?;
    Ok((number, shape))
}
