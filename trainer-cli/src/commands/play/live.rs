//! Playing through the loudspeaker.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use fretlib::sound::{Layer, PlayThrough, SampleRate};

use super::PlayRequest;
use super::control::PlayControl;
use super::take::layers;
use crate::audio::{Heard, Speaker, SpeakerStatus, Stage, nothing_heard};
use crate::failure::Failure;
use crate::history::JudgedBy;

/// A stage and the loudspeaker that takes samples from it.
pub struct Live {
    stage: Arc<Mutex<Stage>>,
    speaker: Speaker,
    rate: SampleRate,
    latency: Duration,
    /// The stage's sample with which this loudspeaker began.
    first: u64,
}

/// The gain with which playing begins: a melody peaks near −9 dB below full scale, so that this is −18.
const SOFT: f32 = 0.35;
/// The usual latency: what `--latency` has when it is left open.
const USUAL_LATENCY: Duration = Duration::from_millis(60);
/// How many passes wait behind the one that plays: short loops must not run dry between two looks.
const WAITING: usize = 3;

impl Live {
    /// Opens the loudspeaker with the requested layers; nothing plays yet.
    pub fn open(request: &PlayRequest) -> Result<Live, Failure> {
        let rate = request.rate.unwrap_or(Speaker::USUAL_RATE);
        Live::with_layers(layers(request), rate, request.latency)
    }

    /// Opens the loudspeaker for the click alone; nothing plays yet.
    pub fn click_alone() -> Result<Live, Failure> {
        Live::with_layers([false, false, true], Speaker::USUAL_RATE, USUAL_LATENCY)
    }

    fn with_layers(
        sounding: [bool; 3],
        rate: SampleRate,
        latency: Duration,
    ) -> Result<Live, Failure> {
        let mut stage = Stage::new(rate);
        for (layer, sounds) in [Layer::Melody, Layer::Chords, Layer::Click]
            .into_iter()
            .zip(sounding)
        {
            stage.turn(layer, sounds);
        }
        let stage = Arc::new(Mutex::new(stage));
        let speaker = speaker(&stage, rate, latency)?;
        Ok(Live {
            stage,
            speaker,
            rate,
            latency,
            first: 0,
        })
    }

    /// Plays one pass over and over, softly, in place of what plays.
    pub fn repeat(&self, pass: &Arc<PlayThrough>) {
        let mut stage = self.stage();
        stage.rise(SOFT, 0.5);
        stage.play(pass, 1, 0.0);
    }

    /// Lets the pass that is repeated follow itself, so that it does not run out.
    pub fn go_on_repeating(&self, pass: &Arc<PlayThrough>) {
        let mut stage = self.stage();
        while stage.waiting() < WAITING {
            stage.then(pass, 1);
        }
    }

    /// Opens the loudspeaker again after its device went away.
    pub fn reopen(&mut self) -> Result<(), Failure> {
        let first = self.stage().rendered();
        self.speaker = speaker(&self.stage, self.rate, self.latency)?;
        self.first = first;
        Ok(())
    }

    /// Locks the stage; the sound waits meanwhile.
    pub fn stage(&self) -> MutexGuard<'_, Stage> {
        self.stage.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Begins the first pass softly, and queues the next ones; `false` when there is none.
    pub fn begin(&self, control: &mut PlayControl) -> Result<bool, Failure> {
        let Some(pass) = control.next_pass()? else {
            return Ok(false);
        };
        let beat = 60.0 / control.beats_a_minute().max(1.0);
        let mut stage = self.stage();
        stage.rise(SOFT, beat);
        stage.play(&pass, control.passes(), 0.0);
        drop(stage);
        self.supply(control)?;
        Ok(true)
    }

    /// Queues more passes while there are any, so that the music does not run out.
    pub fn supply(&self, control: &mut PlayControl) -> Result<(), Failure> {
        while self.stage().waiting() < WAITING {
            match control.next_pass()? {
                Some(pass) => self.stage().then(&pass, control.passes()),
                None => break,
            }
        }
        Ok(())
    }

    /// Falls silent; passes not heard to the end are returned.
    pub fn stop(&self, control: &mut PlayControl) {
        let mut stage = self.stage();
        control.take_back(stage.waiting() + 1);
        stage.stop();
    }

