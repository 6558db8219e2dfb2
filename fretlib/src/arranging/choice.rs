//! The player's choices: a voicing for a note, or none.

use std::fmt;

use thiserror::Error;

use super::arrangement::Arrangement;
use super::lattice::Lattice;
use super::voicing::{Shape, Voicing};
use crate::melody::Quarters;
use crate::neck::Finger;
use crate::theory::{Chord, Pitch};

/// The player's choice under one note.
#[derive(Clone, Debug, PartialEq)]
pub struct ArrangementChoice {
    /// The number of the melody note, from 1.
    pub note: usize,
    /// When the voicing begins, from the note's onset; not zero when the chord begins under a held note.
    pub at: Quarters,
    /// Which time round of a repeat it is for, from 1; each where it is `None`.
    pub time: Option<u32>,
    /// The written pitch of the note, so that a changed tune is noticed.
    pub pitch: Option<Pitch>,
    /// The chord over it, for the same reason.
    pub chord: Option<Chord>,
    /// The choice.
    pub chosen: Chosen,
    /// The player's own words about it.
    pub remark: Option<String>,
}

/// A voicing or none.
#[derive(Clone, Debug, PartialEq)]
pub enum Chosen {
    /// The note stays bare.
    Bare,
    /// This shape, with any fingers or with these, from the lowest string that sounds; 0 is an open string.
    Voicing {
        /// Frets from the lowest string, including the melody note.
        shape: Shape,
        /// Fingers from the lowest string that sounds; [`Chosen::THUMB`] for the thumb.
        fingers: Option<Vec<u8>>,
    },
}

/// Why a choice no longer fits the tune, the instrument or the hand.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum Unfit {
    /// There is no such note.
    #[error("the tune has {0} notes")]
    NoNote(usize),
    /// The note does not sound so often.
    #[error("the note sounds {}", if *.0 == 1 { "once".to_owned() } else { format!("{} times", .0) })]
    NoTime(usize),
    /// The note is another one now.
    #[error("the note is {0} now")]
    OtherNote(Pitch),
    /// The chord has changed.
    #[error("the chord is {0} now")]
    OtherChord(Chord),
    /// No voicing is asked for there: it is a passing note, or no chord is in force.
    #[error("no voicing is asked for there; another density may ask for one")]
    NotAsked,
    /// The shape does not have the melody on top, breaks a rule or is out of reach.
    #[error("the shape does not lie under this note, breaks a rule or is out of reach")]
    NoVoicing,
}

impl Chosen {
    /// The thumb among fingers.
    pub const THUMB: u8 = 5;

    /// The choice of exactly this voicing, with its fingers.
    pub fn voicing(lattice: &Lattice, voicing: &Voicing) -> Chosen {
        Chosen::Voicing {
            shape: voicing.shape(lattice.arranger().instrument),
            fingers: Some(fingers_from_the_lowest(voicing)),
        }
    }

    fn allows(&self, lattice: &Lattice, voicing: &Voicing) -> bool {
        match self {
            Chosen::Bare => false,
            Chosen::Voicing { shape, fingers } => {
                shape.is_of(voicing, lattice.arranger().instrument)
                    && fingers
                        .as_ref()
                        .is_none_or(|fingers| fingers_from_the_lowest(voicing) == *fingers)
            }
        }
    }
}

/// Fingers from the lowest string that sounds, 0 for an open one.
fn fingers_from_the_lowest(voicing: &Voicing) -> Vec<u8> {
    let mut places: Vec<_> = voicing.places().collect();
    places.sort_by_key(|it| std::cmp::Reverse(it.place.string.get()));
    places
        .iter()
        .map(|it| match it.finger {
            None if it.is_thumb() => Chosen::THUMB,
            finger => finger.map_or(0, Finger::get),
        })
        .collect()
}

/// The choices that count at one time of a repeat, as if it were the first.
pub fn for_time(choices: &[ArrangementChoice], time: u32) -> Vec<ArrangementChoice> {
    let counts = choices
        .iter()
        .filter(|it| it.time.is_none_or(|its| its == time));
    counts
        .map(|it| ArrangementChoice {
            time: it.time.map(|_| 1),
            ..it.clone()
        })
        .collect()
}

