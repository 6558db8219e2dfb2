//! Options for the placements of a tune: which to consider, and which to draw.

use fretlib::neck::{Position, PositionSet};

use super::octave_args::OctaveArgs;
use crate::request::PlacementRequest;

#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Position and octave")]
pub struct PlacementArgs {
    /// The position to draw, such as V or 5
    ///
    /// By default the best one is drawn.
    #[arg(long, value_name = "POSITION")]
    position: Option<Position>,

    #[command(flatten)]
    octave: OctaveArgs,

    /// Only these positions, such as 2-9 or V,X
    #[arg(long, value_name = "POSITIONS")]
    positions: Option<PositionSet>,
}

impl From<PlacementArgs> for PlacementRequest {
    fn from(args: PlacementArgs) -> Self {
        PlacementRequest {
            position: args.position,
            octave: args.octave.octave,
            positions: args.positions,
        }
    }
}
