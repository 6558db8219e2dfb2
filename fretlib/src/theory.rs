//! Music that knows nothing of instruments: pitches, intervals, keys, chords.
//!
//! Spelling matters (D# is not Eb), so pitches are an algebra rather than a table. A [`Pitch`] and an [`Interval`] are
//! both a pair *(diatonic steps, semitones)*; a pitch minus a pitch is an interval. The octave is (7, 12), and the map
//! `7·semitones − 12·steps` sends it to 0 and the fifth (4, 7) to 1. So a pitch without its octave is a place on the
//! line of fifths, and that single number is a [`PitchClass`]. The difference of two pitch classes is a [`Degree`].

mod chord;
mod interval;
mod key;
mod midi_number;
mod octave;
mod pitch;
mod pitch_class;
mod scale;
mod spelling;
mod spelling_by_key;

pub use chord::{Chord, ChordDegree};
pub use interval::{Direction, Interval};
pub use key::{Degree, Key, Membership, Mode};
pub use midi_number::MidiNumber;
#[cfg(feature = "sound")]
pub(crate) use midi_number::equal_tempered;
pub use octave::Octave;
pub use pitch::Pitch;
pub use pitch_class::{Letter, PitchClass};
pub use scale::{Scale, ScaleKind};
