//! A fingering that is kept, and what of it still fits a tune that has changed.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;

use super::same_notes::same_notes;
use super::{
    Constraints, FingeredNote, Fingering, FingeringSearch, Home, NoFingering, Pin, Player,
    TermCosts, TimedMelody,
};
use crate::error::ParseError;
use crate::mapping::OpenStrings;
use crate::melody::{Melody, Note};
use crate::neck::{Place, Position, PositionSet, StringNumber};
use crate::theory::{MidiNumber, Octave, Pitch};

/// A home of the hand, for some bars or for all: `V`, `II@9-16`.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct BarsHome {
    /// The position.
    pub position: Position,
    /// The bars it is for, by their numbers; `None` for all.
    pub bars: Option<RangeInclusive<u32>>,
}

impl BarsHome {
    /// The notes of a melody that it is for; `None` when it has none in these bars.
    pub fn notes(&self, melody: &Melody) -> Option<Range<usize>> {
        let notes = melody.notes();
        let Some(bars) = &self.bars else {
            return Some(0..notes.len());
        };
        let is_in = |note: &Note| bars.contains(&melody.bar_at(note.onset).number);
        let first = notes.iter().position(is_in)?;
        let last = notes.iter().rposition(is_in)?;
        Some(first..last + 1)
    }
}

impl fmt::Display for BarsHome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.position.fmt(f)?;
        match &self.bars {
            Some(bars) if bars.start() == bars.end() => write!(f, "@{}", bars.start()),
            Some(bars) => write!(f, "@{}-{}", bars.start(), bars.end()),
            None => Ok(()),
        }
    }
}

impl FromStr for BarsHome {
    type Err = ParseError;

    /// Reads a position and perhaps bars after an `@`.
    ///
    /// ```
    /// use fretlib::fingering::BarsHome;
    ///
    /// let home: BarsHome = "II@9-16".parse()?;
    /// assert_eq!((home.position.get(), home.bars), (2, Some(9..=16)));
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable =
            || ParseError::unreadable(text, "a position and perhaps bars, such as V or V@1-8");
        let (position, bars) = match text.split_once('@') {
            Some((position, bars)) => (position, Some(bars)),
            None => (text, None),
        };
        let number = |word: &str| word.trim().parse::<u32>().map_err(|_| unreadable());
        // The en dash is what a player's notes app makes of a hyphen.
        let range = |bars: &str| -> Result<RangeInclusive<u32>, ParseError> {
            let (first, last) = bars.split_once(['-', '–']).unwrap_or((bars, bars));
            Ok(number(first)?..=number(last)?)
        };
        let bars = bars.map(range).transpose()?;
        if bars.as_ref().is_some_and(RangeInclusive::is_empty) {
            return Err(unreadable());
        }
        Ok(BarsHome {
            position: position.parse::<Position>().map_err(|_| unreadable())?,
            bars,
        })
    }
}

/// How one note is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptNote {
    /// The number of the note in the tune, from 1.
    pub number: usize,
    /// The number of its bar, for whoever reads it.
    pub bar: Option<u32>,
    /// The pitch as the tune has it, so that a changed tune is noticed.
    pub pitch: Option<Pitch>,
    /// How it is played.
    pub pin: Pin,
    /// Whether it stays when the notes that are not pinned are found anew.
    pub is_pinned: bool,
}

/// A fingering as it is kept with its tune: what the player asked for, and how every note is played.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeptFingering {
    /// The octave it is played in.
    pub octave: Option<Octave>,
    /// Where the hand is at home.
    pub homes: Vec<BarsHome>,
    /// The only positions that were allowed.
    pub positions: Option<PositionSet>,
    /// Where open strings were allowed; `None` when nothing was said.
    pub open_strings: Option<OpenStrings>,
    /// The only strings that were allowed.
    pub strings: Option<Vec<StringNumber>>,
    /// The position of the first note.
    pub start: Option<Position>,
    /// The position of the last note.
    pub end: Option<Position>,
    /// How many times the hand was to move at most.
    pub max_shifts: Option<u8>,
    /// The notes, by their numbers, each at most once.
    pub notes: Vec<KeptNote>,
}

/// What of a kept fingering does not fit.
#[derive(Clone, Debug, PartialEq)]
pub enum Misfit {
    /// The tune no longer has the note.
    Gone {
        /// The number it had.
        number: usize,
        /// What it was, where that is known.
        pitch: Option<Pitch>,
    },
    /// The place is another note on this instrument, or none.
    OtherPitch {
        /// The note.
        index: usize,
        /// Where it was played.
        place: Place,
    },
    /// The hand cannot play it so from there: it is played there in another way.
    Finger {
        /// The note.
        index: usize,
    },
    /// The hand does not reach it from the notes around it: it is played elsewhere.
    Reach {
        /// The note.
        index: usize,
        /// Where it was played.
        place: Place,
    },
}

