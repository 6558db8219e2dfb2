//! The player's settings: whose hand it is, and which placements come first.

use std::path::Path;

use fretlib::format::settings_ron::{self, Settings};
use fretlib::mapping::{OpenStrings, Preference};
use fretlib::neck::Hand;

use super::read_text;
use crate::failure::Failure;
use crate::request::HandRequest;
use crate::terminal::Streams;

/// The settings in the named file, else those in the user's folder, else the default.
pub fn settings(named: Option<&Path>, streams: &Streams) -> Result<Settings, Failure> {
    let usual = streams.settings.as_deref().filter(|file| file.exists());
    let Some(file) = named.or(usual) else {
        return Ok(Settings::default());
    };
    let name = file.to_string_lossy();
    read_text(&name, settings_ron::read).map_err(|failure| match failure {
        Failure::Usage { problem, .. } => Failure::usage(
            problem,
            "name your settings with `--settings`, or leave the option out",
        ),
        other => other,
    })
}

impl HandRequest {
    /// The requested hand, that of the settings, or a medium one.
    pub fn open(&self, streams: &Streams) -> Result<Hand, Failure> {
        if let Some(hand) = self.hand {
            return Ok(hand);
        }
        let set = settings(self.settings.as_deref(), streams)?.hand;
        Ok(set.unwrap_or(Hand::MEDIUM))
    }

    /// Where the player wants open strings, when the settings say so.
    pub fn open_strings(&self, streams: &Streams) -> Result<Option<OpenStrings>, Failure> {
        Ok(settings(self.settings.as_deref(), streams)?.open_strings)
    }

    /// Which of two placements the player prefers.
    pub fn preference(&self, streams: &Streams) -> Result<Preference, Failure> {
        Ok(settings(self.settings.as_deref(), streams)?.preference)
    }
}
