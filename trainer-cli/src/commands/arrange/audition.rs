//! A voicing or two bars through the loudspeaker, for as long as the player chooses.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use fretlib::arranging::Voicing;
use fretlib::sound::{Performance, Renderer, SampleRate};

use super::editor::ArrangementEditor;
use crate::audio::Speaker;
use crate::failure::Failure;

/// The rate of sound servers: nothing has to be converted.
const RATE: SampleRate = match SampleRate::new(48_000) {
    Ok(rate) => rate,
    Err(_) => unreachable!(),
};
const LATENCY: Duration = Duration::from_millis(50);
/// The gain and the seconds with which the first sound begins, as in `play`.
const SOFT: (f32, f64) = (0.35, 1.0);

/// A loudspeaker that is opened when it is first needed.
pub struct Audition {
    contrast: f64,
    open: Option<(Speaker, Arc<Mutex<Renderer>>)>,
}

impl Audition {
    /// What lies under the melody is `contrast` decibels softer.
    pub fn new(contrast: f64) -> Audition {
        Audition {
            contrast,
            open: None,
        }
    }

    /// Plays a voicing alone.
    pub fn voicing(
        &mut self,
        editor: &ArrangementEditor,
        voicing: &Voicing,
    ) -> Result<(), Failure> {
        let sound = editor.sound_of(voicing, self.contrast)?;
        self.play(sound)
    }

    /// Plays the bar of a stop and the next one.
    pub fn bars(&mut self, editor: &ArrangementEditor, stop: usize) -> Result<(), Failure> {
        let sound = editor.sound_of_bars(stop, self.contrast)?;
        self.play(sound)
    }

    fn play(&mut self, sound: Arc<Performance>) -> Result<(), Failure> {
        if let Some((speaker, _)) = &self.open
            && speaker.status().fault.is_some()
        {
            self.open = None;
        }
        if self.open.is_none() {
            let mut renderer = Renderer::new(RATE);
            renderer.rise(SOFT.0, SOFT.1);
            let renderer = Arc::new(Mutex::new(renderer));
            let filling = Arc::clone(&renderer);
            let fill = move |samples: &mut [f32]| {
                let mut renderer = filling.lock().unwrap_or_else(PoisonError::into_inner);
                renderer.render(samples);
            };
            let speaker = Speaker::open(RATE, LATENCY, Box::new(fill))?;
            self.open = Some((speaker, renderer));
        }
        if let Some((_, renderer)) = &self.open {
            let mut renderer = renderer.lock().unwrap_or_else(PoisonError::into_inner);
            renderer.damp();
            renderer.play(sound, 0.0);
        }
        Ok(())
    }
}
