//! Whose hand it is.

use std::path::PathBuf;

use fretlib::neck::Hand;

/// Whose hand it is.
#[derive(Clone, Debug, Default)]
pub struct HandRequest {
    /// The hand; the one in the settings when it is left open.
    pub hand: Option<Hand>,
    /// The file of the settings.
    pub settings: Option<PathBuf>,
}
