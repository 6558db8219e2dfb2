//! `neckline fingering`: the best way along the neck.

mod fingering_json;
mod fingering_page;
mod tempo;

use std::ops::{Range, RangeInclusive};

use fretlib::fingering::{
    Constraints, Fingering, FingeringSearch, Home, NoFingering, Objective, Player, Region, Shift,
    TimedMelody,
};
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::{Note, Tempo};
use fretlib::neck::{Hand, Instrument, Place, Position, PositionSet, StringNumber};
use fretlib::theory::Octave;

use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::report::json::write_json;
use crate::request::{AskedTempo, HandRequest, InstrumentRequest, TuneRequest, asked_tempo};
use crate::terminal::{Streams, colour};

/// What to find, and how.
#[derive(Debug)]
pub struct FingeringRequest {
    /// The octave to play in, such as +1.
    pub octave: Option<Octave>,
    /// Quarter notes a minute.
    pub tempo: Option<AskedTempo>,
    /// Only these positions, such as 5-9 or V,X.
    pub positions: Option<PositionSet>,
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
    /// Notes to play at a place, by index.
    pub pin: Vec<(usize, Place)>,
    /// Where the hand is at home.
    pub home: Vec<HomeRequest>,
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

/// A home of the hand, for some bars or for all.
#[derive(Clone, Debug)]
pub struct HomeRequest {
    /// The position.
    pub position: Position,
    /// The bars it is for.
    pub bars: Option<RangeInclusive<u32>>,
}

/// A fingering, and what it was found by.
struct Found {
    fingering: Fingering,
    /// The region it keeps to, when it was found as one of several.
    region: Option<Region>,
    homes: Vec<(Range<usize>, Home)>,
}

/// A tune and the fingerings found for it.
struct FingeredTune {
    tune: Tune,
    instrument: Instrument,
    hand: Hand,
    octave: Octave,
    /// The tempo asked for; the tune's own where none was.
    asked_tempo: Option<Tempo>,
    line: TimedMelody,
    constraints: Constraints,
    found: Vec<Found>,
    /// The best fingering at the tune's own tempo, when another was asked for.
    at_own_tempo: Option<(TimedMelody, Found)>,
}

impl FingeredTune {
    /// The beginning of a line about a shift: bar, note, from where to where.
    fn moment(&self, shift: &Shift) -> String {
        let note = self.tune.melody.notes()[shift.index];
        let bar = self.tune.melody.bar_at(note.onset).number;
        format!(
            "  bar {bar:<3} note {:<4} {:<13}",
            shift.index + 1,
            format!("{} to {}", shift.from, shift.to)
        )
    }

    fn tempo(&self) -> Tempo {
        self.asked_tempo.unwrap_or(self.tune.melody.first_tempo())
    }

    fn player(&self) -> Player<'_> {
        Player {
            instrument: &self.instrument,
            hand: self.hand,
        }
    }

    /// A search that weighs as the one that found this.
    fn search(&self, found: &Found) -> FingeringSearch<'_> {
        FingeringSearch {
            constraints: self.constraints.clone(),
            homes: found.homes.clone(),
            ..FingeringSearch::new(self.player())
        }
    }
}

