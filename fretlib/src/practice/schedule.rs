//! Which item to ask next: fading ones, weak ones, and a few that are untouched.

use std::collections::{BTreeSet, HashMap, HashSet, VecDeque};

use super::item::{Item, TuneId};
use super::kind::Kind;
use super::lesson::Lesson;
use super::memory_model::{Grade, Memory, MemoryModel, Moment, Standing};
use super::placement_key::PlacementKey;
use super::session_aim::{Interleaving, SessionAim};

/// Why an item is asked.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Reason {
    /// It was answered wrong a few questions ago.
    Missed,
    /// It fades: it is to be played again today.
    Fading,
    /// It has not been asked before.
    Untouched,
    /// It holds, but is among the weakest.
    Weak,
}

/// The items of a session in the order of their need.
///
/// Choosing takes a few look-ups in ordered sets, however many items there are.
///
/// ```
/// use fretlib::practice::{Grade, Item, Kind, MemoryModel, Moment, Reason, Schedule, SessionAim, TuneId};
///
/// // Two phrases of a tune, asked for the degrees of their notes.
/// let tune = TuneId::from_bytes([7; 16]);
/// let item = |phrase| Item { tune, phrase, kind: Kind::Degree, placement: None };
/// let items = vec![(item(0), None), (item(1), None)];
/// let mut schedule = Schedule::new(items, MemoryModel::default(), SessionAim::default());
///
/// let on = |day: i32| Moment { seconds: i64::from(day) * 86_400, day };
/// let pick = |_count: usize| 0; // the place for randomness
/// let (first, reason) = schedule.next(on(0), pick).expect("there is something to ask");
/// assert_eq!((first, reason), (0, Reason::Untouched));
/// assert!(schedule.lesson(first, None).is_some_and(|lesson| lesson.is_untouched));
/// schedule.answered(first, Grade::Right, on(0));
///
/// let (second, _) = schedule.next(on(0), pick).expect("there is more");
/// schedule.answered(second, Grade::Right, on(0));
/// assert!(schedule.is_done(on(0))); // nothing fades, nothing is untouched
/// assert!(!schedule.is_done(on(5))); // five days later both fade
/// ```
#[derive(Clone, Debug)]
pub struct Schedule {
    model: MemoryModel,
    aim: SessionAim,
    items: Vec<(Item, Option<Memory>)>,
    // When each item begins to fade; those in `missed` are taken out until they come back.
    fading: BTreeSet<(i64, usize)>,
    // Items that were asked, by stability; positive floats order as their bits.
    weak: BTreeSet<(u32, usize)>,
    untouched: VecDeque<usize>,
    untouched_left: usize,
    // Items of a phrase and kind that wait until it has been answered right at its first placement.
    waiting: HashMap<(TuneId, u32, Kind), Vec<usize>>,
    // Tunes played along one way, whose phrases lie in several placements.
    along: HashSet<TuneId>,
    // Phrases that were asked or shown, and the placements where they were.
    shown: HashSet<(TuneId, u32, Option<PlacementKey>)>,
    // Untouched phrases that were shown in this session.
    learned: HashSet<(TuneId, u32)>,
    // Items answered wrong, and after how many questions in all they come back.
    missed: VecDeque<(usize, usize)>,
    asked: usize,
    recent: VecDeque<usize>,
}

/// A missed item comes back after this many other questions: soon, but not while it still rings in the ear. Chosen by
/// ear.
const QUESTIONS_BEFORE_A_MISSED_ONE: usize = 4;
/// An item is not asked twice within this many questions.
const RECENT: usize = 3;
/// With more than this many fading items, no untouched ones are asked. Chosen by the simulation in
/// `examples/sixty_days.rs`.
const FULL: usize = 30;
/// Mixed questions are drawn from this many of the most urgent items.
const PRESSING: usize = 8;

