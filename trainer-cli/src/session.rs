//! A practice session: choosing questions, judging answers and recording them. It knows nothing of screens.

mod pass_log;
mod plan;
mod practice_tune;
mod readiness;
mod recorder;
mod seeded_choice;
mod summary;
mod tally;

use std::collections::BTreeMap;

use crate::failure::Failure;
use crate::history::{History, Review, SessionEntry};
use crate::request::{HistoryFolder, SessionRequest};
use fretlib::neck::{Place, Position};
use fretlib::practice::{
    Answer, AnswerError, ArrangedTask, Drill, Grade, Item, Kind, Lesson, Memory, Moment,
    NothingToAsk, PlacementKey, PracticeMaterial, Question, Reason, Schedule, Standing, Task,
    Verdict,
};
use fretlib::text::{NeckMark, NoteMark};

use recorder::Recorder;

pub use pass_log::PassLog;
pub use plan::{Need, Share, divide};
pub use practice_tune::PracticeTune;
pub use readiness::{Known, Readiness};
pub use recorder::{RecorderNews, Unkept};
pub use seeded_choice::SeededChoice;
use summary::{Outcome, PhraseAt, phrase_in_words};
pub use summary::{Summary, bars_in_words, phrases_in_words, placement_in_words};
pub use tally::{Count, Tally};

/// How questions are chosen.
#[derive(Debug)]
enum Order {
    /// At random, ignoring the history.
    Random(Drill),
    /// By the schedule: fading, weak and untouched items.
    Scheduled(Box<Schedule>),
}

/// A question that was asked.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The question.
    pub question: Question,
    /// Its item.
    pub item: Item,
    /// Why it was chosen; `None` in random order.
    pub reason: Option<Reason>,
    /// The phrase to learn before it is asked, if it has not been shown yet.
    pub lesson: Option<Lesson>,
    tune: usize,
    // Its index in the schedule.
    index: Option<usize>,
}

/// A judged answer, which can be taken back.
#[derive(Clone, Debug)]
struct Answered {
    asked: Asked,
    before: Option<Memory>,
    is_right: bool,
    streak: u32,
}

/// A session.
#[derive(Debug)]
pub struct Session {
    tunes: Vec<PracticeTune>,
    order: Order,
    recorder: Option<Recorder>,
    usual: BTreeMap<Kind, f64>,
    choice: SeededChoice,
    learns_first: bool,
    tally: Tally,
    // The memory of each item before its first answer of this session, by its index in the schedule.
    before: BTreeMap<usize, Option<Memory>>,
    wrong: BTreeMap<PhraseAt, u32>,
    last: Option<Answered>,
}

impl Session {
    /// A session over these tunes (at least one), with the history unless it is switched off.
    ///
    /// An unusable history does not stop the session: [`Session::news`] reports it.
    pub fn open(
        tunes: Vec<PracticeTune>,
        request: &SessionRequest,
        folder: &HistoryFolder,
        now: Moment,
    ) -> Result<Session, Failure> {
        let recorder = recorder(request, (folder, None), now)?;
        Session::new(tunes, request, recorder, now).map_err(nothing_to_ask)
    }

    /// A session over these tunes that asks these items only, with what is known of each. The history goes on being used
    /// if it is open.
    pub fn open_planned(
        tunes: Vec<PracticeTune>,
        items: Vec<(Item, Option<Memory>)>,
        request: &SessionRequest,
        history: (&HistoryFolder, Option<History>),
        now: Moment,
    ) -> Result<Session, Failure> {
        let recorder = recorder(request, history, now)?;
        Session::of(tunes, Some(items), request, recorder, now).map_err(nothing_to_ask)
    }

    /// A session over these tunes; at least one.
    ///
    /// # Errors
    ///
    /// When none of the kinds can be asked of any of the tunes.
    pub(crate) fn new(
        tunes: Vec<PracticeTune>,
        request: &SessionRequest,
        recorder: Option<Recorder>,
        now: Moment,
    ) -> Result<Session, NothingToAsk> {
        Session::of(tunes, None, request, recorder, now)
    }

