//! The microphone of macOS and Windows.

use std::sync::mpsc::{Sender, channel};
use std::thread::JoinHandle;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, InputCallbackInfo, StreamConfig};
use fretlib::hearing::RecordingRate;

use super::microphone::Piece;

/// A stream that records until it is dropped.
///
/// It lives in its own thread, since some systems do not allow moving a stream between threads.
pub struct InputDevice {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl InputDevice {
    /// Records from the system's default device; several channels become one.
    pub fn open(pieces: Sender<Piece>) -> Result<(InputDevice, RecordingRate), String> {
        let (stop, stopped) = channel::<()>();
        let (opened, has_opened) = channel();
        let thread = std::thread::spawn(move || match open(pieces) {
            Ok((stream, rate)) => {
                let _ = opened.send(Ok(rate));
                // Nothing is ever sent: this returns when the other end is dropped.
                let _ = stopped.recv();
                drop(stream);
            }
            Err(reason) => {
                let _ = opened.send(Err(reason));
            }
        });
        let rate = has_opened
            .recv()
            .unwrap_or_else(|_| Err("the microphone did not open".into()))?;
        let device = InputDevice {
            stop: Some(stop),
            thread: Some(thread),
        };
        Ok((device, rate))
    }
}

impl Drop for InputDevice {
    fn drop(&mut self) {
        self.stop.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn open(pieces: Sender<Piece>) -> Result<(cpal::Stream, RecordingRate), String> {
    let device = cpal::default_host()
        .default_input_device()
        .ok_or("there is no microphone")?;
    let usual = device
        .default_input_config()
        .map_err(|error| error.to_string())?;
    let channels = usize::from(usual.channels().max(1));
    let rate = RecordingRate::new(usual.sample_rate()).map_err(|error| error.to_string())?;
    let config = StreamConfig {
        channels: usual.channels(),
        sample_rate: usual.sample_rate(),
        buffer_size: BufferSize::Default,
    };
    let failed = pieces.clone();
    let read = move |samples: &[f32], _: &InputCallbackInfo| {
        let frames = samples.chunks(channels);
        let mono = frames.map(|frame| frame.iter().sum::<f32>() / channels as f32);
        // Nobody listens any more when the stream is about to end.
        let _ = pieces.send(Ok(mono.collect()));
    };
    let failed = move |error: cpal::Error| {
        let _ = failed.send(Err(error.to_string()));
    };
    let stream = device
        .build_input_stream(config, read, failed, None)
        .map_err(|error| error.to_string())?;
    stream.play().map_err(|error| error.to_string())?;
    Ok((stream, rate))
}
