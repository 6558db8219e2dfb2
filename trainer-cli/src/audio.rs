//! Sound in and out of the program: the sound server, and files.

mod recording;
#[cfg(all(unix, not(target_os = "macos")))]
mod sound_server;
mod speaker;
mod stage;
#[cfg(any(target_os = "macos", windows))]
mod system_device;
mod wav_file;

pub use recording::{Recording, listen_to};
pub use speaker::{Speaker, SpeakerStatus};
pub use stage::{Heard, Stage};
pub use wav_file::{SampleFormat, wav_bytes};