    /// A session about some items, or about all that can be asked of the tunes.
    fn of(
        tunes: Vec<PracticeTune>,
        planned: Option<Vec<(Item, Option<Memory>)>>,
        request: &SessionRequest,
        mut recorder: Option<Recorder>,
        now: Moment,
    ) -> Result<Session, NothingToAsk> {
        let first = &tunes.first().ok_or(NothingToAsk)?.material;
        // Made first, so that nothing is recorded if no question is possible. Without a choice of positions, random
        // questions are asked where the schedule would begin; along a fingering, all the way.
        let placements = match request.everywhere || first.is_fingered() {
            true => first.placements(),
            false => &first.placements()[..first.placements().len().min(1)],
        };
        let random = Order::Random(Drill::new(first, &request.kinds, placements)?);
        let (model, remembered) = match &mut recorder {
            // What is known of planned items came with them.
            Some(recorder) if planned.is_some() => recorder.remembered(&[], now),
            Some(recorder) => recorder.remembered(&tunes, now),
            None => Default::default(),
        };
        let order = if request.is_random {
            random
        } else {
            let all = || {
                let of_tune =
                    |tune: &PracticeTune| Item::all(&tune.material, tune.entry.id, &request.kinds);
                let items = tunes.iter().flat_map(of_tune);
                items
                    .map(|item| (item, remembered.memories.get(&item).copied()))
                    .collect()
            };
            let items = planned.unwrap_or_else(all);
            let mut aim = request.aim();
            aim.untouched = aim.untouched.saturating_sub(remembered.first_asked_today);
            let along = tunes.iter().filter(|tune| tune.material.is_fingered());
            let schedule = along.fold(Schedule::new(items, model, aim), |schedule, tune| {
                schedule.along_one_way(tune.entry.id)
            });
            Order::Scheduled(Box::new(schedule))
        };
        Ok(Session {
            tunes,
            order,
            recorder,
            usual: remembered.usual_seconds,
            choice: SeededChoice::new(request.seed.unwrap_or_else(rand::random)),
            learns_first: !request.ask_at_once,
            tally: Tally::default(),
            before: BTreeMap::new(),
            wrong: BTreeMap::new(),
            last: None,
        })
    }

    /// News about recording for the player, given once.
    pub fn news(&mut self) -> Option<RecorderNews> {
        self.recorder.as_mut()?.news()
    }

    /// The tunes of the session.
    pub fn tunes(&self) -> &[PracticeTune] {
        &self.tunes
    }

    #[cfg(test)]
    pub(crate) fn into_tunes(self) -> Vec<PracticeTune> {
        self.tunes
    }

    /// The tune a question belongs to.
    pub fn tune(&self, asked: &Asked) -> &PracticeTune {
        &self.tunes[asked.tune]
    }

    /// The tally of the session.
    pub fn tally(&self) -> &Tally {
        &self.tally
    }

    /// How many items fade and how many untouched ones may still come, in scheduled order.
    pub fn ahead(&self, now: Moment) -> Option<(usize, usize)> {
        match &self.order {
            Order::Scheduled(schedule) => {
                Some((schedule.fading_count(now), schedule.untouched_count()))
            }
            Order::Random(_) => None,
        }
    }

    /// Whether the day's work is done: nothing fades, and the share of untouched items is used up.
    pub fn is_done(&self, now: Moment) -> bool {
        match &self.order {
            Order::Scheduled(schedule) => schedule.is_done(now),
            Order::Random(_) => false,
        }
    }

