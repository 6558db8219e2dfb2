//! Control over what is played next: which bars, how fast, how often.

use std::cmp::Ordering;
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

use fretlib::arranging::PluckedNote;
use fretlib::hearing::HeardPass;
use fretlib::melody::{Melody, Quarters, Tempo};
use fretlib::neck::{Instrument, Place};
use fretlib::practice::Ladder;
use fretlib::sound::{
    ClickPattern, Manner, PerformanceError, PlayThrough, PlayedBar, Strength, UnderMelody,
    play_through,
};
use fretlib::theory::Octave;

use super::{PlayRequest, PlaySwing};
use crate::failure::Failure;
use crate::history::JudgedBy;
use crate::request::AskedTempo;
use crate::session::PassLog;

/// How many times the bars are played.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Loops {
    /// This many times.
    Times(u32),
    /// Until it is stopped.
    Endless,
}

/// A tune with the places of its notes.
#[derive(Clone, Debug)]
pub struct PlayedTune {
    /// Its name.
    pub title: String,
    /// Its melody.
    pub melody: Melody,
    /// Where each note is played, if it has a place.
    pub places: Vec<Option<Place>>,
    /// The octave it is played in.
    pub octave: Octave,
    /// The instrument.
    pub instrument: Instrument,
    /// What lies under it, where it is played as it is arranged.
    pub under: Option<Under>,
}

/// What lies under a melody.
#[derive(Clone, Debug)]
pub struct Under {
    /// Its notes, in written time.
    pub notes: Vec<PluckedNote>,
    /// By how many decibels what is struck together is softer than the melody.
    pub contrast: f64,
}

/// How strongly each note is plucked so that what is struck together is so much softer than the melody.
pub fn under_melody(notes: &[PluckedNote], contrast: f64) -> Arc<[UnderMelody]> {
    let notes = notes.iter().map(|it| UnderMelody {
        onset: it.note.onset,
        duration: it.note.duration,
        place: it.at.place,
        strength: Strength::MELODY.softer(contrast + it.share_db),
    });
    notes.collect()
}

/// Hands out one pass after another, as the player wants them.
#[derive(Debug)]
pub struct PlayControl {
    /// The tune.
    pub tune: PlayedTune,
    manner: Manner,
    /// Every bar of the tune in playing order.
    all_bars: Vec<PlayedBar>,
    /// Which of them are played.
    stretch: Range<usize>,
    left: Loops,
    /// Passes handed out and not returned.
    passes: u64,
    /// Count-in bars before the next pass, and before one at another tempo.
    count_in: u8,
    counted: u8,
    ladder: Option<Ladder>,
    /// Where verdicts are kept, if they are.
    log: Option<PassLog>,
}

/// The playable range in percent of the tune's own tempo.
const SPEEDS: std::ops::RangeInclusive<f64> = 0.1..=4.0;

impl PlayControl {
    /// A control before its first pass.
    pub fn new(
        tune: PlayedTune,
        request: &PlayRequest,
        notes: Option<Range<usize>>,
    ) -> Result<PlayControl, Failure> {
        let own = Manner::of(&tune.melody);
        let manner = Manner {
            speed: speed(request.tempo, tune.melody.first_tempo())?,
            swing: match request.swing {
                PlaySwing::OfTune => own.swing,
                PlaySwing::Straight => None,
                PlaySwing::Swung(swing) => Some(swing),
            },
            a4: request.a4,
            click: request.click.unwrap_or(ClickPattern::ALL),
            notes: notes.clone(),
            under: tune
                .under
                .as_ref()
                .map(|under| under_melody(&under.notes, under.contrast)),
            ..own
        };
        let ladder = match &request.ladder {
            None => None,
            Some(range) => Some(
                Ladder::new(range.clone(), request.passes)
                    .map_err(|error| Failure::usage(error.to_string(), "see `--passes`"))?,
            ),
        };
        let mut control = PlayControl {
            tune,
            manner,
            all_bars: Vec::new(),
            stretch: 0..0,
            left: request.loops,
            passes: 0,
            count_in: request.count_in,
            counted: request.count_in,
            ladder,
            log: None,
        };
        control.follow_ladder();
        let whole = control.play(None).map_err(too_long)?;
        control.all_bars = whole.bars;
        control.stretch = match notes {
            None => 0..control.all_bars.len(),
            Some(notes) => control.bars_of(&notes),
        };
        Ok(control)
    }

    /// The next pass; none when all loops were handed out.
    pub fn next_pass(&mut self) -> Result<Option<Arc<PlayThrough>>, Failure> {
        match &mut self.left {
            Loops::Endless => {}
            Loops::Times(0) => return Ok(None),
            Loops::Times(times) => *times -= 1,
        }
        self.follow_ladder();
        self.manner.count_in = std::mem::take(&mut self.count_in);
        let pass = self.play(Some(self.stretch.clone())).map_err(too_long)?;
        self.manner.bars_before += self.full_bars(self.stretch.clone());
        self.passes += 1;
        Ok(Some(Arc::new(pass)))
    }

