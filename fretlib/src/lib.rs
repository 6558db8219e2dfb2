//! Where a melody lies on a fretted instrument: a library for people who have to own a tune before they arrange it.
//!
//! Everything is a plain function from values to values. Read a tune, look at its notes, map it on a neck:
//!
//! ```
//! use fretlib::format::abc;
//! use fretlib::mapping::{NeckMap, OpenStrings};
//! use fretlib::neck::Instrument;
//! use fretlib::theory::{Membership, Octave};
//!
//! let source = b"X:1\nT:Gulls over Breakfast\nM:3/4\nL:1/4\nK:G\nD|G2B|A2^c|d3|";
//! let tune = abc::read(source, &abc::AbcOptions::default())?.melody;
//! let key = *tune.keys().first().expect("the tune declares one");
//!
//! let outside: Vec<String> = tune.analyse(key)
//!     .iter()
//!     .filter(|it| it.membership == Membership::Chromatic)
//!     .map(|it| format!("bar {}: {} is {}", it.bar, it.note.pitch, it.degree))
//!     .collect();
//! assert_eq!(outside, ["bar 2: C#5 is #4"]);
//!
//! let map = NeckMap::new(&tune, &Instrument::default(), OpenStrings::default());
//! let best = map.best_where(|placement| placement.octave == Octave::WRITTEN).expect("it is on the neck");
//! assert!(best.is_whole());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`theory`] is music without instruments and [`neck`] an instrument without music; [`melody`] is notes in exact time and
//! [`notation`] how they are written down; [`mapping`] brings melody and neck together, [`fingering`] finds the way along the
//! neck, [`text`] draws. Nothing in here opens a file, reads a clock or rolls a die: bytes, times, samples and random
//! choices come in as arguments.
//!
//! # Features
//!
//! None is on by default. Each adds a floor and nothing else; they may be combined as you like.
//!
//! | feature | module | what it adds |
//! |---|---|---|
//! | `formats` | `format` | ABC, MusicXML, MIDI and RON: bytes in, a melody out, and back |
//! | `sheet` | `sheet` | the engraved page as a list of marks; SVG and HTML from it |
//! | `practice` | `practice` | questions, judging answers, what to ask next |
//! | `sound` | `sound` | a plucked string, a click: notes in, samples out |
//! | `hearing` | `hearing` | strikes, pitches and verdicts: samples in, values out |
//! | `arranging` | `arranging` | what can sound under a melody, and the path through a tune |
//! | `serde` | | `Serialize` and `Deserialize` for the value types |
#![warn(missing_docs)]

mod any_error;
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

pub use any_error::Error;
pub use error::{OutOfRange, ParseError};
pub use fingering::{Fingering, FingeringSearch};
pub use mapping::{NeckMap, Placement};
pub use melody::{Melody, Quarters};
pub use neck::{Instrument, Place, Position};
pub use one_line::is_visible;
pub use theory::{Chord, Interval, Key, Pitch};

/// The pages for readers of the packages, so that their code is compiled and run.
#[cfg(doctest)]
mod pages {
    #[doc = include_str!("../README.md")]
    struct OfTheLibrary;
    #[doc = include_str!("../../README.md")]
    struct OfTheProgram;
}
