//! An arrangement in the player's hands: what is chosen, what can be chosen instead, and the way back.

use std::sync::Arc;

use fretlib::arranging::{
    Accompaniment, ArrangedNote, Arrangement, ArrangementChoice, Choosing, Chosen, Lattice,
    RankedVoicing, Unfit, Voicing, VoicingFilter,
};
use fretlib::melody::Quarters;
use fretlib::sound::Performance;

use super::arrangement_sound::{ArrangementSound, one_voicing};
use crate::failure::Failure;
use crate::screen::UndoStack;

/// A note at which the player may stop; once for each voicing that may sound under it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// The index of the note.
    pub note: usize,
    /// The number of the moment; `None` where no voicing is asked for.
    pub moment: Option<usize>,
    /// When it begins, from the note's onset.
    pub at: Quarters,
}

/// What was decided at a stop.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Decision {
    /// Nothing: the cheapest way through decides.
    Open,
    /// A voicing was chosen.
    Pinned,
    /// Nothing is to be struck.
    Bare,
    /// What was chosen does not fit.
    Unfit,
}

/// Why nothing can be done at a stop.
const PASSES: &str = "nothing is asked for here; another density may, as in `--density full`";

/// The arrangement and the choices it stands around. No file, no terminal, no sound device.
pub struct ArrangementEditor<'a> {
    lattice: &'a Lattice<'a>,
    choosing: Choosing<'a>,
    arrangement: Arrangement,
    choices: Vec<ArrangementChoice>,
    unfit: Vec<(usize, Unfit)>,
    /// What the file says.
    saved: Vec<ArrangementChoice>,
    undo: UndoStack<Vec<ArrangementChoice>>,
    stops: Vec<Stop>,
}

