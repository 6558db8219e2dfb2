//! Samples in, struck notes and verdicts out.

mod alignment;
mod band_levels;
mod expected;
mod follower;
mod listener;
mod live_listener;
mod live_strikes;
mod local_tempo;
mod neighbour_trees;
mod neighbours;
mod notes_under;
mod played_stretch;
mod recording_rate;
mod resampler;
mod second_look;
mod second_look_trees;
mod spectrum;
mod strike;
mod strike_candidate;
mod strike_trees;
mod struck_note;
mod take;
mod tempo_curve;
mod trees;
mod written_down;

pub use follower::Whereabouts;
pub use listener::{Heard, Listener};
pub use live_listener::{Hearing, LiveEvent, LiveListener, LivePass};
pub use live_strikes::NamedStrike;
pub use played_stretch::PlayedStretch;
pub use recording_rate::RecordingRate;
pub use resampler::Resampler;
pub use struck_note::StruckNote;
pub use take::{HeardPass, JudgedNote, NoteVerdict, Take};

/// Needed by the program that learns the trees; not part of the public API.
#[doc(hidden)]
pub mod learn {
    pub use super::neighbours::BY_ITSELF as ODDS_BY_ITSELF;
    pub use super::second_look::MEASURED as MEASURED_AGAIN;
    pub use super::strike::{MEASURED, MeasuredStrike, measured, measured_among_neighbours};
    pub use super::take::{NotFound, not_found};
}
