//! Samples in, struck notes and verdicts out.

mod accompaniment;
mod alignment;
mod expected;
mod listener;
mod local_tempo;
mod recording_rate;
mod resampler;
mod spectrum;
mod strike;
mod strike_candidate;
mod struck_note;
mod take;
mod written_down;

pub use listener::{Heard, Listener};
pub use recording_rate::RecordingRate;
pub use resampler::Resampler;
pub use struck_note::StruckNote;
pub use take::{HeardPass, JudgedNote, NoteVerdict, Take};