    /// Returns passes that were handed out but not played.
    pub fn take_back(&mut self, passes: usize) {
        if let Loops::Times(times) = &mut self.left {
            *times += passes as u32;
        }
        self.passes = self.passes.saturating_sub(passes as u64);
        let bars = self.full_bars(self.stretch.clone());
        let before = self.manner.bars_before;
        self.manner.bars_before = before.saturating_sub(passes as u64 * bars);
    }

    /// How many passes were handed out and not returned, which is the number of the last one.
    pub fn passes(&self) -> u64 {
        self.passes
    }

    /// The ladder, if one is climbed.
    pub fn ladder(&self) -> Option<&Ladder> {
        self.ladder.as_ref()
    }

    /// Keeps the verdicts on passes in the history.
    pub fn keep_in(&mut self, log: PassLog) {
        self.log = Some(log);
    }

    /// Gives back where verdicts are kept.
    pub fn take_log(&mut self) -> Option<PassLog> {
        self.log.take()
    }

    /// Keeps a pass that was heard through some notes of the melody, at a tempo in percent of its own.
    pub fn keep_heard(&mut self, notes: &BTreeSet<usize>, percent: u16, right: bool) {
        if let Some(log) = &mut self.log {
            log.record(notes, percent, right, JudgedBy::Hearing);
        }
    }

    /// Remembers the phrases of a pass as they were heard, at a tempo in percent of their own.
    pub fn remember(&mut self, pass: &HeardPass, percent: u16, shift: i32) {
        let sounding = self.tune.instrument.sounding().semitones();
        if let Some(log) = &mut self.log {
            log.remember(pass, percent, shift - i32::from(sounding));
        }
    }

    /// Takes a verdict on a pass in, keeps it, and says in words what follows from it.
    pub fn judge(&mut self, right: bool, judged_by: JudgedBy) -> String {
        let notes = self.notes_of_a_pass();
        let Some(ladder) = &mut self.ladder else {
            return String::new();
        };
        let before = ladder.percent();
        if let Some(log) = &mut self.log {
            log.record(&notes, before, right, judged_by);
        }
        ladder.judge(right);
        let now = ladder.percent();
        if now != before {
            // Another tempo needs a count-in.
            self.count_in = self.counted;
        }
        let (missing, top) = (ladder.missing(), ladder.top());
        match now.cmp(&before) {
            _ if ladder.is_climbed() => format!("climbed: {now}% is yours"),
            Ordering::Greater => format!("up to {now}%"),
            Ordering::Less => format!("down to {now}%"),
            Ordering::Equal if right && now == top => {
                format!("{now}%, {missing} more and it is yours")
            }
            Ordering::Equal if right => format!("{now}%, {missing} more for the next rung"),
            Ordering::Equal => format!("{now}% again"),
        }
    }

    /// Whether the highest rung of the ladder was played right.
    pub fn is_climbed(&self) -> bool {
        self.ladder.as_ref().is_some_and(Ladder::is_climbed)
    }

    /// Whether all loops were handed out.
    pub fn is_over(&self) -> bool {
        self.left == Loops::Times(0)
    }

    /// Plays everything once more.
    pub fn start_again(&mut self) {
        if self.is_over() {
            self.left = Loops::Times(1);
        }
        self.count_in = self.counted;
    }

    /// The range of bars that are played, in playing order.
    pub fn stretch(&self) -> Range<usize> {
        self.stretch.clone()
    }

    /// The notes of the melody that one pass has, counted from 0.
    pub fn notes_of_a_pass(&self) -> BTreeSet<usize> {
        let bars: BTreeSet<usize> = self.all_bars[self.stretch.clone()]
            .iter()
            .map(|bar| bar.index)
            .collect();
        let written = self.tune.melody.bars();
        let is_in = |onset| {
            let bar = written.partition_point(|bar| bar.onset <= onset);
            bars.contains(&bar.saturating_sub(1))
        };
        let of_bars = (0..)
            .zip(self.tune.melody.notes())
            .filter(|(_, note)| is_in(note.onset))
            .map(|(index, _)| index);
        let wanted = self.manner.notes.as_ref();
        of_bars
            .filter(|index| wanted.is_none_or(|wanted| wanted.contains(index)))
            .collect()
    }

    /// Plays these bars until stopped.
    pub fn set_loop(&mut self, stretch: Range<usize>) {
        self.stretch = stretch;
        self.manner.notes = None;
        self.left = Loops::Endless;
    }

    /// Plays all bars again, for the original number of loops.
    pub fn play_all(&mut self) {
        self.stretch = 0..self.all_bars.len();
        self.manner.notes = None;
    }

    /// The tempo in percent of the tune's own.
    pub fn percent(&self) -> f64 {
        100.0 * self.manner.speed
    }