/// A kept fingering on the tune as it is now.
#[derive(Clone, Debug)]
pub struct FittedFingering {
    /// The fingering: what was kept, and around it what had to be found.
    pub fingering: Fingering,
    /// What did not fit.
    pub misfits: Vec<Misfit>,
    /// The notes that were found, by index: those that nothing was kept of, and those that did not fit.
    pub found: Vec<usize>,
    /// The pinned notes that fit, by index.
    pub pins: BTreeMap<usize, Pin>,
}

impl KeptNote {
    /// True when it may be a note of this pitch.
    fn is_at(&self, midi: Option<&MidiNumber>) -> bool {
        midi.is_some_and(|midi| self.pitch.is_none_or(|pitch| pitch.midi() == *midi))
    }
}

impl KeptFingering {
    /// What to keep of a fingering; `pins` are the notes that stay, by index.
    pub fn of(melody: &Melody, fingering: &Fingering, pins: &BTreeMap<usize, Pin>) -> Self {
        let note = |(index, played): (usize, &FingeredNote)| {
            let note = melody.notes()[index];
            KeptNote {
                number: index + 1,
                bar: Some(melody.bar_at(note.onset).number),
                pitch: Some(note.pitch),
                pin: Pin::from(*played),
                is_pinned: pins.contains_key(&index),
            }
        };
        KeptFingering {
            notes: fingering.notes.iter().enumerate().map(note).collect(),
            ..KeptFingering::default()
        }
    }

    /// The same fingering, found with these constraints.
    #[must_use]
    pub fn asked_by(self, constraints: &Constraints) -> Self {
        let open_strings = Some(constraints.open_strings);
        KeptFingering {
            positions: constraints.positions,
            open_strings: open_strings.filter(|it| *it != OpenStrings::Anywhere),
            strings: constraints.strings.clone(),
            start: constraints.start,
            end: constraints.end,
            max_shifts: constraints.max_shifts,
            ..self
        }
    }

    /// The octave, the written one when none was said.
    pub fn octave(&self) -> Octave {
        self.octave.unwrap_or(Octave::WRITTEN)
    }

    /// The homes by notes of a melody, those that it has no bars for left out.
    pub fn homes_in(&self, melody: &Melody) -> Vec<(Range<usize>, Home)> {
        let home = |it: &BarsHome| Some((it.notes(melody)?, Home::at(it.position)));
        self.homes.iter().filter_map(home).collect()
    }

    /// What was asked for but the pins.
    pub fn constraints(&self) -> Constraints {
        Constraints {
            positions: self.positions,
            open_strings: self.open_strings.unwrap_or(OpenStrings::Anywhere),
            strings: self.strings.clone(),
            start: self.start,
            end: self.end,
            max_shifts: self.max_shifts,
            pins: BTreeMap::new(),
        }
    }

    /// For each note of a melody, which of the kept notes it is.
    ///
    /// Where notes were put in or left out, those of a longest sequence of pitches that both have; otherwise by number.
    pub fn notes_of(&self, melody: &Melody) -> Vec<Option<usize>> {
        let pitches: Vec<_> = (melody.notes().iter())
            .map(|note| note.pitch.midi())
            .collect();
        let is_same = (self.notes.last()).is_none_or(|last| last.number <= pitches.len())
            && (self.notes.iter()).all(|kept| kept.is_at(pitches.get(kept.number.wrapping_sub(1))));
        match self.pitches() {
            Some(before) if !is_same => same_notes(&before, &pitches),
            _ => {
                let mut by_number = vec![None; pitches.len()];
                for (at, kept) in self.notes.iter().enumerate() {
                    let index = kept.number.wrapping_sub(1);
                    if kept.is_at(pitches.get(index)) {
                        by_number[index] = Some(at);
                    }
                }
                by_number
            }
        }
    }

    /// For each note of another kept fingering, which of these it is.
    #[cfg(feature = "formats")]
    pub(crate) fn same_notes(&self, other: &KeptFingering) -> Vec<Option<usize>> {
        match (self.pitches(), other.pitches()) {
            (Some(before), Some(now)) if !before.is_empty() => same_notes(&before, &now),
            _ => (other.notes.iter())
                .map(|note| {
                    (self
                        .notes
                        .binary_search_by_key(&note.number, |it| it.number))
                    .ok()
                })
                .collect(),
        }
    }

