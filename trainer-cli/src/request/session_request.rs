//! What is asked in a session, how much and in which order.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use fretlib::mapping::OpenStrings;
use fretlib::neck::PositionSet;
use fretlib::practice::{Interleaving, Kind, SessionAim};
use jiff::civil::DateTime;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

use super::list_as_text;
use crate::commands::arrange::AsArranged;

/// What is asked in a session, how much and in which order.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SessionRequest {
    /// The kinds of question; at least one.
    #[serde(with = "list_as_text")]
    pub kinds: Vec<Kind>,
    /// The most questions.
    pub questions: Option<u32>,
    /// Choose questions at random, ignoring the history.
    pub is_random: bool,
    /// The seed of random choices.
    pub seed: Option<u64>,
    /// How questions follow each other.
    #[serde(serialize_with = "mix_name", deserialize_with = "mix_by_name")]
    pub mix: Interleaving,
    /// The most untouched items in one day.
    pub untouched: usize,
    /// At random in all placements, not only the best.
    pub everywhere: bool,
    /// Ask about a phrase without showing it first.
    pub ask_at_once: bool,
    /// Ask line by line, also on a terminal.
    pub plain: bool,
    /// Keep nothing of this session.
    pub no_history: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
}

impl SessionRequest {
    /// What the schedule aims at.
    pub fn aim(&self) -> SessionAim {
        SessionAim {
            untouched: self.untouched,
            mix: self.mix,
            ..SessionAim::default()
        }
    }
}

/// Whether questions are asked by ear.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ByEar {
    /// Not at all.
    Never,
    /// When a person sits at the terminal and something can be heard.
    WherePossible,
    /// Their kinds were named.
    Asked,
}

/// What part of a tune and of the neck is asked about.
#[derive(Clone, Debug, Default)]
pub struct PartRequest {
    /// Along the fingering kept with the tune, where there is one and no positions are asked for.
    pub as_fingered: bool,
    /// Every placement that holds the tune whole, not only the best and the closed ones.
    pub all_positions: bool,
    /// The positions.
    pub positions: Option<PositionSet>,
    /// Where open strings are played; as the settings say when it is left open.
    pub open_strings: Option<OpenStrings>,
    /// The file of the settings.
    pub settings: Option<PathBuf>,
    /// The arrangement that is asked about; the one kept beside the tune when nothing is said.
    pub arranged: AsArranged,
    /// The phrases, counted from 1.
    pub phrases: Option<RangeInclusive<u32>>,
}

fn mix_name<S: Serializer>(mix: &Interleaving, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(mix.name())
}

fn mix_by_name<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Interleaving, D::Error> {
    let name = String::deserialize(deserializer)?;
    name.parse().map_err(D::Error::custom)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_request_is_read_back_from_json() {
        let request = SessionRequest {
            kinds: vec![Kind::Place, Kind::Next],
            questions: Some(20),
            is_random: false,
            seed: Some(7),
            mix: Interleaving::Blocks,
            untouched: 3,
            everywhere: false,
            ask_at_once: true,
            plain: true,
            no_history: false,
            now: Some("2026-11-22T18:00".parse().unwrap()),
        };
        let json = serde_json::to_string(&request).unwrap();
        assert!(json.contains(r#""kinds":["place","next"]"#), "{json}");
        assert!(json.contains(r#""mix":"blocks""#), "{json}");
        assert_eq!(
            serde_json::from_str::<SessionRequest>(&json).unwrap(),
            request
        );
    }
}
