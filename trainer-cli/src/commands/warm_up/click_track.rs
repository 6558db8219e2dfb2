//! The click of an exercise, through the loudspeaker.

use std::sync::Arc;

use fretlib::melody::{Draft, Melody, Quarters};
use fretlib::neck::Instrument;
use fretlib::sound::{Manner, PlayThrough, play_through};
use fretlib::theory::{Octave, Pitch};

use crate::commands::play::Live;
use crate::failure::Failure;

/// A loudspeaker that clicks the beats of one bar over and over.
pub struct ClickTrack {
    live: Live,
    bar: Option<Arc<PlayThrough>>,
}

impl ClickTrack {
    /// Opens the loudspeaker; nothing sounds yet.
    pub fn open() -> Result<ClickTrack, Failure> {
        Ok(ClickTrack {
            live: Live::click_alone()?,
            bar: None,
        })
    }

    /// Clicks the beats of a melody's first meter from now on.
    pub fn click(&mut self, melody: &Melody, quarters_per_minute: f64) {
        self.bar = bar(melody, quarters_per_minute);
        match &self.bar {
            Some(bar) => self.live.repeat(bar),
            None => self.live.stage().stop(),
        }
    }

    /// Keeps the click from running out; to be called a few times a second.
    pub fn supply(&self) {
        if let Some(bar) = &self.bar {
            self.live.go_on_repeating(bar);
        }
    }

    /// Falls silent.
    pub fn stop(&mut self) {
        self.bar = None;
        self.live.stage().stop();
    }
}

/// One bar at a tempo. Its note is not heard: only the click sounds.
fn bar(melody: &Melody, quarters_per_minute: f64) -> Option<Arc<PlayThrough>> {
    let meter = melody.meters().first().copied().flatten();
    let mut draft = Draft::default();
    draft.meters.set(Quarters::ZERO, meter);
    draft.bar_line();
    let length = meter.map_or(Quarters::from(4), |meter| meter.bar_length());
    draft
        .note(Pitch::from_midi(melody.notes()[0].pitch.midi()), length)
        .ok()?;
    let bar = Melody::new(draft).ok()?;
    let manner = Manner {
        speed: quarters_per_minute / bar.first_tempo().quarters_per_minute().to_f64(),
        ..Manner::default()
    };
    let instrument = Instrument::default();
    let played = play_through(&bar, &[None], Octave::WRITTEN, &instrument, &manner);
    played.ok().map(Arc::new)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_clicks_each_beat_at_the_tempo() {
        let mut draft = Draft::default();
        draft.meters.set(Quarters::ZERO, "3/4".parse().ok());
        draft.note("A4".parse().unwrap(), Quarters::ONE).unwrap();
        let melody = Melody::new(draft).unwrap();
        let bar = bar(&melody, 75.0).unwrap();
        let clicks: Vec<f64> = bar.performance.clicks().iter().map(|it| it.at).collect();
        assert_eq!(clicks.len(), 3);
        for (click, expected) in clicks.iter().zip([0.0, 0.8, 1.6]) {
            assert!((click - expected).abs() < 1e-9, "{clicks:?}");
        }
        assert!((bar.performance.seconds() - 2.4).abs() < 1e-9);
    }
}
