//! Writing a melody as the bytes of a file.

use std::io;
use std::path::Path;

use fretlib::fingering::{FingeredNote, Fingering, FingeringSearch, Player};
use fretlib::format::musicxml::Fingered;
use fretlib::format::{Format, LostMatter, abc, midi, musicxml, tune_ron};
use fretlib::mapping::{NeckMap, OpenStrings, Placement, Preference};
use fretlib::melody::Melody;
use fretlib::neck::{Finger, Hand, Instrument, Position};
use fretlib::theory::Octave;

use crate::failure::Failure;

/// A format to write.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Target {
    /// A tune to type and edit
    Ron,
    /// ABC 2.1
    Abc,
    /// MusicXML 4.0, a staff over tablature
    Musicxml,
    /// MusicXML 4.0, compressed
    Mxl,
    /// A MIDI file
    Midi,
}

impl Target {
    /// The format that a file of this name is expected to be in.
    pub fn by_ending(path: &Path) -> Option<Target> {
        Some(
            match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
                "ron" => Target::Ron,
                "abc" => Target::Abc,
                "musicxml" | "xml" => Target::Musicxml,
                "mxl" => Target::Mxl,
                "mid" | "midi" => Target::Midi,
                _ => return None,
            },
        )
    }

    /// The format as the library knows it.
    pub const fn format(self) -> Format {
        match self {
            Target::Ron => Format::TuneRon,
            Target::Abc => Format::Abc,
            Target::Musicxml => Format::MusicXml,
            Target::Mxl => Format::CompressedMusicXml,
            Target::Midi => Format::Midi,
        }
    }

    /// Whether it is text.
    pub const fn is_text(self) -> bool {
        match self {
            Target::Ron | Target::Abc | Target::Musicxml => true,
            Target::Mxl | Target::Midi => false,
        }
    }

    /// The usual ending.
    pub const fn ending(self) -> &'static str {
        match self {
            Target::Ron => "ron",
            Target::Abc => "abc",
            Target::Musicxml => "musicxml",
            Target::Mxl => "mxl",
            Target::Midi => "mid",
        }
    }
}

/// A tune in a format, and what the player should be told of it.
pub struct Written {
    contents: Contents,
    pub warnings: Vec<String>,
}

enum Contents {
    Bytes(Vec<u8>),
    /// A score is made while it is written: it takes hundreds of bytes a note.
    Score {
        melody: Box<Melody>,
        instrument: Box<Instrument>,
        places: Vec<Option<Fingered>>,
    },
}

impl Written {
    /// Writes the bytes of its file.
    pub fn write_to(&self, mut out: impl io::Write) -> io::Result<()> {
        match &self.contents {
            Contents::Bytes(bytes) => out.write_all(bytes),
            Contents::Score {
                melody,
                instrument,
                places,
            } => musicxml::write_in_pieces(melody, instrument, places, |piece| {
                out.write_all(piece.as_bytes())
            }),
        }
    }
}

/// The order of bars in a MIDI file.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum MidiOrder {
    /// As they are played, with repeats.
    Played,
    /// As they are written.
    Written,
}

impl MidiOrder {
    fn of(self, melody: &Melody) -> Melody {
        match self {
            MidiOrder::Played => melody.played_out(),
            MidiOrder::Written => melody.clone(),
        }
    }
}

/// The choices for the tablature.
#[derive(Clone)]
pub struct TablatureChoice {
    /// The fingering kept with the tune, with its octave; where no position or octave is asked for.
    pub own: Option<(Fingering, Octave)>,
    /// The position of the tablature; `None` for the best.
    pub position: Option<Position>,
    /// The octave; `None` for the nearest on the neck.
    pub octave: Option<Octave>,
    /// The hand that plays where no position holds the whole tune.
    pub hand: Hand,
    /// Where open strings are played; only in first position on a map when it is left open.
    pub open_strings: Option<OpenStrings>,
    /// Which of two placements the player prefers.
    pub preference: Preference,
}

