//! `neckline fingering`: the best way along the neck.

mod json;
mod page;
mod tempo;

use std::ops::RangeInclusive;

use fretlib::fingering::{Aim, Fingering, Impossible, Limits, Line, Player, Shift, Weights, find};
use fretlib::mapping::octaves_on;
use fretlib::melody::Tempo;
use fretlib::neck::{Hand, Instrument, Place, Position};
use fretlib::theory::Octave;

use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::report::json::write_json;
use crate::request::{HandRequest, InstrumentRequest, TuneRequest};
use crate::terminal::{Streams, colour};

/// What to find, and how.
#[derive(Debug)]
pub struct FingeringRequest {
    /// The octave to play in, such as +1.
    pub octave: Option<Octave>,
    /// Quarter notes a minute.
    pub tempo: Option<Tempo>,
    /// Only these positions, such as 5-9 or V.
    pub positions: Option<RangeInclusive<Position>>,
    /// Only these strings, such as 1-3.
    pub strings: Option<RangeInclusive<u8>>,
    /// One string alone.
    pub string: Option<u8>,
    /// The position to start in.
    pub start: Option<Position>,
    /// The position to end in.
    pub end: Option<Position>,
    /// No open strings.
    pub no_open: bool,
    /// How many times the hand may move at most.
    pub max_shifts: Option<u8>,
    /// Play a note at a place: its number, string and fret, such as 12=3/7.
    pub pin: Vec<(usize, Place)>,
    /// Show this many fingerings that differ in where the notes lie.
    pub best: u8,
    /// Make the hardest single moment as easy as it can be, then the whole.
    pub ease_hardest: bool,
    /// Show what makes each bar hard.
    pub why: bool,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// A tune and the ways found through it.
struct Fingered {
    tune: Tune,
    instrument: Instrument,
    hand: Hand,
    octave: Octave,
    /// The tempo asked for; the tune's own where none was.
    asked_tempo: Option<Tempo>,
    line: Line,
    ways: Vec<Fingering>,
    /// What the best way would be at the tune's own tempo, when another was asked for.
    at_own_tempo: Option<(Line, Fingering)>,
}

impl Fingered {
    /// Where a shift is and whence it leads, as lines about shifts begin.
    fn moment(&self, shift: &Shift) -> String {
        let note = self.tune.melody.notes()[shift.index];
        let bar = self.tune.melody.bar_at(note.onset).number;
        format!(
            "  bar {bar:<3} note {:<4} {:<13}",
            shift.index + 1,
            format!("{} to {}", shift.from, shift.to)
        )
    }

    fn own_tempo(&self) -> Tempo {
        let tempos = self.tune.melody.tempos();
        tempos.first().copied().unwrap_or(Tempo::DEFAULT)
    }

    fn tempo(&self) -> Tempo {
        self.asked_tempo.unwrap_or(self.own_tempo())
    }

    fn player(&self) -> Player<'_> {
        Player {
            instrument: &self.instrument,
            hand: self.hand,
        }
    }
}

/// Prints the page or the JSON.
pub fn run(request: &FingeringRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let limits = limits(request, &tune, &instrument)?;
    let octave = match request.octave {
        Some(octave) => octave,
        None => octave(&tune, &instrument),
    };
    let line = |tempo| {
        Line::new(&tune.melody, octave, tempo).ok_or_else(|| {
            Failure::could_not(
                format!("at octave {octave} the tune leaves the range of pitches"),
                "take an octave nearer to the written one",
            )
        })
    };
    let aim = if request.ease_hardest {
        Aim::EasiestPeak
    } else {
        Aim::Least
    };
    let hand = request.hand.open(streams)?;
    let player = Player {
        instrument: &instrument,
        hand,
    };
    let find = |line: &Line, count| {
        find(&player, line, &Weights::default(), &limits, aim, count)
            .map_err(|stuck| could_not(&stuck, &tune, octave))
    };
    let asked = line(request.tempo)?;
    let ways = find(&asked, request.best.into())?;
    let at_own_tempo = match request.tempo {
        Some(_) => {
            let own = line(None)?;
            find(&own, 1)?.pop().map(|way| (own, way))
        }
        None => None,
    };
    let fingered = Fingered {
        hand,
        tune,
        instrument,
        octave,
        asked_tempo: request.tempo,
        line: asked,
        ways,
        at_own_tempo,
    };
    if request.json {
        return write_json(streams, &json::Document::new(&fingered.ways));
    }
    let page = page::Page {
        fingered: &fingered,
        why: request.why,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

fn limits(
    request: &FingeringRequest,
    tune: &Tune,
    instrument: &Instrument,
) -> Result<Limits, Failure> {
    let notes = tune.melody.notes().len();
    let count = instrument.strings().len() as u8;
    let strings = request.string.map(|it| it..=it).or(request.strings.clone());
    if let Some(strings) = &strings
        && *strings.end() > count
    {
        return Err(Failure::usage(
            format!("there is no string {}", strings.end()),
            format!("the {} has strings 1 to {count}", instrument.name()),
        ));
    }
    for (number, place) in &request.pin {
        if *number > notes {
            return Err(Failure::usage(
                format!("there is no note {number} to pin"),
                format!("the tune has notes 1 to {notes}"),
            ));
        }
        if instrument.midi_at(*place).is_none() {
            return Err(Failure::usage(
                format!(
                    "string {}, fret {} is not on the {}",
                    place.string,
                    place.fret,
                    instrument.name()
                ),
                format!(
                    "it has strings 1 to {count} and frets 0 to {}",
                    instrument.highest_fret()
                ),
            ));
        }
    }
    Ok(Limits {
        positions: request.positions.clone(),
        strings,
        start: request.start,
        end: request.end,
        no_open: request.no_open,
        max_shifts: request.max_shifts,
        pins: request.pin.iter().copied().collect(),
    })
}

/// The octave nearest to the written one at which every note is on the neck; the written one when there is none.
fn octave(tune: &Tune, instrument: &Instrument) -> Octave {
    octaves_on(&tune.melody, instrument)
        .min_by_key(|octave| octave.distance())
        .unwrap_or_default()
}

fn could_not(stuck: &Impossible, tune: &Tune, octave: Octave) -> Failure {
    let note = tune.melody.notes()[stuck.note - 1];
    let bar = tune.melody.bar_at(note.onset).number;
    let at = if octave == Octave::WRITTEN {
        String::new()
    } else {
        format!(" at octave {octave}")
    };
    let problem = format!(
        "note {} ({} in bar {bar}){at} cannot be had",
        stuck.note, note.pitch
    );
    if stuck.reliefs.is_empty() {
        return Failure::could_not(
            problem,
            "no single limit stands in the way: give up several, or try another `--octave`, `--hand` or instrument",
        );
    }
    let reliefs: Vec<String> = stuck.reliefs.iter().map(ToString::to_string).collect();
    Failure::could_not(problem, reliefs.join(", or "))
}
