//! A few bars and a hand to arrange them for, in tests.

use super::{Arranger, Style};
use crate::format::tune_ron;
use crate::melody::Melody;
use crate::neck::{Hand, Instrument};

/// Bars of four quarters, from lines as a tune file has them.
pub fn tune(key: &str, lines: &str) -> Melody {
    let source = format!("(key: \"{key}\", meter: \"4/4\", tempo: 90, lines: [{lines}])");
    tune_ron::read(source.as_bytes()).unwrap().melody
}

pub fn medium_hand(instrument: &Instrument, style: Style) -> Arranger<'_> {
    Arranger {
        instrument,
        hand: Hand::MEDIUM,
        style,
    }
}