/// Writes a melody in a format.
///
/// A score has the tablature of the player's own fingering; without one, of the best placement that is left to choose from;
/// where no position holds the whole tune and none was asked for, that of the best fingering along the neck. ABC has the
/// fingers of the player's own fingering.
pub fn write(
    melody: &Melody,
    instrument: &Instrument,
    format: Target,
    tablature: &TablatureChoice,
    order: MidiOrder,
) -> Result<Written, Failure> {
    let moved = |melody| moved(melody, tablature.octave.unwrap_or_default());
    let mut warnings: Vec<String> = lost_in_words(melody, format.format()).into_iter().collect();
    let contents = match format {
        Target::Ron => Contents::Bytes(tune_ron::write(&moved(melody)?).into_bytes()),
        Target::Abc => {
            let own = tablature.own.as_ref();
            let fingers = own.map(|(own, _)| own.notes.iter().map(|note| note.finger).collect());
            let fingers: Vec<Option<Finger>> = fingers.unwrap_or_default();
            Contents::Bytes(abc::write_fingered(&moved(melody)?, &fingers).into_bytes())
        }
        Target::Midi => {
            let written = midi::write(&moved(&order.of(melody))?, instrument);
            Contents::Bytes(written.map_err(|error| {
                Failure::could_not(
                    format!("the tune has no place in a MIDI file: {error}"),
                    "move it with --octave or --transpose",
                )
            })?)
        }
        Target::Musicxml | Target::Mxl => {
            let (melody, places) = score(melody, instrument, tablature, &mut warnings)?;
            match format {
                Target::Mxl => Contents::Bytes(musicxml::compress(&musicxml::write(
                    &melody, instrument, &places,
                ))),
                _ => Contents::Score {
                    melody: Box::new(melody),
                    instrument: Box::new(instrument.clone()),
                    places,
                },
            }
        }
    };
    Ok(Written { contents, warnings })
}

/// What a melody loses in a format; `None` when nothing.
fn lost_in_words(melody: &Melody, format: Format) -> Option<String> {
    let lost = LostMatter::of_melody(melody, format);
    let names: Vec<&str> = lost.iter().map(|it| it.name()).collect();
    let format = format.name();
    (!names.is_empty()).then(|| format!("{format} has no place for {}", names.join(", ")))
}

fn moved(melody: &Melody, octave: Octave) -> Result<Melody, Failure> {
    let failed = |error: fretlib::OutOfRange| {
        Failure::could_not(
            format!("the tune cannot be moved by {octave} octaves: {error}"),
            "choose another --octave",
        )
    };
    melody.transposed(octave.interval()).map_err(failed)
}

/// The melody of a score, and where its notes lie.
fn score(
    melody: &Melody,
    instrument: &Instrument,
    tablature: &TablatureChoice,
    warnings: &mut Vec<String>,
) -> Result<(Melody, Vec<Option<Fingered>>), Failure> {
    let TablatureChoice {
        own,
        position,
        octave,
        hand,
        open_strings,
        preference,
    } = tablature.clone();
    if let Some((own, octave)) = own {
        return Ok((moved(melody, octave)?, fingered(&own)));
    }
    let map =
        NeckMap::new(melody, instrument, open_strings.unwrap_or_default()).preferring(preference);
    let is_asked_for = |it: &Placement| {
        position.is_none_or(|position| position == it.position)
            && octave.is_none_or(|octave| octave == it.octave)
    };
    let Some(placement) = map.best_where(is_asked_for) else {
        if position.is_some() || octave.is_some() {
            return Err(Failure::could_not(
                "there is no such placement of the tune on this instrument",
                "see `neckline map` for its positions and octaves",
            ));
        }
        warnings.push(format!(
            "the tune does not fit on the {} at any octave: the score has no tablature",
            instrument.name()
        ));
        return Ok((melody.clone(), Vec::new()));
    };
    if octave.is_none() && placement.octave != Octave::WRITTEN {
        warnings.push(format!(
            "the tune is moved by {} octaves, to where it lies on the {}",
            placement.octave,
            instrument.name()
        ));
    }
    let is_easiest = position.is_none() && placement.is_whole();
    if is_easiest && map.on_open_strings_beside(placement).is_some() {
        warnings.push(format!(
            "the tablature is in position {}; the tune is also whole in I on open strings (`--position I`)",
            placement.position
        ));
    }
    let along_the_neck = match position {
        None if !placement.is_whole() => {
            let mut search = FingeringSearch::new(Player { instrument, hand });
            if let Some(open_strings) = open_strings {
                search.constraints.open_strings = open_strings;
            }
            search
                .best(melody, placement.octave)
                .map(|best| fingered(&best))
        }
        _ => None,
    };
    if !placement.is_whole() && along_the_neck.is_none() {
        warnings.push(format!(
            "{} of {} notes are out of reach in position {} and have no place in the tablature",
            placement.missing_count(),
            melody.notes().len(),
            placement.position
        ));
    }
    let places = along_the_neck.unwrap_or_else(|| {
        let mut places = vec![None; melody.notes().len()];
        for placed in placement.places() {
            places[placed.note] = Some(Fingered {
                place: placed.place,
                finger: placed.finger,
            });
        }
        places
    });
    Ok((moved(melody, placement.octave)?, places))
}

fn fingered(fingering: &Fingering) -> Vec<Option<Fingered>> {
    let fingered = |note: &FingeredNote| {
        Some(Fingered {
            place: note.place,
            finger: note.finger,
        })
    };
    fingering.notes.iter().map(fingered).collect()
}
