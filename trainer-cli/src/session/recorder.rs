//! Recording the answers of a session, including those that cannot be written at once.

use std::collections::{BTreeMap, VecDeque};
use std::fmt;
use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver};

use fretlib::practice::{Item, Kind, Memory, MemoryModel, Moment};

use super::PracticeTune;
use crate::history::{History, HistoryError, Practised, Recorded, Review, SessionEntry};
use crate::report::count::count;

/// Records answers in the history.
///
/// An answer that cannot be written waits, and is tried again before the next one and at the end of the session.
#[derive(Debug)]
pub struct Recorder {
    folder: PathBuf,
    session: SessionEntry,
    history: Option<History>,
    model: MemoryModel,
    waiting: VecDeque<Change>,
    last: Option<Last>,
    // Why answers wait, or would wait, if they do.
    is_behind: bool,
    reason: Option<Unkept>,
    news: Option<RecorderNews>,
    // What comes of fitting the memory model, while that is under way.
    fit: Option<Receiver<Result<Option<usize>, HistoryError>>>,
}

/// Why answers are not kept.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Unkept {
    /// What is wrong.
    pub problem: String,
    /// What the player can do about it.
    pub hint: &'static str,
}

/// A change of the history that is not written yet.
#[derive(Debug)]
enum Change {
    /// Record an answer about the tune of this number.
    Record(usize, Box<Review>),
    /// Take an answer back.
    TakeBack(Recorded),
}

/// The answer that can be taken back.
#[derive(Clone, Copy, Debug)]
enum Last {
    /// It is in the history.
    Recorded(Recorded),
    /// It waits, the last of all.
    Waiting,
}

/// What is read from the history when a session begins.
#[derive(Debug, Default)]
pub struct Remembered {
    /// The memories of the items.
    pub memories: BTreeMap<Item, Memory>,
    /// How many items were asked for the first time today.
    pub first_asked_today: usize,
    /// The usual times of the player.
    pub usual_seconds: BTreeMap<Kind, f64>,
}

/// News about recording for the player.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum RecorderNews {
    /// Answers wait to be written.
    NotKeptYet {
        /// How many.
        waiting: usize,
        /// Why.
        reason: Unkept,
    },
    /// All waiting answers are written.
    KeptNow,
    /// The memory model has been fitted to the player.
    Fitted {
        /// To how many answers.
        answers: usize,
    },
    /// The session ended before the memory model was fitted.
    FitCutShort,
    /// No answer waits, but the history is not as it should be.
    Trouble(String),
}

impl fmt::Display for RecorderNews {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            RecorderNews::NotKeptYet { waiting: 0, reason } => {
                write!(
                    f,
                    "answers are not kept yet: {}; {}",
                    reason.problem, reason.hint
                )
            }
            RecorderNews::NotKeptYet { waiting, reason } => {
                let verb = if *waiting == 1 { "is" } else { "are" };
                write!(
                    f,
                    "{} {verb} not kept yet: {}; {}",
                    count(*waiting, "answer"),
                    reason.problem,
                    reason.hint
                )
            }
            RecorderNews::Fitted { answers } => write!(
                f,
                "when a phrase fades is judged from now on by your own {}",
                count(*answers, "answer")
            ),
            RecorderNews::FitCutShort => f.write_str(
                "how fast you forget was still being worked out: the next session begins that again",
            ),
            RecorderNews::KeptNow => f.write_str("all answers are kept now"),
            RecorderNews::Trouble(reason) => f.write_str(reason),
        }
    }
}

impl Recorder {
    /// Opens the history, unless it is open and can be written to; one that cannot be opened is tried again with every
    /// answer.
    pub fn open(folder: PathBuf, history: Option<History>, session: SessionEntry) -> Recorder {
        let mut recorder = Recorder {
            folder,
            session,
            history: history.filter(History::can_be_written),
            model: MemoryModel::default(),
            waiting: VecDeque::new(),
            last: None,
            is_behind: false,
            reason: None,
            news: None,
            fit: None,
        };
        if let Err(error) = recorder.history() {
            recorder.put_off(&error);
        }
        recorder
    }

    /// Finds the tunes in the history, and reads their memories.
    pub fn remembered(&mut self, tunes: &[PracticeTune], now: Moment) -> (MemoryModel, Remembered) {
        match self.read(tunes, now) {
            Ok((model, remembered)) => {
                self.model = model;
                self.begin_to_fit(now);
                (self.model.clone(), remembered)
            }
            Err(error) => {
                self.put_off(&error);
                (self.model.clone(), Remembered::default())
            }
        }
    }

    fn read(
        &mut self,
        tunes: &[PracticeTune],
        now: Moment,
    ) -> Result<(MemoryModel, Remembered), HistoryError> {
        let history = self.history()?;
        let mut remembered = Remembered {
            first_asked_today: history.first_asked_on(now.day)?,
            ..Remembered::default()
        };
        for tune in tunes {
            let known_as = history.tune_on_instrument(&tune.entry, tune.material.instrument())?;
            let memories = history.memories(known_as, tune.entry.id)?;
            remembered.memories.extend(memories);
        }
        remembered.usual_seconds = history.usual_seconds()?;
        Ok((history.model()?, remembered))
    }

