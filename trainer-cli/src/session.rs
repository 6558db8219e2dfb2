//! A practice session: what is asked next, how an answer is judged and kept. It knows nothing of screens.

mod tally;

use std::collections::BTreeMap;

use fretlib::melody::Melody;
use fretlib::neck::Position;
use fretlib::practice::{
    Aim, Answer, Drill, Grade, Item, Kind, Material, Memory, MemoryModel, Moment, NothingToAsk,
    Question, Reason, Schedule, TuneId, Unclear, Verdict,
};
use fretlib::text::{NeckMark, NoteMark};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;

use crate::history::{History, HistoryError, Kept, Review, Shelf, TuneEntry};

pub use tally::{Count, Tally};

/// A tune that is practised in a session.
#[derive(Debug)]
pub struct Deck {
    /// What is asked about.
    pub material: Material,
    /// How the history knows the tune.
    pub entry: TuneEntry,
}

impl Deck {
    /// A material, with the identity of the whole tune it is taken from.
    pub fn new(material: Material, whole: &Melody, arguments: Vec<String>) -> Deck {
        let entry = TuneEntry {
            id: TuneId::of(whole),
            title: whole.title().to_string(),
            arguments,
        };
        Deck { material, entry }
    }
}

/// How questions are chosen.
#[derive(Debug)]
enum Order {
    /// At random, the history notwithstanding.
    Random(Drill),
    /// By what is due, weak and new.
    Scheduled(Box<Schedule>),
}

/// Where answers are kept.
#[derive(Debug)]
enum Keeper {
    /// In the history.
    Kept(Box<History>),
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
    deck: usize,
    // Its index in the schedule.
    index: Option<usize>,
}

/// An answer that was judged, and can be taken back.
#[derive(Clone, Debug)]
struct Given {
    asked: Asked,
    before: Option<Memory>,
    kept: Option<Kept>,
    is_right: bool,
    streak: u32,
}

/// What a session is made with.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The kinds of question.
    pub kinds: Vec<Kind>,
    /// What the schedule aims at.
    pub aim: Aim,
    /// Choose at random, whatever is due.
    pub random: bool,
    /// Where the random choices begin.
    pub seed: u64,
}

/// A session.
#[derive(Debug)]
pub struct Session {
    decks: Vec<Deck>,
    shelves: Vec<Option<Shelf>>,
    order: Order,
    keeper: Keeper,
    model: MemoryModel,
    usual: BTreeMap<Kind, Option<f64>>,
    random: ChaCha8Rng,
    tally: Tally,
    last: Option<Given>,
    trouble: Option<HistoryError>,
}

impl Session {
    /// A session over these tunes; at least one.
    ///
    /// A history that cannot be used is no reason not to play: [`Session::trouble`] says once what is wrong with it.
    ///
    /// # Errors
    ///
    /// When none of the kinds can be asked of any of the tunes.
    pub fn new(
        decks: Vec<Deck>,
        plan: &Plan,
        history: Option<Result<History, HistoryError>>,
    ) -> Result<Session, NothingToAsk> {
        let (keeper, trouble) = match history {
            Some(Ok(history)) => (Keeper::Kept(Box::new(history)), None),
            Some(Err(error)) => (Keeper::Nowhere, Some(error)),
            None => (Keeper::Nowhere, None),
        };
        let first = &decks.first().ok_or(NothingToAsk)?.material;
        let mut session = Session {
            shelves: vec![None; decks.len()],
            order: Order::Random(Drill::new(first, &plan.kinds)?),
            decks,
            keeper,
            model: MemoryModel::default(),
            usual: BTreeMap::new(),
            random: ChaCha8Rng::seed_from_u64(plan.seed),
            tally: Tally::default(),
            last: None,
            trouble,
        };
        let known = session.open_shelves().unwrap_or_else(|error| {
            session.give_up_keeping(error);
            BTreeMap::new()
        });
        if !plan.random {
            let mut items: Vec<(Item, Option<Memory>)> = Vec::new();
            for deck in &session.decks {
                for item in Item::all(&deck.material, deck.entry.id, &plan.kinds) {
                    items.push((item, known.get(&item).copied()));
                }
            }
            let schedule = Schedule::new(items, session.model.clone(), plan.aim);
            session.order = Order::Scheduled(Box::new(schedule));
        }
        Ok(session)
    }

