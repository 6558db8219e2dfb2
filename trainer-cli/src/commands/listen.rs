//! `neckline listen`: the player's own playing, compared with the tune.

mod heard_lines;
mod judged_take;
mod live_session;
mod take_findings;
mod take_json;
mod take_page;
mod take_picture;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::fingering::{FingeringSearch, Player};
use fretlib::mapping::octaves_on;
use fretlib::melody::Quarters;
use fretlib::neck::{Instrument, Place, Position};

use crate::audio::cannot_listen;
use crate::commands::arrange::{ArrangedTune, AsArranged};
use crate::commands::play::PlayedTune;
use crate::failure::Failure;
use crate::history::JudgedBy;
use crate::input::tune::Tune;
use crate::output::{Existing, write_file};
use crate::report::json::write_json;
use crate::request::{
    HandRequest, InstrumentRequest, PlacementRequest, TuneOnInstrument, TuneRequest, neck_map,
};
use crate::screen;
use crate::session::PassLog;
use crate::terminal::{Clock, Streams, colour};

use live_session::{notes_of, percent_of_own};

pub use judged_take::{JudgedTake, LEGEND, sign};
pub use live_session::{LiveNews, LiveRequest, LiveSession, PassReport, Tuner};

/// What to listen to, and how.
#[derive(Debug)]
pub struct ListenRequest {
    /// The recording; `None` to listen to the microphone.
    pub take: Option<PathBuf>,
    /// How to listen to the microphone.
    pub live: LiveRequest,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// Draw timing and level into this file; `-` for standard output.
    pub svg: Option<PathBuf>,
    /// What is done about a file that is there.
    pub existing: Existing,
    /// Where the player says the hand stands; along the best fingering when it is left open.
    pub position: Option<Position>,
    /// Whether it is played as it is arranged.
    pub arranged: AsArranged,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// Prints the page or the JSON, or writes the picture; or listens to the microphone.
pub fn run(request: &ListenRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let Some(recording) = &request.take else {
        return live(request, tune, instrument, streams);
    };
    let hand = request.hand.open(streams)?;
    let arranged = request
        .arranged
        .arrange(&tune, &request.tune, &instrument, hand, streams)?;
    let judged = JudgedTake::of(recording, &tune, arranged.as_ref(), streams)?;
    if request.json {
        return write_json(
            streams,
            &take_json::TakeDocument::new(&judged.take, judged.tuning_cents),
        );
    }
    if let Some(file) = &request.svg {
        let picture = take_picture::draw(&judged.take, &judged.melody);
        if file == Path::new("-") {
            streams.stdout.write_all(picture.as_bytes())?;
            return Ok(());
        }
        return write_file(file, picture.as_bytes(), request.existing);
    }
    let places = match &arranged {
        Some(arranged) => places_of(arranged),
        None => places(request, &tune, &instrument, streams)?,
    };
    let page = take_page::TakePage {
        judged: &judged,
        places: &places,
        instrument: &instrument,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    // A picture or an object may be asked for as often as one likes; a page is read by the player.
    keep(request, &judged, streams)
}

/// Keeps the passes of a recording, once; what cannot be kept is said, and the recording is still there.
fn keep(
    request: &ListenRequest,
    judged: &JudgedTake,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if request.live.no_history || judged.is_arranged() {
        return Ok(());
    }
    // A tune that lies nowhere on the neck is not practised.
    let Ok(Some(mut log)) = request.log() else {
        return Ok(());
    };
    let kept = keep_in(&mut log, judged);
    if let Err(failure) = kept.and_then(|()| log.end(streams)) {
        writeln!(
            streams.stderr,
            "note: nothing is remembered of it: {failure}"
        )?;
    }
    Ok(())
}

fn keep_in(log: &mut PassLog, judged: &JudgedTake) -> Result<(), Failure> {
    if !log.begin_take(judged.number())? {
        return Ok(());
    }
    let own = 60.0 / judged.melody.first_tempo().seconds(Quarters::ONE);
    let sounding = i32::from(log.sounding());
    for pass in &judged.take.passes {
        if let Some(percent) = percent_of_own(pass, own) {
            log.record(&notes_of(pass), percent, pass.is_right(), JudgedBy::Hearing);
            log.remember(pass, percent, judged.take.shift - sounding);
        }
    }
    Ok(())
}

impl ListenRequest {
    /// Listening to the microphone while a tune is played.
    pub fn live(
        played: TuneOnInstrument,
        position: Option<Position>,
        live: LiveRequest,
    ) -> ListenRequest {
        ListenRequest {
            take: None,
            live,
            json: false,
            svg: None,
            existing: Existing::Keep,
            position,
            arranged: AsArranged::from_option(None),
            hand: HandRequest::default(),
            tune: played.tune,
            instrument: played.instrument,
        }
    }

    /// Where passes are kept; nowhere where the tune cannot be opened again.
    fn log(&self) -> Result<Option<PassLog>, Failure> {
        let tune = TuneOnInstrument {
            tune: self.tune.clone(),
            instrument: self.instrument.clone(),
        };
        let clock = Clock::from_option(self.live.now)?;
        let folder = self.live.folder.path()?;
        PassLog::open(
            &tune,
            self.position,
            self.hand.settings.clone(),
            folder,
            clock,
        )
    }
}

/// Where an arrangement plays each note of the melody.
fn places_of(arranged: &ArrangedTune) -> Vec<Option<Place>> {
    let notes = arranged.arrangement.notes.iter();
    notes.map(|note| Some(note.melody.place)).collect()
}

/// Listens while the player plays: on the full screen when a person sits at a terminal, else line by line.
fn live(
    request: &ListenRequest,
    tune: Tune,
    instrument: Instrument,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let places = places(request, &tune, &instrument, streams)?;
    let octave = octaves_on(&tune.melody, &instrument).min_by_key(|octave| octave.distance());
    let played = PlayedTune {
        title: tune.melody.title().to_owned(),
        melody: tune.melody,
        places,
        octave: octave.unwrap_or_default(),
        instrument,
        under: None,
    };
    let rate = streams
        .microphone
        .open()
        .map_err(|reason| cannot_listen(&reason))?;
    let mut session = LiveSession::new(played, request, rate)?;
    let is_plain = request.live.plain || !streams.stdin_is_terminal || !streams.stdout_is_terminal;
    let listened = if is_plain {
        heard_lines::run(&mut session, streams)
    } else {
        streams.stdout.flush()?;
        let look = screen::Look {
            color: streams.color,
            ascii: streams.ascii,
            left_handed: request.instrument.left_handed,
        };
        screen::listen_along(&mut session, streams.microphone.as_mut(), look)
    };
    streams.microphone.close();
    listened?;
    session.end(streams)
}

/// Where each note lies in a position, at the octave that suits it best; nowhere where it is not within reach.
fn places_in(
    position: Position,
    tune: &Tune,
    instrument: &Instrument,
    request: &ListenRequest,
    streams: &mut Streams,
) -> Result<Vec<Option<Place>>, Failure> {
    let open_strings = request.hand.open_strings(streams)?.unwrap_or_default();
    let preference = request.hand.preference(streams)?;
    let map = neck_map(tune, instrument, open_strings, preference)?;
    let wanted = PlacementRequest {
        position: Some(position),
        ..PlacementRequest::default()
    };
    let mut places = vec![None; tune.melody.notes().len()];
    for placed in wanted.pick(&map, instrument)?.places() {
        places[placed.note] = Some(placed.place);
    }
    Ok(places)
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
    if let Some(position) = request.position {
        return places_in(position, tune, instrument, request, streams);
    }
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
