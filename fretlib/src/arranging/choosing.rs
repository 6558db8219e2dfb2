//! The cheapest arrangement while the player chooses, found anew only where a choice made a difference.

use std::collections::HashMap;

use super::arrangement::{Arrangement, BareReason};
use super::bare_notes::PassageCosts;
use super::best_paths::{PartialPath, PathStage, Sweep, advance, back, finish, start};
use super::choice::{ArrangementChoice, Unfit, Wanted};
use super::lattice::{Kept, Lattice};

/// An arrangement that follows the player's choices.
///
/// It keeps the cheapest ways from the start to every voicing, and from every voicing to the end. A choice for one note
/// leaves the former right up to that note and the latter right after it, so that the two have only to be joined there.
/// What comes out is what [`Lattice::solve_around`] finds.
///
/// ```
/// use fretlib::arranging::{Arranger, ArrangingSettings, Choosing, Lattice, Style};
/// use fretlib::format::{arrangement_ron, tune_ron};
/// use fretlib::neck::{Hand, Instrument};
///
/// let source = r#"(key: "C major", meter: "4/4", lines: [(chords: "Dm7 | G7 | Cmaj7", notes: "F5 w | F5 w | E5 w")])"#;
/// let melody = tune_ron::read(source.as_bytes())?.melody;
/// let guitar = Instrument::default();
/// let arranger = Arranger { instrument: &guitar, hand: Hand::MEDIUM, style: Style::PLUCKED };
/// let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default())?;
/// let mut choosing = Choosing::new(&lattice);
/// let free = choosing.arrangement().cost;
/// let choices = arrangement_ron::read(r#"(choices: [(note: 2, shape: "x-x-5-4-6-x")])"#)?.choices;
/// assert!(choosing.choose(&choices).is_empty());
/// assert!(choosing.arrangement().cost >= free);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Choosing<'a> {
    lattice: &'a Lattice<'a>,
    wanted: Wanted,
    /// Moments that keep a voicing, each with the way to it from the one before.
    stages: Vec<(Kept, PassageCosts)>,
    end: PassageCosts,
    reasons: HashMap<usize, BareReason>,
    /// The ways from the start to the first stages.
    onward: Vec<Vec<PartialPath>>,
    /// The ways from the last stages to the end, those of the last stage first.
    backward: Vec<Vec<PartialPath>>,
}