    /// Finds the tunes in the history, and reads from it what is remembered and how fast this player usually is.
    fn open_shelves(&mut self) -> Result<BTreeMap<Item, Memory>, HistoryError> {
        let mut known = BTreeMap::new();
        let Keeper::Kept(history) = &mut self.keeper else {
            return Ok(known);
        };
        self.model = history.model()?;
        for (deck, shelf) in self.decks.iter().zip(&mut self.shelves) {
            let found = history.shelf(&deck.entry, deck.material.instrument())?;
            *shelf = Some(found);
            known.extend(history.memories(found, deck.entry.id)?);
        }
        for kind in Kind::ALL {
            self.usual.insert(kind, history.usual_seconds(kind)?);
        }
        Ok(known)
    }

    fn give_up_keeping(&mut self, error: HistoryError) {
        self.keeper = Keeper::Nowhere;
        self.trouble.get_or_insert(error);
    }

    /// Why answers are no longer kept; said once.
    pub fn trouble(&mut self) -> Option<HistoryError> {
        self.trouble.take()
    }

    /// The tunes of the session.
    pub fn decks(&self) -> &[Deck] {
        &self.decks
    }

    /// The tune a question belongs to.
    pub fn deck(&self, asked: &Asked) -> &Deck {
        &self.decks[asked.deck]
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
                let deck = &self.decks[0];
                let question = drill.next(&deck.material, &mut self.random)?;
                Some(Asked {
                    item: Item {
                        tune: deck.entry.id,
                        phrase: deck.material.phrase_of(question.note) as u32,
                        kind: question.kind(),
                        spot: question.spot,
                    },
                    question,
                    reason: None,
                    deck: 0,
                    index: None,
                })
            }
            Order::Scheduled(schedule) => {
                let (index, reason) = schedule.next(now, &mut self.random)?;
                let (item, _) = schedule.items()[index];
                let deck = self
                    .decks
                    .iter()
                    .position(|deck| deck.entry.id == item.tune)?;
                let question = item.question(&self.decks[deck].material, &mut self.random)?;
                Some(Asked {
                    question,
                    item,
                    reason: Some(reason),
                    deck,
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
            .read(text, self.deck(asked).material.instrument())
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
        let material = &self.decks[asked.deck].material;
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
        let kept = self.keep(asked.deck, &review);
        let mut before = None;
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, asked.index) {
            before = schedule.items()[index].1;
            schedule.answered(index, grade, now);
        }
        let streak = self.tally.streak;
        self.tally.add(&asked.item, is_right);
        self.last = Some(Given {
            asked: asked.clone(),
            before,
            kept,
            is_right,
            streak,
        });
        verdict
    }

    fn keep(&mut self, deck: usize, review: &Review) -> Option<Kept> {
        let (Keeper::Kept(history), Some(shelf)) = (&mut self.keeper, self.shelves[deck]) else {
            return None;
        };
        match history.keep(shelf, review, &self.model) {
            Ok(kept) => Some(kept),
            Err(error) => {
                self.give_up_keeping(error);
                None
            }
        }
    }

    /// Takes the last answer back, as a slip of the key, and returns its question to be put again.
    pub fn take_back(&mut self) -> Option<Asked> {
        let given = self.last.take()?;
        if let (Keeper::Kept(history), Some(kept)) = (&mut self.keeper, &given.kept)
            && let Err(error) = history.take_back(kept)
        {
            self.give_up_keeping(error);
        }
        if let (Order::Scheduled(schedule), Some(index)) = (&mut self.order, given.asked.index) {
            schedule.put_back(index, given.before);
        }
        self.tally
            .take_back(&given.asked.item, given.is_right, given.streak);
        Some(given.asked)
    }

    /// Ends the session: fits the memory model to the player when there is enough to learn from.
    pub fn end(&mut self, now: Moment) {
        if let Keeper::Kept(history) = &mut self.keeper
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
