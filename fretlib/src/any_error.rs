//! Whatever can go wrong in the library, as one type.

use thiserror::Error;

use crate::error::{OutOfRange, ParseError};
use crate::fingering::NoFingering;
#[cfg(feature = "formats")]
use crate::format::ReadError;
use crate::melody::MelodyError;
use crate::neck::{InstrumentError, TuningError};

/// Whatever can go wrong in the library, for callers who treat it all alike.
///
/// Each function returns the narrowest error that tells what happened there; `?` turns any of them into this one.
///
/// ```
/// use fretlib::Error;
/// use fretlib::neck::{Instrument, Place};
/// use fretlib::theory::MidiNumber;
///
/// fn pitch_at(tuning: &str, place: &str) -> Result<Option<MidiNumber>, Error> {
///     let place: Place = place.parse()?; // a ParseError
///     let guitar = Instrument::default().tuned(tuning)?; // a TuningError
///     Ok(guitar.midi_at(place))
/// }
///
/// let number = pitch_at("DADGAD", "1:2").unwrap().unwrap();
/// assert_eq!(number.get(), 76); // E5
/// assert!(matches!(pitch_at("DADGAD", "first"), Err(Error::Parse(_))));
/// ```
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// A number is outside the range of its type.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// A word could not be read as a value of its type.
    #[error(transparent)]
    Parse(#[from] ParseError),
    /// The notes do not make a melody.
    #[error(transparent)]
    Melody(#[from] MelodyError),
    /// The strings, frets and measures do not make an instrument.
    #[error(transparent)]
    Instrument(#[from] InstrumentError),
    /// The open strings do not make a tuning.
    #[error(transparent)]
    Tuning(#[from] TuningError),
    /// No fingering keeps the constraints.
    #[error(transparent)]
    NoFingering(#[from] NoFingering),
    /// A file could not be read.
    #[cfg(feature = "formats")]
    #[error(transparent)]
    Read(#[from] ReadError),
}
