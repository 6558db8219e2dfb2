//! The folder of the practice history.

use std::path::PathBuf;

use etcetera::BaseStrategy;

use crate::failure::Failure;
use crate::practice_sets::ShortName;

/// The folder of the practice history, or the usual one when it is left open.
#[derive(Clone, Debug, Default)]
pub struct HistoryFolder {
    /// The folder, or the usual one.
    pub folder: Option<PathBuf>,
    /// The player it belongs to, who has a folder in it.
    pub player: Option<ShortName>,
}

impl HistoryFolder {
    /// The folder that was named, or the place that the system has for data.
    pub fn path(&self) -> Result<PathBuf, Failure> {
        let folder = self.base()?;
        Ok(match &self.player {
            Some(player) => folder.join("players").join(player.as_str()),
            None => folder,
        })
    }

    fn base(&self) -> Result<PathBuf, Failure> {
        if let Some(folder) = &self.folder {
            return Ok(folder.clone());
        }
        let base = etcetera::choose_base_strategy().map_err(|error| {
            Failure::could_not(
                format!("there is no folder for the history: {error}"),
                "name one with `--data-dir`, or play with `--no-history`",
            )
        })?;
        Ok(base.data_dir().join("neckline"))
    }
}
