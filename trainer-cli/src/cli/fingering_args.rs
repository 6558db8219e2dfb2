//! `neckline fingering`.

use std::ops::RangeInclusive;

use fretlib::ParseError;
use fretlib::fingering::{BarsHome, Pin};
use fretlib::neck::{Finger, Fret, Place, Position, PositionSet, StringNumber};

use super::octave_args::OctaveArgs;
use super::played_args::PlayedArgs;
use super::ranges::range;
use crate::commands::fingering::FingeringRequest;
use crate::request::AskedTempo;

/// Find the best way through a melody along the neck.
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Over the tablature stand the positions the hand comes to, under it the fingers. Below are the shifts, each with where it \
happens and why.

Playing can hurt a hand: keep stretches short, stop at the first pain and rest; see a teacher or clinician if the pain \
stays.

Examples:
  neckline fingering                              the first built-in tune
  neckline fingering tune.abc --positions 5-9 --strings 1-3
  neckline fingering tune.ron --hand small --best 3
  neckline fingering tune.ron --pin 12=3/7        note 12 on string 3, fret 7
  neckline fingering tune.ron --home 'V@1-8 II@9-16'
  neckline fingering tune.ron --tempo 200 --why
  neckline fingering tune.ron --edit              pin notes on a full screen")]
pub struct FingeringArgs {
    #[command(flatten)]
    octave: OctaveArgs,

    /// Beats a minute or 70% [default: the tune's own]
    ///
    /// A bare number counts what the tune's own tempo counts; `q = 80` are quarter notes.
    #[arg(long, value_name = "TEMPO")]
    tempo: Option<AskedTempo>,

    /// Only these positions, such as 5-9 or V,X
    #[arg(long, value_name = "POSITIONS")]
    positions: Option<PositionSet>,

    /// Only these strings, such as 1-3
    #[arg(long, value_name = "STRINGS", value_parser = strings, hide_short_help = true)]
    strings: Option<RangeInclusive<u8>>,

    /// One string alone
    #[arg(long, hide_short_help = true, value_name = "N", conflicts_with = "strings", value_parser = clap::value_parser!(u8).range(1..=12))]
    string: Option<u8>,

    /// The position to start in
    #[arg(long, value_name = "POSITION", hide_short_help = true)]
    start: Option<Position>,

    /// The position to end in
    #[arg(long, value_name = "POSITION", hide_short_help = true)]
    end: Option<Position>,

    /// No open strings
    #[arg(long, hide_short_help = true)]
    no_open: bool,

    /// How many times the hand may move at most
    #[arg(long, value_name = "N", hide_short_help = true)]
    max_shifts: Option<u8>,

    /// Play a note at a place, such as 12=3/7
    ///
    /// The number of the note, the string and the fret. A finger after them, as in 12=3/7/1, tells where the hand stands, and so
    /// more about the notes around.
    #[arg(long, value_name = "NOTE=STRING/FRET", value_parser = pin)]
    pin: Vec<(usize, Pin)>,

    /// Where the hand is at home, such as V
    ///
    /// A position, and after @ the bars it is for. The hand prefers to be there, but may leave. A pin and --start set a
    /// home as well, until the next one or the end of the section.
    #[arg(long, value_name = "POSITION[@BARS]", value_parser = homes)]
    home: Vec<Homes>,

    /// Keep the best one beside the tune
    ///
    /// `tune.abc.fingering.ron`, or `book.abc#3.fingering.ron` with `--tune 3`: text to edit by hand. From then on it is
    /// your fingering: map, drill, sheet, play, convert and listen use it. A built-in tune has its file beside your settings. The
    /// file is never written over when somebody else changed it meanwhile, and comments in it stay.
    #[arg(long)]
    save: bool,

    /// Pin notes and set homes on a full screen
    ///
    /// The places of each note on tablature and neck; everything else is searched again around what is pinned, and saved beside
    /// the tune when you say so.
    #[arg(long, conflicts_with_all = ["save", "json", "best", "why"])]
    edit: bool,

    /// Search again, whatever is kept beside the tune
    #[arg(long, hide_short_help = true)]
    anew: bool,

    /// Show this many, in other regions
    ///
    /// The usual region first, then those near it: low with open strings, about second position, in mid-neck, staying high. More than
    /// these, or with a home, are the next cheapest.
    #[arg(long, value_name = "K", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=9))]
    best: u8,

