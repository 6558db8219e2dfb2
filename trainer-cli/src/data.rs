//! From options to the folder of the practice history.

use std::path::PathBuf;

use etcetera::BaseStrategy;

use crate::args::DataArgs;
use crate::failure::Failure;

impl DataArgs {
    /// The folder: the option, the variable, or the place that the system has for data.
    pub fn folder(&self) -> Result<PathBuf, Failure> {
        if let Some(folder) = &self.data_dir {
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
