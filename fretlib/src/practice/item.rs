//! Items: the units of memory.

use std::fmt;
use std::str::FromStr;

use super::kind::Kind;
use super::material::PracticeMaterial;
use super::placement_key::PlacementKey;
use super::question::Question;
use crate::error::ParseError;
use crate::melody::{Melody, Quarters};

/// A tune by its content: pitches, times and keys, whatever its title or file is called.
#[derive(Clone, Copy, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct TuneId(u128);

impl TuneId {
    /// The identity of a melody.
    ///
    /// FNV-1a with 128 bits over the notes and keys; tunes with any difference get different identities, and nobody
    /// gains by forging one. Source: the offset and prime that Fowler, Noll and Vo published for 128 bits, from memory;
    /// a test compares the hash of one letter.
    pub fn of(melody: &Melody) -> TuneId {
        let mut hash = Fnv::default();
        let time = |hash: &mut Fnv, time: Quarters| {
            hash.number(time.numer());
            hash.number(time.denom());
        };
        for note in melody.notes() {
            hash.number(note.pitch.steps().into());
            hash.number(note.pitch.midi().get().into());
            time(&mut hash, note.onset);
            time(&mut hash, note.duration);
        }
        for (onset, key) in melody.keys().iter() {
            time(&mut hash, onset);
            hash.number(key.tonic().fifths().into());
            hash.number(key.signature().into());
        }
        TuneId(hash.0)
    }

    /// The identity with this number, from [`TuneId::to_bytes`].
    pub const fn from_bytes(bytes: [u8; 16]) -> TuneId {
        TuneId(u128::from_be_bytes(bytes))
    }

    /// The number, to be stored.
    pub const fn to_bytes(self) -> [u8; 16] {
        self.0.to_be_bytes()
    }
}

impl fmt::Display for TuneId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

impl fmt::Debug for TuneId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for TuneId {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        let is_hex = text.len() == 32 && text.chars().all(|c| c.is_ascii_hexdigit());
        match u128::from_str_radix(text, 16) {
            Ok(number) if is_hex => Ok(TuneId(number)),
            _ => Err(ParseError::unreadable(text, "32 hexadecimal digits")),
        }
    }
}

struct Fnv(u128);

impl Default for Fnv {
    fn default() -> Self {
        Fnv(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }
}

impl Fnv {
    const PRIME: u128 = (1 << 88) + (1 << 8) + 0x3b;

    fn byte(&mut self, byte: u8) {
        self.0 = (self.0 ^ u128::from(byte)).wrapping_mul(Fnv::PRIME);
    }

    fn number(&mut self, number: i64) {
        for byte in number.to_le_bytes() {
            self.byte(byte);
        }
    }
}

/// The unit of memory: a phrase of a tune, asked in one way at one placement.
///
/// A note would be too fine: a 32-bar tune has a hundred of them in a dozen placements, and nobody finishes ten
/// thousand items. A whole tune would be too coarse to show what is weak. A phrase is what a player learns at once.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Item {
    /// The tune.
    pub tune: TuneId,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// How it is asked.
    pub kind: Kind,
    /// The placement; `None` for kinds about the melody alone.
    pub placement: Option<PlacementKey>,
}

impl Item {
    /// Every item of a material, in the order in which they are met: phrase by phrase, and in each the kinds in order.
    ///
    /// The placements keep the order of [`PracticeMaterial::phrase_placements`]; the first one is where a phrase is met.
    pub fn all(material: &PracticeMaterial, tune: TuneId, kinds: &[Kind]) -> Vec<Item> {
        let mut items = Vec::new();
        for phrase in 0..material.phrases().len() {
            let met = material.phrase_placements(phrase);
            for kind in Kind::ALL.into_iter().filter(|kind| kinds.contains(kind)) {
                let placements: Vec<Option<PlacementKey>> = if kind.is_on_the_neck() {
                    met.iter().copied().map(Some).collect()
                } else {
                    vec![None]
                };
                for placement in placements {
                    let item = Item {
                        tune,
                        phrase: phrase as u32,
                        kind,
                        placement,
                    };
                    if item.notes(material).next().is_some() {
                        items.push(item);
                    }
                }
            }
        }
        items
    }

