//! Requests to commands, the history and the screen: plain values, independent of command-line options.

mod as_typed;
mod asked_tempo;
mod hand_request;
mod history_folder;
mod instrument_request;
mod list_as_text;
mod placement_request;
mod session_request;
mod tune_request;

pub use asked_tempo::{AskedTempo, asked_tempo};
pub use hand_request::HandRequest;
pub use history_folder::HistoryFolder;
pub use instrument_request::InstrumentRequest;
pub use placement_request::{PlacementRequest, neck_map};
pub use session_request::{ByEar, PartRequest, SessionRequest};
pub use tune_request::{TuneOnInstrument, TuneRequest};
