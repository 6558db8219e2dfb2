//! Whose hand it is.

use std::path::PathBuf;

use fretlib::neck::Hand;

/// Whose hand it is.
#[derive(Clone, Debug, Default)]
pub struct HandRequest {
    /// The hand; `None` for the one in the settings.
    pub hand: Option<Hand>,
    /// The file of the settings.
    pub settings: Option<PathBuf>,
}
