//! Sound in and out of the program: the sound server, and files.

mod recording;
mod sound_output;
#[cfg(all(unix, not(target_os = "macos")))]
mod sound_server;
mod speaker;
mod stage;
#[cfg(any(target_os = "macos", windows))]
mod system_device;
mod wav_file;

pub use recording::{Recording, listen_to};
pub use sound_output::{Loudspeaker, NoSound, SoundOutput};
pub use speaker::{Speaker, SpeakerStatus, nothing_heard};
pub use stage::{Heard, Stage};
pub use wav_file::{SampleFormat, wav_bytes};
