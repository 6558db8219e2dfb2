//! `neckline arrange`.

use std::path::PathBuf;

use fretlib::arranging::{Density, Shape, Style, Texture, VoicingFilter};

use super::octave_args::OctaveArgs;
use super::played_args::PlayedArgs;
use crate::commands::arrange::ArrangeRequest;
use crate::output::Existing;
use crate::request::AskedTempo;

/// Prepare what sounds under a melody: voicings, fingers, and how the hand moves between them.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The melody is the highest note and keeps its length. Under it each voicing is drawn with string 1 on top and the lower fret \
at the left; a figure is the finger, `o` an open string, `x` one that does not sound. Below stand the shape from the lowest \
string, the degrees of the chord from the lowest note up to the melody, the order in which the fingers go down (`+` together), \
what is left out and which fingers stay.

Styles: plucked, pick, bass, two-voices, shells, full. Densities: sparse (new chords), medium (also the first note on a beat \
of each bar and notes of two beats), full (every note on a beat).

Playing can hurt a hand: keep stretches and barres short, stop at the first pain and rest; see a teacher or clinician if the \
pain stays.

Examples:
  neckline arrange                              the first built-in tune
  neckline arrange tune.abc --style shells --density sparse
  neckline arrange tune.ron --octave 0 --bare 7,12
  neckline arrange tune.ron --edit
  neckline arrange tune.ron --texture broken
  neckline arrange tune.ron --bare 7,8 --time 1 --save      bare first, full the second time
  neckline arrange tune.ron --note 13 --filter 'no root, top 2 strings'
  neckline arrange tune.ron --choose 13=x-10-x-10-11-10 --save
  neckline arrange tune.abc --chords-by-key --style bass
  neckline arrange tune.ron -o tune.musicxml
  neckline arrange tune.ron -o tune.wav --contrast 12
  neckline arrange tune.ron --json")]
pub struct ArrangeArgs {
    /// How it is plucked [default: plucked]
    #[arg(long, value_name = "STYLE")]
    style: Option<Style>,

    /// How many notes get a voicing [default: medium]
    #[arg(long, value_name = "DENSITY")]
    density: Option<Density>,

    /// When voicings sound: together, short, answer, broken
    ///
    /// short: long voicings end after a beat. answer: they come a beat after long melody notes, and again in rests. broken: one
    /// note at a time.
    #[arg(long, value_name = "TEXTURE", hide_short_help = true)]
    texture: Option<Texture>,

    /// Let the thumb come over the neck for the lowest string
    ///
    /// This bends the wrist: do it only on a neck narrow enough for your hand, and never force it.
    #[arg(long, hide_short_help = true)]
    thumb: bool,

    #[command(flatten)]
    octave: OctaveArgs,

    /// Beats a minute, or such as 70% [default: the tune's own]
    #[arg(long, value_name = "TEMPO", hide_short_help = true)]
    tempo: Option<AskedTempo>,

    /// Leave these notes bare, such as 7,12
    #[arg(long, value_name = "NOTES", value_delimiter = ',')]
    bare: Vec<usize>,

    /// Put a shape under a note, `NOTE=x-10-x-10-11-10`
    ///
    /// Frets from the lowest string, including the melody's. The rest is searched again around it.
    #[arg(long = "choose", value_name = "NOTE=SHAPE", value_parser = shape)]
    shapes: Vec<(usize, Shape)>,

    /// Use these choices only this time through a repeat
    #[arg(long, value_name = "TIME", value_parser = clap::value_parser!(u32).range(1..=99), hide_short_help = true)]
    time: Option<u32>,

    /// Choose on a full screen: voicings bar by bar
    ///
    /// Pick, pin, leave bare, undo; the rest is searched again each time. `?` shows the keys.
    #[arg(long, conflicts_with_all = ["json", "best", "why", "output", "note", "save"])]
    edit: bool,

    /// List the possible voicings of one note
    #[arg(long, value_name = "NOTE", conflicts_with_all = ["json", "best", "why", "output"])]
    note: Option<usize>,

    /// Only voicings like `no root, max 3 fingers`
    ///
    /// With `--note`: no root, no fifth, no open, no barre, top 2 strings, max 3 fingers, max 3 notes, max 60 mm, keep bass,
    /// complete; several with commas.
    #[arg(long, value_name = "WORDS", requires = "note", value_parser = filters, hide_short_help = true)]
    filter: Option<Filters>,

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
    #[arg(long, hide_short_help = true)]
    why: bool,

    /// Print one JSON object instead of a page
    #[arg(long, conflicts_with = "best")]
    json: bool,

    /// Write MusicXML, MIDI or WAV, by the file's ending
    ///
    /// MusicXML has two voices on the staff and tablature with the fingers of both; MIDI and WAV sound them, MIDI with the
    /// bars in written order, WAV with the repeats.
    #[arg(short, long, value_name = "FILE", conflicts_with_all = ["json", "best", "why"])]
    output: Option<PathBuf>,

    /// Replace a file that is there
    #[arg(long, requires = "output", hide_short_help = true)]
    replace: bool,

    /// How much softer each voicing sounds than the melody, in dB
    #[arg(long, value_name = "DB", default_value = "9", value_parser = decibels, hide_short_help = true)]
    contrast: f64,

    #[command(flatten)]
    played: PlayedArgs,
}

impl From<ArrangeArgs> for ArrangeRequest {
    fn from(args: ArrangeArgs) -> Self {
        ArrangeRequest {
            style: args.style,
            density: args.density,
            texture: args.texture,
            thumb: args.thumb,
            time: args.time,
            octave: args.octave.octave,
            tempo: args.tempo,
            bare: args.bare,
            shapes: args.shapes,
            choices: args.choices,
            save: args.save,
            edit: args.edit,
            chords_by_key: args.chords_by_key,
            best: args.best,
            why: args.why,
            note: args.note,
            filters: args.filter.unwrap_or_default().0,
            json: args.json,
            output: args.output,
            existing: Existing::from_option(args.replace),
            contrast: args.contrast,
            hand: args.played.hand.into(),
            tune: args.played.tune.into(),
            instrument: args.played.instrument.into(),
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

pub(super) fn decibels(text: &str) -> Result<f64, String> {
    let expected = || format!("expected decibels from 0 to 60 such as 9 or 9dB, found `{text}`");
    let number = text.trim_end_matches("dB").trim_end_matches("db").trim();
    let decibels: f64 = number.parse().map_err(|_| expected())?;
    if !(0.0..=60.0).contains(&decibels) {
        return Err(expected());
    }
    Ok(decibels)
}

/// Several filters as one value.
#[derive(Clone, Debug, Default)]
struct Filters(Vec<VoicingFilter>);

fn filters(text: &str) -> Result<Filters, String> {
    VoicingFilter::read_all(text)
        .map(Filters)
        .map_err(|error| error.to_string())
}
