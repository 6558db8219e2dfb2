//! `neckline fingering`: the best way along the neck.

mod json;
mod page;
mod tempo;

use std::io::Write;
use std::ops::RangeInclusive;

use fretlib::fingering::{
    Aim, Fingering as Way, Impossible, Limits, Line, Player, Shift, Weights, find,
};
use fretlib::mapping::octaves_on;
use fretlib::melody::{Quarters, Tempo};
use fretlib::neck::{Fret, Hand, Instrument, Place, Position, StringNumber};
use fretlib::theory::Octave;

use crate::args::{self, InstrumentArgs, TuneArgs};
use crate::failure::Failure;
use crate::hand::HandArgs;
use crate::instrument::instrument;
use crate::paint;
use crate::streams::Streams;
use crate::tune::{Tune, tune};

/// Find the best way through a melody along the neck: positions, shifts, fingers.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Over the tablature stand the positions the hand comes to, under it the fingers. Below are the shifts, each with where it
happens and what it is for.

Playing can hurt a hand: keep stretches short, stop at the first pain and rest; see a teacher or clinician when it stays.

Examples:
  neckline fingering                              the first built-in tune
  neckline fingering tune.abc --positions 5-9 --strings 1-3
  neckline fingering tune.ron --hand small --best 3
  neckline fingering tune.ron --pin 12=3/7        note 12 on string 3, fret 7
  neckline fingering tune.ron --tempo 200 --why")]
pub struct Fingering {
    /// The octave to play in, such as +1 [default: as written, or the nearest on the neck]
    #[arg(long, value_name = "OCTAVE", allow_hyphen_values = true)]
    pub octave: Option<Octave>,

    /// Quarter notes a minute [default: the tune's own tempo]
    #[arg(long, value_name = "BPM", value_parser = tempo)]
    pub tempo: Option<Tempo>,

    /// Only these positions, such as 5-9 or V
    #[arg(long, value_name = "POSITIONS", value_parser = args::positions)]
    pub positions: Option<RangeInclusive<Position>>,

    /// Only these strings, such as 1-3
    #[arg(long, value_name = "STRINGS", value_parser = strings)]
    pub strings: Option<RangeInclusive<u8>>,

    /// One string alone
    #[arg(long, value_name = "N", conflicts_with = "strings", value_parser = clap::value_parser!(u8).range(1..=12))]
    pub string: Option<u8>,

    /// The position to start in
    #[arg(long, value_name = "POSITION")]
    pub start: Option<Position>,

    /// The position to end in
    #[arg(long, value_name = "POSITION")]
    pub end: Option<Position>,

    /// No open strings
    #[arg(long)]
    pub no_open: bool,

    /// How many times the hand may move at most
    #[arg(long, value_name = "N")]
    pub max_shifts: Option<u8>,

    /// Play a note at a place: its number, string and fret, such as 12=3/7
    #[arg(long, value_name = "NOTE=STRING/FRET", value_parser = pin)]
    pub pin: Vec<(usize, Place)>,

    /// Show this many fingerings that differ in where the notes lie
    #[arg(long, value_name = "K", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=9))]
    pub best: u8,

    /// Make the hardest single moment as easy as it can be, then the whole
    #[arg(long)]
    pub ease_hardest: bool,

    /// Show what makes each bar hard
    #[arg(long)]
    pub why: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    pub json: bool,

    #[command(flatten)]
    pub hand: HandArgs,

    #[command(flatten)]
    pub tune: TuneArgs,