impl<'a> ArrangementEditor<'a> {
    /// Begins with choices; those in `saved` are in the file.
    pub fn new(
        lattice: &'a Lattice<'a>,
        choices: Vec<ArrangementChoice>,
        saved: Vec<ArrangementChoice>,
    ) -> ArrangementEditor<'a> {
        let mut choosing = Choosing::new(lattice);
        let unfit = choosing.choose(&choices);
        ArrangementEditor {
            arrangement: choosing.arrangement(),
            stops: stops(lattice),
            undo: UndoStack::default(),
            lattice,
            choosing,
            choices,
            unfit,
            saved,
        }
    }

    /// Where the player may stop, in order.
    pub fn stops(&self) -> &[Stop] {
        &self.stops
    }

    /// The voicings it is chosen from.
    pub fn lattice(&self) -> &'a Lattice<'a> {
        self.lattice
    }

    /// The arrangement as it stands.
    pub fn arrangement(&self) -> &Arrangement {
        &self.arrangement
    }

    /// What was chosen.
    pub fn choices(&self) -> &[ArrangementChoice] {
        &self.choices
    }

    /// True when something was chosen that the file does not say.
    pub fn is_changed(&self) -> bool {
        self.choices != self.saved
    }

    /// The file says what is chosen.
    pub fn now_saved(&mut self) {
        self.saved.clone_from(&self.choices);
    }

    /// The note of a stop as it is arranged.
    pub fn note(&self, stop: usize) -> &ArrangedNote {
        &self.arrangement.notes[self.stops[stop].note]
    }

    /// What sounds under a stop; only what goes on from before, under a bare note.
    pub fn under(&self, stop: usize) -> Option<&Accompaniment> {
        let Stop { moment, at, .. } = self.stops[stop];
        let mut under = self.note(stop).under.iter();
        under.find(|it| match it.is_only_held() {
            true => it.at == at,
            false => Some(it.moment) == moment,
        })
    }

    /// The voicing that is struck at a stop.
    pub fn struck(&self, stop: usize) -> Option<&Accompaniment> {
        self.under(stop).filter(|it| !it.is_only_held())
    }

    /// What was decided at a stop.
    pub fn decision(&self, stop: usize) -> Decision {
        let Some(index) = self.choice_at(stop) else {
            return Decision::Open;
        };
        if self.unfit.iter().any(|(unfit, _)| *unfit == index) {
            return Decision::Unfit;
        }
        match self.choices[index].chosen {
            Chosen::Bare => Decision::Bare,
            Chosen::Voicing { .. } => Decision::Pinned,
        }
    }

    /// Why the choice at a stop does not fit.
    pub fn unfit(&self, stop: usize) -> Option<&Unfit> {
        let index = self.choice_at(stop)?;
        let found = self.unfit.iter().find(|(unfit, _)| *unfit == index);
        found.map(|(_, why)| why)
    }

    /// The voicings there are at a stop, the cheapest first; also where the note was left bare.
    pub fn ranked(&mut self, stop: usize, filters: &[VoicingFilter]) -> Vec<RankedVoicing<'a>> {
        let Some(moment) = self.stops[stop].moment else {
            return Vec::new();
        };
        if self.decision(stop) != Decision::Bare {
            return self.lattice.ranked(&self.arrangement, moment, filters);
        }
        // As if it were not bare, and back again.
        let mut without = self.choices.clone();
        without.retain(|choice| !self.is_about(choice, stop));
        self.choosing.choose(&without);
        let arrangement = self.choosing.arrangement();
        self.choosing.choose(&self.choices);
        self.lattice.ranked(&arrangement, moment, filters)
    }

    /// Puts a voicing at a stop and finds the rest anew around it.
    pub fn pick(&mut self, stop: usize, voicing: &Voicing) {
        let chosen = Chosen::voicing(self.lattice, voicing);
        self.decide(stop, Some(chosen));
    }

    /// Pins the voicing that sounds at a stop, or lets it go again.
    ///
    /// # Errors
    ///
    /// Why there is nothing to pin.
    pub fn pin(&mut self, stop: usize) -> Result<(), &'static str> {
        match (self.decision(stop), self.struck(stop)) {
            (Decision::Pinned | Decision::Unfit, _) => self.decide(stop, None),
            (_, Some(it)) => {
                let chosen = Chosen::voicing(self.lattice, &it.voicing);
                self.decide(stop, Some(chosen));
            }
            (Decision::Bare, None) => return Err("nothing sounds here: b puts a voicing back"),
            (Decision::Open, None) => return Err(PASSES),
        }
        Ok(())
    }

    /// Leaves the note of a stop bare, or puts a voicing back under it.
    ///
    /// # Errors
    ///
    /// Why it is bare anyway.
    pub fn leave_bare(&mut self, stop: usize) -> Result<(), &'static str> {
        if self.stops[stop].moment.is_none() {
            return Err(PASSES);
        }
        let chosen = match self.decision(stop) {
            Decision::Bare => None,
            _ => Some(Chosen::Bare),
        };
        self.decide(stop, chosen);
        Ok(())
    }

    /// Takes the last decision back; false when there is none.
    pub fn undo(&mut self) -> bool {
        match self.undo.back(&self.choices) {
            Some(choices) => self.take(choices),
            None => return false,
        }
        true
    }

    /// Takes the last decision that was taken back again; false when there is none.
    pub fn redo(&mut self) -> bool {
        match self.undo.forth(&self.choices) {
            Some(choices) => self.take(choices),
            None => return false,
        }
        true
    }

    /// Does a step of what the next choices may need; false when there is nothing left to do.
    pub fn prepare(&mut self) -> bool {
        self.choosing.prepare()
    }

    /// The bar of a stop and the next one as they are arranged.
    pub fn sound_of_bars(&self, stop: usize, contrast: f64) -> Result<Arc<Performance>, Failure> {
        let melody = self.lattice.melody();
        let note = &melody.notes()[self.stops[stop].note];
        let bars = melody.bars();
        let bar = bars.partition_point(|bar| bar.onset <= note.onset);
        let sound = ArrangementSound {
            melody,
            instrument: self.lattice.arranger().instrument,
            arrangement: &self.arrangement,
            contrast,
            tempo: self.lattice.settings().tempo,
        };
        Ok(sound.two_bars(bar.saturating_sub(1))?.performance)
    }

    /// One voicing alone.
    pub fn sound_of(&self, voicing: &Voicing, contrast: f64) -> Result<Arc<Performance>, Failure> {
        one_voicing(voicing, self.lattice.arranger().instrument, contrast).map(Arc::new)
    }

    fn decide(&mut self, stop: usize, chosen: Option<Chosen>) {
        let Stop { note, moment, at } = self.stops[stop];
        let mut choices = self.choices.clone();
        let (mut remark, mut time) = (None, None);
        choices.retain(|older| {
            // A bare note has no voicing at all; a voicing takes the place of the one at its own moment.
            let goes = older.note == note + 1
                && older.time.is_none_or(|time| time == 1)
                && (older.at == at || chosen == Some(Chosen::Bare) || older.chosen == Chosen::Bare);
            if goes {
                remark = remark.take().or(older.remark.clone());
                time = time.or(older.time);
            }
            !goes
        });
        if let Some(chosen) = chosen {
            let is_bare = chosen == Chosen::Bare;
            choices.push(ArrangementChoice {
                note: note + 1,
                at: if is_bare { Quarters::ZERO } else { at },
                time,
                pitch: Some(self.lattice.melody().notes()[note].pitch),
                chord: moment.map(|moment| self.lattice.moments()[moment].chord),
                chosen,
                remark,
            });
            choices.sort_by_key(|choice| (choice.note, choice.at, choice.time));
        }
        self.undo.keep(&self.choices);
        self.take(choices);
    }

    fn take(&mut self, choices: Vec<ArrangementChoice>) {
        self.choices = choices;
        self.unfit = self.choosing.choose(&self.choices);
        self.arrangement = self.choosing.arrangement();
    }

    fn choice_at(&self, stop: usize) -> Option<usize> {
        self.choices
            .iter()
            .rposition(|choice| self.is_about(choice, stop))
    }

    fn is_about(&self, choice: &ArrangementChoice, stop: usize) -> bool {
        let Stop { note, at, .. } = self.stops[stop];
        choice.note == note + 1
            && choice.time.is_none_or(|time| time == 1)
            && (choice.chosen == Chosen::Bare || choice.at == at)
    }
}

/// Every note, and every moment of a note that has some.
fn stops(lattice: &Lattice) -> Vec<Stop> {
    let mut stops = Vec::new();
    let mut moments = lattice.moments().iter().enumerate().peekable();
    for note in 0..lattice.melody().notes().len() {
        let first = stops.len();
        while let Some((moment, it)) = moments.next_if(|(_, it)| it.note == note) {
            if stops.len() == first && !it.at.is_zero() {
                // The note begins before anything sounds under it.
                stops.push(Stop {
                    note,
                    moment: None,
                    at: Quarters::ZERO,
                });
            }
            stops.push(Stop {
                note,
                moment: Some(moment),
                at: it.at,
            });
        }
        if stops.len() == first {
            stops.push(Stop {
                note,
                moment: None,
                at: Quarters::ZERO,
            });
        }
    }
    stops
}
