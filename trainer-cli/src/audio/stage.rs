//! What plays now and next, and how much of it has been heard.

use std::collections::VecDeque;
use std::sync::Arc;

use fretlib::sound::{Layer, PlayThrough, Renderer, SampleRate};

/// A renderer with the passes it plays, so that a heard sample can be located in the music.
///
/// The sound thread fills from it, the screen thread changes it; both lock it for a moment.
pub struct Stage {
    renderer: Renderer,
    rate: SampleRate,
    /// The latest passes, with their numbers.
    known: VecDeque<(Arc<PlayThrough>, u64)>,
    /// What sounds from which sample on.
    marks: VecDeque<Mark>,
    seen: u64,
    /// The sample after which nothing sounds.
    silent_from: Option<u64>,
}

#[derive(Clone)]
struct Mark {
    sample: u64,
    /// The pass and its time at that sample, in seconds; `None` for a pause.
    pass: Option<(Arc<PlayThrough>, f64)>,
    number: u64,
}

/// Where the music is.
#[derive(Clone)]
pub struct Heard {
    /// The pass that sounds.
    pub pass: Arc<PlayThrough>,
    /// How far it is, in seconds.
    pub seconds: f64,
    /// Its number.
    pub number: u64,
}

/// How many passes and marks are kept; the sound is never further behind.
const REMEMBERED: usize = 16;
/// Samples filled at once, so that the beginning of a pass is noticed soon.
const PIECE: usize = 1_024;

impl Stage {
    /// An empty stage.
    pub fn new(rate: SampleRate) -> Stage {
        Stage {
            renderer: Renderer::new(rate),
            rate,
            known: VecDeque::new(),
            marks: VecDeque::new(),
            seen: 0,
            silent_from: None,
        }
    }

    /// Plays a pass from `from` seconds on, instead of the current and all following ones.
    pub fn play(&mut self, pass: &Arc<PlayThrough>, number: u64, from: f64) {
        self.remember(pass, number);
        self.renderer.play(pass.performance.clone(), from);
        self.mark();
    }

    /// Appends a pass.
    pub fn then(&mut self, pass: &Arc<PlayThrough>, number: u64) {
        self.remember(pass, number);
        self.renderer.then(pass.performance.clone());
    }

    /// How many passes are still to come.
    pub fn waiting(&self) -> usize {
        self.renderer.waiting()
    }

    /// Removes all following passes.
    pub fn forget_what_follows(&mut self) {
        self.renderer.forget_what_follows();
    }

    /// How many samples were made so far.
    pub fn rendered(&self) -> u64 {
        self.renderer.rendered()
    }

    /// Damps every string that sounds.
    pub fn damp(&mut self) {
        self.renderer.damp();
    }

    /// Damps everything and stops.
    pub fn stop(&mut self) {
        self.renderer.stop();
        self.marks.push_back(Mark {
            sample: self.renderer.rendered(),
            pass: None,
            number: 0,
        });
        self.trim();
    }

    /// Turns a layer on or off.
    pub fn turn(&mut self, layer: Layer, on: bool) {
        self.renderer.turn(layer, if on { 1.0 } else { 0.0 });
    }

    /// Begins softly and rises over this many seconds.
    pub fn rise(&mut self, gain: f32, seconds: f64) {
        self.renderer.rise(gain, seconds);
    }

    /// The next samples.
    pub fn fill(&mut self, samples: &mut [f32]) {
        for piece in samples.chunks_mut(PIECE) {
            self.renderer.render(piece);
            if self.renderer.passes() != self.seen {
                self.mark();
            }
            if !self.renderer.is_silent() {
                self.silent_from = None;
            } else if self.silent_from.is_none() {
                self.silent_from = Some(self.renderer.rendered());
            }
        }
    }

    /// What sounded at a sample; `None` in a pause, before the start or after the end.
    pub fn heard(&self, sample: u64) -> Option<Heard> {
        let mark = self.marks.iter().rev().find(|mark| mark.sample <= sample)?;
        let (pass, from) = mark.pass.as_ref()?;
        let seconds = from + self.rate.seconds(sample - mark.sample);
        Some(Heard {
            pass: pass.clone(),
            seconds: seconds.min(pass.performance.seconds()),
            number: mark.number,
        })
    }

