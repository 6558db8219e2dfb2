//! Notes in time, knowing nothing of instruments.

mod analysis;
mod bar;
mod bar_choice;
mod beat;
mod draft;
mod feel;
mod form;
mod key_finding;
mod lyric;
mod measures;
#[allow(clippy::module_inception)]
mod melody;
mod meter;
pub(crate) mod note_value;
mod phrase;
mod playing_order;
mod quarters;
mod tempo;
mod timeline;
mod tuplet;

pub use analysis::AnalysedNote;
pub use bar::Bar;
pub use bar_choice::BarChoice;
pub use beat::Beat;
pub use draft::Draft;
pub use feel::Feel;
pub use form::{BackTo, Endings, Form, FormSign, Jump, Times, Until};
pub use key_finding::{KeyEstimate, KeyProfile, estimate_keys};
pub use lyric::Syllable;
pub use measures::{Measure, MeasurePart};
pub use melody::{Melody, MelodyError, Note};
pub use meter::Meter;
pub use note_value::NoteValue;
pub use playing_order::{FormError, FormFault, Pass, PlayedNote, PlayingOrder};
pub use quarters::Quarters;
pub use tempo::Tempo;
pub use timeline::Timeline;
pub use tuplet::{Tuplet, TupletGrouper};
