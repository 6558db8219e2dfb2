//! The loudspeaker: samples out on request, and how many were heard.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use fretlib::sound::SampleRate;

use crate::failure::Failure;

/// Gives the next samples, mono; called on the thread of the sound device.
pub type Fill = Box<dyn FnMut(&mut [f32]) + Send>;

/// That nothing can be heard, for this reason, and what to do about it.
pub fn nothing_heard(reason: &str) -> Failure {
    Failure::could_not(
        format!("nothing can be heard here: {reason}"),
        "write a file with `-o take.wav` and play that",
    )
}

/// How the sound is doing.
#[derive(Clone, Debug)]
pub struct SpeakerStatus {
    /// Samples that were heard when it was last asked.
    heard: u64,
    /// Samples handed over so far.
    written: u64,
    /// When it was last asked.
    asked: Instant,
    /// The time from making a sample to hearing it.
    pub latency: Duration,
    /// How often the sound was interrupted because samples came too late.
    pub underruns: u32,
    /// Why there is no more sound.
    pub fault: Option<String>,
}

/// A status written by the sound thread and read by the screen.
#[derive(Clone, Debug)]
pub struct SharedStatus(Arc<Mutex<SpeakerStatus>>);

impl SharedStatus {
    fn new() -> SharedStatus {
        SharedStatus(Arc::new(Mutex::new(SpeakerStatus {
            heard: 0,
            written: 0,
            asked: Instant::now(),
            latency: Duration::ZERO,
            underruns: 0,
            fault: None,
        })))
    }

    /// Changes it.
    pub fn update(&self, change: impl FnOnce(&mut SpeakerStatus)) {
        // The status is usable even if a thread died while it held the lock.
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }

    /// Samples were handed over.
    pub fn wrote(&self, samples: usize) {
        self.update(|status| status.written += samples as u64);
    }

    /// Records how many samples have been heard by now, and the latency.
    pub fn heard(&self, samples: u64, latency: Duration) {
        self.update(|status| {
            status.heard = samples;
            status.latency = latency;
            status.asked = Instant::now();
        });
    }

    /// Records that there is no more sound, and why.
    pub fn fail(&self, reason: impl Into<String>) {
        let reason = reason.into();
        self.update(|status| {
            status.fault.get_or_insert(reason);
        });
    }

    fn read(&self) -> SpeakerStatus {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

#[cfg(all(unix, not(target_os = "macos")))]
type Device = super::sound_server::ServerStream;
#[cfg(any(target_os = "macos", windows))]
type Device = super::system_device::DeviceStream;

/// An open loudspeaker; closed when it is dropped.
pub struct Speaker {
    _device: Device,
    status: SharedStatus,
    rate: SampleRate,
}

impl Speaker {
    /// The usual rate of sound servers: at theirs, nothing has to be converted.
    pub const USUAL_RATE: SampleRate = match SampleRate::new(48_000) {
        Ok(rate) => rate,
        Err(_) => unreachable!(),
    };

    /// Opens the loudspeaker of the system and begins to ask for samples; when it cannot, the reason in words.
    pub fn open(rate: SampleRate, latency: Duration, fill: Fill) -> Result<Speaker, String> {
        let status = SharedStatus::new();
        let device = Device::open(rate, latency, fill, status.clone())?;
        Ok(Speaker {
            _device: device,
            status,
            rate,
        })
    }

    /// The status of the sound.
    pub fn status(&self) -> SpeakerStatus {
        self.status.read()
    }

    /// How many samples have been heard by now.
    pub fn heard(&self) -> u64 {
        let status = self.status.read();
        let since = status.asked.elapsed().as_secs_f64();
        let heard = status.heard + self.rate.sample_at(since);
        // Only samples that were handed over can have been heard; without news, the count stops after a while.
        heard
            .min(status.written)
            .min(status.heard + self.rate.sample_at(LONGEST_GUESS))
    }
}

/// Seconds without news during which the sound is assumed to continue.
const LONGEST_GUESS: f64 = 0.5;
