//! A voicing or two bars through the loudspeaker, for as long as the player chooses.

use std::sync::Arc;

use fretlib::arranging::Voicing;
use fretlib::sound::Performance;

use super::editor::ArrangementEditor;
use crate::audio::{Loudspeaker, SoundOutput, nothing_heard};
use crate::failure::Failure;

/// A loudspeaker that is opened when it is first needed.
pub struct Audition {
    contrast: f64,
    loudspeaker: Loudspeaker,
}

impl Audition {
    /// What lies under the melody is `contrast` decibels softer.
    pub fn new(contrast: f64) -> Audition {
        Audition {
            contrast,
            loudspeaker: Loudspeaker::default(),
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
        let opened = self.loudspeaker.open();
        opened.map_err(|reason| nothing_heard(&reason))?;
        self.loudspeaker.play(sound);
        Ok(())
    }
}
