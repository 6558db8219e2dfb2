//! Other voicings for one moment, the cheapest first, and filters to choose among them.

use std::collections::HashSet;
use std::fmt;
use std::str::FromStr;

use super::arrangement::{Accompaniment, Arrangement};
use super::lattice::Lattice;
use super::voicing::{FingeredPlace, Voicing};
use super::voicing_cost::{Link, between};
use crate::error::ParseError;

/// A voicing for a moment, with its cost there.
#[derive(Clone, Debug, PartialEq)]
pub struct RankedVoicing<'a> {
    /// The voicing, with the cheapest of its fingerings.
    pub voicing: &'a Voicing,
    /// How much more it costs than the one in the arrangement when nothing else changes; negative when it costs less.
    pub more: f64,
}

/// A filter for voicings.
///
/// ```
/// use fretlib::arranging::VoicingFilter;
///
/// let filter: VoicingFilter = "max 3 fingers".parse()?;
/// assert_eq!(filter, VoicingFilter::MostFingers(3));
/// assert!("no thumbs".parse::<VoicingFilter>().is_err());
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum VoicingFilter {
    /// `no root`, `no fifth`: a note under the melody that must not sound, by its chord number.
    Without(u8),
    /// `no open`: every note is stopped.
    NoOpen,
    /// `no barre`: no finger lies across strings.
    NoBarre,
    /// `top 2 strings`: the melody is on one of the highest strings.
    TopStrings(u8),
    /// `max 3 fingers`.
    MostFingers(u8),
    /// `max 3 notes`, the melody counted.
    MostNotes(u8),
    /// `max 60 mm`: from the lowest stopped fret to the highest.
    MostReach(u8),
    /// `keep bass`: root, fifth or the symbol's bass at the bottom.
    KeepBass,
    /// `complete`: every guide tone sounds.
    Complete,
}

impl VoicingFilter {
    /// Reads several, separated by commas; none from an empty line.
    ///
    /// # Errors
    ///
    /// When one of them cannot be read.
    pub fn read_all(text: &str) -> Result<Vec<VoicingFilter>, ParseError> {
        text.split(',')
            .map(str::trim)
            .filter(|it| !it.is_empty())
            .map(str::parse)
            .collect()
    }

    /// True when a voicing passes.
    pub fn allows(self, lattice: &Lattice, voicing: &Voicing) -> bool {
        let instrument = lattice.arranger().instrument;
        match self {
            VoicingFilter::Without(number) => voicing
                .under()
                .iter()
                .all(|note| note.degree.number() != number),
            VoicingFilter::NoOpen => !voicing.places().any(|it| it.is_open()),
            VoicingFilter::NoBarre => voicing.barre().is_none(),
            VoicingFilter::TopStrings(most) => voicing.melody.place.string.get() <= most,
            VoicingFilter::MostFingers(most) => voicing.fingers() <= usize::from(most),
            VoicingFilter::MostNotes(most) => voicing.under().len() < usize::from(most),
            VoicingFilter::MostReach(most) => voicing.reach_mm(instrument) <= f64::from(most),
            VoicingFilter::KeepBass => voicing.has_bass(),
            VoicingFilter::Complete => voicing.is_complete(),
        }
    }
}

impl fmt::Display for VoicingFilter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            VoicingFilter::Without(1) => f.write_str("no root"),
            VoicingFilter::Without(5) => f.write_str("no fifth"),
            VoicingFilter::Without(number) => write!(f, "no {number}"),
            VoicingFilter::NoOpen => f.write_str("no open"),
            VoicingFilter::NoBarre => f.write_str("no barre"),
            VoicingFilter::TopStrings(1) => f.write_str("top 1 string"),
            VoicingFilter::TopStrings(most) => write!(f, "top {most} strings"),
            VoicingFilter::MostFingers(1) => f.write_str("max 1 finger"),
            VoicingFilter::MostFingers(most) => write!(f, "max {most} fingers"),
            VoicingFilter::MostNotes(most) => write!(f, "max {most} notes"),
            VoicingFilter::MostReach(most) => write!(f, "max {most} mm"),
            VoicingFilter::KeepBass => f.write_str("keep bass"),
            VoicingFilter::Complete => f.write_str("complete"),
        }
    }
}