impl Schedule {
    /// A schedule of these items, in the order in which they are met, with the memory of each.
    pub fn new(
        items: Vec<(Item, Option<Memory>)>,
        model: MemoryModel,
        aim: SessionAim,
    ) -> Schedule {
        let mut met: HashMap<(TuneId, u32, Kind), bool> = HashMap::new();
        for (item, memory) in &items {
            *met.entry(group(item)).or_default() |= memory.is_some();
        }
        let mut fading = Vec::new();
        let mut weak = Vec::new();
        let mut untouched = VecDeque::new();
        let mut shown = HashSet::new();
        let mut waiting: HashMap<_, Vec<usize>> = HashMap::new();
        for (index, (item, memory)) in items.iter().enumerate() {
            match memory {
                Some(memory) => {
                    fading.push((model.fades_at(memory, aim.retention), index));
                    shown.insert((item.tune, item.phrase, item.placement));
                    shown.insert((item.tune, item.phrase, None));
                    weak.push((memory.stability.to_bits(), index));
                }
                None => match met.get_mut(&group(item)) {
                    Some(met) if !*met => {
                        *met = true;
                        waiting.insert(group(item), Vec::new());
                        untouched.push_back(index);
                    }
                    _ => match waiting.get_mut(&group(item)) {
                        Some(waiting) => waiting.push(index),
                        None => untouched.push_back(index),
                    },
                },
            }
        }
        Schedule {
            model,
            aim,
            items,
            fading: fading.into_iter().collect(),
            weak: weak.into_iter().collect(),
            untouched,
            untouched_left: aim.untouched,
            waiting,
            along: HashSet::new(),
            shown,
            learned: HashSet::new(),
            missed: VecDeque::new(),
            asked: 0,
            recent: VecDeque::new(),
        }
    }

    /// This tune is played along one way, the player's own fingering.
    ///
    /// Other placements of a phrase are usually other ways to play it, and wait until the first one was answered right. Along
    /// one way they are parts of the phrase: it is shown once and met whole.
    #[must_use]
    pub fn along_one_way(mut self, tune: TuneId) -> Schedule {
        let of_tune = |group: &(TuneId, u32, Kind)| group.0 == tune;
        let met = self.waiting.extract_if(|group, _| of_tune(group));
        self.untouched.extend(met.flat_map(|(_, items)| items));
        self.untouched.make_contiguous().sort_unstable();
        self.along.insert(tune);
        self
    }

    /// How many items fade at a moment, to be played again today.
    pub fn fading_count(&self, now: Moment) -> usize {
        self.fading.range(..=(now.seconds, usize::MAX)).count() + self.missed.len()
    }

    /// How many untouched items this session may still ask.
    pub fn untouched_count(&self) -> usize {
        self.untouched_left.min(self.untouched.len())
    }

    /// When the next item begins to fade, in seconds since 1970: at once while a missed item has not been answered
    /// right.
    pub fn fades_next(&self) -> Option<i64> {
        let missed = self
            .missed
            .iter()
            .filter_map(|(index, _)| self.items[*index].1);
        let missed = missed.map(|memory| memory.last.seconds);
        let first = self.fading.first().map(|(at, _)| *at);
        missed.chain(first).min()
    }

    /// Whether anything is untouched, today's share or not.
    pub fn has_untouched(&self) -> bool {
        !self.untouched.is_empty() || !self.waiting.is_empty()
    }

    /// The standing of an item with this memory.
    pub fn standing(&self, memory: Option<&Memory>, now: Moment) -> Standing {
        self.model.standing(memory, now, self.aim.retention)
    }

    /// Whether the day's work is done: nothing fades, and the share of untouched items is used up.
    pub fn is_done(&self, now: Moment) -> bool {
        self.fading_count(now) == 0 && self.untouched_count() == 0
    }

