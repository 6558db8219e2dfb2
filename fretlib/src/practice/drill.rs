//! Questions in random order over a material.

use thiserror::Error;

use super::kind::Kind;
use super::material::PracticeMaterial;
use super::placement_key::PlacementKey;
use super::question::Question;

/// None of the kinds wanted can be asked of the material.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error(
    "there is nothing to ask: no note of the tune lies within reach for these kinds of question"
)]
pub struct NothingToAsk;

/// Chooses questions at random: first the kind, then the placement, then the note.
///
/// The same material, kinds and picks give the same questions.
#[derive(Clone, Debug)]
pub struct Drill {
    // Invariant: each kind has at least one placement (`None` for kinds about the melody alone).
    choices: Vec<(Kind, Vec<Option<PlacementKey>>)>,
    last_note: Option<usize>,
}

impl Drill {
    /// A drill of these kinds; kinds that cannot be asked of this material anywhere are left out.
    ///
    /// On the neck, a kind is asked at these placements of the material, or at any other where these do not allow it.
    ///
    /// # Errors
    ///
    /// When none is left.
    pub fn new(
        material: &PracticeMaterial,
        kinds: &[Kind],
        placements: &[PlacementKey],
    ) -> Result<Drill, NothingToAsk> {
        let mut choices = Vec::new();
        for kind in Kind::ASKED.into_iter().filter(|kind| kinds.contains(kind)) {
            let can_ask = |placement: &Option<PlacementKey>| {
                material
                    .asked()
                    .any(|note| material.can_ask(kind, note, *placement))
            };
            let among = |placements: &[PlacementKey]| -> Vec<Option<PlacementKey>> {
                let placements = placements.iter().copied().map(Some);
                placements.filter(can_ask).collect()
            };
            let placements = match kind.is_on_the_neck() {
                false => [None].into_iter().filter(can_ask).collect(),
                true => Some(among(placements))
                    .filter(|placements| !placements.is_empty())
                    .unwrap_or_else(|| among(material.placements())),
            };
            if !placements.is_empty() {
                choices.push((kind, placements));
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

    /// Asks no more of these kinds.
    pub fn leave_out(&mut self, is_left_out: impl Fn(Kind) -> bool) {
        self.choices.retain(|(kind, _)| !is_left_out(*kind));
    }

    /// The next question about the material it was made for; not about the note asked last unless there is no other.
    ///
    /// `None` when every kind was left out, and for another material, where the question is not possible.
    ///
    /// `pick(n)` chooses among `n` and must be below `n`.
    pub fn next(
        &mut self,
        material: &PracticeMaterial,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Option<Question> {
        let (kind, placements) = self.choices.get(pick(self.choices.len()))?;
        let placement = placements[pick(placements.len())];
        let mut notes: Vec<usize> = material
            .asked()
            .filter(|note| material.can_ask(*kind, *note, placement))
            .collect();
        if notes.len() > 1 {
            notes.retain(|note| Some(*note) != self.last_note);
        }
        let note = *notes.get(pick(notes.len()))?;
        self.last_note = Some(note);
        material.question(*kind, note, placement, pick)
    }
}
