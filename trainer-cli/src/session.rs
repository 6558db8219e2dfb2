//! A practice session: what is asked next, how an answer is judged and kept. It knows nothing of screens.

mod practice_tune;
mod tally;

use std::collections::BTreeMap;

use fretlib::neck::Position;
use fretlib::practice::{
    Answer, Drill, Grade, Item, Kind, Material, Memory, MemoryModel, Moment, NothingToAsk,
    Question, Reason, Schedule, Unclear, Verdict,
};
use fretlib::text::{NeckMark, NoteMark};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;

use crate::failure::Failure;
use crate::history::{History, HistoryError, Recorded, Review, TuneOnInstrumentId};
use crate::request::{HistoryFolder, SessionRequest};

pub use practice_tune::PracticeTune;
pub use tally::{Count, Tally};

/// How questions are chosen.
#[derive(Debug)]
enum Order {
    /// At random, ignoring the history.
    Random(Drill),
    /// By what is due, weak and new.
    Scheduled(Box<Schedule>),
}

/// Where answers are kept.
#[derive(Debug)]
enum Recorder {
    /// In the history.
    History(Box<History>),
    /// Nowhere.
    Nowhere,
}

/// A question that has been put.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The question.
    pub question: Question,
    /// What is remembered or forgotten by it.
    pub item: Item,
    /// Why it was chosen; none in random order.
    pub reason: Option<Reason>,
    tune: usize,
    // Its index in the schedule.
    index: Option<usize>,
}

/// An answer that was judged, and can be taken back.
#[derive(Clone, Debug)]
struct Answered {
    asked: Asked,
    before: Option<Memory>,
    recorded: Option<Recorded>,
    is_right: bool,
    streak: u32,
}

/// A session.
#[derive(Debug)]
pub struct Session {
    tunes: Vec<PracticeTune>,
    known: Vec<Option<TuneOnInstrumentId>>,
    order: Order,
    recorder: Recorder,
    model: MemoryModel,
    usual: BTreeMap<Kind, Option<f64>>,
    random: ChaCha8Rng,
    tally: Tally,
    last: Option<Answered>,
    trouble: Option<HistoryError>,
}

impl Session {
    /// A session over these tunes, at least one, with the history unless it is not wanted.
    ///
    /// An unusable history does not stop the session: [`Session::trouble`] says once what is wrong with it.
    pub fn open(
        tunes: Vec<PracticeTune>,
        request: &SessionRequest,
        folder: &HistoryFolder,
    ) -> Result<Session, Failure> {
        let history = if request.no_history {
            None
        } else {
            Some(History::open(&folder.path()?))
        };
        Session::new(tunes, request, history).map_err(|error| {
            Failure::could_not(
                error.to_string(),
                "ask for other kinds or positions, or see `neckline map` for where the tune lies",
            )
        })
    }

    /// A session over these tunes; at least one.
    ///
    /// # Errors
    ///
    /// When none of the kinds can be asked of any of the tunes.
    pub(crate) fn new(
        tunes: Vec<PracticeTune>,
        request: &SessionRequest,
        history: Option<Result<History, HistoryError>>,
    ) -> Result<Session, NothingToAsk> {
        let (recorder, trouble) = match history {
            Some(Ok(history)) => (Recorder::History(Box::new(history)), None),
            Some(Err(error)) => (Recorder::Nowhere, Some(error)),
            None => (Recorder::Nowhere, None),
        };
        let first = &tunes.first().ok_or(NothingToAsk)?.material;
        let mut session = Session {
            known: vec![None; tunes.len()],
            order: Order::Random(Drill::new(first, &request.kinds)?),
            tunes,
            recorder,
            model: MemoryModel::default(),
            usual: BTreeMap::new(),
            random: ChaCha8Rng::seed_from_u64(request.seed.unwrap_or_else(rand::random)),
            tally: Tally::default(),
            last: None,
            trouble,
        };
        let known = session.open_tunes().unwrap_or_else(|error| {
            session.give_up_keeping(error);
            BTreeMap::new()
        });
        if !request.is_random {
            let mut items: Vec<(Item, Option<Memory>)> = Vec::new();
            for tune in &session.tunes {
                for item in Item::all(&tune.material, tune.entry.id, &request.kinds) {
                    items.push((item, known.get(&item).copied()));
                }
            }
            let schedule = Schedule::new(items, session.model.clone(), request.aim());
            session.order = Order::Scheduled(Box::new(schedule));
        }
        Ok(session)
    }