    /// The next question.
    pub fn next(&mut self, now: Moment) -> Option<Asked> {
        match &mut self.order {
            Order::Random(drill) => {
                let tune = &self.tunes[0];
                let question = drill.next(&tune.material, |count| self.choice.below(count))?;
                Some(Asked {
                    item: Item {
                        tune: tune.entry.id,
                        phrase: tune.material.phrase_of(question.note) as u32,
                        kind: question.kind(),
                        placement: question.placement,
                    },
                    question,
                    reason: None,
                    lesson: None,
                    tune: 0,
                    index: None,
                })
            }
            Order::Scheduled(schedule) => {
                let (index, reason) = schedule.next(now, |count| self.choice.below(count))?;
                let (item, _) = schedule.items()[index];
                let tune = self
                    .tunes
                    .iter()
                    .position(|tune| tune.entry.id == item.tune)?;
                let material = &self.tunes[tune].material;
                let question = item.question(material, |count| self.choice.below(count))?;
                let home = material.placements().first().copied();
                // A phrase that has just been shown would say which one is heard.
                // A lesson shows the melody in one position, which is not what an arrangement is asked for.
                let has_lesson = item.kind != Kind::PhraseByEar && !item.kind.is_of_arrangement();
                let lesson = match self.learns_first && has_lesson {
                    true => schedule.lesson(index, home),
                    false => None,
                };
                Some(Asked {
                    question,
                    item,
                    reason: Some(reason),
                    lesson,
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
    /// When it is not an answer; ask again, nothing is counted.
    pub fn read(&self, asked: &Asked, text: &str) -> Result<Answer, AnswerError> {
        asked
            .question
            .read(text, self.tune(asked).material.instrument())
    }

    /// Judges an answer and records it; `None` gives up. When this returns, the answer is on disk, or [`Session::news`]
    /// reports that it is not yet.
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
        let usual = self.usual.get(&asked.item.kind).copied();
        let grade = Grade::of(is_right, seconds, usual);
        let grade = match (&self.order, asked.index) {
            (Order::Scheduled(schedule), Some(index)) => schedule.grade(index, grade),
            _ => grade,
        };
        let note = material.notes()[asked.question.note];
        let degree = match &asked.question.task {
            // By ear it need not be the tune's own note.
            Task::Scale { pitch, key } => key.degree(pitch.class()),
            _ => note.degree,
        };
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
            degree: degree.to_string(),
            interval: next
                .and_then(|next| next.interval)
                .map(|interval| interval.to_string()),
            string: place
                .or(asked.question.shown_place())
                .map(|place| place.string.get()),
        };
        if let Some(recorder) = &mut self.recorder {
            recorder.record(&self.tunes, asked.tune, review);
        }
        let mut before = None;
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, asked.index) {
            before = schedule.items()[index].1;
            self.before.entry(index).or_insert(before);
            schedule.answered(index, grade, now);
        }
        if !is_right {
            *self.wrong.entry(phrase_at(asked)).or_default() += 1;
        }
        let streak = self.tally.streak;
        self.tally.add(&asked.item, is_right);
        self.last = Some(Answered {
            asked: asked.clone(),
            before,
            is_right,
            streak,
        });
        verdict
    }

    /// Whether any question may be by ear.
    pub fn asks_by_ear(&self) -> bool {
        match &self.order {
            Order::Random(drill) => drill.kinds().any(Kind::is_by_ear),
            Order::Scheduled(schedule) => {
                let mut items = schedule.items().iter();
                items.any(|(item, _)| item.kind.is_by_ear())
            }
        }
    }

    /// Asks nothing more by ear.
    pub fn leave_out_by_ear(&mut self) {
        match &mut self.order {
            Order::Random(drill) => drill.leave_out(Kind::is_by_ear),
            Order::Scheduled(schedule) => schedule.leave_out(Kind::is_by_ear),
        }
    }

    /// Takes the last answer back, as a slip of the key, and returns its question to be put again.
    pub fn take_back(&mut self) -> Option<Asked> {
        let answered = self.last.take()?;
        if let Some(recorder) = &mut self.recorder {
            recorder.take_back(&self.tunes);
        }
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, answered.asked.index) {
            schedule.put_back(index, answered.before);
        }
        if !answered.is_right
            && let Some(count) = self.wrong.get_mut(&phrase_at(&answered.asked))
        {
            *count -= 1;
        }
        self.tally
            .take_back(&answered.asked.item, answered.is_right, answered.streak);
        Some(Asked {
            lesson: None,
            ..answered.asked
        })
    }

    /// The summary of the session.
    pub fn summary(&self, now: Moment) -> Summary {
        let mut better: BTreeMap<PhraseAt, u32> = BTreeMap::new();
        let mut fades_next = None;
        let mut more = false;
        if let Order::Scheduled(schedule) = &self.order {
            fades_next = schedule.fades_next();
            more = schedule.has_untouched();
            let holds = |memory: Option<&Memory>| schedule.standing(memory, now) == Standing::Holds;
            for (index, before) in &self.before {
                let (item, after) = &schedule.items()[*index];
                let tune = self.tunes.iter().position(|it| it.entry.id == item.tune);
                if let (false, true, Some(tune)) =
                    (holds(before.as_ref()), holds(after.as_ref()), tune)
                {
                    *better
                        .entry((tune, item.phrase, item.placement))
                        .or_default() += 1;
                }
            }
        }
        let wrong = self.wrong.iter().filter(|(_, count)| **count > 0);
        let outcome = Outcome {
            tally: &self.tally,
            better: &better,
            wrong: &wrong.map(|(phrase, count)| (*phrase, *count)).collect(),
            fades_next,
            more,
        };
        let name = |(tune, phrase, placement): PhraseAt| {
            let it = &self.tunes[tune];
            let title = (self.tunes.len() > 1).then_some(it.entry.title.as_str());
            phrase_in_words(&it.material, title, phrase, placement)
        };
        Summary::new(&outcome, name, now)
    }

    /// Ends the session; returns how many answers could not be recorded, and why.
    pub fn end(&mut self) -> Option<(usize, Unkept)> {
        self.recorder.as_mut()?.end(&self.tunes)
    }
}

/// What records the answers; nothing when no history is wanted.
fn recorder(
    request: &SessionRequest,
    (folder, history): (&HistoryFolder, Option<History>),
    now: Moment,
) -> Result<Option<Recorder>, Failure> {
    if request.no_history {
        return Ok(None);
    }
    let entry = SessionEntry {
        key: rand::random(),
        at: now,
        request: request.clone(),
    };
    Ok(Some(Recorder::open(folder.path()?, history, entry)))
}

fn nothing_to_ask(error: NothingToAsk) -> Failure {
    Failure::could_not(
        error.to_string(),
        "ask for other kinds or positions, or see `neckline map` for where the tune lies",
    )
}

fn phrase_at(asked: &Asked) -> PhraseAt {
    (asked.tune, asked.item.phrase, asked.item.placement)
}

/// The answer to a question on the neck: its right places with their degrees, and the position of the hand.
///
/// A question about the melody alone is answered at the first placement the tune is practised in. Along a fingering the
/// hand is where the fingering has it, and at no one position when it shifts from one note to the next.
pub fn answer_on_the_neck(
    question: &Question,
    material: &PracticeMaterial,
) -> (Vec<NeckMark>, Option<Position>) {
    if let Task::Arranged(task) = &question.task {
        return (arranged_marks(question, task, material), None);
    }
    let placement = question
        .placement
        .or_else(|| material.placements().first().copied());
    let Some(placement) = placement else {
        return (Vec::new(), None);
    };
    let note = question.note;
    let notes = match &question.task {
        Task::Next { .. } => note + 1..note + 2,
        Task::Interval { .. } => note..note + 2,
        Task::Phrase { .. } => {
            let phrase = material.phrases().get(material.phrase_of(note));
            phrase.cloned().unwrap_or(note..note + 1)
        }
        // By ear it need not be the tune's own note, and then the tune has it nowhere.
        Task::Scale { pitch, .. } if material.notes()[note].note.pitch != *pitch => note..note,
        Task::Place { .. }
        | Task::Name { .. }
        | Task::Degree { .. }
        | Task::Scale { .. }
        | Task::Octave { .. }
        | Task::Arranged(_) => note..note + 1,
    };
    let fingered = |note| Some(material.fingered(note, placement)?.position);
    let mut positions: Vec<Position> = notes.clone().filter_map(fingered).collect();
    positions.dedup();
    let position = match positions[..] {
        [] => Some(placement.position),
        [position] => Some(position),
        _ => None,
    };
    let marks = notes.flat_map(|note| note_marks(material, note, placement));
    (marks.collect(), position)
}

/// What an arrangement has down: degrees of the chord, or the next note of the melody by its degree of the key.
fn arranged_marks(
    question: &Question,
    task: &ArrangedTask,
    material: &PracticeMaterial,
) -> Vec<NeckMark> {
    let mark = |place: Place, label: String| NeckMark {
        place,
        label,
        mark: NoteMark::default(),
    };
    match task {
        ArrangedTask::Line { right, .. } => {
            let next = material.notes().get(question.note + 1);
            let degree = next.map_or(String::new(), |it| it.degree.to_string());
            let places = right.iter();
            places.map(|place| mark(*place, degree.clone())).collect()
        }
        ArrangedTask::Under(it) | ArrangedTask::Stays(it) | ArrangedTask::LeftOut(it) => {
            let (pitch, place) = it.melody;
            let own = mark(place, it.chord.degree(pitch.class()).to_string());
            let under = it.places.iter();
            let under = under.map(|(place, degree)| mark(*place, degree.to_string()));
            under.chain([own]).collect()
        }
    }
}

/// A note at every place it has within reach of a placement, labelled with its degree.
pub fn note_marks(
    material: &PracticeMaterial,
    note: usize,
    placement: PlacementKey,
) -> Vec<NeckMark> {
    let Some(analysed) = material.notes().get(note) else {
        return Vec::new();
    };
    let mark = NoteMark::of(analysed.degree, analysed.membership);
    let places = material.shown_places(note, placement).into_iter();
    let marks = places.map(|place| NeckMark {
        place,
        label: analysed.degree.to_string(),
        mark,
    });
    marks.collect()
}
