//! From a request and the settings to the player's hand.

use std::path::Path;

use fretlib::format::settings_ron;
use fretlib::neck::Hand;

use super::read_text;
use crate::failure::Failure;
use crate::request::HandRequest;
use crate::terminal::Streams;

impl HandRequest {
    /// The hand that was asked for, that of the settings, or a medium one.
    pub fn open(&self, streams: &Streams) -> Result<Hand, Failure> {
        if let Some(hand) = self.hand {
            return Ok(hand);
        }
        let usual = streams.settings.as_ref().filter(|file| file.exists());
        let set = match self.settings.as_ref().or(usual) {
            Some(file) => read(file)?,
            None => None,
        };
        Ok(set.unwrap_or(Hand::MEDIUM))
    }
}

fn read(file: &Path) -> Result<Option<Hand>, Failure> {
    let name = file.to_string_lossy();
    let settings = read_text(&name, settings_ron::read).map_err(|failure| match failure {
        Failure::Usage { problem, .. } => Failure::usage(
            problem,
            "name your settings with `--settings`, or leave the option out",
        ),
        other => other,
    })?;
    Ok(settings.hand)
}
