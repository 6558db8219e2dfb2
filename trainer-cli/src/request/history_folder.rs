//! The folder of the practice history.

use std::path::PathBuf;

use etcetera::BaseStrategy;

use crate::failure::Failure;
use crate::practice_sets::ShortName;

/// The folder of the practice history; `None` for the usual one.
#[derive(Clone, Debug, Default)]
pub struct HistoryFolder {
    /// The folder, or the usual one.
    pub folder: Option<PathBuf>,
    /// The player, who has a subfolder.
    pub player: Option<ShortName>,
}

impl HistoryFolder {
    /// The named folder, or the system's place for data.
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
