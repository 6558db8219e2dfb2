//! A fingering in the player's hands: where notes are pinned, where the hand is at home, and the way back.

use std::collections::BTreeMap;

use fretlib::fingering::{
    BarsHome, FingeredNote, Fingering, FingeringSearch, Home, KeptFingering, Pin, Term, TimedMelody,
};
use fretlib::melody::Melody;
use fretlib::neck::{Place, Position};
use fretlib::theory::Octave;

use crate::screen::UndoStack;

/// What the player decided.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Decisions {
    /// The notes that stay, by index.
    pub pins: BTreeMap<usize, Pin>,
    /// Where the hand is at home.
    pub homes: Vec<BarsHome>,
}

/// A way to play the note the player looks at.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceChoice {
    /// How the note is played when it is pinned there.
    pub note: FingeredNote,
    /// How often the hand then moves in the whole tune; `None` where the tune is too long to try.
    pub shifts: Option<usize>,
    /// It is played so now.
    pub is_present: bool,
}

/// A fingering and the decisions it stands around. No file, no terminal.
pub struct FingeringEditor<'a> {
    /// The search, without pins and homes of the player's.
    search: FingeringSearch<'a>,
    melody: &'a Melody,
    line: TimedMelody,
    octave: Octave,
    decisions: Decisions,
    fingering: Fingering,
    undo: UndoStack<(Decisions, Fingering)>,
    saved: (Decisions, Fingering),
    is_new: bool,
}

/// A tune of more notes has its other places shown without trying them.
const MOST_TRIED: usize = 1_500;
/// A shift of more frets than this is a long one; chosen by ear.
const FAR: u8 = 5;

