//! What a session aims at.

use std::str::FromStr;

use crate::error::ParseError;

/// How the questions of a session follow each other.
///
/// Studies disagree. Carter & Grahn 2016 (Front. Psychol. 7:1251) found interleaved practice better for clarinettists
/// where raters heard a difference; Mathias & Goldman 2025 (J. Res. Music Educ. 72) found blocks best at retention for
/// advanced violinists. So it is the player's choice, and the default keeps claims small: new items come in a block at
/// the spot where they are met, the others mixed.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Mix {
    /// New items in blocks, the rest mixed.
    #[default]
    Growing,
    /// Everything mixed.
    Mixed,
    /// One phrase at one spot as long as it has something to ask.
    Blocks,
}

impl Mix {
    /// The word used on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Mix::Growing => "growing",
            Mix::Mixed => "mixed",
            Mix::Blocks => "blocks",
        }
    }
}

impl FromStr for Mix {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        [Mix::Growing, Mix::Mixed, Mix::Blocks]
            .into_iter()
            .find(|mix| mix.name() == text)
            .ok_or_else(|| ParseError::unreadable(text, "growing, mixed or blocks"))
    }
}

/// What a session aims at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    /// The recall below which an item is due. 0.9 is the default of FSRS.
    pub retention: f32,
    /// How many new items a session may bring. Chosen by ear.
    pub new_items: usize,
    /// How questions follow each other.
    pub mix: Mix,
}

impl Default for Aim {
    fn default() -> Self {
        Aim {
            retention: 0.9,
            new_items: 12,
            mix: Mix::default(),
        }
    }
}
