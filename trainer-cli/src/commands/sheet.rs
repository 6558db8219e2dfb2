//! `neckline sheet`: the page for the music stand.

use std::collections::BTreeMap;
use std::io::Write;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use fretlib::fingering::{FingeringSearch, Player};
use fretlib::mapping::{OpenStrings, Placement};
use fretlib::melody::Melody;
use fretlib::practice::{PlacementKey, TuneId};
use fretlib::sheet::{Answers, Page, Paper, Part, Sheet, TabPlace, html, pages, svg};
use fretlib::theory::Octave;

use jiff::civil::DateTime;

use crate::export::{pdf, png};
use crate::failure::Failure;
use crate::history::{History, Progress};
use crate::input::tune::Tune;
use crate::output::{Existing, refuse_existing, write_file};
use crate::report::count::count;
use crate::request::{
    HandRequest, HistoryFolder, InstrumentRequest, PlacementRequest, TuneRequest, neck_map,
};
use crate::terminal::{Clock, Streams};

/// What to put on paper, and where.
#[derive(Debug)]
pub struct SheetRequest {
    /// The file to write.
    pub output: PathBuf,
    /// What is done about files that are there.
    pub existing: Existing,
    /// The size of the paper.
    pub paper: Paper,
    /// What is on the sheet.
    pub parts: Vec<Part>,
    /// How many bars go on a line.
    pub bars_per_line: Option<usize>,
    /// The phrases whose order of notes is written on the necks, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
    /// Whether it is an exercise.
    pub answers: Answers,
    /// Put the weakest positions first, by the practice history.
    pub from_progress: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// The placements on the sheet, and the one in the tablature.
    pub placement: PlacementRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// How many necks go on their page: those to practise first.
const NECKS: usize = 4;

/// The most bars on a sheet, some 150 pages, and the most notes, where there are no bars to speak of.
const MOST_BARS: usize = 2000;
const MOST_NOTES_ON_A_SHEET: usize = 20_000;

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
pub fn run(request: &SheetRequest, streams: &mut Streams) -> Result<(), Failure> {
    let format = format_of(&request.output)?;
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    refuse_endless(&tune.melody)?;
    let map = neck_map(
        &tune,
        &instrument,
        OpenStrings::default(),
        request.hand.preference(streams)?,
    )?;
    let best = request.placement.pick(&map, &instrument)?;
    let mut whole: Vec<&Placement> = map
        .whole()
        .filter(|it| request.placement.is_in_range(it))
        .collect();
    let needs_whole = |part: &Part| matches!(part, Part::Necks | Part::Grid);
    if whole.is_empty() && request.parts.iter().any(needs_whole) {
        writeln!(
            streams.stderr,
            "note: no position holds the whole melody, so there are no necks to draw; try `--bars` or `--transpose`"
        )?;
    }
    if request.from_progress {
        weakest_first(&mut whole, request, instrument.name(), streams)?;
    }
    // The tablature shows the position the player picked, else the one that needs work most, else the player's fingering.
    let weakest = whole.first().filter(|_| request.from_progress);
    let in_position = match (request.placement.position, weakest) {
        (Some(_), _) => Some(best),
        (None, Some(weakest)) => Some(*weakest),
        (None, None) => None,
    };
    let along = match in_position {
        Some(_) => None,
        None => {
            let hand = request.hand.open(streams)?;
            let player = Player {
                instrument: &instrument,
                hand,
            };
            along_the_neck(best.octave, request, &tune, &player)
        }
    };
    let (places, caption) =
        along.unwrap_or_else(|| in_one_position(in_position.unwrap_or(best), &tune));
    let necks = match request.from_progress {
        true => whole.iter().copied().take(NECKS).collect(),
        false => map.to_practise(NECKS, |it| request.placement.is_in_range(it)),
    };
    let notes = tune.melody.analyse(tune.key);
    let sheet = Sheet {
        melody: &tune.melody,
        notes: &notes,
        key: tune.key,
        instrument: &instrument,
        places: &places,
        caption: &caption,
        necks: &necks,
        order: &order(request, &tune)?,
        grid: &whole,
        parts: &request.parts,
        bars_per_line: request.bars_per_line,
        left_handed: request.instrument.left_handed,
        answers: request.answers,
    };
    let paper = request.paper;
    let title = tune.melody.title();
    let written = match format {
        Format::Html => {
            write_file(
                &request.output,
                html(&sheet, paper).as_bytes(),
                request.existing,
            )?;
            vec![request.output.clone()]
        }
        Format::Pdf => {
            let bytes = pdf(&pages(&sheet, paper), title).map_err(drawing_failed)?;
            write_file(&request.output, &bytes, request.existing)?;
            vec![request.output.clone()]
        }
        Format::Svg => write_each(&pages(&sheet, paper), request, |page| {
            Ok(svg(page, title).into_bytes())
        })?,
        Format::Png => write_each(&pages(&sheet, paper), request, |page| {
            png(page, DOTS_PER_INCH).map_err(drawing_failed)
        })?,
    };
    for path in written {
        writeln!(streams.stdout, "{}", path.display())?;
    }
    Ok(())
}

/// The notes of the phrases whose order is asked for.
fn order(request: &SheetRequest, tune: &Tune) -> Result<Vec<usize>, Failure> {
    let Some(asked) = &request.phrases else {
        return Ok(Vec::new());
    };
    let phrases = tune.melody.phrases();
    let numbered = (1u32..).zip(phrases.iter().cloned());
    let wanted = numbered.filter(|(number, _)| asked.contains(number));
    let notes: Vec<usize> = wanted.flat_map(|(_, notes)| notes).collect();
    if notes.is_empty() {
        return Err(Failure::usage(
            format!("there is no phrase {}", asked.start()),
            format!("the tune has phrases 1 to {}", phrases.len()),
        ));
    }
    Ok(notes)
}

/// What nobody would print is not set: it would take hours and gigabytes.
fn refuse_endless(melody: &Melody) -> Result<(), Failure> {
    let (bars, notes) = (melody.bars().len(), melody.notes().len());
    let problem = if bars > MOST_BARS {
        format!("the tune has {bars} bars, and a sheet holds at most {MOST_BARS}")
    } else if notes > MOST_NOTES_ON_A_SHEET {
        format!("the tune has {notes} notes, and a sheet holds at most {MOST_NOTES_ON_A_SHEET}")
    } else {
        return Ok(());
    };
    Err(Failure::could_not(
        problem,
        "set a part of it with `--bars`, such as `--bars 1-64`",
    ))
}

/// Orders placements by how likely each is to be played right now; nothing to go by leaves them as they are.
fn weakest_first(
    placements: &mut [&Placement],
    request: &SheetRequest,
    instrument: &str,
    streams: &mut Streams,
) -> Result<(), Failure> {
    // The history knows a tune by all of it, whichever bars are on the sheet.
    let id = TuneId::of(&request.tune.whole().open(streams)?.melody);
    let now = Clock::from_option(request.now)?.now();
    let progress = match History::open_to_read(&request.folder.path()?)? {
        Some(history) => history.progress(&history.model()?, now, Some(id))?,
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
    let mut recalls: BTreeMap<PlacementKey, Vec<f64>> = BTreeMap::new();
    for ((_, placement), recall) in tune.grid(&BTreeMap::new()) {
        if let Some(placement) = placement {
            recalls.entry(placement).or_default().push(recall);
        }
    }
    // No recall is above 1, so that what was never asked about sorts last.
    let recall = |placement: &Placement| {
        let placement = PlacementKey {
            position: placement.position,
            octave: placement.octave,
        };
        recalls
            .get(&placement)
            .map_or(2.0, |all| all.iter().sum::<f64>() / all.len() as f64)
    };
    placements.sort_by(|one, other| recall(one).total_cmp(&recall(other)));
    Ok(())
}

/// The tablature of one placement, and what to call it.
fn in_one_position(placement: &Placement, tune: &Tune) -> (Vec<Option<TabPlace>>, String) {
    let mut places = vec![None; tune.melody.notes().len()];
    for placed in placement.places() {
        places[placed.note] = Some(TabPlace {
            place: placed.place,
            finger: placed.finger,
            position: placement.position,
        });
    }
    let missing = match placement.missing_count() {
        0 => String::new(),
        1 => "; 1 note is out of reach there".into(),
        missing => format!("; {missing} notes are out of reach there"),
    };
    let octave = placement.octave.in_words();
    let caption = format!("{} position, {octave}{missing}", placement.position);
    (places, caption)
}

/// The tablature of the best way along the neck, for a melody that no position holds; none when no hand can play it.
fn along_the_neck(
    octave: Octave,
    request: &SheetRequest,
    tune: &Tune,
    player: &Player,
) -> Option<(Vec<Option<TabPlace>>, String)> {
    let mut search = FingeringSearch::new(*player);
    search.constraints.positions = request.placement.positions;
    let fingering = search.best(&tune.melody, octave)?;
    let places = fingering
        .notes
        .iter()
        .map(|note| {
            Some(TabPlace {
                place: note.place,
                finger: note.finger,
                position: note.position,
            })
        })
        .collect();
    let shifts = count(fingering.shifts().count(), "shift");
    let octave = octave.in_words();
    Some((places, format!("along the neck, {octave}, {shifts}")))
}

fn drawing_failed(problem: String) -> Failure {
    Failure::could_not(
        format!("the sheet cannot be drawn: {problem}"),
        "try another format, or fewer `--parts`",
    )
}

/// One file a page, numbered when there are several; none when one of them is in the way.
fn write_each(
    pages: &[Page],
    request: &SheetRequest,
    draw: impl Fn(&Page) -> Result<Vec<u8>, Failure>,
) -> Result<Vec<PathBuf>, Failure> {
    let paths: Vec<PathBuf> = match pages.len() {
        1 => vec![request.output.clone()],
        count => (1..=count)
            .map(|it| numbered(&request.output, it))
            .collect(),
    };
    let each: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
    refuse_existing(&each, request.existing)?;
    for (page, path) in pages.iter().zip(&paths) {
        write_file(path, &draw(page)?, request.existing)?;
    }
    Ok(paths)
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
}
