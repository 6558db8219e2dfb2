//! `neckline sheet`: the page for the music stand.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use fretlib::fingering::{Limits, Player, easiest};
use fretlib::mapping::{OpenStrings, Placement};
use fretlib::melody::analyse;
use fretlib::neck::Place;
use fretlib::practice::{Spot, TuneId};
use fretlib::sheet::{Page, Paper, Part, Sheet as Contents, html, pages, svg};
use fretlib::theory::Octave;

use crate::args::{DataArgs, InstrumentArgs, PlacementArgs, TuneArgs};
use crate::clock::{self, Clock};
use crate::failure::Failure;
use crate::hand::HandArgs;
use crate::history::{History, Progress};
use crate::instrument::instrument;
use crate::output::write_file;
use crate::page::{pdf, png};
use crate::placement::neck_map;
use crate::streams::Streams;
use crate::tune::{Tune, tune};

/// Make a page for the music stand: notation, tablature, necks and a practice grid.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
The format goes by the ending of the file's name: .pdf, .svg, .png or .html. A picture holds one page; when there are more \
they get numbers, tune-1.png, tune-2.png. In the HTML a click on a note shows it on every neck.

Parts: heading, notation, chords, degrees, intervals, tablature, outside (the notes outside the scale), necks, grid (boxes \
to tick). --position and --octave pick what the tablature shows, --positions which necks are drawn and practised.

Examples:
  neckline sheet -o ballad.pdf
  neckline sheet tune.abc -o tune.html --position V
  neckline sheet tune.ron -o tune.pdf --parts heading,notation,tablature --paper letter
  neckline sheet tune.ron -o lesson.pdf --student
  neckline sheet tune.ron -o week.pdf --from-progress")]
pub struct Sheet {
    /// The file to write: .pdf, .svg, .png or .html
    #[arg(long, short, value_name = "FILE")]
    pub output: PathBuf,

    /// The size of the paper
    #[arg(long, value_enum, default_value_t = PaperArg::A4, value_name = "SIZE")]
    pub paper: PaperArg,

    /// What is on the sheet, such as notation,necks [default: all but intervals]
    #[arg(long, value_name = "PARTS", value_delimiter = ',', value_parser = part)]
    pub parts: Vec<Part>,

    /// Leave blanks to fill in, and add the answers at the end
    #[arg(long)]
    pub student: bool,

    /// Put the weakest positions first, by the practice history; those never asked about come last
    #[arg(long)]
    pub from_progress: bool,

    /// Take this for the present time, such as 2026-11-22T18:00
    #[arg(long, value_name = "TIME", value_parser = clock::read_time)]
    pub now: Option<jiff::civil::DateTime>,

    #[command(flatten)]
    pub placement: PlacementArgs,

    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub hand: HandArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,

