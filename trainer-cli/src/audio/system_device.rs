//! The sound device of macOS and Windows.

use std::sync::mpsc::{Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, OutputCallbackInfo, StreamConfig};
use fretlib::sound::SampleRate;

use super::speaker::{Fill, SharedStatus};

/// A stream that plays until it is dropped.
///
/// It lives in its own thread, since some systems do not allow moving a stream between threads.
pub struct DeviceStream {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl DeviceStream {
    /// Opens the system's default device.
    pub fn open(
        rate: SampleRate,
        latency: Duration,
        fill: Fill,
        status: SharedStatus,
    ) -> Result<DeviceStream, String> {
        let (stop, stopped) = channel::<()>();
        let (opened, has_opened) = channel();
        let thread = std::thread::spawn(move || match open(rate, latency, fill, status) {
            Ok(stream) => {
                let _ = opened.send(Ok(()));
                // Nothing is ever sent: this returns when the other end is dropped.
                let _ = stopped.recv();
                drop(stream);
            }
            Err(reason) => {
                let _ = opened.send(Err(reason));
            }
        });
        has_opened
            .recv()
            .unwrap_or_else(|_| Err("the sound device did not open".into()))?;
        Ok(DeviceStream {
            stop: Some(stop),
            thread: Some(thread),
        })
    }
}

impl Drop for DeviceStream {
    fn drop(&mut self) {
        self.stop.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn open(
    rate: SampleRate,
    latency: Duration,
    mut fill: Fill,
    status: SharedStatus,
) -> Result<cpal::Stream, String> {
    let device = cpal::default_host()
        .default_output_device()
        .ok_or("there is no sound device")?;
    let usual = device
        .default_output_config()
        .map_err(|error| error.to_string())?;
    let channels = usual.channels();
    let config = StreamConfig {
        channels,
        sample_rate: rate.hertz(),
        buffer_size: BufferSize::Fixed(rate.sample_at(latency.as_secs_f64() / 2.0) as u32),
    };
    let mut mono: Vec<f32> = Vec::new();
    let mut heard = 0;
    let told = status.clone();
    let write = move |samples: &mut [f32], info: &OutputCallbackInfo| {
        let time = info.timestamp();
        let latency = time.playback.duration_since(time.callback);
        let count = samples.len() / usize::from(channels.max(1));
        mono.resize(count, 0.0);
        fill(&mut mono);
        for (frame, sample) in samples.chunks_mut(usize::from(channels.max(1))).zip(&mono) {
            frame.fill(*sample);
        }
        told.wrote(count);
        told.heard(
            u64::saturating_sub(heard, rate.sample_at(latency.as_secs_f64())),
            latency,
        );
        heard += count as u64;
    };
    let failed = move |error: cpal::Error| status.fail(error.to_string());
    let stream = device
        .build_output_stream(config, write, failed, None)
        .map_err(|error| error.to_string())?;
    stream.play().map_err(|error| error.to_string())?;
    Ok(stream)
}
