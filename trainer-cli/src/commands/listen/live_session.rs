//! Listening to a player live: passes, tempos and what follows from them. It knows nothing of screens.

use std::collections::{BTreeSet, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use fretlib::hearing::{
    HeardPass, Hearing, LiveEvent, LiveListener, LivePass, NoteVerdict, RecordingRate, Take,
    Whereabouts,
};
use fretlib::practice::{AT_TEMPO, LadderRange};
use fretlib::sound::{ClickPattern, ConcertPitch, PlayThrough, SampleRate};
use fretlib::theory::{Interval, MidiNumber, Pitch};
use jiff::civil::DateTime;

use super::ListenRequest;
use super::take_findings::findings;
use crate::audio::{SampleFormat, wav_bytes};
use crate::commands::arrange::AsArranged;
use crate::commands::play::{Live, Loops, PlayControl, PlayRequest, PlaySwing, PlayedTune};
use crate::commands::transcribe::tuning_in_words;
use crate::failure::Failure;
use crate::history::JudgedBy;
use crate::output::{Existing, NewFile, Readers};
use crate::request::{AskedTempo, HistoryFolder, PlacementRequest};
use crate::terminal::Streams;

/// How to listen to the microphone.
#[derive(Clone, Debug, Default)]
pub struct LiveRequest {
    /// The tempo to play at.
    pub tempo: Option<AskedTempo>,
    /// The tempos to climb.
    pub ladder: Option<LadderRange>,
    /// Right passes to a rung.
    pub passes: u8,
    /// Bars counted before each pass.
    pub count_in: u8,
    /// The beats that are clicked; `None` for no click.
    pub click: Option<ClickPattern>,
    /// How many passes to listen to; `None` until the player ends it.
    pub loops: Option<u32>,
    /// Where passes are kept as WAV files; nothing is kept without it.
    pub keep: Option<PathBuf>,
    /// Print line by line, also on a terminal.
    pub plain: bool,
    /// Keep no passes in the history.
    pub no_history: bool,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// Strings further off than this are to be tuned first, in cents.
const OUT_OF_TUNE: f32 = 20.0;

/// The strikes by which that is decided.
const FOR_TUNING: usize = 6;

/// The fewest notes of something that does not fit the tune before it is said; fewer are noodling.
const NOODLING: usize = 4;

/// How long before the end of a count-in listening begins, in seconds: a player may be early.
const EARLY: f64 = 0.25;

/// Listens to a player and judges the passes.
pub struct LiveSession {
    /// What is played, how fast, and the ladder.
    pub control: PlayControl,
    /// The pass as it is written, at the asked tempo.
    pub music: Arc<PlayThrough>,
    listener: LiveListener,
    rate: RecordingRate,
    // Whether a tempo is asked for.
    is_timed: bool,
    left: Option<u32>,
    passes: u32,
    tuner: TunerState,
    cents: VecDeque<f32>,
    keeping: Option<Keeping>,
    counting: Option<Counting>,
    // Semitones from the written to the sounding pitch.
    sounding: i16,
}

/// How far the strings are from their tuning, before they are judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Tuner {
    /// In words: `34 cents flat`.
    pub words: String,
    /// The usual deviation of the last strikes, in cents.
    pub cents: f32,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum TunerState {
    /// Nobody knows yet.
    Open,
    /// The strings are being tuned.
    Tuning,
    /// They are tuned well enough, or the player goes on anyway.
    Done,
}

/// What is new, for the player.
#[derive(Clone, Debug)]
pub enum LiveNews {
    /// A string may have been struck.
    Struck,
    /// It was, and this is its name, as it is written, and by how many cents it is off.
    Named(Pitch, f32),
    /// It was not.
    Dropped,
    /// A pass has ended.
    Passed(Box<PassReport>),
    /// A notice.
    Notice(String),
    /// A recording was written.
    Kept(PathBuf),
}

/// A pass that has ended.
#[derive(Clone, Debug)]
pub struct PassReport {
    /// Its number.
    pub number: u32,
    /// What it was, in words.
    pub heading: String,
    /// Whether it was right; `None` when it was not judged.
    pub is_right: Option<bool>,
    /// What matters about it, a sentence each.
    pub sentences: Vec<String>,
    /// Its verdicts; `None` when it was not judged.
    pub take: Option<Take>,
}

/// The click and the count-in.
struct Counting {
    live: Live,
    // Whether the count-in is heard, and how many strikes were heard in it.
    is_in: bool,
    strikes: u32,
    beats: u32,
    // Whether the click came back through the microphone.
    leaks: bool,
}

/// Where passes are kept.
#[derive(Clone, Debug)]
pub struct Keeping {
    folder: PathBuf,
    name: String,
    // The samples from `first` on in the count of the stream.
    samples: Vec<f32>,
    first: u64,
}

impl LiveSession {
    /// A session before anything is heard. The click is opened where one is asked for.
    pub fn new(
        tune: PlayedTune,
        request: &ListenRequest,
        rate: RecordingRate,
    ) -> Result<LiveSession, Failure> {
        let live = &request.live;
        let listener = LiveListener::new(rate, &tune.melody);
        let sounding = tune.instrument.sounding().semitones();
        let name = file_name(&tune.title);
        let as_played = as_played(request);
        let mut control = PlayControl::new(tune, &as_played, None)?;
        if !live.no_history
            && let Some(log) = request.log()?
        {
            control.keep_in(log);
        }
        let keeping = match &live.keep {
            Some(folder) => Some(Keeping::open(folder, name)?),
            None => None,
        };
        let music = next_music(&mut control)?;
        let is_heard = live.click.is_some() || live.count_in > 0;
        let counting = match is_heard {
            true => Some(Counting {
                live: Live::open(&as_played)?,
                is_in: false,
                strikes: 0,
                beats: 0,
                leaks: false,
            }),
            false => None,
        };
        let mut session = LiveSession {
            control,
            music,
            listener,
            rate,
            is_timed: live.tempo.is_some() || live.ladder.is_some() || is_heard,
            left: live.loops,
            passes: 0,
            tuner: TunerState::Open,
            cents: VecDeque::new(),
            keeping,
            counting,
            sounding: i16::from(sounding),
        };
        session.count_in();
        Ok(session)
    }

    /// Takes the next samples, and gives what is new.
    pub fn hear(&mut self, samples: &[f32]) -> Result<Vec<LiveNews>, Failure> {
        if let Some(keeping) = &mut self.keeping {
            keeping.take_in(samples, self.listener.playing_since(), self.rate);
        }
        let mut news = Vec::new();
        for event in self.listener.push(samples) {
            match event {
                LiveEvent::Struck { .. } => {
                    if let Some(counting) = &mut self.counting
                        && counting.is_in
                    {
                        counting.strikes += 1;
                    }
                    news.push(LiveNews::Struck);
                }
                LiveEvent::Dropped { .. } => news.push(LiveNews::Dropped),
                LiveEvent::Named(named) => {
                    let written = i16::from(named.pitch.get()) - self.sounding;
                    let written = u8::try_from(written).ok();
                    let midi = written.and_then(|it| MidiNumber::new(it).ok());
                    let pitch = self.as_spelled(midi.unwrap_or(named.pitch));
                    news.push(LiveNews::Named(pitch, named.cents));
                    self.tune_by(named.cents, &mut news);
                }
                LiveEvent::Ended(pass) => self.pass_ended(*pass, &mut news)?,
            }
        }
        self.mind_the_click(&mut news);
        Ok(news)
    }

    /// What there is to say when the sound has ended.
    pub fn finish(&mut self) -> Result<Vec<LiveNews>, Failure> {
        let listener = LiveListener::new(self.rate, &self.control.tune.melody);
        let ended = std::mem::replace(&mut self.listener, listener).finish();
        let mut news = Vec::new();
        if let Some(pass) = ended {
            self.pass_ended(pass, &mut news)?;
        }
        Ok(news)
    }

    /// Forgets what was played of a pass, as after a pause.
    pub fn begin_again(&mut self) {
        self.listener.forget_pass();
        self.count_in();
    }

    /// Falls silent.
    pub fn pause(&mut self) {
        if let Some(counting) = &self.counting {
            counting.live.stop(&mut self.control);
        }
    }

    /// Whether everything asked for was played.
    pub fn is_over(&self) -> bool {
        self.left == Some(0) || self.control.is_climbed()
    }

    /// Where the player is, between passes nowhere.
    pub fn whereabouts(&self) -> Option<Whereabouts> {
        self.listener.whereabouts()
    }

    /// How well the player can be heard.
    pub fn hearing(&self) -> Hearing {
        self.listener.hearing()
    }

    /// Whether the bars before a pass are counted now.
    pub fn is_counting_in(&self) -> bool {
        self.counting.as_ref().is_some_and(|it| it.is_in)
    }

    /// How far the strings are off, while they are to be tuned.
    pub fn tuner(&self) -> Option<Tuner> {
        let cents = self.usual_cents();
        (self.tuner == TunerState::Tuning).then(|| Tuner {
            words: tuning_in_words(cents),
            cents,
        })
    }

    /// Tunes the strings, or ends that.
    pub fn turn_tuner(&mut self) {
        self.tuner = match self.tuner {
            TunerState::Tuning => TunerState::Done,
            TunerState::Open | TunerState::Done => TunerState::Tuning,
        };
        self.begin_again();
    }

    /// The tempo and the next step of the ladder, as far as they are asked for.
    pub fn aim_in_words(&self) -> String {
        if !self.is_timed {
            return "at your own tempo".into();
        }
        let tempo = format!(
            "{:.0} a minute, {:.0}%",
            self.control.beats_a_minute(),
            self.control.percent()
        );
        match self.control.ladder_in_words() {
            Some(ladder) => format!("{tempo}   {ladder}"),
            None => tempo,
        }
    }

    /// Ends the session, and says what is held now.
    pub fn end(mut self, streams: &mut Streams) -> Result<(), Failure> {
        match self.control.take_log() {
            Some(log) => log.end(streams),
            None => Ok(()),
        }
    }

    /// The written pitch with the spelling that the melody has for it.
    fn as_spelled(&self, midi: MidiNumber) -> Pitch {
        let notes = self.control.tune.melody.notes().iter();
        let same = notes
            .map(|note| note.pitch)
            .find(|it| (i16::from(it.midi().get()) - i16::from(midi.get())) % 12 == 0);
        let pitch = Pitch::from_midi(midi);
        match same {
            Some(same) => {
                let octaves = (i16::from(midi.get()) - i16::from(same.midi().get())) / 12;
                let interval = i8::try_from(octaves).ok().map(Interval::octaves);
                let moved = interval.and_then(|it| same.transpose(it.ok()?).ok());
                moved.unwrap_or(pitch)
            }
            None => pitch,
        }
    }

    /// Decides whether the strings are to be tuned first.
    fn tune_by(&mut self, cents: f32, news: &mut Vec<LiveNews>) {
        if self.cents.len() == FOR_TUNING {
            self.cents.pop_front();
        }
        self.cents.push_back(cents);
        if self.cents.len() < FOR_TUNING {
            return;
        }
        let usual = self.usual_cents();
        match self.tuner {
            TunerState::Open if usual.abs() > OUT_OF_TUNE => {
                self.tuner = TunerState::Tuning;
                news.push(LiveNews::Notice(format!(
                    "the strings are {}: tune them first",
                    tuning_in_words(usual)
                )));
            }
            TunerState::Open => self.tuner = TunerState::Done,
            TunerState::Tuning if usual.abs() <= OUT_OF_TUNE / 4.0 => {
                self.tuner = TunerState::Done;
                news.push(LiveNews::Notice("the strings are in tune".into()));
            }
            TunerState::Tuning | TunerState::Done => {}
        }
    }

    fn usual_cents(&self) -> f32 {
        let mut cents: Vec<f32> = self.cents.iter().copied().collect();
        let middle = cents.len() / 2;
        match cents.is_empty() {
            true => 0.0,
            false => *cents.select_nth_unstable_by(middle, f32::total_cmp).1,
        }
    }

    /// Begins the count-in and the click of the next pass, where they are asked for.
    fn count_in(&mut self) {
        let Some(counting) = &mut self.counting else {
            return;
        };
        counting
            .live
            .stage()
            .play(&self.music, u64::from(self.passes) + 1, 0.0);
        counting.is_in = self.music.lead_in > 0.0;
        counting.strikes = 0;
        let bar = self.music.bars.first();
        let beats = bar.map_or(1.0, |bar| bar.end - bar.start).max(0.1);
        counting.beats = (self.music.lead_in / beats * 2.0).ceil() as u32;
    }

    /// Leaves out what was heard in the count-in, and asks for headphones when that was the click itself.
    fn mind_the_click(&mut self, news: &mut Vec<LiveNews>) {
        let Some(counting) = &mut self.counting else {
            return;
        };
        if let Some(heard) = counting.live.heard()
            && counting.is_in
            && heard.seconds > heard.pass.lead_in - EARLY
        {
            counting.is_in = false;
            self.listener.forget_pass();
            counting.leaks = counting.strikes >= counting.beats.max(2);
            if counting.leaks {
                news.push(LiveNews::Notice(
                    "the click comes back through the microphone: put on headphones; passes are not judged".into(),
                ));
            }
        } else if counting.live.is_over() && self.listener.whereabouts().is_none() {
            self.count_in();
        }
    }

    fn pass_ended(&mut self, pass: LivePass, news: &mut Vec<LiveNews>) -> Result<(), Failure> {
        let struck = pass.heard.struck_notes().len();
        let take = pass.take.filter(Take::fits);
        let is_noodling = take.is_none() && struck < NOODLING;
        if self.tuner == TunerState::Tuning || is_noodling {
            return Ok(());
        }
        self.passes += 1;
        if let Some(left) = &mut self.left {
            *left = left.saturating_sub(1);
        }
        if let Some(keeping) = &mut self.keeping {
            let file = keeping.write(pass.samples.clone(), self.rate)?;
            news.push(LiveNews::Kept(file));
        }
        let mut report = PassReport {
            number: self.passes,
            heading: String::new(),
            is_right: None,
            sentences: Vec::new(),
            take: None,
        };
        match (self.doubt(), take) {
            (Some(doubt), _) => report.heading = format!("not judged: {doubt}"),
            (None, None) => {
                report.heading = "not judged: this does not fit the tune".into();
            }
            (None, Some(take)) => self.judge(take, &mut report),
        }
        news.push(LiveNews::Passed(Box::new(report)));
        if !self.is_over() {
            self.music = next_music(&mut self.control)?;
            self.count_in();
        }
        Ok(())
    }

    /// Why a pass cannot be judged, if it cannot.
    fn doubt(&self) -> Option<&'static str> {
        if self.counting.as_ref().is_some_and(|it| it.leaks) {
            return Some("the click is heard along with you; put on headphones");
        }
        let hearing = self.hearing();
        if hearing.can_judge() {
            return None;
        }
        Some(match hearing.clipped >= Hearing::CLIPPED {
            true => "the sound is clipped; turn the microphone down",
            false => "the room is too loud; come closer to the microphone",
        })
    }

    /// Judges a pass, keeps the verdict and climbs the ladder.
    fn judge(&mut self, take: Take, report: &mut PassReport) {
        let tune = &self.control.tune;
        report.sentences = findings(&take, &tune.melody, &tune.places);
        let is_right = take.passes.iter().all(HeardPass::is_right);
        report.is_right = Some(is_right);
        let bars: Vec<String> = take.passes.iter().map(HeardPass::bars_in_words).collect();
        let right = take
            .notes()
            .filter(|note| note.verdict == NoteVerdict::Right)
            .count();
        let word = if is_right { "right" } else { "with faults" };
        report.heading = format!(
            "bars {}: {word}, {right} of {} notes",
            bars.join(", "),
            take.notes().count()
        );
        if let Some(tempo) = take.tempo {
            report
                .heading
                .push_str(&format!(", {tempo:.0} quarter notes a minute"));
        }
        let asked = self.control.quarters_a_minute();
        let off = take.tempo.map(|tempo| tempo / asked - 1.0);
        let is_at_tempo = off.is_some_and(|off| off.abs() <= AT_TEMPO);
        for pass in &take.passes {
            if let Some(percent) = self.percent_of(pass, is_at_tempo) {
                self.control.remember(pass, percent, take.shift);
            }
        }
        let whole = self.control.notes_of_a_pass();
        let is_whole = take.passes.len() == 1 && whole.is_subset(&notes_of(&take.passes[0]));
        if self.control.ladder().is_some() {
            let follows = match (is_whole, is_right, is_at_tempo) {
                (false, ..) => "not the whole of it: does not count".into(),
                (true, true, false) => format!(
                    "{} than {asked:.0} quarter notes a minute: does not count",
                    if off.is_some_and(|off| off > 0.0) {
                        "faster"
                    } else {
                        "slower"
                    }
                ),
                (true, ..) => self.control.judge(is_right, JudgedBy::Hearing),
            };
            report.sentences.insert(0, capitalised(&follows));
        } else {
            for pass in &take.passes {
                if let Some(percent) = self.percent_of(pass, is_at_tempo) {
                    let is_right = pass.is_right();
                    self.control.keep_heard(&notes_of(pass), percent, is_right);
                }
            }
            if self.is_timed && is_right && !is_at_tempo {
                report.sentences.insert(
                    0,
                    format!("Not at tempo: {asked:.0} quarter notes a minute are asked for."),
                );
            }
        }
        report.take = Some(take);
    }

    /// The tempo of a pass in percent of the tune's own: the one that was asked for, or else the player's. `None` with a single
    /// note.
    fn percent_of(&self, pass: &HeardPass, is_at_tempo: bool) -> Option<u16> {
        let own = self.control.quarters_a_minute() / (self.control.percent() / 100.0);
        match self.is_timed && is_at_tempo {
            true => Some(self.control.percent().round() as u16),
            false => percent_of_own(pass, own),
        }
    }
}

/// The tempo of a pass in percent of a tune's own, in quarter notes a minute; `None` where it says nothing of it.
pub fn percent_of_own(pass: &HeardPass, own: f64) -> Option<u16> {
    let percent = (100.0 * pass.tempo? / own).round() as u16;
    (10..=400).contains(&percent).then_some(percent)
}

/// The notes of the melody that a pass went through, counted from 0.
pub fn notes_of(pass: &HeardPass) -> BTreeSet<usize> {
    pass.notes.iter().map(|note| note.index).collect()
}

fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|it| it.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

fn next_music(control: &mut PlayControl) -> Result<Arc<PlayThrough>, Failure> {
    control
        .next_pass()?
        .ok_or_else(|| Failure::could_not("there is nothing to play", "see `--bars`"))
}

/// The tune as `play` takes it: silent but for the click.
fn as_played(request: &ListenRequest) -> PlayRequest {
    let live = &request.live;
    PlayRequest {
        tempo: live.tempo,
        phrases: None,
        loops: Loops::Endless,
        // A click tells the tempo before the first note, and lets its echo be noticed.
        count_in: match live.click {
            Some(_) => live.count_in.max(1),
            None => live.count_in,
        },
        click: live.click,
        chords: false,
        arranged: AsArranged::from_option(None),
        contrast: 0.0,
        melody: false,
        swing: PlaySwing::OfTune,
        ladder: live.ladder.clone(),
        passes: live.passes.max(1),
        a4: ConcertPitch::A440,
        output: None,
        existing: Existing::Keep,
        format: SampleFormat::Int16,
        rate: None,
        latency: Duration::from_millis(60),
        plain: live.plain,
        placement: PlacementRequest::default(),
        hand: request.hand.clone(),
        tune: request.tune.clone(),
        instrument: request.instrument.clone(),
        no_history: live.no_history,
        now: live.now,
        folder: live.folder.clone(),
    }
}

/// A file name made of a title: letters and digits, joined by hyphens.
fn file_name(title: &str) -> String {
    let words = title.split(|c: char| !c.is_alphanumeric());
    let words: Vec<String> = words
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    let name: String = words.join("-").chars().take(60).collect();
    match name.is_empty() {
        true => "take".into(),
        false => name,
    }
}

impl Keeping {
    fn open(folder: &Path, name: String) -> Result<Keeping, Failure> {
        if !folder.is_dir() {
            return Err(Failure::usage(
                format!("`{}` is not a folder", folder.display()),
                "make the folder first, or name another with `--keep`",
            ));
        }
        Ok(Keeping {
            folder: folder.to_owned(),
            name,
            samples: Vec::new(),
            first: 0,
        })
    }

    /// Keeps samples as long as they may belong to a pass.
    fn take_in(&mut self, samples: &[f32], pass: Option<u64>, rate: RecordingRate) {
        // A pass is known about a second after its first sample.
        let recent = 4 * rate.get() as usize;
        let needed = match pass {
            Some(start) => start.saturating_sub(self.first) as usize,
            None => self.samples.len().saturating_sub(recent),
        };
        // Now and then is enough.
        if needed > recent {
            self.samples.drain(..needed.min(self.samples.len()));
            self.first += needed as u64;
        }
        self.samples.extend_from_slice(samples);
    }

    /// Writes these samples of the stream to a new file.
    fn write(
        &mut self,
        samples: std::ops::Range<u64>,
        rate: RecordingRate,
    ) -> Result<PathBuf, Failure> {
        let within =
            |sample: u64| (sample.saturating_sub(self.first) as usize).min(self.samples.len());
        let pass = &self.samples[within(samples.start)..within(samples.end)];
        let rate = SampleRate::new(rate.get())
            .map_err(|error| Failure::could_not(error.to_string(), "leave out `--keep`"))?;
        let bytes = wav_bytes(pass, rate, SampleFormat::Int16)?;
        for number in 1..10_000 {
            let file = self.folder.join(format!("{}-{number}.wav", self.name));
            let written = match file.exists() {
                true => continue,
                false => NewFile::beside(&file, Readers::Owner).and_then(|mut new| {
                    new.write(&bytes)?;
                    new.into_place(Existing::Keep)
                }),
            };
            match written {
                Ok(()) => return Ok(file),
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(error) => {
                    return Err(Failure::could_not(
                        format!("cannot write `{}`: {error}", file.display()),
                        "make room, or name another folder with `--keep`",
                    ));
                }
            }
        }
        Err(Failure::could_not(
            format!("`{}` is full of takes of this tune", self.folder.display()),
            "name another folder with `--keep`",
        ))
    }
}