    /// Records an answer about the tune of this number, after any that wait. An answer that cannot be written waits.
    pub fn record(&mut self, tunes: &[PracticeTune], tune: usize, review: Review) {
        self.last = Some(Last::Waiting);
        self.waiting
            .push_back(Change::Record(tune, Box::new(review)));
        self.write_what_waits(tunes);
    }

    /// Takes the last answer back.
    pub fn take_back(&mut self, tunes: &[PracticeTune]) {
        match self.last.take() {
            Some(Last::Waiting) => {
                self.waiting.pop_back();
            }
            Some(Last::Recorded(recorded)) => {
                self.waiting.push_back(Change::TakeBack(recorded));
            }
            None => return,
        }
        self.write_what_waits(tunes);
    }

    /// Fits the memory model to the player beside the session, when there is enough to learn from.
    ///
    /// Nobody waits for it: a fit that the end of the session cuts short leaves everything as it was, and the next
    /// session begins it anew.
    fn begin_to_fit(&mut self, now: Moment) {
        let is_due = |history: &History| history.is_fit_due().unwrap_or(false);
        if !self.history.as_ref().is_some_and(is_due) {
            return;
        }
        let folder = self.folder.clone();
        let (sender, fit) = mpsc::channel();
        std::thread::spawn(move || {
            let fitted = History::open(&folder).and_then(|mut history| history.refit(now));
            // Where nobody listens any more the session has ended.
            let _ = sender.send(fitted);
        });
        self.fit = Some(fit);
    }

    /// Takes in what has come of the fit: what is answered from now on is remembered by it.
    fn take_fit(&mut self) {
        let Some(fitted) = self.fit.as_ref().and_then(|fit| fit.try_recv().ok()) else {
            return;
        };
        self.fit = None;
        match fitted {
            Ok(None) => {}
            Ok(Some(answers)) => {
                if let Some(Ok(model)) = self.history.as_ref().map(History::model) {
                    self.model = model;
                }
                self.news.get_or_insert(RecorderNews::Fitted { answers });
            }
            // No answer is lost by it: the next session tries again.
            Err(error) => {
                let reason = format!("the memory model was not fitted: {error}");
                self.news.get_or_insert(RecorderNews::Trouble(reason));
            }
        }
    }

    /// Ends the session: writes what waits. Returns how many answers could not be kept, and why.
    pub fn end(&mut self, tunes: &[PracticeTune]) -> Option<(usize, Unkept)> {
        self.is_behind &= !self.waiting.is_empty();
        if self.is_behind {
            // A last try, with the longest wait.
            self.is_behind = false;
            self.write_what_waits(tunes);
            self.news = None;
        }
        if self.unrecorded() > 0 {
            let reason = self.reason.clone();
            return reason.map(|reason| (self.unrecorded(), reason));
        }
        self.take_fit();
        if self.fit.take().is_some() {
            self.news = Some(RecorderNews::FitCutShort);
        }
        None
    }

    /// News for the player, given once.
    pub fn news(&mut self) -> Option<RecorderNews> {
        self.take_fit();
        self.news.take()
    }

    fn write_what_waits(&mut self, tunes: &[PracticeTune]) {
        while let Some(change) = self.waiting.pop_front() {
            match self.write(&change, tunes) {
                Ok(recorded) => {
                    if self.waiting.is_empty() && matches!(self.last, Some(Last::Waiting)) {
                        self.last = recorded.map(Last::Recorded);
                    }
                }
                Err(error) => {
                    self.waiting.push_front(change);
                    return self.put_off(&error);
                }
            }
        }
        if std::mem::take(&mut self.is_behind) {
            self.news = Some(RecorderNews::KeptNow);
        }
    }

    fn write(
        &mut self,
        change: &Change,
        tunes: &[PracticeTune],
    ) -> Result<Option<Recorded>, HistoryError> {
        let patience = match self.is_behind {
            // The player has already waited once; waiting answers are tried again soon.
            true => History::LITTLE_PATIENCE,
            false => History::PATIENCE,
        };
        let session = self.session.clone();
        let model = self.model.clone();
        let history = self.history()?;
        history.wait_for_others(patience)?;
        match change {
            Change::Record(tune, review) => {
                let tune = &tunes[*tune];
                let practised = Practised {
                    tune: &tune.entry,
                    instrument: tune.material.instrument(),
                    session: &session,
                };
                history.record(practised, review, &model).map(Some)
            }
            Change::TakeBack(recorded) => history.take_back(recorded, &model).map(|()| None),
        }
    }

    fn history(&mut self) -> Result<&mut History, HistoryError> {
        if self.history.is_none() {
            self.history = Some(History::open(&self.folder)?);
        }
        Ok(self.history.as_mut().expect("it was just opened"))
    }

    /// Reports that answers wait, unless already reported.
    fn put_off(&mut self, error: &HistoryError) {
        let reason = Unkept {
            problem: error.to_string(),
            hint: error.what_to_do(),
        };
        self.reason = Some(reason.clone());
        if !std::mem::replace(&mut self.is_behind, true) {
            self.news = Some(RecorderNews::NotKeptYet {
                waiting: self.unrecorded(),
                reason,
            });
        }
    }

    /// How many answers wait.
    fn unrecorded(&self) -> usize {
        let records = |change: &&Change| matches!(change, Change::Record(..));
        self.waiting.iter().filter(records).count()
    }
}