impl<'a> FingeringEditor<'a> {
    /// Begins with a fingering; `is_new` when no file says it.
    pub fn new(
        search: FingeringSearch<'a>,
        melody: &'a Melody,
        octave: Octave,
        (decisions, fingering): (Decisions, Fingering),
        is_new: bool,
    ) -> Option<FingeringEditor<'a>> {
        Some(FingeringEditor {
            search: FingeringSearch { count: 1, ..search },
            melody,
            line: TimedMelody::new(melody, octave, None)?,
            octave,
            saved: (decisions.clone(), fingering.clone()),
            decisions,
            fingering,
            undo: UndoStack::default(),
            is_new,
        })
    }

    /// The melody.
    pub fn melody(&self) -> &Melody {
        self.melody
    }

    /// How many strings there are.
    pub fn strings(&self) -> usize {
        self.search.player.instrument.strings().len()
    }

    /// The fingering as it stands.
    pub fn fingering(&self) -> &Fingering {
        &self.fingering
    }

    /// Whether a note is pinned.
    pub fn is_pinned(&self, note: usize) -> bool {
        self.decisions.pins.contains_key(&note)
    }

    /// How many notes are pinned.
    pub fn pinned(&self) -> usize {
        self.decisions.pins.len()
    }

    /// The homes, in words.
    pub fn homes(&self) -> String {
        let homes: Vec<String> = self
            .decisions
            .homes
            .iter()
            .map(BarsHome::to_string)
            .collect();
        homes.join(" ")
    }

    /// True when the file does not say what stands here.
    pub fn is_changed(&self) -> bool {
        self.is_new || (&self.saved.0, &self.saved.1) != (&self.decisions, &self.fingering)
    }

    /// What to keep of it.
    pub fn kept(&self) -> KeptFingering {
        KeptFingering {
            octave: Some(self.octave),
            homes: self.decisions.homes.clone(),
            ..KeptFingering::of(self.melody, &self.fingering, &self.decisions.pins)
        }
    }

    /// The file says what stands here.
    pub fn now_saved(&mut self) {
        self.saved = (self.decisions.clone(), self.fingering.clone());
        self.is_new = false;
    }

    /// The places of a note, each with the way it is played there, from the nut up.
    pub fn places(&self, note: usize) -> Vec<PlaceChoice> {
        let present = self.fingering.notes[note];
        let midi = self.line.notes()[note].pitch.midi();
        let instrument = self.search.player.instrument;
        let mut places: Vec<Place> = instrument.places_for(midi).collect();
        places.sort_by_key(|place| place.fret);
        let choice = |place: Place| {
            if place == present.place {
                return Some(PlaceChoice {
                    note: present,
                    shifts: Some(self.fingering.shifts().count()),
                    is_present: true,
                });
            }
            if self.line.notes().len() > MOST_TRIED {
                let candidates = self.search.player.candidates(midi).into_iter();
                let note = candidates
                    .filter(|it| it.place == place)
                    .min_by_key(|it| it.position.get().abs_diff(present.position.get()))?;
                return Some(PlaceChoice {
                    note,
                    shifts: None,
                    is_present: false,
                });
            }
            let mut decisions = self.decisions.clone();
            decisions.pins.insert(note, place.into());
            let found = self.found(&decisions)?;
            Some(PlaceChoice {
                note: found.notes[note],
                shifts: Some(found.shifts().count()),
                is_present: false,
            })
        };
        places.into_iter().filter_map(choice).collect()
    }

    /// What the hand should mind at each note; the words are the usual cautions.
    pub fn cautions(&self) -> Vec<Option<&'static str>> {
        let notes = &self.fingering.notes;
        let costs = (self.fingering).breakdown(&self.asked(&self.decisions), &self.line);
        let is_wide = |note: usize| {
            let costs = costs.as_ref();
            costs.is_some_and(|costs| costs[note].get(Term::Span) > 0.0)
        };
        let caution = |note: usize| {
            if is_wide(note) {
                return Some("past comfortable reach: keep it short, stop at the first pain");
            }
            if notes[note].is_stretched() {
                return Some("a stretch: let the hand go after it, stop at the first pain");
            }
            let before = notes[note.saturating_sub(1)].position.get();
            let frets = before.abs_diff(notes[note].position.get());
            (frets > FAR).then_some("a long shift: practise it slowly, stop at the first pain")
        };
        (0..notes.len()).map(caution).collect()
    }

    /// Pins a note at a place, and finds the rest anew around it; how many other notes are played elsewhere now.
    ///
    /// # Errors
    ///
    /// When the hand cannot get there.
    pub fn pin(&mut self, note: usize, pin: Pin) -> Result<usize, &'static str> {
        let mut decisions = self.decisions.clone();
        decisions.pins.insert(note, pin);
        self.decide(decisions)
    }

    /// Pins a note as it is played now, or lets it go again.
    ///
    /// # Errors
    ///
    /// When no way along the neck is left.
    pub fn toggle_pin(&mut self, note: usize) -> Result<usize, &'static str> {
        let mut decisions = self.decisions.clone();
        if decisions.pins.remove(&note).is_none() {
            decisions
                .pins
                .insert(note, self.fingering.notes[note].into());
        }
        self.decide(decisions)
    }

    /// Makes a position home from the bar of a note on; takes the home away that begins there already.
    ///
    /// # Errors
    ///
    /// When no way along the neck is left.
    pub fn home_from(&mut self, note: usize, position: Position) -> Result<usize, &'static str> {
        let bar_of = |note: usize| self.melody.bar_at(self.melody.notes()[note].onset).number;
        let (bar, last) = (bar_of(note), bar_of(self.melody.notes().len() - 1));
        let mut decisions = self.decisions.clone();
        let home = BarsHome {
            position,
            bars: Some(bar..=last.max(bar)),
        };
        let begins = |it: &BarsHome| it.bars.as_ref().is_some_and(|bars| *bars.start() == bar);
        let is_there = decisions.homes.iter().any(begins);
        decisions.homes = (decisions.homes.into_iter())
            .filter_map(|it| before_bar(it, bar))
            .collect();
        if !is_there {
            decisions.homes.push(home);
        }
        self.decide(decisions)
    }

    /// Takes the last decision back; false when there is none.
    pub fn undo(&mut self) -> bool {
        let now = (self.decisions.clone(), self.fingering.clone());
        let before = self.undo.back(&now);
        self.stand_at(before)
    }

    /// Takes the last decision that was taken back again; false when there is none.
    pub fn redo(&mut self) -> bool {
        let now = (self.decisions.clone(), self.fingering.clone());
        let after = self.undo.forth(&now);
        self.stand_at(after)
    }

    fn stand_at(&mut self, state: Option<(Decisions, Fingering)>) -> bool {
        let Some((decisions, fingering)) = state else {
            return false;
        };
        (self.decisions, self.fingering) = (decisions, fingering);
        true
    }

    fn decide(&mut self, decisions: Decisions) -> Result<usize, &'static str> {
        let found = self.found(&decisions);
        let found = found.ok_or("the hand cannot get there from the notes that are pinned")?;
        let pairs = self.fingering.notes.iter().zip(&found.notes);
        let moved = pairs
            .filter(|(one, other)| one.place != other.place)
            .count();
        self.undo
            .keep(&(self.decisions.clone(), self.fingering.clone()));
        (self.decisions, self.fingering) = (decisions, found);
        Ok(moved)
    }

    fn found(&self, decisions: &Decisions) -> Option<Fingering> {
        self.asked(decisions).run_with_few_shifts(&self.line).ok()
    }

    /// The search with the decisions in it.
    fn asked(&self, decisions: &Decisions) -> FingeringSearch<'a> {
        let mut search = self.search.clone();
        search.constraints.pins = decisions.pins.clone();
        let homes = decisions.homes.iter();
        search.homes = homes
            .filter_map(|it| Some((it.notes(self.melody)?, Home::at(it.position))))
            .collect();
        search.in_usual_region(&self.line).0
    }
}

/// What is left of a home before a bar.
fn before_bar(home: BarsHome, bar: u32) -> Option<BarsHome> {
    let (first, last) = match &home.bars {
        Some(bars) => (*bars.start(), *bars.end()),
        None => (0, u32::MAX),
    };
    (first < bar).then(|| BarsHome {
        bars: Some(first..=last.min(bar - 1)),
        ..home
    })
}
