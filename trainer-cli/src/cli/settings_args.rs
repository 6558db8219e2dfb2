//! The file of the settings.

use std::path::PathBuf;

#[derive(Clone, Debug, Default, clap::Args)]
pub struct SettingsArgs {
    /// The file with your settings [default: neckline/settings.ron in the user's folder for configuration]
    #[arg(
        long,
        value_name = "FILE",
        env = "NECKLINE_SETTINGS",
        hide_env_values = true,
        hide_short_help = true
    )]
    pub settings: Option<PathBuf>,
}