    /// The lesson before this item, given once: its phrase, if it was never asked at the item's placement. Along one way it is
    /// shown with all its placements.
    ///
    /// `home` is the placement to show for items about the melody alone.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn lesson(&mut self, index: usize, home: Option<PlacementKey>) -> Option<Lesson> {
        let (item, memory) = self.items[index];
        let key = (item.tune, item.phrase, item.placement);
        let is_untouched = self.shown.insert((item.tune, item.phrase, None));
        let is_new_here = self.shown.insert(key) || item.placement.is_none() && is_untouched;
        if memory.is_some() || !is_new_here {
            return None;
        }
        let placement = item.placement.or(home);
        self.shown.insert((item.tune, item.phrase, placement));
        if self.along.contains(&item.tune) {
            let items = self.items.iter().map(|(item, _)| item);
            let phrase = items.filter(|it| (it.tune, it.phrase) == (item.tune, item.phrase));
            let shown = phrase.map(|it| (it.tune, it.phrase, it.placement));
            self.shown.extend(shown);
        }
        self.learned.insert((item.tune, item.phrase));
        Some(Lesson {
            phrase: item.phrase,
            placement,
            is_untouched,
        })
    }

    /// Its memory model.
    pub fn model(&self) -> &MemoryModel {
        &self.model
    }

    /// The items with their memories, in the order given.
    pub fn items(&self) -> &[(Item, Option<Memory>)] {
        &self.items
    }

    /// The next item to ask, as its index, and why; `None` when there are no items.
    ///
    /// Missed items come first. Then fading items, with one question in five about an untouched one unless many fade;
    /// then untouched items; then the weakest. `pick(n)` chooses among `n` and must be below `n`.
    pub fn next(
        &mut self,
        now: Moment,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Option<(usize, Reason)> {
        let choice = self.choose(now, &mut pick)?;
        self.asked += 1;
        self.recent.push_back(choice.0);
        if self.recent.len() > RECENT {
            self.recent.pop_front();
        }
        Some(choice)
    }

    fn choose(
        &mut self,
        now: Moment,
        pick: &mut impl FnMut(usize) -> usize,
    ) -> Option<(usize, Reason)> {
        if let Some((index, ready)) = self.missed.front().copied()
            && ready <= self.asked
        {
            self.missed.pop_front();
            return Some((index, Reason::Missed));
        }
        let has_room = self
            .fading
            .range(..=(now.seconds, usize::MAX))
            .nth(FULL)
            .is_none();
        let bring_untouched = has_room && self.untouched_count() > 0 && pick(5) == 0;
        if !bring_untouched && let Some(index) = self.pressing(now, pick) {
            return Some((index, Reason::Fading));
        }
        if self.untouched_left > 0
            && let Some(index) = self.take_untouched(pick)
        {
            self.untouched_left -= 1;
            return Some((index, Reason::Untouched));
        }
        if let Some(index) = self.pressing(now, pick) {
            return Some((index, Reason::Fading));
        }
        if let Some((index, _)) = self.missed.pop_front() {
            return Some((index, Reason::Missed));
        }
        let weak: Vec<usize> = self
            .weak
            .iter()
            .map(|(_, index)| *index)
            .filter(|index| !self.recent.contains(index))
            .take(PRESSING)
            .collect();
        if let Some(index) = weak.get(pick(weak.len())) {
            return Some((*index, Reason::Weak));
        }
        let any = self
            .take_untouched(pick)
            .map(|index| (index, Reason::Untouched));
        any.or_else(|| Some((*self.recent.back()?, Reason::Weak)))
    }

    /// One of the fading items: of the current block, or one of those that began to fade last.
    ///
    /// Those that began to fade last are the likeliest to be still known, and gain the most; long faded ones are as
    /// good as untouched and can wait. When all fading items are asked anyway, the order makes no difference.
    fn pressing(&self, now: Moment, pick: &mut impl FnMut(usize) -> usize) -> Option<usize> {
        let fading = || {
            self.fading
                .range(..=(now.seconds, usize::MAX))
                .rev()
                .map(|(_, index)| *index)
                .filter(|index| !self.recent.contains(index))
        };
        if self.aim.mix == Interleaving::Blocks
            && let Some(last) = self.recent.back()
        {
            let block = |index: &usize| self.is_same_block(*index, *last);
            // A block is looked for among the few hundred most urgent items, so that a choice stays quick.
            if let Some(index) = fading().take(400).find(block) {
                return Some(index);
            }
            return fading().next();
        }
        let pressing: Vec<usize> = fading().take(PRESSING).collect();
        pressing.get(pick(pressing.len())).copied()
    }

    fn is_same_block(&self, one: usize, other: usize) -> bool {
        let (one, other) = (&self.items[one].0, &self.items[other].0);
        (one.tune, one.phrase, one.placement) == (other.tune, other.phrase, other.placement)
    }

    fn take_untouched(&mut self, pick: &mut impl FnMut(usize) -> usize) -> Option<usize> {
        let at = match self.aim.mix {
            Interleaving::Growing | Interleaving::Blocks => 0,
            Interleaving::Mixed => pick(self.untouched.len().min(PRESSING)),
        };
        self.untouched.remove(at)
    }

    /// The grade of an answer to an item: the first right answer just after a lesson is [`Grade::JustShown`], so that a
    /// phrase learned today is played again tomorrow.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn grade(&self, index: usize, grade: Grade) -> Grade {
        let (item, memory) = self.items[index];
        let is_fresh = memory.is_none() && self.learned.contains(&(item.tune, item.phrase));
        if is_fresh {
            grade.min(Grade::JustShown)
        } else {
            grade
        }
    }

    /// Asks no more of these kinds.
    pub fn leave_out(&mut self, is_left_out: impl Fn(Kind) -> bool) {
        let items = &self.items;
        let stays = |index: &usize| !is_left_out(items[*index].0.kind);
        self.fading.retain(|(_, index)| stays(index));
        self.weak.retain(|(_, index)| stays(index));
        self.missed.retain(|(index, _)| stays(index));
        self.untouched.retain(stays);
        self.recent.retain(stays);
        self.waiting.retain(|(_, _, kind), _| !is_left_out(*kind));
    }

    /// Records the answer to an item, and returns its memory.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn answered(&mut self, index: usize, grade: Grade, now: Moment) -> Memory {
        let (item, before) = self.items[index];
        if let Some(before) = before {
            self.fading
                .remove(&(self.model.fades_at(&before, self.aim.retention), index));
            self.weak.remove(&(before.stability.to_bits(), index));
        }
        self.missed.retain(|(missed, _)| *missed != index);
        let after = self.model.review(before, grade, now);
        self.items[index].1 = Some(after);
        self.weak.insert((after.stability.to_bits(), index));
        match grade {
            Grade::Wrong => self
                .missed
                .push_back((index, self.asked + QUESTIONS_BEFORE_A_MISSED_ONE)),
            Grade::JustShown | Grade::Slow | Grade::Right => {
                let fades_at = self.model.fades_at(&after, self.aim.retention);
                self.fading.insert((fades_at, index));
                // Answered right at its first placement, so now it may come anywhere.
                let others = self.waiting.remove(&group(&item)).unwrap_or_default();
                self.untouched.extend(others);
            }
        }
        after
    }

    /// Undoes an answer typed by mistake: `before` is the memory as it was. The item should be asked again at once.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn put_back(&mut self, index: usize, before: Option<Memory>) {
        if let Some(after) = self.items[index].1 {
            self.fading
                .remove(&(self.model.fades_at(&after, self.aim.retention), index));
            self.weak.remove(&(after.stability.to_bits(), index));
        }
        self.missed.retain(|(missed, _)| *missed != index);
        self.items[index].1 = before;
        if let Some(before) = before {
            self.fading
                .insert((self.model.fades_at(&before, self.aim.retention), index));
            self.weak.insert((before.stability.to_bits(), index));
        }
    }
}

