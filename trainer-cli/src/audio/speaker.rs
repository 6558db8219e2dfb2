//! The loudspeaker: samples out, as they are asked for, and how far they have come.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use fretlib::sound::SampleRate;

use crate::failure::Failure;

/// Gives the next samples, mono; called by a thread of the sound's own.
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
    /// From a sample's making to its sounding.
    pub latency: Duration,
    /// How often the sound broke off because samples came too late.
    pub underruns: u32,
    /// Why there is no sound any more.
    pub fault: Option<String>,
}

/// A status that is written where the sound is made and read where it is shown.
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
        // A thread that died while it held the lock left a status all the same.
        change(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner));
    }

    /// Samples were handed over.
    pub fn wrote(&self, samples: usize) {
        self.update(|status| status.written += samples as u64);
    }

    /// So many samples have been heard by now, the latency being this.
    pub fn heard(&self, samples: u64, latency: Duration) {
        self.update(|status| {
            status.heard = samples;
            status.latency = latency;
            status.asked = Instant::now();
        });
    }

    /// There is no sound any more, for this reason.
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

    /// How the sound is doing.
    pub fn status(&self) -> SpeakerStatus {
        self.status.read()
    }

    /// How many samples have been heard by now.
    pub fn heard(&self) -> u64 {
        let status = self.status.read();
        let since = status.asked.elapsed().as_secs_f64();
        let heard = status.heard + self.rate.sample_at(since);
        // What was not handed over cannot have been heard; without news for long, neither.
        heard
            .min(status.written)
            .min(status.heard + self.rate.sample_at(LONGEST_GUESS))
    }
}

/// Seconds without news for which the sound is taken to go on.
const LONGEST_GUESS: f64 = 0.5;