    /// Finds the tunes in the history, and reads from it what is remembered and how fast this player usually is.
    fn open_tunes(&mut self) -> Result<BTreeMap<Item, Memory>, HistoryError> {
        let mut known = BTreeMap::new();
        let Recorder::History(history) = &mut self.recorder else {
            return Ok(known);
        };
        self.model = history.model()?;
        for (tune, known_as) in self.tunes.iter().zip(&mut self.known) {
            let found = history.tune_on_instrument(&tune.entry, tune.material.instrument())?;
            *known_as = Some(found);
            known.extend(history.memories(found, tune.entry.id)?);
        }
        for kind in Kind::ALL {
            self.usual.insert(kind, history.usual_seconds(kind)?);
        }
        Ok(known)
    }

    fn give_up_keeping(&mut self, error: HistoryError) {
        self.recorder = Recorder::Nowhere;
        self.trouble.get_or_insert(error);
    }

    /// Why answers are no longer kept; said once.
    pub fn trouble(&mut self) -> Option<HistoryError> {
        self.trouble.take()
    }

    /// The tunes of the session.
    pub fn tunes(&self) -> &[PracticeTune] {
        &self.tunes
    }

    /// The tune a question belongs to.
    pub fn tune(&self, asked: &Asked) -> &PracticeTune {
        &self.tunes[asked.tune]
    }

    /// How the session is going.
    pub fn tally(&self) -> &Tally {
        &self.tally
    }

    /// How many items are due and how many new ones may come, in scheduled order.
    pub fn ahead(&self, now: Moment) -> Option<(usize, usize)> {
        match &self.order {
            Order::Scheduled(schedule) => Some((schedule.due_count(now), schedule.new_count())),
            Order::Random(_) => None,
        }
    }

    /// The next question.
    pub fn next(&mut self, now: Moment) -> Option<Asked> {
        match &mut self.order {
            Order::Random(drill) => {
                let tune = &self.tunes[0];
                let question = drill.next(&tune.material, &mut self.random)?;
                Some(Asked {
                    item: Item {
                        tune: tune.entry.id,
                        phrase: tune.material.phrase_of(question.note) as u32,
                        kind: question.kind(),
                        spot: question.spot,
                    },
                    question,
                    reason: None,
                    tune: 0,
                    index: None,
                })
            }
            Order::Scheduled(schedule) => {
                let (index, reason) = schedule.next(now, &mut self.random)?;
                let (item, _) = schedule.items()[index];
                let tune = self
                    .tunes
                    .iter()
                    .position(|tune| tune.entry.id == item.tune)?;
                let question = item.question(&self.tunes[tune].material, &mut self.random)?;
                Some(Asked {
                    question,
                    item,
                    reason: Some(reason),
                    tune,
                    index: Some(index),
                })
            }
        }
    }

    /// Reads an answer as typed.
    ///
    /// # Errors
    ///
    /// When it is none; ask again, nothing is counted.
    pub fn read(&self, asked: &Asked, text: &str) -> Result<Answer, Unclear> {
        asked
            .question
            .read(text, self.tune(asked).material.instrument())
    }