    /// The pitch of every note; `None` when some notes have no line, or no pitch.
    fn pitches(&self) -> Option<Vec<MidiNumber>> {
        let pitch = |(kept, number): (&KeptNote, usize)| {
            Some(kept.pitch.filter(|_| kept.number == number)?.midi())
        };
        self.notes.iter().zip(1..).map(pitch).collect()
    }

    /// The fingering on a melody: the kept notes as they are, the others as it is best around them.
    ///
    /// # Errors
    ///
    /// When a note cannot be played by this hand on this instrument, whatever is kept. `None` when the octave leaves the
    /// range of pitches.
    pub fn fit(
        &self,
        melody: &Melody,
        player: Player,
    ) -> Option<Result<FittedFingering, NoFingering>> {
        let line = TimedMelody::new(melody, self.octave(), None)?;
        let notes_of = self.notes_of(melody);
        let mut misfits: Vec<Misfit> = (self.notes.iter().enumerate())
            .filter(|(at, _)| !notes_of.contains(&Some(*at)))
            .map(|(_, kept)| Misfit::Gone {
                number: kept.number,
                pitch: kept.pitch,
            })
            .collect();
        let mut pins = BTreeMap::new();
        for (index, at) in notes_of.iter().enumerate() {
            let Some(at) = at else { continue };
            let pin = self.notes[*at].pin;
            let midi = line.notes()[index].pitch.midi();
            if player.instrument.midi_at(pin.place) != Some(midi) {
                let place = pin.place;
                misfits.push(Misfit::OtherPitch { index, place });
            } else if player.candidates(midi).iter().any(|it| pin.allows(it)) {
                pins.insert(index, pin);
            } else {
                misfits.push(Misfit::Finger { index });
                pins.insert(index, pin.place.into());
            }
        }
        let search = FingeringSearch {
            constraints: self.constraints(),
            homes: self.homes_in(melody),
            ..FingeringSearch::new(player)
        };
        let fitted = around(&search, &line, &mut pins, &mut misfits);
        Some(fitted.map(|mut fingering| {
            let is_pinned =
                |index: &usize| notes_of[*index].is_some_and(|at| self.notes[at].is_pinned);
            let asked = FingeringSearch {
                constraints: Constraints {
                    pins: pins
                        .iter()
                        .filter(|(index, _)| is_pinned(index))
                        .map(|(index, pin)| (*index, *pin))
                        .collect(),
                    ..search.constraints
                },
                ..search
            };
            if let Some(costs) = fingering.breakdown(&asked, &line) {
                fingering.cost = costs.iter().map(TermCosts::total).sum();
            }
            FittedFingering {
                misfits,
                found: (0..fingering.notes.len())
                    .filter(|index| !pins.contains_key(index))
                    .collect(),
                pins: asked.constraints.pins,
                fingering,
            }
        }))
    }
}

/// The best fingering around these pins; those that cannot be reached are taken out, the nearest to where it fails first.
fn around(
    search: &FingeringSearch,
    line: &TimedMelody,
    pins: &mut BTreeMap<usize, Pin>,
    misfits: &mut Vec<Misfit>,
) -> Result<Fingering, NoFingering> {
    // Whole fingerings, the usual case, need no search.
    let whole: Option<Vec<FingeredNote>> = (0..line.notes().len())
        .map(|index| {
            let pin = pins.get(&index)?;
            (pin.finger.is_some() || pin.place.fret.get() == 0).then_some(())?;
            Some(FingeredNote {
                position: pin.position?,
                place: pin.place,
                finger: pin.finger,
            })
        })
        .collect();
    if let Some(notes) = whole {
        let fingering = Fingering { notes, cost: 0.0 };
        if fingering.breakdown(search, line).is_some() {
            return Ok(fingering);
        }
    }
    let asked = FingeringSearch {
        constraints: Constraints {
            pins: pins.clone(),
            ..search.constraints.clone()
        },
        ..search.clone()
    };
    if let Ok(found) = asked.run_with_few_shifts(line) {
        return Ok(found);
    }
    loop {
        // What is kept holds, even outside the positions or strings that were asked for.
        let rest = FingeringSearch {
            constraints: Constraints {
                pins: pins.clone(),
                ..Constraints::default()
            },
            ..search.clone()
        };
        let stuck = match rest.run_with_few_shifts(line) {
            Ok(found) => return Ok(found),
            Err(stuck) => stuck,
        };
        let Some((&index, &pin)) = pins.range(..=stuck.index).next_back() else {
            return Err(stuck);
        };
        if pin == Pin::from(pin.place) {
            pins.remove(&index);
            misfits.retain(|it| *it != Misfit::Finger { index });
            let place = pin.place;
            misfits.push(Misfit::Reach { index, place });
        } else {
            pins.insert(index, pin.place.into());
            misfits.push(Misfit::Finger { index });
        }
    }
}
