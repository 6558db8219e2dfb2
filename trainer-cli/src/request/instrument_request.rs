//! Which instrument.

use serde::{Deserialize, Serialize};

/// Which instrument.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct InstrumentRequest {
    /// A built-in instrument or a file that describes one; `None` for the guitar.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// The open strings from the lowest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tuning: Option<String>,
    /// The number of frets.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frets: Option<u8>,
    /// The fret the capo is on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capo: Option<u8>,
    /// Draw the neck for a left-handed player. Not stored, since it does not affect what is practised.
    #[serde(skip)]
    pub left_handed: bool,
}