    /// Whether all has been played and heard by a sample.
    pub fn is_over(&self, sample: u64) -> bool {
        self.silent_from.is_some_and(|silent| silent <= sample)
    }

    fn remember(&mut self, pass: &Arc<PlayThrough>, number: u64) {
        self.silent_from = None;
        self.known.push_back((pass.clone(), number));
        while self.known.len() > REMEMBERED {
            self.known.pop_front();
        }
    }

    /// Records what has begun to play, and at which sample.
    fn mark(&mut self) {
        self.seen = self.renderer.passes();
        let Some((performance, seconds)) = self.renderer.position() else {
            return;
        };
        let known = self.known.iter().rev();
        let mut found = known.filter(|(pass, _)| Arc::ptr_eq(&pass.performance, performance));
        let Some((pass, number)) = found.next() else {
            return;
        };
        // The start of a pass follows from how long it has been playing.
        let is_new = seconds * f64::from(self.rate.hertz()) < PIECE as f64 + 1.0;
        let ago = if is_new {
            self.rate.sample_at(seconds)
        } else {
            0
        };
        self.marks.push_back(Mark {
            sample: self.renderer.rendered().saturating_sub(ago),
            pass: Some((pass.clone(), if is_new { 0.0 } else { seconds })),
            number: *number,
        });
        self.trim();
    }

    fn trim(&mut self) {
        while self.marks.len() > REMEMBERED {
            self.marks.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use fretlib::melody::{Draft, Melody, Quarters};
    use fretlib::neck::Instrument;
    use fretlib::sound::{Manner, play_through};
    use fretlib::theory::Octave;

    use super::*;

    /// Two quarter notes at 120: a second.
    fn pass() -> Arc<PlayThrough> {
        let mut draft = Draft::default();
        for name in ["E4", "G4"] {
            draft.note(name.parse().unwrap(), Quarters::ONE).unwrap();
        }
        let melody = Melody::new(draft).unwrap();
        let guitar = Instrument::default();
        let manner = Manner::default();
        Arc::new(play_through(&melody, &[None; 2], Octave::WRITTEN, &guitar, &manner).unwrap())
    }

    #[test]
    fn heard_samples_are_located_in_the_music() {
        let rate = SampleRate::CD;
        let mut stage = Stage::new(rate);
        assert!(stage.heard(0).is_none());
        stage.play(&pass(), 1, 0.0);
        stage.then(&pass(), 2);
        assert_eq!(stage.waiting(), 1);
        let mut samples = vec![0.0; 3 * 44_100];
        stage.fill(&mut samples[..60_000]);
        let seconds = |stage: &Stage, sample| {
            let heard = stage.heard(sample).unwrap();
            (heard.number, (heard.seconds * 1000.0).round())
        };
        assert_eq!(seconds(&stage, 22_050), (1, 500.0));
        assert_eq!(seconds(&stage, 44_099), (1, 1000.0));
        assert_eq!(seconds(&stage, 44_100), (2, 0.0));
        assert_eq!(seconds(&stage, 55_125), (2, 250.0));
        assert!(!stage.is_over(60_000));
        stage.fill(&mut samples[60_000..]);
        assert!(stage.is_over(132_300));
        assert!(!stage.is_over(80_000));
    }

    #[test]
    fn a_pause_is_heard_as_one_and_music_goes_on_where_it_is_told() {
        let mut stage = Stage::new(SampleRate::CD);
        stage.play(&pass(), 1, 0.0);
        let mut samples = vec![0.0; 22_050];
        stage.fill(&mut samples);
        stage.stop();
        stage.fill(&mut samples);
        assert!(stage.heard(10_000).is_some() && stage.heard(30_000).is_none());
        assert!(stage.is_over(44_100));
        stage.play(&pass(), 1, 0.5);
        stage.fill(&mut samples);
        let heard = stage.heard(44_100 + 11_025).unwrap();
        assert!((heard.seconds - 0.75).abs() < 1e-6);
        assert!(samples.iter().any(|sample| sample.abs() > 0.1));
    }
}
