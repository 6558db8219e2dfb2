//! How near a tune is to ready on the day it is played: what will be known then, and how fast it is held.

use std::collections::BTreeMap;

use fretlib::practice::{Item, Memory, MemoryModel, Moment, PracticeMaterial};

use crate::history::{History, HistoryError, TuneEntry, TuneOnInstrumentId};

/// What a history knows of a tune on an instrument.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// What is remembered of its items.
    pub memories: BTreeMap<Item, Memory>,
    /// The tempo at which each phrase that was played is held, in percent of the tune's own.
    pub tempos: BTreeMap<u32, u16>,
}

impl Known {
    /// What is known of a tune.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn of(
        history: &History,
        known_as: TuneOnInstrumentId,
        entry: &TuneEntry,
    ) -> Result<Known, HistoryError> {
        let memories = history.memories(known_as, entry.id)?;
        Known::with(history, known_as, memories.into_iter().collect())
    }

    /// The same with the memories at hand.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn with(
        history: &History,
        known_as: TuneOnInstrumentId,
        memories: BTreeMap<Item, Memory>,
    ) -> Result<Known, HistoryError> {
        Ok(Known {
            memories,
            tempos: history.tempos_held(known_as)?,
        })
    }

    /// Whether the tune was neither asked about nor played.
    pub fn is_empty(&self) -> bool {
        self.memories.is_empty() && self.tempos.is_empty()
    }
}

/// How near a tune is to ready.
#[derive(Clone, Debug)]
pub struct Readiness {
    /// The mean recall of all its items on the day, what is untouched counted as 0.
    pub recall: f64,
    /// The mean tempo its phrases are held at, as a share of the tune's own and at most 1; what was not played counted as 0.
    pub tempo: f64,
    phrases: Vec<PhraseReadiness>,
}

/// How near a phrase is to ready.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhraseReadiness {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// The mean recall of its items on the day; 1 where nothing is asked of it.
    pub recall: f64,
    /// The tempo at which it is held, in percent of the tune's own.
    pub held: u16,
}

impl PhraseReadiness {
    fn tempo(&self) -> f64 {
        f64::from(self.held.min(100)) / 100.0
    }

    fn ready(&self) -> f64 {
        (self.recall + self.tempo()) / 2.0
    }
}

impl Readiness {
    /// The readiness of a tune by these items of it, on a day.
    pub fn of(
        material: &PracticeMaterial,
        items: &[Item],
        known: &Known,
        model: &MemoryModel,
        by: Moment,
    ) -> Readiness {
        let mut sums: Vec<(f64, usize)> = vec![(0.0, 0); material.phrases().len()];
        for item in items {
            let Some((sum, count)) = sums.get_mut(item.phrase as usize) else {
                continue;
            };
            let memory = known.memories.get(item);
            *sum += memory.map_or(0.0, |memory| model.recall(memory, by));
            *count += 1;
        }
        let recall = sums.iter().map(|it| it.0).sum::<f64>() / items.len().max(1) as f64;
        let phrases: Vec<PhraseReadiness> = (0u32..)
            .zip(&sums)
            .map(|(phrase, (sum, count))| PhraseReadiness {
                phrase,
                recall: match count {
                    0 => 1.0,
                    count => sum / *count as f64,
                },
                held: known.tempos.get(&phrase).copied().unwrap_or(0),
            })
            .collect();
        let tempo = phrases.iter().map(PhraseReadiness::tempo).sum::<f64>();
        Readiness {
            recall,
            tempo: tempo / phrases.len().max(1) as f64,
            phrases,
        }
    }

    /// How near the whole is, 0 to 1: knowing it and playing it in time count the same. A choice.
    pub fn ready(&self) -> f64 {
        (self.recall + self.tempo) / 2.0
    }

    /// The phrase farthest from ready, of equals the first.
    pub fn weakest(&self) -> PhraseReadiness {
        self.least_by(|it| (it.ready(), 0.0))
    }

    /// The phrase to play next: held at the slowest tempo, of equals the one known least.
    pub fn to_play(&self) -> PhraseReadiness {
        self.least_by(|it| (it.tempo(), it.recall))
    }

    fn least_by(&self, key: impl Fn(&PhraseReadiness) -> (f64, f64)) -> PhraseReadiness {
        let least = self.phrases.iter().min_by(|one, other| {
            let ((a, b), (c, d)) = (key(one), key(other));
            a.total_cmp(&c).then(b.total_cmp(&d))
        });
        least.copied().unwrap_or(PhraseReadiness {
            phrase: 0,
            recall: 0.0,
            held: 0,
        })
    }
}
