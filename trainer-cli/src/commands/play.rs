//! `neckline play`: a melody as it sounds.

mod bar_by_bar;
mod control;
mod live;
mod take;

use std::io::Write;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::time::Duration;

use fretlib::fingering::{FingeringSearch, Player};
use fretlib::neck::{Instrument, Place};
use fretlib::practice::LadderRange;
use fretlib::sound::{ClickPattern, ConcertPitch, SampleRate, Swing};
use fretlib::theory::Octave;
use jiff::civil::DateTime;

use crate::audio::SampleFormat;
use crate::commands::arrange::AsArranged;
use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::output::Existing;
use crate::request::{
    AskedTempo, HandRequest, HistoryFolder, InstrumentRequest, PlacementRequest, TuneOnInstrument,
    TuneRequest, neck_map,
};
use crate::screen;
use crate::session::PassLog;
use crate::terminal::{Clock, Streams};

pub use control::{Loops, PlayControl, PlayedTune, Under, under_melody};
pub use live::Live;
pub use take::samples;

/// What to play, and how.
#[derive(Debug)]
pub struct PlayRequest {
    /// How fast.
    pub tempo: Option<AskedTempo>,
    /// Only these phrases, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
    /// How many times.
    pub loops: Loops,
    /// Bars counted before the first note.
    pub count_in: u8,
    /// The beats that are clicked; `None` for no click.
    pub click: Option<ClickPattern>,
    /// Whether chords sound.
    pub chords: bool,
    /// Whether it is played as it is arranged; what lies under the melody then takes the place of the chords.
    pub arranged: AsArranged,
    /// Decibels from the melody down to what lies under it.
    pub contrast: f64,
    /// Whether the melody sounds.
    pub melody: bool,
    /// How pairs of notes are divided.
    pub swing: PlaySwing,
    /// The tempos to climb.
    pub ladder: Option<LadderRange>,
    /// Right passes to a rung.
    pub passes: u8,
    /// The tuning note.
    pub a4: ConcertPitch,
    /// The file to write instead of playing; `-` for standard output.
    pub output: Option<PathBuf>,
    /// What is done about a file that is there.
    pub existing: Existing,
    /// How its samples are written.
    pub format: SampleFormat,
    /// Samples a second; `None` for the default.
    pub rate: Option<SampleRate>,
    /// The latency that the sound server is asked for.
    pub latency: Duration,
    /// Print line by line, also on a terminal.
    pub plain: bool,
    /// Where on the neck; by default the best fingering.
    pub placement: PlacementRequest,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
    /// Keep no passes.
    pub no_history: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// How pairs of notes are divided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlaySwing {
    /// As the tune's own feel says; evenly when it says nothing.
    OfTune,
    /// Evenly.
    Straight,
    /// In this way.
    Swung(Swing),
}

/// Plays, or writes a file.
pub fn run(request: &PlayRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let hand = request.hand.open(streams)?;
    let arranged = request
        .arranged
        .arrange(&tune, &request.tune, &instrument, hand, streams)?;
    let (places, octave) = match &arranged {
        Some(arranged) => {
            let notes = arranged.arrangement.notes.iter();
            let places = notes.map(|note| Some(note.melody.place)).collect();
            (places, arranged.octave())
        }
        None => places(request, &tune, &instrument, streams)?,
    };
    let notes = match &request.phrases {
        None => None,
        Some(wanted) => Some(notes_of(wanted, &tune)?),
    };
    let played = PlayedTune {
        title: tune.melody.title().to_owned(),
        melody: tune.melody,
        places,
        octave,
        instrument,
        under: arranged.map(|arranged| Under {
            notes: arranged.struck_notes(),
            contrast: request.contrast,
        }),
    };
    let mut control = PlayControl::new(played, request, notes)?;
    if request.ladder.is_some() && !request.no_history {
        let tune = TuneOnInstrument {
            tune: request.tune.clone(),
            instrument: request.instrument.clone(),
        };
        let clock = Clock::from_option(request.now)?;
        let (settings, folder) = (request.hand.settings.clone(), request.folder.path()?);
        if let Some(log) = PassLog::open(&tune, None, settings, folder, clock)? {
            control.keep_in(log);
        }
    }
    play(&mut control, request, streams)?;
    match control.take_log() {
        Some(log) => log.end(streams),
        None => Ok(()),
    }
}

fn play(
    control: &mut PlayControl,
    request: &PlayRequest,
    streams: &mut Streams,
) -> Result<(), Failure> {
    match &request.output {
        Some(output) => take::write(control, request, output, streams),
        None if request.plain || !streams.stdin_is_terminal || !streams.stdout_is_terminal => {
            bar_by_bar::run(control, request, streams)
        }
        None => {
            streams.stdout.flush()?;
            let look = screen::Look {
                color: streams.color,
                ascii: streams.ascii,
                left_handed: request.instrument.left_handed,
            };
            let layers = take::layers(request);
            screen::play_along(control, &mut Live::open(request)?, look, layers)
        }
    }
}

/// Where each note is played: in the position or the octave asked for, else as the player fingers it, else where the best
/// fingering is.
fn places(
    request: &PlayRequest,
    tune: &Tune,
    instrument: &Instrument,
    streams: &mut Streams,
) -> Result<(Vec<Option<Place>>, Octave), Failure> {
    let mut places = vec![None; tune.melody.notes().len()];
    let preference = request.hand.preference(streams)?;
    let open_strings = request.hand.open_strings(streams)?;
    let map = neck_map(
        tune,
        instrument,
        open_strings.unwrap_or_default(),
        preference,
    )?;
    if !request.placement.is_picked() && request.placement.positions.is_none() {
        let octave = map.best().map_or(Octave::WRITTEN, |best| best.octave);
        let hand = request.hand.open(streams)?;
        let player = Player { instrument, hand };
        if let Some(own) = request.tune.own_fingering(tune, player, streams)? {
            let kept = own.fingering.notes.iter().map(|note| Some(note.place));
            return Ok((kept.collect(), own.octave()));
        }
        let mut search = FingeringSearch::new(player);
        if let Some(open_strings) = open_strings {
            search.constraints.open_strings = open_strings;
        }
        if let Some(best) = search.best(&tune.melody, octave) {
            let found = best.notes.iter().map(|note| Some(note.place));
            return Ok((found.collect(), octave));
        }
    }
    let placement = request.placement.pick(&map, instrument)?;
    for placed in placement.places() {
        places[placed.note] = Some(placed.place);
    }
    Ok((places, placement.octave))
}

/// The notes of phrases counted from 1.
fn notes_of(wanted: &RangeInclusive<u32>, tune: &Tune) -> Result<std::ops::Range<usize>, Failure> {
    let phrases = tune.melody.phrases();
    let index = |number: u32| (number as usize).checked_sub(1);
    let first = index(*wanted.start()).and_then(|index| phrases.get(index));
    let last = index(*wanted.end()).and_then(|index| phrases.get(index));
    match (first, last) {
        (Some(first), Some(last)) => Ok(first.start..last.end),
        _ => Err(Failure::usage(
            format!("there is no phrase {}", wanted.end()),
            format!("the tune has phrases 1 to {}", phrases.len()),
        )),
    }
}