    /// The tempo of the next pass in percent of the tune's own.
    pub fn next_percent(&self) -> f64 {
        let ladder = self.ladder.as_ref();
        ladder.map_or(self.percent(), |ladder| f64::from(ladder.percent()))
    }

    /// Changes the tempo by this many percent of the tune's own, to a whole number of them.
    pub fn change_tempo(&mut self, percent: i16) {
        let speed = (self.percent().round() + f64::from(percent)) / 100.0;
        self.manner.speed = speed.clamp(*SPEEDS.start(), *SPEEDS.end());
    }

    /// The first and the last bar that are played, when they are not all.
    pub fn stretch_in_words(&self) -> Option<(String, String)> {
        if self.stretch == (0..self.all_bars.len()) {
            return None;
        }
        let name = |index: usize| {
            let bar = self.all_bars.get(index)?;
            Some(self.tune.melody.bars()[bar.index].to_string())
        };
        name(self.stretch.start).zip(name(self.stretch.end.checked_sub(1)?))
    }

    /// The next step of the ladder, if one is climbed.
    pub fn ladder_in_words(&self) -> Option<String> {
        let ladder = self.ladder.as_ref()?;
        Some(if ladder.is_climbed() {
            format!("ladder climbed: {}%", ladder.top())
        } else {
            format!(
                "ladder to {}%, {} more right",
                ladder.top(),
                ladder.missing()
            )
        })
    }

    /// How many beats a minute the stretch that is played begins with.
    pub fn beats_a_minute(&self) -> f64 {
        self.manner.speed * self.written_tempo().count().to_f64()
    }

    /// How many quarter notes a minute the stretch that is played begins with.
    pub fn quarters_a_minute(&self) -> f64 {
        self.manner.speed * 60.0 / self.written_tempo().seconds(Quarters::ONE)
    }

    /// What those beats are: `dotted quarter notes`.
    pub fn beats_in_words(&self) -> String {
        self.written_tempo().unit_in_words()
    }

    /// The tempo that stands where the stretch that is played begins.
    fn written_tempo(&self) -> Tempo {
        let melody = &self.tune.melody;
        let bar = self.all_bars.get(self.stretch.start);
        let start = bar.map(|bar| melody.bars()[bar.index].onset);
        let there = start.and_then(|start| melody.tempos().at(start));
        there.copied().unwrap_or(melody.first_tempo())
    }

    fn follow_ladder(&mut self) {
        if let Some(ladder) = &self.ladder {
            self.manner.speed = f64::from(ladder.percent()) / 100.0;
        }
    }

    /// How many bars begin in this part, without pickups.
    fn full_bars(&self, stretch: Range<usize>) -> u64 {
        let bars = self.all_bars[stretch].iter();
        bars.filter(|bar| self.tune.melody.bars()[bar.index].offset.is_zero())
            .count() as u64
    }

    fn play(&self, bars: Option<Range<usize>>) -> Result<PlayThrough, PerformanceError> {
        let manner = Manner {
            bars,
            ..self.manner.clone()
        };
        play_through(
            &self.tune.melody,
            &self.tune.places,
            self.tune.octave,
            &self.tune.instrument,
            &manner,
        )
    }

    /// The bars in which these notes begin, the first time they are played.
    fn bars_of(&self, notes: &Range<usize>) -> Range<usize> {
        let bars = self.tune.melody.bars();
        let bar_of = |note: usize| {
            let onset = self.tune.melody.notes().get(note).map(|note| note.onset);
            bars.iter()
                .rposition(|bar| onset.is_some_and(|onset| bar.onset <= onset))
        };
        let (first, last) = (bar_of(notes.start), bar_of(notes.end.saturating_sub(1)));
        let sounds = |wanted: Option<usize>, from: usize| {
            let later = self.all_bars.iter().enumerate().skip(from);
            later
                .into_iter()
                .find(|(_, bar)| Some(bar.index) == wanted)
                .map_or(from, |(at, _)| at)
        };
        let start = sounds(first, 0);
        start..sounds(last, start) + 1
    }
}

fn speed(asked: Option<AskedTempo>, own: Tempo) -> Result<f64, Failure> {
    let count = own.count().to_f64();
    let hint = || {
        format!(
            "choose a tempo from {:.0} to {:.0}",
            0.1 * count,
            4.0 * count
        )
    };
    let asked = match asked {
        Some(asked) => asked
            .of(own)
            .map_err(|error| Failure::usage(error.to_string(), hint()))?,
        None => own,
    };
    let speed = own.seconds(Quarters::ONE) / asked.seconds(Quarters::ONE);
    if SPEEDS.contains(&speed) {
        return Ok(speed);
    }
    Err(Failure::usage(
        format!(
            "that is {:.0} percent of the tune's own tempo, {count:.0} {}",
            100.0 * speed,
            own.unit_in_words()
        ),
        hint(),
    ))
}

fn too_long(error: PerformanceError) -> Failure {
    Failure::could_not(
        format!("the tune cannot be played: {error}"),
        "play a part of it with `--bars`, or faster with `--tempo`",
    )
}