impl FromStr for VoicingFilter {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<VoicingFilter, ParseError> {
        let unreadable = || {
            ParseError::unreadable(
                text,
                "no root, no fifth, no open, no barre, top 2 strings, max 3 fingers, max 3 notes, max 60 mm, keep bass or \
                 complete",
            )
        };
        let number = |word: &str| {
            word.parse::<u8>()
                .ok()
                .filter(|number| *number > 0)
                .ok_or_else(unreadable)
        };
        let words: Vec<&str> = text.split_whitespace().collect();
        Ok(match words.as_slice() {
            ["no", "root"] => VoicingFilter::Without(1),
            ["no", "third"] => VoicingFilter::Without(3),
            ["no", "fifth"] => VoicingFilter::Without(5),
            ["no", "seventh"] => VoicingFilter::Without(7),
            ["no", "open"] => VoicingFilter::NoOpen,
            ["no", "barre"] => VoicingFilter::NoBarre,
            ["no", degree] => VoicingFilter::Without(
                number(degree)
                    .ok()
                    .filter(|it| *it <= 13)
                    .ok_or_else(unreadable)?,
            ),
            ["top", count, "string" | "strings"] => VoicingFilter::TopStrings(number(count)?),
            ["max", count, "finger" | "fingers"] => VoicingFilter::MostFingers(number(count)?),
            ["max", count, "note" | "notes"] => VoicingFilter::MostNotes(number(count)?),
            ["max", count, "mm"] => VoicingFilter::MostReach(number(count)?),
            ["keep", "bass"] => VoicingFilter::KeepBass,
            ["complete"] => VoicingFilter::Complete,
            _ => return Err(unreadable()),
        })
    }
}

impl<'a> Lattice<'a> {
    /// The voicings of a moment that pass all filters, each shape once, the cheapest first, when nothing else in the
    /// arrangement changes.
    ///
    /// Empty when the moment has no voicing in the arrangement.
    ///
    /// # Panics
    ///
    /// When there is no such moment.
    pub fn ranked(
        &self,
        arrangement: &Arrangement,
        moment: usize,
        filters: &[VoicingFilter],
    ) -> Vec<RankedVoicing<'_>> {
        let struck: Vec<&Accompaniment> = arrangement.struck().map(|(_, it)| it).collect();
        let Some(at) = struck.iter().position(|it| it.moment == moment) else {
            return Vec::new();
        };
        let (before, after) = (
            at.checked_sub(1).map(|index| struck[index]),
            struck.get(at + 1).copied(),
        );
        let surroundings = Surroundings::new(self, moment, before, after);
        let now = surroundings.cost(&struck[at].voicing);
        let mut ranked: Vec<RankedVoicing> = self
            .voicings(moment)
            .iter()
            .filter(|it| {
                surroundings.holds_melody(it)
                    && filters.iter().all(|filter| filter.allows(self, it))
            })
            .map(|voicing| RankedVoicing {
                voicing,
                more: surroundings.cost(voicing) - now,
            })
            .collect();
        ranked.sort_by(|one, other| one.more.total_cmp(&other.more));
        let mut seen = HashSet::new();
        ranked.retain(|it| seen.insert(it.voicing.shape(self.arranger().instrument)));
        ranked
    }
}

/// The voicings before and after a moment.
struct Surroundings<'a> {
    lattice: &'a Lattice<'a>,
    moment: usize,
    before: Option<Link>,
    after: Option<Link>,
    /// The required place and finger of the melody, when a neighbour is under the same note.
    melody: Option<FingeredPlace>,
    to: super::bare_notes::PassageCosts,
    on: super::bare_notes::PassageCosts,
}

