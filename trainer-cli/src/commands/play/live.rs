//! What is played, through the loudspeaker.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use fretlib::sound::{Layer, SampleRate};

use super::PlayRequest;
use super::control::PlayControl;
use crate::audio::{Heard, Speaker, SpeakerStatus, Stage};
use crate::failure::Failure;

/// A stage and the loudspeaker that asks it for samples.
pub struct Live {
    stage: Arc<Mutex<Stage>>,
    speaker: Speaker,
    rate: SampleRate,
    latency: Duration,
    /// The stage's sample with which this loudspeaker began.
    first: u64,
}

/// The usual rate of sound servers: at theirs, nothing has to be converted.
const USUAL_RATE: SampleRate = match SampleRate::new(48_000) {
    Ok(rate) => rate,
    Err(_) => unreachable!(),
};
/// The gain with which playing begins: a melody peaks near −9 dB below full scale, so that this is −18.
const SOFT: f32 = 0.35;
/// How many passes wait behind the one that plays: short loops must not run dry between two looks.
const WAITING: usize = 3;

impl Live {
    /// Opens the loudspeaker with the layers that were asked for; nothing plays yet.
    pub fn open(request: &PlayRequest) -> Result<Live, Failure> {
        let rate = request.rate.unwrap_or(USUAL_RATE);
        let mut stage = Stage::new(rate);
        stage.turn(Layer::Melody, request.melody);
        stage.turn(Layer::Chords, request.chords);
        stage.turn(Layer::Click, request.click.is_some());
        let stage = Arc::new(Mutex::new(stage));
        let speaker = speaker(&stage, rate, request.latency)?;
        Ok(Live {
            stage,
            speaker,
            rate,
            latency: request.latency,
            first: 0,
        })
    }

    /// Opens the loudspeaker again after its device went away.
    pub fn reopen(&mut self) -> Result<(), Failure> {
        let first = self.stage().rendered();
        self.speaker = speaker(&self.stage, self.rate, self.latency)?;
        self.first = first;
        Ok(())
    }

    /// The stage, for a moment: the sound waits for it.
    pub fn stage(&self) -> MutexGuard<'_, Stage> {
        self.stage.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Begins the first pass softly, and lets the next ones follow; `false` when there is none.
    pub fn begin(&self, control: &mut PlayControl) -> Result<bool, Failure> {
        let Some(pass) = control.next_pass()? else {
            return Ok(false);
        };
        let beat = 60.0 / control.tempo().max(1.0);
        let mut stage = self.stage();
        stage.rise(SOFT, beat);
        stage.play(&pass, 0.0);
        drop(stage);
        self.supply(control)?;
        Ok(true)
    }

    /// Lets passes follow as long as there are some, so that the music does not run out.
    pub fn supply(&self, control: &mut PlayControl) -> Result<(), Failure> {
        while self.stage().waiting() < WAITING {
            match control.next_pass()? {
                Some(pass) => self.stage().then(&pass),
                None => break,
            }
        }
        Ok(())
    }

    /// Where the music is, by what is heard.
    pub fn heard(&self) -> Option<Heard> {
        let sample = self.sample();
        self.stage().heard(sample)
    }

    /// Whether all has been played and heard.
    pub fn is_over(&self) -> bool {
        let sample = self.sample();
        self.stage().is_over(sample)
    }

    /// How the sound is doing.
    pub fn status(&self) -> SpeakerStatus {
        self.speaker.status()
    }

    fn sample(&self) -> u64 {
        self.first + self.speaker.heard()
    }
}

fn speaker(
    stage: &Arc<Mutex<Stage>>,
    rate: SampleRate,
    latency: Duration,
) -> Result<Speaker, Failure> {
    let stage = stage.clone();
    let fill = move |samples: &mut [f32]| {
        stage
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .fill(samples);
    };
    Speaker::open(rate, latency, Box::new(fill))
}