impl<'a> Choosing<'a> {
    /// Nothing is chosen yet.
    pub fn new(lattice: &'a Lattice<'a>) -> Choosing<'a> {
        let (kept, reasons) = lattice.kept(|_, _| true, |_| false);
        let (passages, end) = lattice.passages(&kept);
        Choosing {
            wanted: lattice.wanted(&[]),
            stages: kept.into_iter().zip(passages).collect(),
            end,
            reasons,
            onward: Vec::new(),
            backward: Vec::new(),
            lattice,
        }
    }

    /// Takes choices in place of those before, and says which of them do not fit; those are left out, the others hold.
    pub fn choose(&mut self, choices: &[ArrangementChoice]) -> Vec<(usize, Unfit)> {
        let wanted = self.lattice.wanted(choices);
        let before = std::mem::replace(&mut self.wanted, wanted);
        for moments in self.lattice.moments_by_note() {
            let note = self.lattice.moments()[moments.start].note;
            let is_same = before.bare[note] == self.wanted.bare[note]
                && before.at[moments.clone()] == self.wanted.at[moments.clone()];
            if !is_same {
                self.find_under(moments);
            }
        }
        self.wanted.unfit.clone()
    }

    /// The cheapest arrangement around what is chosen.
    pub fn arrangement(&mut self) -> Arrangement {
        let count = self.stages.len();
        if count == 0 {
            let cost = self.end.get(0, 0);
            return Arrangement::new(self.lattice, &[], &self.reasons, cost);
        }
        while self.onward.len() + self.backward.len() < count {
            self.go_onward();
        }
        // The stage where both tables meet.
        if self.onward.len() + self.backward.len() == count {
            match self.onward.is_empty() {
                true => self.go_onward(),
                false => self.go_backward(),
            }
        }
        let meeting = count - self.backward.len();
        let candidates = self.stages[meeting].0.candidates.iter();
        let ways = self.onward[meeting]
            .iter()
            .zip(&self.backward[count - 1 - meeting]);
        let costs = candidates
            .zip(ways)
            .map(|(it, (to, from))| to.cost + from.cost - it.cost);
        let (best, cost) =
            costs.enumerate().fold(
                (0, f64::INFINITY),
                |best, it| if it.1 < best.1 { it } else { best },
            );
        let mut path = back(&self.onward[..=meeting], 1, best, 0);
        let onwards = back(&self.backward[..count - meeting], 1, best, 0);
        path.extend(onwards.into_iter().rev().skip(1));
        let chosen: Vec<(usize, usize)> = self
            .stages
            .iter()
            .zip(path)
            .map(|((kept, _), index)| (kept.moment, kept.allowed[index] as usize))
            .collect();
        Arrangement::new(self.lattice, &chosen, &self.reasons, cost)
    }

    /// Does a step of what the next choices may need, wherever they are made; false when there is nothing left to do.
    ///
    /// For moments when nobody waits.
    pub fn prepare(&mut self) -> bool {
        if self.onward.len() < self.stages.len() {
            self.go_onward();
        } else if self.backward.len() < self.stages.len() {
            self.go_backward();
        } else {
            return false;
        }
        true
    }

    fn stage(&self, index: usize) -> PathStage<'_> {
        let (kept, passage) = &self.stages[index];
        kept.stage(passage)
    }

    fn go_onward(&mut self) {
        let next = self.onward.len();
        let weights = &self.lattice.settings.weights;
        let ways = match next.checked_sub(1) {
            None => start(&self.stage(next), 1),
            Some(before) => advance(
                &self.stage(before),
                &self.onward[before],
                &self.stage(next),
                Sweep::Onward,
                weights,
                1,
            ),
        };
        self.onward.push(ways);
    }

    fn go_backward(&mut self) {
        let done = self.backward.len();
        let next = self.stages.len() - 1 - done;
        let weights = &self.lattice.settings.weights;
        let ways = match done.checked_sub(1) {
            None => finish(&self.stage(next), &self.end),
            Some(after) => advance(
                &self.stage(next + 1),
                &self.backward[after],
                &self.stage(next),
                Sweep::Backward,
                weights,
                1,
            ),
        };
        self.backward.push(ways);
    }

    /// Finds anew what may sound under a note, and forgets the ways that lead through it.
    fn find_under(&mut self, moments: std::ops::Range<usize>) {
        let lattice = self.lattice;
        let note = lattice.moments()[moments.start].note;
        let first = self
            .stages
            .partition_point(|(kept, _)| kept.moment < moments.start);
        let after = self
            .stages
            .partition_point(|(kept, _)| kept.moment < moments.end);
        self.onward.truncate(first);
        self.backward.truncate(self.stages.len() - after);
        let under = match self.wanted.bare[note] {
            true => Err(BareReason::Asked),
            false => lattice.kept_under(moments, |moment, voicing| {
                self.wanted.allows(lattice, moment, voicing)
            }),
        };
        let under = match under {
            Ok(under) => {
                self.reasons.remove(&note);
                under
            }
            Err(reason) => {
                self.reasons.insert(note, reason);
                Vec::new()
            }
        };
        let mut found: Vec<(Kept, PassageCosts)> = Vec::with_capacity(under.len());
        for kept in under {
            let before = found
                .last()
                .or(first.checked_sub(1).map(|index| &self.stages[index]));
            let passage = lattice.passage(before.map(|(kept, _)| kept), Some(&kept));
            found.push((kept, passage));
        }
        let following = first + found.len();
        self.stages.splice(first..after, found);
        let (before, rest) = self.stages.split_at_mut(following);
        let before = before.last().map(|(kept, _)| kept);
        match rest.first_mut() {
            Some((kept, passage)) => *passage = lattice.passage(before, Some(kept)),
            None => self.end = lattice.passage(before, None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::arranging::{ArrangingSettings, Chosen, Density, Style};
    use crate::melody::Quarters;
    use crate::neck::Instrument;

    const LINES: &str = r#"(chords: "Dm7 | G7 | Cmaj7 A7 | Dm7 | Cmaj7", notes: "F5 h E q D | F5 w | E5 w | D5 q E F A | G5 w")"#;

    /// Choices come and go in an order without plan; each time the cost is that of a search from nothing.
    #[test]
    fn what_is_joined_is_what_a_search_from_nothing_finds() {
        let melody = tune("C major", LINES);
        let guitar = Instrument::default();
        for (style, density) in [
            (Style::SHELLS, Density::Full),
            (Style::TWO_VOICES, Density::Medium),
        ] {
            let arranger = medium_hand(&guitar, style);
            let settings = ArrangingSettings {
                density,
                ..ArrangingSettings::default()
            };
            let lattice = Lattice::new(arranger, &melody, settings).unwrap();
            let mut choosing = Choosing::new(&lattice);
            let mut choices: Vec<ArrangementChoice> = Vec::new();
            let mut seed = 7u32;
            let mut random = |below: usize| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (seed >> 8) as usize % below
            };
            for step in 0..60 {
                let moment = random(lattice.moments().len());
                let asked = lattice.moments()[moment];
                let voicings = lattice.voicings(moment);
                let chosen = match random(4) {
                    0 => Some(Chosen::Bare),
                    1 => None,
                    _ => Some(Chosen::voicing(&lattice, &voicings[random(voicings.len())])),
                };
                choices.retain(|it| it.note != asked.note + 1);
                choices.extend(chosen.map(|chosen| ArrangementChoice {
                    note: asked.note + 1,
                    at: if chosen == Chosen::Bare {
                        Quarters::ZERO
                    } else {
                        asked.at
                    },
                    time: None,
                    pitch: None,
                    chord: None,
                    chosen,
                    remark: None,
                }));
                let unfit = choosing.choose(&choices);
                for _ in 0..random(3) {
                    choosing.prepare();
                }
                let (found, expected_unfit) = lattice.solve_around(1, &choices);
                let joined = choosing.arrangement();
                assert_eq!(unfit, expected_unfit);
                assert!(
                    (joined.cost - found[0].cost).abs() < 1e-9,
                    "step {step}: {} for {}",
                    joined.cost,
                    found[0].cost
                );
                let struck =
                    |it: &Arrangement| it.struck().map(|(note, _)| note).collect::<Vec<_>>();
                assert_eq!(struck(&joined), struck(&found[0]));
                for (chosen, other) in joined.notes.iter().zip(&found[0].notes) {
                    assert_eq!(chosen.bare, other.bare);
                }
            }
        }
    }
}
