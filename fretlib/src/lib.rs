//! Where a melody lies on a fretted instrument: a library for people who have to own a tune before they arrange it.
//!
//! Everything is a plain function from values to values. Read a tune, look at its notes, map it on a neck:
//!
//! ```
//! use fretlib::format::abc;
//! use fretlib::mapping::{NeckMap, OpenStrings};
//! use fretlib::melody::analyse;
//! use fretlib::neck::Instrument;
//! use fretlib::theory::Membership;
//!
//! let source = b"X:1\nT:Gulls over Breakfast\nM:3/4\nL:1/4\nK:G\nD|G2B|A2^c|d3|";
//! let tune = abc::read(source, &abc::Options::default())?.melody;
//! let key = *tune.keys().first().expect("the tune declares one");
//!
//! let outside: Vec<String> = analyse(&tune, key)
//!     .iter()
//!     .filter(|it| it.membership == Membership::Chromatic)
//!     .map(|it| format!("bar {}: {} is {}", it.bar, it.note.pitch, it.degree))
//!     .collect();
//! assert_eq!(outside, ["bar 2: C#5 is #4"]);
//!
//! let map = NeckMap::new(&tune, &Instrument::default(), OpenStrings::default());
//! let best = map.best_where(|placement| placement.octave == 0).expect("it is on the neck");
//! assert!(best.is_whole());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`theory`] is music without instruments and [`neck`] an instrument without music; [`melody`] is notes in exact time;
//! [`mapping`] brings them together, [`fingering`] finds the way along the neck; [`practice`] asks the player; [`mod@format`] reads and writes; [`text`] draws. Nothing in
//! here opens a file, reads a clock or rolls a die: bytes, times and randomness come in as arguments.
#![warn(missing_docs)]

#[cfg(feature = "arranging")]
pub mod arranging;
mod error;
pub mod fingering;
#[cfg(feature = "formats")]
pub mod format;
#[cfg(feature = "hearing")]
pub mod hearing;
pub mod mapping;
pub mod melody;
pub mod neck;
pub mod notation;
mod one_line;
#[cfg(feature = "practice")]
pub mod practice;
#[cfg(feature = "serde")]
mod serde_values;
#[cfg(feature = "sheet")]
pub mod sheet;
#[cfg(feature = "sound")]
pub mod sound;
pub mod text;
pub mod theory;

pub use error::{OutOfRange, ParseError};

/// The pages for readers of the packages, so that their code is compiled and run.
#[cfg(doctest)]
mod pages {
    #[doc = include_str!("../README.md")]
    struct OfTheLibrary;
    #[doc = include_str!("../../README.md")]
    struct OfTheProgram;
}
