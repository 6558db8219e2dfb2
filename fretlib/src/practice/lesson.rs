//! Learning a phrase before it is asked: shown whole, then hidden step by step.

use std::ops::Range;

use super::material::PracticeMaterial;
use super::placement_key::PlacementKey;

/// How much of a phrase is shown.
///
/// Asking about a tune that was never seen teaches little; an answer recalled after it was seen teaches more than
/// seeing it again (Latimier et al. 2021, Educ. Psychol. Rev. 33, for recall in general). The stages are common
/// practice.
///
/// ```
/// use fretlib::practice::Stage;
///
/// let shown = |stage: Stage| -> Vec<&str> {
///     let phrase = ["A", "E", "D", "A"].into_iter().enumerate();
///     phrase.map(|(index, name)| if stage.hides(index) { "?" } else { name }).collect()
/// };
/// assert_eq!(shown(Stage::Whole), ["A", "E", "D", "A"]);
/// assert_eq!(shown(Stage::EveryOther), ["A", "?", "D", "?"]);
/// assert_eq!(shown(Stage::FirstOnly), ["A", "?", "?", "?"]);
/// ```
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Stage {
    /// Every note.
    Whole,
    /// Every other note, the first one included.
    EveryOther,
    /// The first note only.
    FirstOnly,
}

impl Stage {
    /// All stages, in order.
    pub const ALL: [Stage; 3] = [Stage::Whole, Stage::EveryOther, Stage::FirstOnly];

    /// Whether the note of this index within the phrase is hidden.
    pub const fn hides(self, index: usize) -> bool {
        match self {
            Stage::Whole => false,
            Stage::EveryOther => index % 2 == 1,
            Stage::FirstOnly => index > 0,
        }
    }

    /// What the player is asked to do.
    pub const fn instruction(self) -> &'static str {
        match self {
            Stage::Whole => "Play it slowly until it feels easy.",
            Stage::EveryOther => "Every other note is hidden. Play the whole phrase.",
            Stage::FirstOnly => "Only the first note is left. Play the whole phrase from memory.",
        }
    }
}

/// A phrase to learn at a placement, before anything is asked about it there.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Lesson {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Where it is shown; `None` when the tune lies nowhere on the neck.
    pub placement: Option<PlacementKey>,
    /// Whether it has not been asked anywhere yet; otherwise it is only shown at a new placement.
    pub is_untouched: bool,
}

impl Lesson {
    /// The stages: all of them for an untouched phrase, else the whole phrase once.
    pub fn stages(&self) -> &'static [Stage] {
        match self.is_untouched {
            true => &Stage::ALL,
            false => &Stage::ALL[..1],
        }
    }

    /// The notes of the phrase.
    pub fn notes(&self, material: &PracticeMaterial) -> Range<usize> {
        let phrase = material.phrases().get(self.phrase as usize).cloned();
        phrase.unwrap_or(0..0)
    }
}