/// Prints the page or the JSON.
pub fn run(request: &FingeringRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let constraints = constraints(request, &tune, &instrument)?;
    let octave = match request.octave {
        Some(octave) => octave,
        None => NeckMap::new(&tune.melody, &instrument, OpenStrings::default())
            .preferring(request.hand.preference(streams)?)
            .best()
            .map_or(Octave::WRITTEN, |best| best.octave),
    };
    let line = |tempo| {
        TimedMelody::new(&tune.melody, octave, tempo).ok_or_else(|| {
            Failure::could_not(
                format!("at octave {octave} the tune leaves the range of pitches"),
                "take an octave nearer to the written one",
            )
        })
    };
    let hand = request.hand.open(streams)?;
    let search = FingeringSearch {
        constraints,
        objective: if request.ease_hardest {
            Objective::MinimizeMax
        } else {
            Objective::MinimizeSum
        },
        count: request.best.into(),
        homes: homes(request, &tune)?,
        ..FingeringSearch::new(Player {
            instrument: &instrument,
            hand,
        })
    };
    let run = |line: &TimedMelody, count| {
        find(
            &FingeringSearch {
                count,
                ..search.clone()
            },
            line,
        )
        .map_err(|stuck| could_not(&stuck, &tune, octave))
    };
    let asked_tempo = asked_tempo(request.tempo, &tune.melody)?;
    let asked = line(asked_tempo)?;
    let found = run(&asked, search.count)?;
    let at_own_tempo = match asked_tempo {
        Some(_) => {
            let own = line(None)?;
            run(&own, 1)?.pop().map(|best| (own, best))
        }
        None => None,
    };
    let fingered = FingeredTune {
        constraints: search.constraints.clone(),
        hand,
        instrument: instrument.clone(),
        octave,
        asked_tempo,
        line: asked,
        found,
        at_own_tempo,
        tune,
    };
    if request.json {
        return write_json(
            streams,
            &fingering_json::FingeringDocument::new(&fingered.found),
        );
    }
    let page = fingering_page::FingeringPage {
        fingered: &fingered,
        why: request.why,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

/// The best fingerings: without a home of the player's own one in each region, then the next cheapest.
fn find(search: &FingeringSearch, line: &TimedMelody) -> Result<Vec<Found>, NoFingering> {
    let mut found: Vec<Found> = Vec::new();
    if search.homes.is_empty() && search.count > 1 {
        let regions = search.run_in_regions(line)?.into_iter();
        found.extend(regions.map(|(region, fingering)| Found {
            fingering,
            region: Some(region),
            homes: search.in_region(region, line).homes,
        }));
    }
    if found.len() < search.count {
        for fingering in search.run(line)? {
            if found.len() < search.count
                && !found
                    .iter()
                    .any(|it| it.fingering.has_places_of(&fingering))
            {
                found.push(Found {
                    fingering,
                    region: None,
                    homes: search.homes.clone(),
                });
            }
        }
    }
    Ok(found)
}

/// The homes asked for, by notes.
fn homes(request: &FingeringRequest, tune: &Tune) -> Result<Vec<(Range<usize>, Home)>, Failure> {
    let notes = tune.melody.notes();
    let home = |it: &HomeRequest| {
        let is_in = |bars: &RangeInclusive<u32>, note: &Note| {
            bars.contains(&tune.melody.bar_at(note.onset).number)
        };
        let range = match &it.bars {
            None => Some(0..notes.len()),
            Some(bars) => {
                let first = notes.iter().position(|note| is_in(bars, note));
                let last = notes.iter().rposition(|note| is_in(bars, note));
                first.zip(last).map(|(first, last)| first..last + 1)
            }
        };
        let range = range.ok_or_else(|| {
            let bars = it.bars.as_ref().map_or(String::new(), |bars| {
                format!("{}-{}", bars.start(), bars.end())
            });
            Failure::usage(
                format!("the tune has no notes in bars {bars}, which `--home` names"),
                "give bars of the tune, such as `--home V@1-8`",
            )
        })?;
        Ok((range, Home::at(it.position)))
    };
    request.home.iter().map(home).collect()
}

fn constraints(
    request: &FingeringRequest,
    tune: &Tune,
    instrument: &Instrument,
) -> Result<Constraints, Failure> {
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
    for (index, place) in &request.pin {
        if *index >= notes {
            return Err(Failure::usage(
                format!("there is no note {} to pin", index + 1),
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
    Ok(Constraints {
        positions: request.positions,
        strings: strings.map(|range| {
            range
                .filter_map(|number| StringNumber::new(number).ok())
                .collect()
        }),
        start: request.start,
        end: request.end,
        open_strings: !request.no_open,
        max_shifts: request.max_shifts,
        pins: request.pin.iter().copied().collect(),
    })
}

fn could_not(stuck: &NoFingering, tune: &Tune, octave: Octave) -> Failure {
    let note = tune.melody.notes()[stuck.index];
    let bar = tune.melody.bar_at(note.onset).number;
    let at = if octave == Octave::WRITTEN {
        String::new()
    } else {
        format!(" at octave {octave}")
    };
    let problem = format!(
        "note {} ({} in bar {bar}){at} cannot be played with these constraints",
        stuck.index + 1,
        note.pitch
    );
    if stuck.relaxations.is_empty() {
        return Failure::could_not(
            problem,
            "several constraints conflict: relax more than one, or try another `--octave`, `--hand` or instrument",
        );
    }
    let relaxations: Vec<String> = stuck.relaxations.iter().map(ToString::to_string).collect();
    Failure::could_not(problem, relaxations.join(", or "))
}
