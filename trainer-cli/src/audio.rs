//! Sound in and out of the program: the sound server, and files.

mod wav_file;

pub use wav_file::{SampleFormat, wav_bytes};