    /// Judges an answer and keeps it; `None` stands for giving it up. When this returns the answer is on disk.
    pub fn answer(
        &mut self,
        asked: &Asked,
        typed: &str,
        answer: Option<Answer>,
        seconds: f64,
        now: Moment,
    ) -> Verdict {
        let material = &self.tunes[asked.tune].material;
        let verdict = answer.map_or(Verdict::Wrong(None), |answer| {
            asked.question.judge_on(answer, material.instrument())
        });
        let is_right = verdict.is_right();
        let usual = self.usual.get(&asked.item.kind).copied().flatten();
        let grade = Grade::of(is_right, seconds, usual);
        let note = material.notes()[asked.question.note];
        let next = material.notes().get(asked.question.note + 1);
        let place = asked.question.right_places().first().copied();
        let review = Review {
            item: asked.item,
            note: asked.question.note,
            question: asked.question.wording(material).question,
            answer: typed.chars().filter(|c| !c.is_control()).take(80).collect(),
            is_right,
            grade,
            seconds,
            at: now,
            degree: note.degree.to_string(),
            interval: next
                .and_then(|next| next.interval)
                .map(|interval| interval.to_string()),
            string: place
                .or(asked.question.shown_place())
                .map(|place| place.string.get()),
        };
        let recorded = self.record(asked.tune, &review);
        let mut before = None;
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, asked.index) {
            before = schedule.items()[index].1;
            schedule.answered(index, grade, now);
        }
        let streak = self.tally.streak;
        self.tally.add(&asked.item, is_right);
        self.last = Some(Answered {
            asked: asked.clone(),
            before,
            recorded,
            is_right,
            streak,
        });
        verdict
    }

    fn record(&mut self, tune: usize, review: &Review) -> Option<Recorded> {
        let (Recorder::History(history), Some(known_as)) = (&mut self.recorder, self.known[tune])
        else {
            return None;
        };
        match history.record(known_as, review, &self.model) {
            Ok(recorded) => Some(recorded),
            Err(error) => {
                self.give_up_keeping(error);
                None
            }
        }
    }

    /// Takes the last answer back, as a slip of the key, and returns its question to be put again.
    pub fn take_back(&mut self) -> Option<Asked> {
        let answered = self.last.take()?;
        if let (Recorder::History(history), Some(recorded)) =
            (&mut self.recorder, &answered.recorded)
            && let Err(error) = history.take_back(recorded)
        {
            self.give_up_keeping(error);
        }
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, answered.asked.index) {
            schedule.put_back(index, answered.before);
        }
        self.tally
            .take_back(&answered.asked.item, answered.is_right, answered.streak);
        Some(answered.asked)
    }

    /// Ends the session: fits the memory model to the player when there is enough to learn from.
    pub fn end(&mut self, now: Moment) {
        if let Recorder::History(history) = &mut self.recorder
            && let Err(error) = history.refit(now)
        {
            self.give_up_keeping(error);
        }
    }
}

/// The answer of a question on the neck: its right places with their degrees, and where the hand stands.
///
/// A question about the melody alone is answered at the first spot the tune is practised in.
pub fn answer_on_the_neck(
    question: &Question,
    material: &Material,
) -> (Vec<NeckMark>, Option<Position>) {
    let spot = question.spot.or_else(|| material.spots().first().copied());
    let Some(spot) = spot else {
        return (Vec::new(), None);
    };
    let note = match question.kind() {
        Kind::Next => question.note + 1,
        Kind::Place | Kind::Name | Kind::Degree | Kind::Interval | Kind::Scale | Kind::Octave => {
            question.note
        }
    };
    let mut marks = note_marks(material, note, spot);
    if question.kind() == Kind::Interval {
        marks.extend(note_marks(material, note + 1, spot));
    }
    (marks, Some(spot.position))
}

/// A note at every place it has within reach of a spot, labelled with its degree.
pub fn note_marks(
    material: &Material,
    note: usize,
    spot: fretlib::practice::Spot,
) -> Vec<NeckMark> {
    let Some(analysed) = material.notes().get(note) else {
        return Vec::new();
    };
    let mark = NoteMark::of(analysed.degree, analysed.membership);
    let places = material.places(note, spot).into_iter();
    let marks = places.map(|place| NeckMark {
        place,
        label: analysed.degree.to_string(),
        mark,
    });
    marks.collect()
}
