//! What is played one thing at a time, and where it is heard.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use fretlib::sound::{Performance, Renderer};

use super::Speaker;

/// Where performances are heard: the loudspeaker, or what a test puts in its place.
pub trait SoundOutput {
    /// Makes it ready, again when its device has gone away.
    ///
    /// # Errors
    ///
    /// When nothing can be heard, with the reason in words.
    fn open(&mut self) -> Result<(), String>;

    /// Plays this in place of what is playing. Without a device nothing happens.
    fn play(&mut self, performance: Arc<Performance>);

    /// Falls silent.
    fn stop(&mut self);
}

/// No sound at all.
#[derive(Clone, Copy, Debug)]
pub struct NoSound;

impl SoundOutput for NoSound {
    fn open(&mut self) -> Result<(), String> {
        Err("there is no loudspeaker".into())
    }

    fn play(&mut self, _: Arc<Performance>) {}

    fn stop(&mut self) {}
}

/// The loudspeaker of the system, opened when it is first needed.
#[derive(Default)]
pub struct Loudspeaker {
    open: Option<Open>,
}

struct Open {
    renderer: Arc<Mutex<Renderer>>,
    speaker: Speaker,
    has_played: bool,
}

/// The latency that is asked for, as in `play`.
const LATENCY: Duration = Duration::from_millis(60);
/// The first sound of all begins at this gain and rises over this many seconds: nobody knows how loud it is set.
const FIRST: (f32, f64) = (0.35, 1.0);

impl SoundOutput for Loudspeaker {
    fn open(&mut self) -> Result<(), String> {
        let is_open = |open: &Open| open.speaker.status().fault.is_none();
        if self.open.as_ref().is_some_and(is_open) {
            return Ok(());
        }
        self.open = None;
        let renderer = Arc::new(Mutex::new(Renderer::new(Speaker::USUAL_RATE)));
        let filled = renderer.clone();
        let fill = move |samples: &mut [f32]| {
            let mut renderer = filled.lock().unwrap_or_else(PoisonError::into_inner);
            renderer.render(samples);
        };
        self.open = Some(Open {
            speaker: Speaker::open(Speaker::USUAL_RATE, LATENCY, Box::new(fill))?,
            renderer,
            has_played: false,
        });
        Ok(())
    }

    fn play(&mut self, performance: Arc<Performance>) {
        let Some(open) = &mut self.open else {
            return;
        };
        let mut renderer = open.renderer.lock().unwrap_or_else(PoisonError::into_inner);
        renderer.damp();
        if !std::mem::replace(&mut open.has_played, true) {
            let (gain, seconds) = FIRST;
            renderer.rise(gain, seconds);
        }
        renderer.play(performance, 0.0);
    }

    fn stop(&mut self) {
        if let Some(open) = &self.open {
            let mut renderer = open.renderer.lock().unwrap_or_else(PoisonError::into_inner);
            renderer.stop();
        }
    }
}
