//! Whatever can go wrong in the library, as one type.

use std::fmt;

use crate::error::{OutOfRange, ParseError, is_error};
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
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// A number is outside the range of its type.
    OutOfRange(OutOfRange),
    /// A word could not be read as a value of its type.
    Parse(ParseError),
    /// The notes do not make a melody.
    Melody(MelodyError),
    /// The strings, frets and measures do not make an instrument.
    Instrument(InstrumentError),
    /// The open strings do not make a tuning.
    Tuning(TuningError),
    /// No fingering keeps the constraints.
    NoFingering(NoFingering),
    /// A file could not be read.
    #[cfg(feature = "formats")]
    Read(ReadError),
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Error::OutOfRange(error) => error.fmt(f),
            Error::Parse(error) => error.fmt(f),
            Error::Melody(error) => error.fmt(f),
            Error::Instrument(error) => error.fmt(f),
            Error::Tuning(error) => error.fmt(f),
            Error::NoFingering(error) => error.fmt(f),
            #[cfg(feature = "formats")]
            Error::Read(error) => error.fmt(f),
        }
    }
}

is_error!(
    Error,
    OutOfRange(OutOfRange),
    Parse(ParseError),
    Melody(MelodyError),
    Instrument(InstrumentError),
    Tuning(TuningError),
    NoFingering(NoFingering)
);

#[cfg(feature = "formats")]
impl From<ReadError> for Error {
    fn from(error: ReadError) -> Self {
        Error::Read(error)
    }
}