impl Lattice<'_> {
    /// The index of the moment of a choice; `None` for a note that stays bare.
    ///
    /// # Errors
    ///
    /// When the choice does not fit.
    pub fn moment_of(&self, choice: &ArrangementChoice) -> Result<Option<usize>, Unfit> {
        let notes = self.melody().notes();
        let index = choice
            .note
            .checked_sub(1)
            .filter(|index| *index < notes.len());
        let index = index.ok_or(Unfit::NoNote(notes.len()))?;
        if choice
            .pitch
            .is_some_and(|pitch| pitch != notes[index].pitch)
        {
            return Err(Unfit::OtherNote(notes[index].pitch));
        }
        if let Some(time) = choice.time {
            let sounds = self.times(index);
            if !(1..=sounds).contains(&(time as usize)) {
                return Err(Unfit::NoTime(sounds));
            }
        }
        if choice.chosen == Chosen::Bare {
            return Ok(None);
        }
        let moment = self
            .moments()
            .iter()
            .position(|it| it.note == index && it.at == choice.at);
        let moment = moment.ok_or(Unfit::NotAsked)?;
        let chord = self.moments()[moment].chord;
        if choice.chord.is_some_and(|wanted| wanted != chord) {
            return Err(Unfit::OtherChord(chord));
        }
        let mut voicings = self.voicings(moment).iter();
        match voicings.any(|voicing| choice.chosen.allows(self, voicing)) {
            true => Ok(Some(moment)),
            false => Err(Unfit::NoVoicing),
        }
    }

    /// How often a note sounds when the tune is played.
    ///
    /// # Panics
    ///
    /// When there is no such note.
    pub fn times(&self, note: usize) -> usize {
        let onset = self.melody().notes()[note].onset;
        let order = self.melody().playing_order();
        let passes = order.passes().iter();
        passes
            .filter(|pass| (pass.start..pass.end).contains(&onset))
            .count()
    }

    /// The cheapest arrangements around what the player chose, and the choices that do not fit with why; those are left
    /// out, the others hold. Of two choices for one moment the later one counts.
    ///
    /// Choices for one time of a repeat count the first time; [`for_time`] says what counts another time.
    pub fn solve_around(
        &self,
        count: usize,
        choices: &[ArrangementChoice],
    ) -> (Vec<Arrangement>, Vec<(usize, Unfit)>) {
        let wanted = self.wanted(choices);
        let found = self.solve_where(
            count,
            |moment, voicing| wanted.allows(self, moment, voicing),
            |note| wanted.bare[note],
        );
        (found, wanted.unfit)
    }

    /// What choices ask for, note by note and moment by moment.
    pub(super) fn wanted(&self, choices: &[ArrangementChoice]) -> Wanted {
        let mut wanted = Wanted {
            bare: vec![false; self.melody().notes().len()],
            at: vec![None; self.moments().len()],
            unfit: Vec::new(),
        };
        // What is for one time only takes the place of what is for each.
        let (each, one): (Vec<_>, Vec<_>) =
            (choices.iter().enumerate()).partition(|(_, choice)| choice.time.is_none());
        for (index, choice) in each.into_iter().chain(one) {
            match self.moment_of(choice) {
                Ok(_) if choice.time.is_some_and(|time| time != 1) => {}
                Err(error) => wanted.unfit.push((index, error)),
                Ok(None) => wanted.bare[choice.note - 1] = true,
                Ok(Some(moment)) => {
                    wanted.bare[choice.note - 1] = false;
                    wanted.at[moment] = Some(choice.chosen.clone());
                }
            }
        }
        wanted
    }
}

/// What choices ask for.
pub(super) struct Wanted {
    /// By note: nothing is to be struck under it.
    pub(super) bare: Vec<bool>,
    /// By moment: what is to sound.
    pub(super) at: Vec<Option<Chosen>>,
    /// Choices that do not fit, by their numbers.
    pub(super) unfit: Vec<(usize, Unfit)>,
}

impl Wanted {
    pub(super) fn allows(&self, lattice: &Lattice, moment: usize, voicing: &Voicing) -> bool {
        let chosen = self.at[moment].as_ref();
        chosen.is_none_or(|chosen| chosen.allows(lattice, voicing))
    }
}

impl fmt::Display for Chosen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Chosen::Bare => f.write_str("bare"),
            Chosen::Voicing { shape, .. } => shape.fmt(f),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::arranging::{ArrangingSettings, Style};
    use crate::neck::Instrument;

    #[test]
    fn the_rest_is_found_again_around_the_choices() {
        let melody = tune(
            "C major",
            r#"(chords: "Dm7 | G7 | Cmaj7", notes: "F5 w | F5 w | E5 w")"#,
        );
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::PLUCKED);
        let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default()).unwrap();
        let free = lattice.solve(1).remove(0);
        let choice = |note, chosen| ArrangementChoice {
            note,
            at: Quarters::ZERO,
            time: None,
            pitch: None,
            chord: None,
            chosen,
            remark: None,
        };
        let shape = |text: &str| Chosen::Voicing {
            shape: text.parse().unwrap(),
            fingers: None,
        };
        let choices = [
            choice(2, shape("x-x-3-4-3-x")),
            choice(2, shape("x-x-5-4-6-x")),
            choice(3, Chosen::Bare),
            choice(9, Chosen::Bare),
        ];
        let (found, unfit) = lattice.solve_around(1, &choices);
        // D is not F, whatever the fingers; and there is no ninth note.
        assert_eq!(unfit, [(0, Unfit::NoVoicing), (3, Unfit::NoNote(3))]);
        assert_eq!(
            found[0].notes[1].under[0]
                .voicing
                .shape(&guitar)
                .to_string(),
            "x-x-5-4-6-x"
        );
        assert!(found[0].notes[2].under.iter().all(|it| it.is_only_held()));
        assert!(found[0].notes[0].under.len() == 1);
        // Once each time there is: this tune is not repeated.
        let timed = |time, shape| ArrangementChoice {
            time: Some(time),
            ..choice(2, shape)
        };
        let twice = [
            timed(1, Chosen::Bare),
            choice(2, shape("x-x-5-4-6-x")),
            timed(2, Chosen::Bare),
        ];
        let (first, unfit) = lattice.solve_around(1, &twice);
        assert_eq!(unfit, [(2, Unfit::NoTime(1))]);
        assert_eq!(
            first[0].notes[1].bare,
            Some(crate::arranging::BareReason::Asked)
        );
        let (second, _) = lattice.solve_around(1, &for_time(&twice, 3));
        assert_eq!(second[0].notes[1].bare, None);
        // What is found is found again when it is chosen.
        let kept: Vec<ArrangementChoice> = free
            .struck()
            .map(|(note, it)| choice(note + 1, Chosen::voicing(&lattice, &it.voicing)))
            .collect();
        assert_eq!(lattice.solve_around(1, &kept).0[0], free);
    }
}
