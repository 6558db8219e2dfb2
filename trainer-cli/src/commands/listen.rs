//! `neckline listen`: the player's own playing, compared with the tune.

mod take_findings;
mod take_json;
mod take_page;
mod take_picture;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::fingering::{FingeringSearch, Player};
use fretlib::hearing::{Heard, Take};
use fretlib::mapping::octaves_on;
use fretlib::neck::{Instrument, Place};

use crate::audio::listen_to;
use crate::commands::transcribe::no_string;
use crate::failure::Failure;
use crate::input::built_in_tunes::BUILT_IN;
use crate::input::tune::Tune;
use crate::output::{Existing, write_file};
use crate::report::json::write_json;
use crate::request::{HandRequest, InstrumentRequest, TuneRequest};
use crate::terminal::{Streams, colour};

/// What to listen to, and how.
#[derive(Debug)]
pub struct ListenRequest {
    /// The recording.
    pub take: PathBuf,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// Draw timing and level into this file; `-` for standard output.
    pub svg: Option<PathBuf>,
    /// What is done about a file that is there.
    pub existing: Existing,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// Prints the page or the JSON, or writes the picture.
pub fn run(request: &ListenRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let recording = listen_to(&request.take)?;
    for remark in &recording.remarks {
        writeln!(streams.stderr, "note: {remark}")?;
    }
    if recording.heard.struck_notes().is_empty() {
        return Err(no_string(&recording));
    }
    let take = Take::of(&recording.heard, &tune.melody).filter(Take::fits);
    let Some(take) = take else {
        return Err(another_tune(&recording.heard, &tune));
    };
    if request.json {
        return write_json(
            streams,
            &take_json::TakeDocument::new(&take, recording.heard.tuning_cents()),
        );
    }
    if let Some(file) = &request.svg {
        let picture = take_picture::draw(&take, &tune.melody);
        if file == Path::new("-") {
            streams.stdout.write_all(picture.as_bytes())?;
            return Ok(());
        }
        return write_file(file, picture.as_bytes(), request.existing);
    }
    let places = places(request, &tune, &instrument, streams)?;
    let page = take_page::TakePage {
        take: &take,
        tuning_cents: recording.heard.tuning_cents(),
        melody: &tune.melody,
        places: &places,
        instrument: &instrument,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

/// Where the player's own fingering plays each note, or the best one; nowhere when it is not on the neck.
fn places(
    request: &ListenRequest,
    tune: &Tune,
    instrument: &Instrument,
    streams: &mut Streams,
) -> Result<Vec<Option<Place>>, Failure> {
    let hand = request.hand.open(streams)?;
    let octave = octaves_on(&tune.melody, instrument).min_by_key(|octave| octave.distance());
    let player = Player { instrument, hand };
    let own = request.tune.own_fingering(tune, player, streams)?;
    let best = own
        .map(|own| own.fingering)
        .or_else(|| FingeringSearch::new(player).best(&tune.melody, octave.unwrap_or_default()));
    Ok(match best {
        Some(best) => best.notes.iter().map(|note| Some(note.place)).collect(),
        None => vec![None; tune.melody.notes().len()],
    })
}

/// Reports that the recording is of something else, and names a built-in tune that fits.
fn another_tune(heard: &Heard, tune: &Tune) -> Failure {
    let title = crate::report::heading::title_or_untitled(tune.melody.title()).to_owned();
    let fitting = BUILT_IN
        .iter()
        .filter_map(|it| Some((it.name, Take::of(heard, it.melody()).filter(Take::fits)?)))
        .max_by(|a, b| a.1.fit.total_cmp(&b.1.fit));
    match fitting {
        Some((name, take)) => {
            let first = take.passes.first().map_or(0, |it| it.bars.0);
            let last = take.passes.last().map_or(0, |it| it.bars.1);
            Failure::could_not(
                format!(
                    "this take does not fit {title}; {:.0} % of it fits bars {first}-{last} of another tune",
                    100.0 * take.fit
                ),
                format!("as in `neckline listen {name} --take …`"),
            )
        }
        None => Failure::could_not(
            format!("this take does not fit {title}"),
            "check the tune, or play a longer stretch of it; `neckline transcribe` lists the notes that were heard",
        ),
    }
}
