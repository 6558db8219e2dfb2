//! What a session aims at.

use std::str::FromStr;

use crate::error::ParseError;

/// How the questions of a session follow each other.
///
/// Studies disagree. Carter & Grahn 2016 (Front. Psychol. 7:1251) found interleaved practice better for clarinettists
/// where raters heard a difference; Mathias & Goldman 2025 (J. Res. Music Educ. 72) found blocks best at retention for
/// advanced violinists. So it is the player's choice, and the default is a compromise: untouched items come in a block
/// at the placement where they are met, the others mixed.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Interleaving {
    /// Untouched items in blocks, the rest mixed.
    #[default]
    Growing,
    /// Everything mixed.
    Mixed,
    /// One phrase at one placement as long as it has something to ask.
    Blocks,
}

impl Interleaving {
    /// The word used on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Interleaving::Growing => "growing",
            Interleaving::Mixed => "mixed",
            Interleaving::Blocks => "blocks",
        }
    }
}

impl FromStr for Interleaving {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        [
            Interleaving::Growing,
            Interleaving::Mixed,
            Interleaving::Blocks,
        ]
        .into_iter()
        .find(|mix| mix.name() == text)
        .ok_or_else(|| ParseError::unreadable(text, "growing, mixed or blocks"))
    }
}

/// What a session aims at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SessionAim {
    /// The recall below which an item fades. 0.9 is the default of FSRS.
    pub retention: f32,
    /// How many untouched items a session may bring. Chosen by ear.
    pub untouched: usize,
    /// How questions follow each other.
    pub mix: Interleaving,
}

impl Default for SessionAim {
    fn default() -> Self {
        SessionAim {
            retention: 0.9,
            untouched: 12,
            mix: Interleaving::default(),
        }
    }
}
