//! Where the player is heard: the microphone, or what a test puts in its place.

use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use fretlib::hearing::RecordingRate;

#[cfg(all(unix, not(target_os = "macos")))]
use super::server_microphone::InputDevice;
#[cfg(any(target_os = "macos", windows))]
use super::system_microphone::InputDevice;
use crate::failure::Failure;

/// The next samples, mono, or why there are no more.
pub type Piece = Result<Vec<f32>, String>;

/// A source of sound that is listened to while it sounds.
pub trait SoundInput {
    /// Begins to listen, and says at which rate.
    ///
    /// # Errors
    ///
    /// When nothing can be listened to, with the reason in words.
    fn open(&mut self) -> Result<RecordingRate, String>;

    /// The samples that have come since, one channel; waits for some at most `within`, and is empty when none came.
    /// `None` when the source has ended.
    ///
    /// # Errors
    ///
    /// When the source has gone away, with the reason in words.
    fn next(&mut self, within: Duration) -> Result<Option<Vec<f32>>, String>;

    /// Stops listening.
    fn close(&mut self);
}

/// That the player cannot be heard, for this reason, and what to do about it.
pub fn cannot_listen(reason: &str) -> Failure {
    Failure::could_not(
        format!("the microphone cannot be heard: {reason}"),
        "connect a microphone and start the sound server, or record a file and name it with `--take`",
    )
}

/// Nothing to listen to.
#[derive(Clone, Copy, Debug)]
pub struct NoMicrophone;

impl SoundInput for NoMicrophone {
    fn open(&mut self) -> Result<RecordingRate, String> {
        Err("there is no microphone".into())
    }

    fn next(&mut self, _: Duration) -> Result<Option<Vec<f32>>, String> {
        Ok(None)
    }

    fn close(&mut self) {}
}

/// The microphone of the system. It is open only between [`SoundInput::open`] and [`SoundInput::close`].
#[derive(Default)]
pub struct Microphone {
    open: Option<OpenMicrophone>,
}

struct OpenMicrophone {
    _device: InputDevice,
    pieces: Receiver<Piece>,
    /// Why it is gone, when that came behind samples.
    fault: Option<String>,
}

impl SoundInput for Microphone {
    fn open(&mut self) -> Result<RecordingRate, String> {
        self.open = None;
        let (sender, pieces) = channel();
        let (device, rate) = InputDevice::open(sender)?;
        self.open = Some(OpenMicrophone {
            _device: device,
            pieces,
            fault: None,
        });
        Ok(rate)
    }

    fn next(&mut self, within: Duration) -> Result<Option<Vec<f32>>, String> {
        let Some(open) = &mut self.open else {
            return Ok(None);
        };
        if let Some(reason) = open.fault.take() {
            return Err(reason);
        }
        let mut samples = match open.pieces.recv_timeout(within) {
            Ok(piece) => piece?,
            Err(RecvTimeoutError::Timeout) => return Ok(Some(Vec::new())),
            Err(RecvTimeoutError::Disconnected) => return Ok(None),
        };
        // What came meanwhile is taken along.
        while samples.len() < MOST
            && let Ok(piece) = open.pieces.try_recv()
        {
            match piece {
                Ok(more) => samples.extend(more),
                Err(reason) => {
                    open.fault = Some(reason);
                    break;
                }
            }
        }
        Ok(Some(samples))
    }

    fn close(&mut self) {
        self.open = None;
    }
}

/// About how many samples are handed over at once.
const MOST: usize = 1 << 16;
