//! Notes in, samples out: a plucked string, a click, and a player of melodies.
//!
//! Three layers, each of use by itself:
//!
//! 1. [`PluckedString`] is one string, plucked once: a [`Tone`], a [`Strength`] and a [`SampleRate`] in, samples out.
//! 2. [`Performance`] is what sounds when: [`Pluck`]s and [`Click`]s in seconds. A melody, a chord, an arrangement or a take
//!    with mistakes in it are all performances. [`Performance::samples`] gives the whole as samples; a [`Renderer`] gives them
//!    piece by piece, and lets layers be turned up and down while they sound.
//! 3. [`play_through`] makes a performance of a melody: in its playing order, at a tempo, with a count-in, a click and quiet
//!    chords.
//!
//! ```
//! use fretlib::neck::{Fret, Instrument, Place, StringNumber};
//! use fretlib::sound::{ConcertPitch, Layer, Performance, Pluck, SampleRate, Strength, Tone};
//!
//! let guitar = Instrument::default();
//! let fifth_fret = Place { string: StringNumber::new(1)?, fret: Fret::new(5)? };
//! let tone = Tone::at(&guitar, fifth_fret, ConcertPitch::A440).expect("the guitar has that place");
//! assert_eq!(tone.frequency(), 440.0); // written A5, sounding A4
//!
//! let pluck = Pluck::new(tone, fifth_fret.string, 0.5, 1.5);
//! let quiet = Pluck { strength: Strength::FULL.softer(9.0), layer: Layer::Chords, ..pluck };
//! let performance = Performance::new(vec![pluck, quiet], Vec::new(), 2.0)?;
//! let samples = performance.samples(SampleRate::CD);
//! let first = samples.iter().position(|it| it.abs() > 1e-3);
//! assert_eq!(first, Some(22_050)); // half a second in
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The same values give the same samples. Everything is mono.

mod accompaniment;
mod body;
mod click;
mod performance;
mod play_through;
mod plucked_string;
mod renderer;
mod sample_rate;
mod sounding_bars;
mod tempo_map;
mod tone;

pub use crate::melody::Swing;
pub use accompaniment::quiet_chord;
pub use click::{Click, ClickDrop, ClickPattern};
pub use performance::{Layer, Performance, PerformanceError, Pluck, Strength};
pub use play_through::{Manner, PlayThrough, PlayedBar, UnderMelody, play_through};
pub use plucked_string::PluckedString;
pub use renderer::Renderer;
pub use sample_rate::SampleRate;
pub use tempo_map::TempoMap;
pub use tone::{ConcertPitch, StringMaterial, Tone};

#[cfg(test)]
pub(crate) mod measured;