    /// Continues from the start of the bar at `heard`, or from the beginning when it is `None` or all was played.
    pub fn go_on(&self, control: &mut PlayControl, heard: Option<&Heard>) -> Result<(), Failure> {
        match heard.and_then(BarMoment::of).filter(|_| !control.is_over()) {
            Some(moment) => self.play_from(
                control,
                BarMoment {
                    quarters: 0.0,
                    ..moment
                },
            ),
            None => {
                control.start_again();
                self.begin(control).map(|_| ())
            }
        }
    }

    /// Moves this many bars on, or back, within the played bars.
    pub fn move_by(&self, control: &mut PlayControl, bars: i32) -> Result<(), Failure> {
        let Some(moment) = self.take_moment(control) else {
            return Ok(());
        };
        let stretch = control.stretch();
        let wanted = (moment.bar as i64 + i64::from(bars)).max(0) as usize;
        let bar = wanted.clamp(stretch.start, stretch.end.saturating_sub(1));
        self.stage().damp();
        self.play_from(control, BarMoment { bar, quarters: 0.0 })
    }

    /// Sets the start of the loop to the current bar.
    pub fn loop_from_here(&self, control: &mut PlayControl) -> Result<(), Failure> {
        let Some(moment) = self.take_moment(control) else {
            return Ok(());
        };
        let end = control.stretch().end.max(moment.bar + 1);
        control.set_loop(moment.bar..end);
        self.play_from(control, moment)
    }

    /// Sets the end of the loop to the current bar.
    pub fn loop_to_here(&self, control: &mut PlayControl) -> Result<(), Failure> {
        let Some(moment) = self.take_moment(control) else {
            return Ok(());
        };
        let start = control.stretch().start.min(moment.bar);
        control.set_loop(start..moment.bar + 1);
        self.play_from(control, moment)
    }

    /// Plays all of the tune from the current place.
    pub fn play_all(&self, control: &mut PlayControl) -> Result<(), Failure> {
        let Some(moment) = self.take_moment(control) else {
            return Ok(());
        };
        control.play_all();
        self.play_from(control, moment)
    }

    /// Changes the tempo by this many percent of the tune's own, from this moment on.
    pub fn change_tempo(&self, control: &mut PlayControl, percent: i16) -> Result<(), Failure> {
        let Some(moment) = self.take_moment(control) else {
            return Ok(());
        };
        control.change_tempo(percent);
        self.play_from(control, moment)
    }

    /// Records the verdict on the last pass; another tempo holds from the next pass on.
    pub fn judge(&self, control: &mut PlayControl, right: bool) -> Result<String, Failure> {
        let before = control.percent();
        let verdict = control.judge(right, JudgedBy::Player);
        if control.next_percent() != before {
            let mut stage = self.stage();
            control.take_back(stage.waiting());
            stage.forget_what_follows();
            drop(stage);
            self.supply(control)?;
        }
        Ok(verdict)
    }

    /// The heard moment; the passes handed out are returned, since others will follow.
    fn take_moment(&self, control: &mut PlayControl) -> Option<BarMoment> {
        let moment = BarMoment::of(&self.heard()?)?;
        control.take_back(self.stage().waiting() + 1);
        Some(moment)
    }

    /// Plays a new pass from a moment of it; strings that sound ring on.
    fn play_from(&self, control: &mut PlayControl, moment: BarMoment) -> Result<(), Failure> {
        let stretch = control.stretch();
        let Some(pass) = control.next_pass()? else {
            return Ok(());
        };
        let index = moment.bar.saturating_sub(stretch.start);
        let bar = pass.bars.get(index).or(pass.bars.first());
        let quarters = bar.map_or(0.0, |bar| bar.onset.to_f64() + moment.quarters);
        let from = pass.tempo_map.seconds_at(quarters);
        self.stage().play(&pass, control.passes(), from);
        self.supply(control)
    }

    /// The place in the music that is heard now.
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

/// A moment of the tune, whatever the tempo.
#[derive(Clone, Copy, Debug)]
struct BarMoment {
    /// The bar, in playing order.
    bar: usize,
    /// Quarter notes from its start.
    quarters: f64,
}

impl BarMoment {
    /// `None` in the count-in.
    fn of(heard: &Heard) -> Option<BarMoment> {
        let bars = &heard.pass.bars;
        let index = bars.iter().rposition(|bar| bar.start <= heard.seconds)?;
        let quarters = heard.pass.tempo_map.quarters(heard.seconds);
        Some(BarMoment {
            bar: bars[index].order,
            quarters: (quarters - bars[index].onset.to_f64()).max(0.0),
        })
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
    Speaker::open(rate, latency, Box::new(fill)).map_err(|reason| nothing_heard(&reason))
}