    /// Make the hardest single moment as easy as it can be, then the whole
    #[arg(long, hide_short_help = true)]
    ease_hardest: bool,

    /// Show what makes each bar hard
    #[arg(long)]
    why: bool,

    /// Print one JSON object instead of a page
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    played: PlayedArgs,
}

impl From<FingeringArgs> for FingeringRequest {
    fn from(args: FingeringArgs) -> Self {
        FingeringRequest {
            octave: args.octave.octave,
            tempo: args.tempo,
            positions: args.positions,
            strings: args.strings,
            string: args.string,
            start: args.start,
            end: args.end,
            no_open: args.no_open,
            max_shifts: args.max_shifts,
            pin: args.pin,
            home: args.home.into_iter().flatten().collect(),
            anew: args.anew,
            save: args.save,
            edit: args.edit,
            best: args.best,
            ease_hardest: args.ease_hardest,
            why: args.why,
            json: args.json,
            hand: args.played.hand.into(),
            tune: args.played.tune.into(),
            instrument: args.played.instrument.into(),
        }
    }
}

type Homes = Vec<BarsHome>;

fn homes(text: &str) -> Result<Homes, String> {
    let home = |word: &str| word.parse().map_err(|error: ParseError| error.to_string());
    let homes: Homes = text
        .split_whitespace()
        .map(home)
        .collect::<Result<_, String>>()?;
    if homes.is_empty() {
        return Err("expected a position, such as V".into());
    }
    Ok(homes)
}

fn strings(text: &str) -> Result<RangeInclusive<u8>, String> {
    range(text, |word| {
        let number: u8 = word
            .parse()
            .map_err(|_| format!("expected string numbers such as 1-3, found `{text}`"))?;
        StringNumber::new(number)
            .map(StringNumber::get)
            .map_err(|error| error.to_string())
    })
}

fn pin(text: &str) -> Result<(usize, Pin), String> {
    let expected =
        || format!("expected a note, a string and a fret such as 12=3/7, found `{text}`");
    let (note, place) = text.split_once('=').ok_or_else(expected)?;
    let (string, fret) = place.split_once('/').ok_or_else(expected)?;
    let (fret, finger) = match fret.split_once('/') {
        Some((fret, finger)) => (fret, Some(finger)),
        None => (fret, None),
    };
    let number: usize = note.trim().parse().map_err(|_| expected())?;
    if number == 0 {
        return Err("notes are counted from 1".into());
    }
    let byte = |word: &str| word.trim().parse::<u8>().map_err(|_| expected());
    let place = Place {
        string: StringNumber::new(byte(string)?).map_err(|error| error.to_string())?,
        fret: Fret::new(byte(fret)?).map_err(|error| error.to_string())?,
    };
    let finger = finger
        .map(|finger| Finger::new(byte(finger)?).map_err(|error| error.to_string()))
        .transpose()?;
    if place.fret == Fret::OPEN && finger.is_some() {
        return Err("an open string has no finger".into());
    }
    let pin = Pin {
        finger,
        ..Pin::from(place)
    };
    Ok((number - 1, pin))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pins_and_strings_are_read_and_checked() {
        for (text, finger) in [("12=3/7", None), ("12=3/7/1", Some(Finger::First))] {
            let (index, pin) = pin(text).unwrap();
            let place = pin.place.to_string();
            assert_eq!((index, place.as_str(), pin.finger), (11, "3:7", finger));
        }
        for text in [
            "",
            "12",
            "12=3",
            "0=3/7",
            "1=0/7",
            "1=13/2",
            "1=3/40",
            "x=3/7",
            "1=3/-1",
            "1=3/7/0",
            "1=3/7/5",
            "1=3/7/",
            "1=3/7/1/2",
            "1=3/0/1",
        ] {
            assert!(pin(text).is_err(), "{text}");
        }
        let bars: Vec<_> = homes("V II@9-16")
            .unwrap()
            .into_iter()
            .map(|home| home.bars)
            .collect();
        assert_eq!(bars, [None, Some(9..=16)]);
        for text in ["", "@1", "V@", "V@x", "XL", "V@8-1"] {
            assert!(homes(text).is_err(), "{text}");
        }
        assert_eq!(strings("1-3"), Ok(1..=3));
        assert!(strings("0-3").is_err() && strings("3-1").is_err());
    }
}
