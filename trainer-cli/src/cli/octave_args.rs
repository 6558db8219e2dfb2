//! The octave a tune is played in.

use fretlib::theory::Octave;

#[derive(Clone, Debug, Default, clap::Args)]
pub struct OctaveArgs {
    /// The octave to play in, such as +1
    ///
    /// By default the written one where it fits, else the one that fits best.
    #[arg(
        long,
        value_name = "OCTAVE",
        hide_short_help = true,
        allow_hyphen_values = true
    )]
    pub octave: Option<Octave>,
}