impl<'a> Surroundings<'a> {
    fn new(
        lattice: &'a Lattice<'a>,
        moment: usize,
        before: Option<&Accompaniment>,
        after: Option<&Accompaniment>,
    ) -> Surroundings<'a> {
        let note = lattice.moments[moment].note;
        let same_note = |it: &&Accompaniment| lattice.moments[it.moment].note == note;
        let melody = before
            .filter(same_note)
            .or(after.filter(same_note))
            .map(|it| it.voicing.melody);
        let position =
            |it: Option<&Accompaniment>| it.and_then(|it| it.voicing.position()).unwrap_or(0);
        let mut all: Vec<u8> = lattice
            .voicings(moment)
            .iter()
            .map(|it| it.position().unwrap_or(0))
            .collect();
        all.sort_unstable();
        all.dedup();
        let weights = &lattice.settings.weights;
        let to = lattice.bare_notes(before.map(|it| it.moment), Some(moment));
        let on = lattice.bare_notes(Some(moment), after.map(|it| it.moment));
        Surroundings {
            to: to.costs(&lattice.reaches, weights, &[position(before)], &all),
            on: on.costs(&lattice.reaches, weights, &all, &[position(after)]),
            lattice,
            moment,
            before: before.map(|it| Link::new(&it.voicing)),
            after: after.map(|it| Link::new(&it.voicing)),
            melody,
        }
    }

    fn holds_melody(&self, voicing: &Voicing) -> bool {
        self.melody.is_none_or(|melody| melody == voicing.melody)
    }

    fn cost(&self, voicing: &Voicing) -> f64 {
        let weights = &self.lattice.settings.weights;
        let link = Link::new(voicing);
        let mut cost = weights.cost(&self.lattice.amounts(self.moment, voicing));
        let position = |link: &Option<Link>| link.map_or(0, |link| link.position);
        cost += self.to.get(position(&self.before), link.position)
            + self.on.get(link.position, position(&self.after));
        if let Some(before) = &self.before {
            between(before, &link, |term, amount| {
                cost += weights.get(term) * amount
            });
        }
        if let Some(after) = &self.after {
            between(&link, after, |term, amount| {
                cost += weights.get(term) * amount
            });
        }
        cost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::arranging::{ArrangingSettings, Style};
    use crate::neck::Instrument;

    #[test]
    fn the_cost_of_a_choice_is_that_of_the_arrangement_with_it() {
        let melody = tune(
            "C major",
            r#"(chords: "Dm7 | G7 | Cmaj7", notes: "F5 h E q D | F5 w | E5 w")"#,
        );
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::SHELLS);
        let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default()).unwrap();
        let best = lattice.solve(1).remove(0);
        let struck: Vec<(usize, Voicing)> = best
            .struck()
            .map(|(_, it)| (it.moment, it.voicing.clone()))
            .collect();
        let ranked = lattice.ranked(&best, 1, &[]);
        assert!(ranked.len() > 5 && ranked[0].more.abs() < 1e-9);
        for it in ranked.iter().step_by(7) {
            let as_before = |moment: usize, voicing: &Voicing| match moment {
                1 => voicing == it.voicing,
                _ => struck
                    .iter()
                    .any(|(other, chosen)| *other == moment && chosen == voicing),
            };
            let then = lattice.solve_where(1, as_before, |_| false).remove(0);
            assert!((then.cost - best.cost - it.more).abs() < 1e-9);
        }
    }

    #[test]
    fn filters_choose_among_voicings() {
        let melody = tune("C major", r#"(chords: "G7", notes: "F5 w")"#);
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::PLUCKED);
        let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default()).unwrap();
        let best = lattice.solve(1).remove(0);
        let all = lattice.ranked(&best, 0, &[]).len();
        for text in [
            "no root",
            "no fifth",
            "no open",
            "no barre",
            "top 1 string",
            "max 2 fingers",
            "max 3 notes",
            "max 40 mm",
            "keep bass",
            "complete",
        ] {
            let filters = VoicingFilter::read_all(text).unwrap();
            let some = lattice.ranked(&best, 0, &filters);
            assert!(
                !some.is_empty() && some.len() < all,
                "{text}: {} of {all}",
                some.len()
            );
            assert_eq!(filters[0].to_string(), text);
        }
        let both = VoicingFilter::read_all("no root, max 2 fingers,").unwrap();
        let found = lattice.ranked(&best, 0, &both);
        assert!(found.iter().all(|it| {
            it.voicing.fingers() <= 2
                && it
                    .voicing
                    .under()
                    .iter()
                    .all(|note| note.degree.number() != 1)
        }));
        for text in [
            "no",
            "max fingers",
            "top 0 strings",
            "no thumbs",
            "max 300 mm",
            "no 14",
        ] {
            assert!(VoicingFilter::read_all(text).is_err(), "{text}");
        }
    }
}