    #[command(flatten)]
    pub instrument: InstrumentArgs,
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
    ways: Vec<Way>,
    /// What the best way would be at the tune's own tempo, when another was asked for.
    at_own_tempo: Option<(Line, Way)>,
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
pub fn run(args: &Fingering, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = instrument(&args.instrument)?;
    let tune = tune(&args.tune, streams)?;
    let limits = limits(args, &tune, &instrument)?;
    let octave = match args.octave {
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
    let aim = if args.ease_hardest {
        Aim::EasiestPeak
    } else {
        Aim::Least
    };
    let hand = args.hand.hand(streams)?;
    let player = Player {
        instrument: &instrument,
        hand,
    };
    let find = |line: &Line, count| {
        find(&player, line, &Weights::default(), &limits, aim, count)
            .map_err(|stuck| could_not(&stuck, &tune, octave))
    };
    let asked = line(args.tempo)?;
    let ways = find(&asked, args.best.into())?;
    let at_own_tempo = match args.tempo {
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
        asked_tempo: args.tempo,
        line: asked,
        ways,
        at_own_tempo,
    };
    if args.json {
        serde_json::to_writer(&mut streams.stdout, &json::Document::new(&fingered.ways))
            .map_err(std::io::Error::from)?;
        writeln!(streams.stdout)?;
        return Ok(());
    }
    let page = page::Page {
        fingered: &fingered,
        why: args.why,
        ascii: streams.ascii,
        width: streams.width,
    };
    paint::write(streams, &page.draw())?;
    Ok(())
}

fn limits(args: &Fingering, tune: &Tune, instrument: &Instrument) -> Result<Limits, Failure> {
    let notes = tune.melody.notes().len();
    let count = instrument.strings().len() as u8;
    let strings = args.string.map(|it| it..=it).or(args.strings.clone());
    if let Some(strings) = &strings
        && *strings.end() > count
    {
        return Err(Failure::usage(
            format!("there is no string {}", strings.end()),
            format!("the {} has strings 1 to {count}", instrument.name()),
        ));
    }
    for (number, place) in &args.pin {
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
        positions: args.positions.clone(),
        strings,
        start: args.start,
        end: args.end,
        no_open: args.no_open,
        max_shifts: args.max_shifts,
        pins: args.pin.iter().copied().collect(),
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

fn tempo(text: &str) -> Result<Tempo, String> {
    let count: i64 = text
        .parse()
        .map_err(|_| format!("expected quarter notes a minute such as 96, found `{text}`"))?;
    Tempo::new(Quarters::from(1), Quarters::from(count)).map_err(|error| error.to_string())
}

fn strings(text: &str) -> Result<RangeInclusive<u8>, String> {
    args::range(text, |word| {
        let number: u8 = word
            .parse()
            .map_err(|_| format!("expected string numbers such as 1-3, found `{text}`"))?;
        StringNumber::new(number)
            .map(StringNumber::get)
            .map_err(|error| error.to_string())
    })
}

fn pin(text: &str) -> Result<(usize, Place), String> {
    let expected =
        || format!("expected a note, a string and a fret such as 12=3/7, found `{text}`");
    let (note, place) = text.split_once('=').ok_or_else(expected)?;
    let (string, fret) = place.split_once('/').ok_or_else(expected)?;
    let number: usize = note.trim().parse().map_err(|_| expected())?;
    if number == 0 {
        return Err("notes are counted from 1".into());
    }
    let byte = |word: &str| word.trim().parse::<u8>().map_err(|_| expected());
    let place = Place {
        string: StringNumber::new(byte(string)?).map_err(|error| error.to_string())?,
        fret: Fret::new(byte(fret)?).map_err(|error| error.to_string())?,
    };
    Ok((number, place))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pins_strings_and_tempos_are_read_and_checked() {
        let (note, place) = pin("12=3/7").unwrap();
        assert_eq!((note, place.to_string().as_str()), (12, "3:7"));
        for text in [
            "", "12", "12=3", "0=3/7", "1=0/7", "1=13/2", "1=3/40", "x=3/7", "1=3/-1",
        ] {
            assert!(pin(text).is_err(), "{text}");
        }
        assert_eq!(strings("1-3"), Ok(1..=3));
        assert!(strings("0-3").is_err() && strings("3-1").is_err());
        assert!(tempo("0").is_err() && tempo("fast").is_err() && tempo("96").is_ok());
    }
}
