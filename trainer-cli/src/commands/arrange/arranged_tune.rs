//! A tune as its player arranged it, for the commands that print it, play it and ask about it.

use std::path::PathBuf;

use fretlib::arranging::{
    Arrangement, Arranger, ArrangingSettings, Lattice, PluckedNote, VoicingWeights,
};
use fretlib::format::arrangement_ron::SavedArrangement;
use fretlib::melody::Melody;
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;

use super::{check_instrument, choice_file, could_not, octave, tell_unfit};
use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::kept_file::KeptFile;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// Whether a tune is taken as it is arranged, and by which choices.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub enum AsArranged {
    /// The melody alone.
    #[default]
    No,
    /// With the choices kept beside the tune, or with what the program finds where there are none.
    BesideTune,
    /// With the choices of this file.
    With(PathBuf),
}

impl AsArranged {
    /// What an option says that may name a file.
    pub fn from_option(named: Option<Option<PathBuf>>) -> AsArranged {
        match named {
            None => AsArranged::No,
            Some(None) => AsArranged::BesideTune,
            Some(Some(path)) => AsArranged::With(path),
        }
    }

    /// The same where nothing was said: with the choices kept beside the tune, when there are any.
    pub fn or_as_kept(&self, request: &TuneRequest, streams: &Streams) -> AsArranged {
        // A file that cannot be read is there, too: what is wrong with it is said when the tune is arranged.
        let is_kept =
            || match KeptFile::<SavedArrangement>::beside(request, streams.settings_folder()) {
                Ok(file) => file.is_some_and(|file| file.is_there()),
                Err(_) => true,
            };
        match self {
            AsArranged::No if is_kept() => AsArranged::BesideTune,
            other => other.clone(),
        }
    }

    /// The tune arranged, when that is asked for.
    ///
    /// # Errors
    ///
    /// When the tune has no chords, the instrument or the hand cannot hold any, or the file cannot be read.
    pub fn arrange(
        &self,
        tune: &Tune,
        request: &TuneRequest,
        instrument: &Instrument,
        hand: Hand,
        streams: &mut Streams,
    ) -> Result<Option<ArrangedTune>, Failure> {
        let named = match self {
            AsArranged::No => return Ok(None),
            AsArranged::BesideTune => None,
            AsArranged::With(path) if !path.exists() => {
                return Err(Failure::usage(
                    format!("there is no file `{}`", path.display()),
                    "`neckline arrange --choose … --save` writes one beside the tune",
                ));
            }
            AsArranged::With(path) => Some(path.as_path()),
        };
        check_instrument(instrument, hand)?;
        let mut chords = tune.melody.chords().iter();
        if chords.all(|(_, chord)| chord.is_none()) {
            return Err(Failure::could_not(
                "the tune has no chords to arrange",
                "write chords over it; `neckline arrange --chords-by-key` shows what its key gives",
            ));
        }
        let file = choice_file(named, request, streams)?;
        let saved = file.map(|file| file.kept).unwrap_or_default();
        let arranger = Arranger {
            instrument,
            hand,
            style: saved.style.unwrap_or_default().with_thumb(saved.thumb),
        };
        let density = saved.density.unwrap_or_default();
        let settings = ArrangingSettings {
            density,
            texture: saved.texture.unwrap_or_default(),
            octave: match saved.octave {
                Some(octave) => octave,
                None => octave(&arranger, &tune.melody, density, streams)?,
            },
            tempo: None,
            weights: VoicingWeights::default(),
        };
        let lattice = Lattice::new(arranger, &tune.melody, settings).map_err(could_not)?;
        let (mut found, unfit) = lattice.solve_around(1, &saved.choices);
        tell_unfit(&saved.choices, &unfit, streams)?;
        if found.is_empty() {
            return Err(Failure::could_not(
                "nothing was found to lie under this tune",
                "`neckline arrange` says why",
            ));
        }
        ArrangedTune::new(&tune.melody, found.swap_remove(0)).map(Some)
    }
}

/// A tune and what lies under it.
#[derive(Clone, Debug)]
pub struct ArrangedTune {
    /// The melody in the octave it is played in.
    pub melody: Melody,
    /// What lies under it.
    pub arrangement: Arrangement,
}

impl ArrangedTune {
    fn new(written: &Melody, arrangement: Arrangement) -> Result<ArrangedTune, Failure> {
        let melody = written.transposed(arrangement.octave.interval());
        let melody = melody
            .map_err(|error| Failure::could_not(error.to_string(), "try another `--octave`"))?;
        Ok(ArrangedTune {
            melody,
            arrangement,
        })
    }

    /// Octaves from the written melody.
    pub fn octave(&self) -> Octave {
        self.arrangement.octave
    }

    /// What is struck under the melody.
    pub fn struck_notes(&self) -> Vec<PluckedNote> {
        self.arrangement.struck_notes(&self.melody)
    }
}
