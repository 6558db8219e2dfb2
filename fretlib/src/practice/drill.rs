//! Questions in random order over a material.

use rand::Rng;
use thiserror::Error;

use super::kind::Kind;
use super::material::Material;
use super::question::Question;
use super::spot::Spot;

/// None of the kinds wanted can be asked of the material.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error(
    "there is nothing to ask: no note of the tune lies within reach for these kinds of question"
)]
pub struct NothingToAsk;

/// Chooses questions at random: first the kind, then the spot, then the note.
///
/// The same material, kinds and generator give the same questions.
#[derive(Clone, Debug)]
pub struct Drill {
    // Invariant: not empty; each kind has at least one spot (`None` for kinds about the melody alone).
    choices: Vec<(Kind, Vec<Option<Spot>>)>,
    last_note: Option<usize>,
}

impl Drill {
    /// A drill of these kinds; kinds that cannot be asked of this material anywhere are left out.
    ///
    /// # Errors
    ///
    /// When none is left.
    pub fn new(material: &Material, kinds: &[Kind]) -> Result<Drill, NothingToAsk> {
        let mut choices = Vec::new();
        for kind in Kind::ALL.into_iter().filter(|kind| kinds.contains(kind)) {
            let spots: Vec<Option<Spot>> = if kind.is_on_the_neck() {
                material.spots().iter().copied().map(Some).collect()
            } else {
                vec![None]
            };
            let can_ask = |spot: &Option<Spot>| {
                material
                    .asked()
                    .any(|note| material.can_ask(kind, note, *spot))
            };
            let spots: Vec<Option<Spot>> = spots.into_iter().filter(can_ask).collect();
            if !spots.is_empty() {
                choices.push((kind, spots));
            }
        }
        if choices.is_empty() {
            return Err(NothingToAsk);
        }
        Ok(Drill {
            choices,
            last_note: None,
        })
    }

    /// The kinds that are asked.
    pub fn kinds(&self) -> impl Iterator<Item = Kind> + '_ {
        self.choices.iter().map(|(kind, _)| *kind)
    }

    /// The next question of the material it was made for; not about the note asked last unless there is no other.
    ///
    /// `None` only for another material, of which this cannot be asked.
    pub fn next(&mut self, material: &Material, random: &mut impl Rng) -> Option<Question> {
        let (kind, spots) = &self.choices[below(random, self.choices.len())];
        let spot = spots[below(random, spots.len())];
        let mut notes: Vec<usize> = material
            .asked()
            .filter(|note| material.can_ask(*kind, *note, spot))
            .collect();
        if notes.len() > 1 {
            notes.retain(|note| Some(*note) != self.last_note);
        }
        let note = *notes.get(below(random, notes.len()))?;
        self.last_note = Some(note);
        material.question(*kind, note, spot, |count| below(random, count))
    }
}

/// A number below `count`, or 0 when `count` is 0.
///
/// Our own scaling of one 32-bit draw rather than the generator crate's ranges, whose way of drawing may change with its
/// version: a seed must go on meaning the same questions. The bias is below one in a million for a thousand choices.
pub(crate) fn below(random: &mut impl Rng, count: usize) -> usize {
    ((u64::from(random.next_u32()) * count as u64) >> 32) as usize
}
