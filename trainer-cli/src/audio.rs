//! Sound in and out of the program: the sound server, and files.

mod microphone;
mod recording;
#[cfg(all(unix, not(target_os = "macos")))]
mod server_connection;
#[cfg(all(unix, not(target_os = "macos")))]
mod server_microphone;
mod sound_output;
#[cfg(all(unix, not(target_os = "macos")))]
mod sound_server;
mod speaker;
mod stage;
#[cfg(any(target_os = "macos", windows))]
mod system_device;
#[cfg(any(target_os = "macos", windows))]
mod system_microphone;
mod wav_file;

pub use microphone::{Microphone, NoMicrophone, SoundInput, cannot_listen};
pub use recording::{Recording, listen_to};
pub use sound_output::{Loudspeaker, NoSound, SoundOutput};
pub use speaker::{Speaker, SpeakerStatus, nothing_heard};
pub use stage::{Heard, Stage};
pub use wav_file::{SampleFormat, wav_bytes};