    #[command(flatten)]
    pub data: DataArgs,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub enum PaperArg {
    /// 210 by 297 mm
    A4,
    /// 8½ by 11 inches
    Letter,
}

/// For printing with: a laser printer shows no more.
const DOTS_PER_INCH: f64 = 200.0;

#[derive(Clone, Copy)]
enum Format {
    Pdf,
    Svg,
    Png,
    Html,
}

/// Writes the sheet.
pub fn run(args: &Sheet, streams: &mut Streams) -> Result<(), Failure> {
    let format = format_of(&args.output)?;
    let instrument = instrument(&args.instrument)?;
    let tune = tune(&args.tune, streams)?;
    let map = neck_map(&tune, &instrument, OpenStrings::default())?;
    let best = args.placement.pick(&map, &instrument)?;
    let mut placements: Vec<&Placement> = map
        .whole()
        .filter(|it| args.placement.is_in_range(it))
        .collect();
    if args.from_progress {
        weakest_first(&mut placements, args, instrument.name(), streams)?;
    }
    if placements.is_empty() {
        writeln!(
            streams.stderr,
            "note: no position holds the whole melody, so there are no necks to draw; try `--bars` or `--transpose`"
        )?;
    }
    // The tablature shows what the player picked, else what needs work most, else the easiest.
    let is_picked = args.placement.is_picked();
    let weakest = placements
        .first()
        .filter(|_| args.from_progress && !is_picked);
    let tablature = weakest.copied().unwrap_or(best);
    let (places, caption) = if tablature.is_whole() || is_picked {
        in_one_position(tablature, &tune)
    } else {
        let player = Player {
            instrument: &instrument,
            hand: args.hand.hand(streams)?,
        };
        along_the_neck(tablature.octave, args, &tune, &player)
            .unwrap_or_else(|| in_one_position(tablature, &tune))
    };
    let notes = analyse(&tune.melody, tune.key);
    let all_but_intervals = Part::ALL.into_iter().filter(|it| *it != Part::Intervals);
    let parts: Vec<Part> = if args.parts.is_empty() {
        all_but_intervals.collect()
    } else {
        args.parts.clone()
    };
    let sheet = Contents {
        melody: &tune.melody,
        notes: &notes,
        key: tune.key,
        instrument: &instrument,
        places: &places,
        caption: &caption,
        placements: &placements,
        parts: &parts,
        left_handed: args.instrument.left_handed,
        is_for_student: args.student,
    };
    let paper = match args.paper {
        PaperArg::A4 => Paper::A4,
        PaperArg::Letter => Paper::Letter,
    };
    let title = tune.melody.title();
    let written = match format {
        Format::Html => {
            write_file(&args.output, html(&sheet, paper).as_bytes())?;
            vec![args.output.clone()]
        }
        Format::Pdf => {
            let bytes = pdf(&pages(&sheet, paper), title).map_err(drawing_failed)?;
            write_file(&args.output, &bytes)?;
            vec![args.output.clone()]
        }
        Format::Svg => write_each(&pages(&sheet, paper), &args.output, |page| {
            Ok(svg(page, title).into_bytes())
        })?,
        Format::Png => write_each(&pages(&sheet, paper), &args.output, |page| {
            png(page, DOTS_PER_INCH).map_err(drawing_failed)
        })?,
    };
    for path in written {
        writeln!(streams.stdout, "{}", path.display())?;
    }
    Ok(())
}

/// Orders placements by how likely each is to be remembered now; nothing to go by leaves them as they are.
fn weakest_first(
    placements: &mut [&Placement],
    args: &Sheet,
    instrument: &str,
    streams: &mut Streams,
) -> Result<(), Failure> {
    // The history knows a tune by all of it, whichever bars are on the sheet.
    let whole = TuneArgs {
        bars: None,
        ..args.tune.clone()
    };
    let id = TuneId::of(&tune(&whole, streams)?.melody);
    let now = Clock::from_option(args.now)?.now();
    let progress = match History::open_to_read(&args.data.folder()?)? {
        Some(history) => history.progress(&history.model()?, now)?,
        None => Progress::default(),
    };
    let tune = progress
        .tunes
        .iter()
        .find(|it| it.tune.id == id && it.instrument == instrument);
    let Some(tune) = tune else {
        writeln!(
            streams.stderr,
            "note: the history has nothing of this tune on the {instrument}; `neckline drill` begins it"
        )?;
        return Ok(());
    };
    let mut recalls: BTreeMap<Spot, Vec<f64>> = BTreeMap::new();
    for ((_, spot), recall) in tune.grid() {
        if let Some(spot) = spot {
            recalls.entry(spot).or_default().push(recall);
        }
    }
    // No recall is above 1, so that what was never asked about sorts last.
    let recall = |placement: &Placement| {
        let spot = Spot {
            position: placement.position,
            octave: placement.octave,
        };
        recalls
            .get(&spot)
            .map_or(2.0, |all| all.iter().sum::<f64>() / all.len() as f64)
    };
    placements.sort_by(|one, other| recall(one).total_cmp(&recall(other)));
    Ok(())
}

/// The tablature of one placement, and what to call it.
fn in_one_position(placement: &Placement, tune: &Tune) -> (Vec<Option<Place>>, String) {
    let mut places = vec![None; tune.melody.notes().len()];
    for placed in &placement.places {
        places[placed.note] = Some(placed.place);
    }
    let missing = match placement.missing.len() {
        0 => String::new(),
        1 => "; 1 note is out of reach there".into(),
        count => format!("; {count} notes are out of reach there"),
    };
    let octave = placement.octave.in_words();
    let caption = format!("{} position, {octave}{missing}", placement.position);
    (places, caption)
}

/// The tablature of the best way along the neck, for a melody that no position holds; none when no hand can play it.
fn along_the_neck(
    octave: Octave,
    args: &Sheet,
    tune: &Tune,
    player: &Player,
) -> Option<(Vec<Option<Place>>, String)> {
    let limits = Limits {
        positions: args.placement.positions.clone(),
        ..Limits::default()
    };
    let way = easiest(player, &tune.melody, octave, &limits)?;
    let places = way.steps.iter().map(|step| Some(step.place)).collect();
    let shifts = match way.shifts().count() {
        1 => "1 shift".to_string(),
        count => format!("{count} shifts"),
    };
    let octave = octave.in_words();
    Some((
        places,
        format!("the best way along the neck, {octave}, {shifts}"),
    ))
}

fn drawing_failed(problem: String) -> Failure {
    Failure::could_not(
        format!("the sheet cannot be drawn: {problem}"),
        "try another format, or fewer `--parts`",
    )
}

/// One file a page, numbered when there are several.
fn write_each(
    pages: &[Page],
    output: &Path,
    draw: impl Fn(&Page) -> Result<Vec<u8>, Failure>,
) -> Result<Vec<PathBuf>, Failure> {
    let mut written = Vec::with_capacity(pages.len());
    for (index, page) in pages.iter().enumerate() {
        let path = if pages.len() == 1 {
            output.to_path_buf()
        } else {
            numbered(output, index + 1)
        };
        write_file(&path, &draw(page)?)?;
        written.push(path);
    }
    Ok(written)
}

/// `tune.png` becomes `tune-2.png`.
fn numbered(path: &Path, number: usize) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_os_string();
    name.push(format!("-{number}"));
    if let Some(extension) = path.extension() {
        name.push(".");
        name.push(extension);
    }
    path.with_file_name(name)
}