    /// A question about one of its notes, chosen at random; `None` when the material has none.
    ///
    /// `pick(n)` chooses among `n` and must be below `n`.
    pub fn question(
        self,
        material: &PracticeMaterial,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Option<Question> {
        let notes: Vec<usize> = self.notes(material).collect();
        let note = *notes.get(pick(notes.len()))?;
        material.question(self.kind, note, self.placement, pick)
    }

    /// The notes of its phrase this kind can ask about.
    pub fn notes(self, material: &PracticeMaterial) -> impl Iterator<Item = usize> + '_ {
        let phrase = material.phrases().get(self.phrase as usize).cloned();
        let asked = material.asked();
        phrase
            .unwrap_or(0..0)
            .filter(move |note| asked.contains(note))
            .filter(move |note| material.can_ask(self.kind, *note, self.placement))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Draft;

    fn melody(title: &str, names: &str) -> Melody {
        let mut draft = Draft {
            title: title.into(),
            ..Draft::default()
        };
        for name in names.split(' ') {
            draft
                .note(name.parse().unwrap(), Quarters::from(1))
                .unwrap();
        }
        Melody::new(draft).unwrap()
    }

    #[test]
    fn a_tune_is_known_by_its_notes_not_its_name() {
        let tune = TuneId::of(&melody("Pier", "E4 G4"));
        assert_eq!(tune, TuneId::of(&melody("Jetty", "E4 G4")));
        assert_ne!(tune, TuneId::of(&melody("Pier", "E4 G#4")));
        assert_ne!(tune, TuneId::of(&melody("Pier", "E4 Ab4")));
        assert_eq!(tune.to_string().parse(), Ok(tune));
        assert_eq!(TuneId::from_bytes(tune.to_bytes()), tune);
        assert!("12".parse::<TuneId>().is_err());
    }

    #[test]
    fn a_phrase_is_played_where_it_lies_whole() {
        use crate::fingering::{FingeringSearch, Player};
        use crate::neck::{Hand, Instrument, Position};
        use crate::theory::Octave;

        // The first phrase lies in I and in V, the second in V only.
        let melody = melody("Pier", "G4 A4 B4 C5 D5 B5");
        let at = |number: u8| PlacementKey {
            position: Position::new(number).unwrap(),
            octave: Octave::WRITTEN,
        };
        let key = "C major".parse().unwrap();
        let (phrases, guitar) = ([0..4, 4..6], Instrument::default());
        let material =
            PracticeMaterial::new(melody.clone(), key, &phrases, guitar, vec![at(1), at(5)]);
        let spots = |material: &PracticeMaterial| -> Vec<(u32, u8)> {
            let items = Item::all(material, TuneId::of(&melody), &[Kind::Play]);
            let spots = items
                .iter()
                .filter_map(|it| Some((it.phrase, it.placement?)));
            spots
                .map(|(phrase, at)| (phrase, at.position.get()))
                .collect()
        };
        assert_eq!(spots(&material), [(0, 1), (0, 5), (1, 5)]);
        // It is heard and not asked.
        assert_eq!(material.question(Kind::Play, 0, Some(at(1)), |_| 0), None);
        assert_eq!(material.played_at(0, Octave::WRITTEN), Some(at(1)));
        assert_eq!(material.played_at(1, Octave::WRITTEN), Some(at(5)));
        // Where it is not practised, at the best position there is.
        let lower = material.played_at(0, Octave::new(-1).unwrap()).unwrap();
        assert_eq!(
            (lower.octave.get(), material.played_at(2, Octave::WRITTEN)),
            (-1, None)
        );
        // Along a fingering it is played from where the hand stands at its first note.
        let player = Player {
            instrument: &Instrument::default(),
            hand: Hand::MEDIUM,
        };
        let best = FingeringSearch::new(player)
            .best(&melody, Octave::WRITTEN)
            .unwrap();
        let own = material.along(Octave::WRITTEN, &best);
        let stands = |note: usize| best.notes[note].position.get();
        assert_eq!(spots(&own), [(0, stands(0)), (1, stands(4))]);
        assert_eq!(own.played_at(1, Octave::WRITTEN), Some(at(stands(4))));
    }

    #[test]
    fn the_hash_is_the_published_one() {
        let mut hash = Fnv::default();
        hash.byte(b'a');
        assert_eq!(hash.0, 0xd228_cb69_6f1a_8caf_7891_2b70_4e4a_8964);
    }

    // If this fails, every player's history loses its tunes.
    #[test]
    fn the_identity_of_a_tune_is_fixed() {
        let tune = TuneId::of(&melody("Pier", "E4 G4"));
        assert_eq!(tune.to_string(), "a3945239b55f5c2e241edeb70f4a4391");
    }
}
