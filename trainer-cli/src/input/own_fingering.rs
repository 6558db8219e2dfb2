//! The player's own fingering: what is kept beside a tune, on the tune as it is now.

use std::collections::BTreeMap;
use std::io::Write;

use fretlib::fingering::{
    Fingering, FingeringSearch, FittedFingering, KeptFingering, Misfit, Pin, Player, TimedMelody,
};
use fretlib::melody::{BarChoice, Melody};
use fretlib::theory::Octave;

use super::tune::Tune;
use crate::failure::Failure;
use crate::kept_file::KeptFile;
use crate::report::count::count;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// The fingering kept beside a tune.
pub struct OwnFingering {
    /// The file it is kept in.
    pub file: KeptFile<KeptFingering>,
    /// How every note of the tune is played, or of the bars that were asked for.
    pub fingering: Fingering,
    /// The notes among them that the player has pinned.
    pub pins: BTreeMap<usize, Pin>,
}

impl OwnFingering {
    /// The octave it is played in.
    pub fn octave(&self) -> Octave {
        self.file.kept.octave()
    }
}

/// The most notes that are named when they do not fit; the rest are counted.
const MOST_SAID: usize = 5;

impl TuneRequest {
    /// Whether the tune is moved to another key, for which nothing is kept.
    pub fn is_moved(&self) -> bool {
        self.transpose.is_some() || self.to_key.is_some()
    }

    /// The fingering that is kept with this tune; says what of it does not fit the tune, the hand or the instrument.
    ///
    /// `None` when there is none, or nothing of it fits.
    pub fn own_fingering(
        &self,
        tune: &Tune,
        player: Player,
        streams: &mut Streams,
    ) -> Result<Option<OwnFingering>, Failure> {
        let Some(file) = KeptFile::beside(self, streams.settings_folder())? else {
            return Ok(None);
        };
        let whole = match (&self.bars, file.is_there()) {
            (Some(_), true) => Some(self.whole().open(streams)?.melody),
            _ => None,
        };
        let (own, remarks) = self.fitted(file, &tune.melody, whole.as_ref(), player);
        for remark in remarks {
            writeln!(streams.stderr, "note: {remark}")?;
        }
        Ok(own)
    }

    /// A kept fingering on the tune, and what is to be said of it; `whole` is the tune with all its bars, where `melody`
    /// has some of them.
    pub fn fitted(
        &self,
        file: KeptFile<KeptFingering>,
        melody: &Melody,
        whole: Option<&Melody>,
        player: Player,
    ) -> (Option<OwnFingering>, Vec<String>) {
        if !file.is_there() {
            return (None, Vec::new());
        }
        let path = file.path().display().to_string();
        if self.is_moved() {
            let remark = format!("`{path}` is for the tune in its own key; it is not used here");
            return (None, vec![remark]);
        }
        let all = whole.unwrap_or(melody);
        let fits =
            |it: &FittedFingering| file.kept.notes.is_empty() || it.found.len() < all.notes().len();
        let fitted = file.kept.fit(all, player).and_then(Result::ok).filter(fits);
        let Some(fitted) = fitted else {
            let name = player.instrument.name();
            let remark =
                format!("nothing of `{path}` fits the tune on the {name}; it is not used here");
            return (None, vec![remark]);
        };
        let remarks = remarks(&fitted, &file.kept, all, &path);
        let own = match (&self.bars, whole) {
            (Some(bars), Some(whole)) => part(fitted, file, bars, whole, player),
            _ => OwnFingering {
                fingering: fitted.fingering,
                pins: fitted.pins,
                file,
            },
        };
        (Some(own), remarks)
    }
}

/// The fingering of some bars out of that of the whole tune.
fn part(
    fitted: FittedFingering,
    file: KeptFile<KeptFingering>,
    bars: &BarChoice,
    whole: &Melody,
    player: Player,
) -> OwnFingering {
    let stretches = bars.stretches(whole);
    let is_in = |index: &usize| {
        let onset = whole.notes()[*index].onset;
        stretches.iter().any(|it| it.contains(&onset))
    };
    let notes: Vec<usize> = (0..whole.notes().len()).filter(is_in).collect();
    let line = TimedMelody::new(whole, file.kept.octave(), None);
    let search = FingeringSearch {
        homes: file.kept.homes_in(whole),
        ..FingeringSearch::new(player)
    };
    let costs = line.and_then(|line| fitted.fingering.breakdown(&search, &line));
    let cost = |index: &usize| Some(costs.as_ref()?.get(*index)?.total());
    OwnFingering {
        fingering: Fingering {
            notes: notes
                .iter()
                .map(|index| fitted.fingering.notes[*index])
                .collect(),
            cost: notes.iter().filter_map(cost).sum(),
        },
        pins: (notes.iter().enumerate())
            .filter_map(|(at, index)| Some((at, *fitted.pins.get(index)?)))
            .collect(),
        file,
    }
}

/// What of a kept fingering does not fit, and what had to be found.
fn remarks(
    fitted: &FittedFingering,
    kept: &KeptFingering,
    melody: &Melody,
    path: &str,
) -> Vec<String> {
    let named = |index: usize| format!("note {} ({})", index + 1, melody.notes()[index].pitch);
    let of_misfit = |misfit: &Misfit| {
        let words = match misfit {
            Misfit::Gone { number, pitch } => {
                let pitch = pitch.map_or(String::new(), |pitch| format!(" ({pitch})"));
                format!("note {number}{pitch} is no longer in the tune")
            }
            Misfit::OtherPitch { index, place } => {
                format!("{} does not lie at {place}", named(*index))
            }
            Misfit::Finger { index } => {
                let note = named(*index);
                format!("{note} cannot be played with that finger from there; another is taken")
            }
            Misfit::Reach { index, place } => {
                let note = named(*index);
                format!("{note} at {place} is out of reach from the notes around it")
            }
        };
        format!("in `{path}` {words}; the rest holds")
    };
    let mut remarks: Vec<String> = fitted
        .misfits
        .iter()
        .take(MOST_SAID)
        .map(of_misfit)
        .collect();
    let homeless = kept.homes.iter().filter(|it| it.notes(melody).is_none());
    remarks.extend(homeless.map(|home| {
        format!(
            "in `{path}` the home {home} is for bars that the tune does not have; the rest holds"
        )
    }));
    let more = fitted.misfits.len().saturating_sub(MOST_SAID);
    if more > 0 {
        remarks.push(format!("{more} more do not fit either"));
    }
    if let Some(first) = fitted.found.first() {
        remarks.push(format!(
            "{} fingered anew around the others, first {}; `neckline fingering --save` keeps that",
            count(fitted.found.len(), "note"),
            named(*first)
        ));
    }
    remarks
}