fn format_of(path: &Path) -> Result<Format, Failure> {
    let extension = path.extension().and_then(|it| it.to_str()).unwrap_or("");
    match extension.to_ascii_lowercase().as_str() {
        "pdf" => Ok(Format::Pdf),
        "svg" => Ok(Format::Svg),
        "png" => Ok(Format::Png),
        "html" | "htm" => Ok(Format::Html),
        _ => Err(Failure::usage(
            format!("`{}` names no format that can be written", path.display()),
            "end the name with .pdf, .svg, .png or .html",
        )),
    }
}

fn part(text: &str) -> Result<Part, String> {
    let found = Part::ALL
        .into_iter()
        .find(|part| part.name() == text.trim());
    found.ok_or_else(|| {
        let names: Vec<&str> = Part::ALL.iter().map(|part| part.name()).collect();
        format!("the parts are {}", names.join(", "))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_pages_get_numbers() {
        let cases = [
            ("tune.png", "tune-2.png"),
            ("a.b/tune.v1.svg", "a.b/tune.v1-2.svg"),
        ];
        for (path, expected) in cases {
            assert_eq!(numbered(Path::new(path), 2), Path::new(expected));
        }
    }

    #[test]
    fn parts_have_names() {
        for wanted in Part::ALL {
            assert_eq!(part(wanted.name()), Ok(wanted));
        }
        assert!(part("lyrics").unwrap_err().contains("necks"));
    }
}