fn group(item: &Item) -> (TuneId, u32, Kind) {
    (item.tune, item.phrase, item.kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::neck::Position;
    use crate::practice::properties::{on, seeded};
    use crate::theory::Octave;

    fn item(phrase: u32, position: u8) -> Item {
        Item {
            tune: TuneId::from_bytes([0; 16]),
            phrase,
            kind: Kind::Place,
            placement: Some(PlacementKey {
                position: Position::new(position).unwrap(),
                octave: Octave::WRITTEN,
            }),
        }
    }

    fn items(phrases: u32, positions: u8) -> Vec<(Item, Option<Memory>)> {
        (0..phrases)
            .flat_map(|phrase| (1..=positions).map(move |position| (item(phrase, position), None)))
            .collect()
    }

    fn memory(stability: f32, day: i32) -> Option<Memory> {
        Some(Memory {
            stability,
            difficulty: 5.0,
            last: on(day),
            is_right: true,
        })
    }

    #[test]
    fn a_phrase_is_met_at_one_placement_and_then_anywhere() {
        let mut schedule =
            Schedule::new(items(2, 3), MemoryModel::default(), SessionAim::default());
        let mut pick = seeded(1);
        let mut met = Vec::new();
        for _ in 0..6 {
            let (index, reason) = schedule.next(on(0), &mut pick).unwrap();
            assert_eq!(reason, Reason::Untouched);
            met.push(index);
            schedule.answered(index, Grade::Right, on(0));
        }
        // Both phrases at position I (items 0 and 3) before either is asked elsewhere.
        assert_eq!(met, [0, 3, 1, 2, 4, 5]);
    }

    #[test]
    fn along_one_way_a_phrase_is_shown_once_and_met_whole() {
        let mut schedule =
            Schedule::new(items(2, 2), MemoryModel::default(), SessionAim::default())
                .along_one_way(item(0, 1).tune);
        let mut pick = seeded(1);
        let mut met = Vec::new();
        for _ in 0..4 {
            let (index, _) = schedule.next(on(0), &mut pick).unwrap();
            met.push((index, schedule.lesson(index, None).is_some()));
            schedule.answered(index, Grade::Wrong, on(0));
        }
        assert_eq!(met, [(0, true), (1, false), (2, true), (3, false)]);
    }

    #[test]
    fn while_it_is_missed_a_phrase_stays_at_its_placement() {
        let mut schedule =
            Schedule::new(items(1, 3), MemoryModel::default(), SessionAim::default());
        let mut pick = seeded(1);
        for _ in 0..10 {
            let (index, _) = schedule.next(on(0), &mut pick).unwrap();
            assert_eq!(index, 0);
            schedule.answered(index, Grade::Wrong, on(0));
        }
    }

    #[test]
    fn a_missed_item_comes_back_after_a_few_others() {
        let known = (1..=12).map(|position| (item(0, position), memory(1.0, 0)));
        let mut schedule = Schedule::new(
            known.collect(),
            MemoryModel::default(),
            SessionAim::default(),
        );
        let mut pick = seeded(5);
        let (missed, reason) = schedule.next(on(9), &mut pick).unwrap();
        assert_eq!(reason, Reason::Fading);
        schedule.answered(missed, Grade::Wrong, on(9));
        let mut later = Vec::new();
        for _ in 0..5 {
            let (index, _) = schedule.next(on(9), &mut pick).unwrap();
            schedule.answered(index, Grade::Right, on(9));
            later.push(index);
        }
        assert_eq!(later.iter().position(|index| *index == missed), Some(4));
    }

    #[test]
    fn kinds_that_are_left_out_come_no_more() {
        let mut items = Vec::new();
        for (number, kind) in Kind::ALL.into_iter().enumerate() {
            let known = memory(1.0, 0).filter(|_| number % 2 == 0);
            items.push((Item { kind, ..item(0, 1) }, known));
        }
        let mut schedule = Schedule::new(items, MemoryModel::default(), SessionAim::default());
        let mut pick = seeded(2);
        for grade in [Grade::Wrong, Grade::Right, Grade::Wrong] {
            let (index, _) = schedule.next(on(9), &mut pick).unwrap();
            schedule.answered(index, grade, on(9));
        }
        schedule.leave_out(Kind::is_by_ear);
        for _ in 0..40 {
            let (index, _) = schedule.next(on(9), &mut pick).unwrap();
            assert!(!schedule.items()[index].0.kind.is_by_ear());
            schedule.answered(index, Grade::Right, on(9));
        }
        schedule.leave_out(|_| true);
        assert_eq!(schedule.next(on(9), &mut pick), None);
    }

    #[test]
    fn blocks_stay_with_a_phrase_at_its_placement() {
        let mut known = Vec::new();
        for phrase in 0..3 {
            for kind in Kind::ALL {
                let item = Item {
                    kind,
                    ..item(phrase, 5)
                };
                known.push((item, memory(1.0, 0)));
            }
        }
        let aim = SessionAim {
            mix: Interleaving::Blocks,
            ..SessionAim::default()
        };
        let mut schedule = Schedule::new(known, MemoryModel::default(), aim);
        let mut pick = seeded(5);
        let mut phrases = Vec::new();
        for _ in 0..3 * Kind::ALL.len() {
            let (index, _) = schedule.next(on(20), &mut pick).unwrap();
            schedule.answered(index, Grade::Right, on(20));
            phrases.push(schedule.items()[index].0.phrase);
        }
        phrases.dedup();
        assert_eq!(phrases.len(), 3, "{phrases:?}");
    }

    #[test]
    fn a_slip_of_the_key_leaves_no_trace() {
        let known = vec![(item(0, 1), memory(3.0, 0)), (item(0, 2), None)];
        let mut schedule =
            Schedule::new(known.clone(), MemoryModel::default(), SessionAim::default());
        for (index, (_, before)) in known.iter().enumerate() {
            schedule.answered(index, Grade::Wrong, on(4));
            schedule.put_back(index, *before);
        }
        assert_eq!(schedule.items(), known);
        assert_eq!(schedule.fading_count(on(4)), 1);
        assert!(schedule.missed.is_empty());
    }

    quickcheck::quickcheck! {
        fn there_is_always_something_to_ask(stabilities: Vec<Option<u8>>, answers: Vec<u8>, seed: u64) -> bool {
            let items: Vec<_> = stabilities
                .iter()
                .zip(0..)
                .map(|(stability, phrase)| {
                    let memory = stability.and_then(|days| memory(f32::from(days) + 0.1, 0));
                    (item(phrase / 3, phrase as u8 % 3 + 1), memory)
                })
                .collect();
            let is_empty = items.is_empty();
            let mut schedule = Schedule::new(items, MemoryModel::default(), SessionAim::default());
            let mut pick = seeded(seed);
            answers.iter().zip(0..).all(|(answer, day)| {
                let next = schedule.next(on(day / 5), &mut pick);
                if let Some((index, _)) = next {
                    let grade = [Grade::Wrong, Grade::Slow, Grade::Right][*answer as usize % 3];
                    schedule.answered(index, grade, on(day / 5));
                }
                next.is_none() == is_empty
            })
        }
    }
}
