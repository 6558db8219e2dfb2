//! What sounds under a melody: voicings a hand can hold, and the path through a tune.
//!
//! [`Arranger::voicings`] finds everything a hand can hold under one melody note over its chord; [`moments`] chooses
//! the notes of a melody that get a voicing; a [`Lattice`] holds the voicings of all moments and finds the cheapest
//! paths through them, exactly. The [`VoicingTerm`]s and their [`VoicingWeights`] define the cost.
//!
//! ```
//! use fretlib::arranging::{Arranger, ArrangingSettings, Lattice, Style};
//! use fretlib::format::tune_ron;
//! use fretlib::neck::{Hand, Instrument};
//!
//! let source = r#"(key: "C major", meter: "4/4", lines: [(chords: "Dm7 | G7 | Cmaj7", notes: "F5 w | F5 w | E5 w")])"#;
//! let melody = tune_ron::read(source.as_bytes())?.melody;
//! let guitar = Instrument::default();
//! let arranger = Arranger { instrument: &guitar, hand: Hand::MEDIUM, style: Style::PLUCKED };
//! let lattice = Lattice::new(arranger, &melody, ArrangingSettings::default())?;
//! let best = &lattice.solve(1)[0];
//! assert_eq!(best.figures(&lattice).complete, 3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod arrangement;
mod bare_notes;
mod best_paths;
mod choice;
mod choosing;
mod chord_role;
mod chords_by_key;
#[cfg(test)]
mod few_bars;
mod grip;
mod lattice;
mod lower_voice;
mod moment;
mod octave_fit;
mod ranking;
mod staging;
mod style;
#[cfg(test)]
mod taught_shapes;
mod texture;
#[cfg(test)]
mod trying_everything;
mod voicing;
mod voicing_cost;
mod voicings;

pub use arrangement::{Accompaniment, ArrangedNote, Arrangement, ArrangementFigures, BareReason};
pub use choice::{ArrangementChoice, Chosen, Unfit, for_time};
pub use choosing::Choosing;
pub use chord_role::{ChordRole, ChordRoles};
pub use chords_by_key::chords_by_key;
pub use lattice::{ArrangingError, ArrangingSettings, Lattice};
pub use lower_voice::{LowerChord, LowerNote, PluckedNote};
pub use moment::{ChordMoment, Density, moments};
pub use octave_fit::{OctaveFit, TranspositionFit, octave_fits, transposition_fits};
pub use ranking::{RankedVoicing, VoicingFilter};
pub use staging::Staged;
pub use style::Style;
pub use texture::{RestChord, Texture};
pub use voicing::{Barre, FingeredPlace, Shape, UnderNote, Voicing};
pub use voicing_cost::{VoicingAmounts, VoicingTerm, VoicingWeights};
pub use voicings::Arranger;
