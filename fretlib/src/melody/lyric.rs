//! What is sung to a melody.

use super::Note;
use super::Quarters;
use crate::one_line::one_line;

/// A syllable of the lyrics, sung to one note; it is held over notes without a syllable.
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Syllable {
    /// When its note begins.
    pub onset: Quarters,
    /// The number of its verse, from 1.
    pub verse: u8,
    /// Its letters.
    pub text: String,
    /// Whether the next syllable belongs to the same word.
    pub joins: bool,
}

impl Syllable {
    /// The most verses under a staff.
    pub const MOST_VERSES: u8 = 20;
    /// The longest text of a syllable, in characters.
    const LONGEST: usize = 100;

    /// The same syllable, so much later.
    pub(super) fn moved(&self, by: Quarters) -> Syllable {
        Syllable {
            onset: self.onset + by,
            ..self.clone()
        }
    }
}

/// In order of time and verse, one for each note and verse; what stands at no note is left out.
pub(super) fn valid_syllables(mut syllables: Vec<Syllable>, notes: &[Note]) -> Vec<Syllable> {
    let is_at_a_note =
        |onset: &Quarters| notes.binary_search_by_key(onset, |note| note.onset).is_ok();
    for syllable in &mut syllables {
        let text: String = syllable.text.chars().take(Syllable::LONGEST).collect();
        syllable.text = one_line(&text);
    }
    syllables.retain(|it| {
        (1..=Syllable::MOST_VERSES).contains(&it.verse)
            && !it.text.is_empty()
            && is_at_a_note(&it.onset)
    });
    syllables.sort_by_key(|it| (it.onset, it.verse));
    syllables.dedup_by_key(|it| (it.onset, it.verse));
    syllables
}
