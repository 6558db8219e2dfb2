//! A player's settings, written in RON.
//!
//! ```ron
//! (
//!     hand: ( // millimetres along the neck: in comfort, at most
//!         one_four: (105, 130),
//!         one_two: (40, 65),    // these three may be left out
//!         two_three: (26, 52),
//!         three_four: (38, 64),
//!     ),
//!     open_strings: "anywhere", // or "first position", "nowhere": where they are played
//!     open_strings_first: true, // of two placements, the one on open strings rather than the closed one
//! )
//! ```

use serde::Deserialize;

use super::{Diagnostic, Location, ReadError, ron_source};
use crate::mapping::{OpenStrings, Preference};
use crate::neck::Hand;

/// The settings of a player.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// The player's own hand.
    pub hand: Option<Hand>,
    /// Where open strings are played.
    pub open_strings: Option<OpenStrings>,
    /// Which of two placements comes first.
    pub preference: Preference,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsFile {
    hand: Option<Measures>,
    #[serde(default, deserialize_with = "ron_source::word")]
    open_strings: Option<OpenStrings>,
    #[serde(default)]
    open_strings_first: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Measures {
    one_four: (u16, u16),
    one_two: Option<(u16, u16)>,
    two_three: Option<(u16, u16)>,
    three_four: Option<(u16, u16)>,
}

/// Reads settings.
///
/// # Errors
///
/// When the text is not as above, or [`Hand::measured`] refuses the hand.
///
/// ```
/// use fretlib::format::settings_ron;
/// use fretlib::mapping::Preference;
/// use fretlib::neck::Hand;
///
/// let settings = settings_ron::read("(hand: (one_four: (105, 130)))")?;
/// assert_eq!(settings.hand, Some(Hand::new(105, 130)?));
/// assert_eq!(settings_ron::read("()")?.hand, None);
/// assert!(settings_ron::read("(open_strings: \"nowhere\")")?.open_strings.is_some());
/// assert_eq!(settings_ron::read("(open_strings_first: true)")?.preference, Preference::OpenStrings);
/// let error = settings_ron::read("(\n  hand: (one_four: (130, 105)))").unwrap_err();
/// assert_eq!(error.to_string(), "line 2, column 10: utmost reach in mm 105 is not in the range 130 to 250");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read(source: &str) -> Result<Settings, ReadError> {
    let written: SettingsFile = ron_source::read(source).map_err(ReadError::new)?;
    let hand = written
        .hand
        .map(|it| Hand::measured(it.one_four, [it.one_two, it.two_three, it.three_four]))
        .transpose()
        .map_err(|error| {
            ReadError::new(Diagnostic {
                at: source.find("one_four").map_or(Location::Whole, |at| {
                    ron_source::location(source, &source[at..])
                }),
                problem: error.to_string(),
                hint: Some("each pair is millimetres in comfort, then at most".to_owned()),
            })
        })?;
    let preference = match written.open_strings_first {
        true => Preference::OpenStrings,
        false => Preference::Closed,
    };
    Ok(Settings {
        hand,
        open_strings: written.open_strings,
        preference,
    })
}
