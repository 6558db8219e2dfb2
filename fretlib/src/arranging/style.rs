//! Ways to accompany, as data.

use std::fmt;
use std::str::FromStr;

use super::chord_role::ChordRole;
use crate::error::ParseError;

/// What may sound under the melody and how it is plucked.
///
/// The styles are the usual ones; their rules are common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    name: &'static str,
    /// One line for help and pages.
    about: &'static str,
    /// The fewest and the most notes that sound at once, including the melody.
    pub(super) least: u8,
    pub(super) most: u8,
    /// The preferred number of notes, including the melody.
    pub(super) wanted: u8,
    /// Struck with a pick: a silent string between sounding ones must be damped by a finger beside it.
    pub(super) picked: bool,
    /// What may sound; everything when empty.
    pub(super) only: &'static [ChordRole],
    /// Also on the strong beats under a held melody note.
    pub(super) on_strong_beats: bool,
    /// The thumb may come over the neck and stop the lowest string.
    pub(super) thumb: bool,
}

impl Style {
    /// Thumb and three fingers: at most four notes on any strings.
    pub const PLUCKED: Style = Style {
        name: "plucked",
        about: "thumb and three fingers, any strings",
        least: 2,
        most: 4,
        wanted: 3,
        picked: false,
        only: &[],
        on_strong_beats: false,
        thumb: false,
    };
    /// Struck with a pick: silent strings in between are damped.
    pub const PICK: Style = Style {
        name: "pick",
        about: "struck with a pick, strings in a row or damped",
        picked: true,
        ..Style::PLUCKED
    };
    /// A bass note with the melody: root and fifth on the strong beats.
    pub const BASS: Style = Style {
        name: "bass",
        about: "root and fifth on the strong beats",
        least: 2,
        most: 2,
        wanted: 2,
        only: &[ChordRole::Root, ChordRole::Fifth, ChordRole::Bass],
        on_strong_beats: true,
        ..Style::PLUCKED
    };
    /// One line of guide tones under the melody.
    pub const TWO_VOICES: Style = Style {
        name: "two-voices",
        about: "a line of guide tones under the melody",
        least: 2,
        most: 2,
        wanted: 2,
        only: &[ChordRole::Guide],
        ..Style::PLUCKED
    };
    /// Root and guide tones only.
    pub const SHELLS: Style = Style {
        name: "shells",
        about: "root, third and seventh",
        least: 2,
        most: 4,
        wanted: 3,
        only: &[ChordRole::Root, ChordRole::Guide, ChordRole::Bass],
        ..Style::PLUCKED
    };
    /// As many notes as a hand can hold, rolled or struck.
    pub const FULL: Style = Style {
        name: "full",
        about: "up to five notes, rolled or struck",
        least: 2,
        most: 5,
        wanted: 5,
        ..Style::PLUCKED
    };

    /// Every style.
    pub const ALL: [Style; 6] = [
        Style::PLUCKED,
        Style::PICK,
        Style::BASS,
        Style::TWO_VOICES,
        Style::SHELLS,
        Style::FULL,
    ];

    /// The same style with the thumb over the neck on the lowest string, or without.
    ///
    /// ```
    /// use fretlib::arranging::Style;
    ///
    /// assert_ne!(Style::SHELLS.with_thumb(true), Style::SHELLS);
    /// assert_eq!(Style::SHELLS.with_thumb(true).name(), "shells");
    /// ```
    #[must_use]
    pub const fn with_thumb(self, thumb: bool) -> Style {
        Style { thumb, ..self }
    }

    /// Whether the thumb may stop the lowest string.
    pub const fn has_thumb(&self) -> bool {
        self.thumb
    }

    /// Its name on the command line.
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// True when a third and a seventh may both sound beside the melody.
    pub(super) fn sounds_guides(&self) -> bool {
        self.most > 2 && (self.only.is_empty() || self.only.contains(&ChordRole::Guide))
    }

    /// A description in one line.
    pub const fn about(&self) -> &'static str {
        self.about
    }
}

impl Default for Style {
    fn default() -> Style {
        Style::PLUCKED
    }
}

impl fmt::Display for Style {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name)
    }
}

impl FromStr for Style {
    type Err = ParseError;

    /// Reads the name of a style.
    fn from_str(text: &str) -> Result<Style, ParseError> {
        Style::ALL
            .into_iter()
            .find(|style| style.name == text)
            .ok_or_else(|| {
                ParseError::unreadable(
                    text,
                    "a style: plucked, pick, bass, two-voices, shells or full",
                )
            })
    }
}
