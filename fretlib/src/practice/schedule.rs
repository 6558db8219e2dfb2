//! Which item to ask next: what is due, what is weak, a little that is new.

use std::collections::{BTreeSet, HashMap, VecDeque};

use rand::Rng;

use super::aim::{Aim, Mix};
use super::drill::below;
use super::item::{Item, TuneId};
use super::kind::Kind;
use super::memory::{Grade, Memory, MemoryModel, Moment};

/// Why an item is asked.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Reason {
    /// It was answered wrong a few questions ago.
    Missed,
    /// Its recall has fallen below the aim.
    Due,
    /// It has not been asked before.
    New,
    /// It is not due, but among the weakest.
    Weak,
}

/// The items of a session in the order of their need.
///
/// Choosing costs a few steps down ordered sets, however many items there are.
#[derive(Clone, Debug)]
pub struct Schedule {
    model: MemoryModel,
    aim: Aim,
    items: Vec<(Item, Option<Memory>)>,
    // When each remembered item is due; those in `missed` and asked just now are taken out until they come back.
    due: BTreeSet<(i64, usize)>,
    // Remembered items by stability; positive floats order as their bits.
    weak: BTreeSet<(u32, usize)>,
    new: VecDeque<usize>,
    new_left: usize,
    // Items of a phrase and kind that wait until it has been answered right at its first spot.
    waiting: HashMap<(TuneId, u32, Kind), Vec<usize>>,
    // Items answered wrong, and after how many questions in all they come back.
    missed: VecDeque<(usize, usize)>,
    asked: usize,
    recent: VecDeque<usize>,
}

/// A missed item comes back after this many other questions: soon, but not out of the ear. Chosen by ear.
const QUESTIONS_BEFORE_A_MISSED_ONE: usize = 4;
/// An item is not asked twice within this many questions.
const RECENT: usize = 3;
/// With more than this many due nothing new is brought: there is enough to do. Chosen by the simulation in
/// `examples/sixty_days.rs`.
const FULL: usize = 30;
/// Mixed questions are drawn from this many of the most pressing.
const PRESSING: usize = 8;

impl Schedule {
    /// A schedule of these items, in the order they are to be met, with what is remembered of each.
    pub fn new(items: Vec<(Item, Option<Memory>)>, model: MemoryModel, aim: Aim) -> Schedule {
        let mut met: HashMap<(TuneId, u32, Kind), bool> = HashMap::new();
        for (item, memory) in &items {
            *met.entry(group(item)).or_default() |= memory.is_some();
        }
        let mut due = Vec::new();
        let mut weak = Vec::new();
        let mut new = VecDeque::new();
        let mut waiting: HashMap<_, Vec<usize>> = HashMap::new();
        for (index, (item, memory)) in items.iter().enumerate() {
            match memory {
                Some(memory) => {
                    due.push((model.due(memory, aim.retention), index));
                    weak.push((memory.stability.to_bits(), index));
                }
                None => match met.get_mut(&group(item)) {
                    Some(met) if !*met => {
                        *met = true;
                        waiting.insert(group(item), Vec::new());
                        new.push_back(index);
                    }
                    _ => match waiting.get_mut(&group(item)) {
                        Some(waiting) => waiting.push(index),
                        None => new.push_back(index),
                    },
                },
            }
        }
        Schedule {
            model,
            aim,
            items,
            due: due.into_iter().collect(),
            weak: weak.into_iter().collect(),
            new,
            new_left: aim.new_items,
            waiting,
            missed: VecDeque::new(),
            asked: 0,
            recent: VecDeque::new(),
        }
    }

    /// How many items are due at a moment.
    pub fn due_count(&self, now: Moment) -> usize {
        self.due.range(..=(now.seconds, usize::MAX)).count()
    }

    /// How many new items this session may still bring.
    pub fn new_count(&self) -> usize {
        self.new_left.min(self.new.len())
    }

    /// The items with what is remembered of each, in the order given.
    pub fn items(&self) -> &[(Item, Option<Memory>)] {
        &self.items
    }

    /// The next item to ask, as its index, and why; `None` when there are no items.
    ///
    /// Missed items come first, then what is due with one question in five for something new unless much is due, then new
    /// items, then the weakest.
    pub fn next(&mut self, now: Moment, random: &mut impl Rng) -> Option<(usize, Reason)> {
        let choice = self.choose(now, random)?;
        self.asked += 1;
        self.recent.push_back(choice.0);
        if self.recent.len() > RECENT {
            self.recent.pop_front();
        }
        Some(choice)
    }

    fn choose(&mut self, now: Moment, random: &mut impl Rng) -> Option<(usize, Reason)> {
        if let Some((index, ready)) = self.missed.front().copied()
            && ready <= self.asked
        {
            self.missed.pop_front();
            return Some((index, Reason::Missed));
        }
        let has_room = self
            .due
            .range(..=(now.seconds, usize::MAX))
            .nth(FULL)
            .is_none();
        let bring_new = has_room && self.new_count() > 0 && below(random, 5) == 0;
        if !bring_new && let Some(index) = self.pressing(now, random) {
            return Some((index, Reason::Due));
        }
        if self.new_left > 0
            && let Some(index) = self.take_new(random)
        {
            self.new_left -= 1;
            return Some((index, Reason::New));
        }
        if let Some(index) = self.pressing(now, random) {
            return Some((index, Reason::Due));
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
        if let Some(index) = weak.get(below(random, weak.len())) {
            return Some((*index, Reason::Weak));
        }
        let any = self.take_new(random).map(|index| (index, Reason::New));
        any.or_else(|| Some((*self.recent.back()?, Reason::Weak)))
    }

    /// One of the items that are due: of the block at hand, or one of those that became due last.
    ///
    /// Those that became due last are the likeliest to be still remembered, and then gain the most; what has long been
    /// overdue is as good as new, and waits. When all that is due is asked anyway the order makes no difference.
    fn pressing(&self, now: Moment, random: &mut impl Rng) -> Option<usize> {
        let due = || {
            self.due
                .range(..=(now.seconds, usize::MAX))
                .rev()
                .map(|(_, index)| *index)
                .filter(|index| !self.recent.contains(index))
        };
        if self.aim.mix == Mix::Blocks
            && let Some(last) = self.recent.back()
        {
            let block = |index: &usize| self.is_same_block(*index, *last);
            // A block is looked for among the most pressing few hundred, so that a choice stays quick.
            if let Some(index) = due().take(400).find(block) {
                return Some(index);
            }
            return due().next();
        }
        let pressing: Vec<usize> = due().take(PRESSING).collect();
        pressing.get(below(random, pressing.len())).copied()
    }

    fn is_same_block(&self, one: usize, other: usize) -> bool {
        let (one, other) = (&self.items[one].0, &self.items[other].0);
        (one.tune, one.phrase, one.spot) == (other.tune, other.phrase, other.spot)
    }

    fn take_new(&mut self, random: &mut impl Rng) -> Option<usize> {
        let at = match self.aim.mix {
            Mix::Growing | Mix::Blocks => 0,
            Mix::Mixed => below(random, self.new.len().min(PRESSING)),
        };
        self.new.remove(at)
    }

    /// Takes in how an item was answered, and returns its memory.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn answered(&mut self, index: usize, grade: Grade, now: Moment) -> Memory {
        let (item, before) = self.items[index];
        if let Some(before) = before {
            self.due
                .remove(&(self.model.due(&before, self.aim.retention), index));
            self.weak.remove(&(before.stability.to_bits(), index));
        }
        self.missed.retain(|(missed, _)| *missed != index);
        let after = self.model.review(before, grade, now);
        self.items[index].1 = Some(after);
        self.weak.insert((after.stability.to_bits(), index));
        self.due
            .insert((self.model.due(&after, self.aim.retention), index));
        match grade {
            Grade::Wrong => self
                .missed
                .push_back((index, self.asked + QUESTIONS_BEFORE_A_MISSED_ONE)),
            Grade::Slow | Grade::Right => {
                // Met and remembered at its first spot: now it may come anywhere.
                let others = self.waiting.remove(&group(&item)).unwrap_or_default();
                self.new.extend(others);
            }
        }
        after
    }

    /// Takes back an answer given by a slip of the key: `before` is the memory as it was. The item is expected to be asked
    /// again at once.
    ///
    /// # Panics
    ///
    /// When there is no item with this index.
    pub fn put_back(&mut self, index: usize, before: Option<Memory>) {
        if let Some(after) = self.items[index].1 {
            self.due
                .remove(&(self.model.due(&after, self.aim.retention), index));
            self.weak.remove(&(after.stability.to_bits(), index));
        }
        self.missed.retain(|(missed, _)| *missed != index);
        self.items[index].1 = before;
        if let Some(before) = before {
            self.due
                .insert((self.model.due(&before, self.aim.retention), index));
            self.weak.insert((before.stability.to_bits(), index));
        }
    }
}

fn group(item: &Item) -> (TuneId, u32, Kind) {
    (item.tune, item.phrase, item.kind)
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand::rngs::ChaCha8Rng;

    use super::*;
    use crate::neck::Position;
    use crate::practice::Spot;
    use crate::theory::Octave;

    fn on(day: i32) -> Moment {
        Moment {
            seconds: i64::from(day) * 86_400,
            day,
        }
    }

    fn item(phrase: u32, position: u8) -> Item {
        Item {
            tune: TuneId::from_bytes([0; 16]),
            phrase,
            kind: Kind::Place,
            spot: Some(Spot {
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
        })
    }

    #[test]
    fn a_phrase_is_met_at_one_spot_and_then_anywhere() {
        let mut schedule = Schedule::new(items(2, 3), MemoryModel::default(), Aim::default());
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let mut met = Vec::new();
        for _ in 0..6 {
            let (index, reason) = schedule.next(on(0), &mut random).unwrap();
            assert_eq!(reason, Reason::New);
            met.push(index);
            schedule.answered(index, Grade::Right, on(0));
        }
        // Both phrases at position I (items 0 and 3) before either is asked elsewhere.
        assert_eq!(met, [0, 3, 1, 2, 4, 5]);
    }

    #[test]
    fn while_it_is_missed_a_phrase_stays_at_its_spot() {
        let mut schedule = Schedule::new(items(1, 3), MemoryModel::default(), Aim::default());
        let mut random = ChaCha8Rng::seed_from_u64(1);
        for _ in 0..10 {
            let (index, _) = schedule.next(on(0), &mut random).unwrap();
            assert_eq!(index, 0);
            schedule.answered(index, Grade::Wrong, on(0));
        }
    }

    #[test]
    fn a_missed_item_comes_back_after_a_few_others() {
        let known = (1..=12).map(|position| (item(0, position), memory(1.0, 0)));
        let mut schedule = Schedule::new(known.collect(), MemoryModel::default(), Aim::default());
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let (missed, reason) = schedule.next(on(9), &mut random).unwrap();
        assert_eq!(reason, Reason::Due);
        schedule.answered(missed, Grade::Wrong, on(9));
        let mut later = Vec::new();
        for _ in 0..5 {
            let (index, _) = schedule.next(on(9), &mut random).unwrap();
            schedule.answered(index, Grade::Right, on(9));
            later.push(index);
        }
        assert_eq!(later.iter().position(|index| *index == missed), Some(4));
    }

    #[test]
    fn blocks_stay_with_a_phrase_at_its_spot() {
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
        let aim = Aim {
            mix: Mix::Blocks,
            ..Aim::default()
        };
        let mut schedule = Schedule::new(known, MemoryModel::default(), aim);
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let mut phrases = Vec::new();
        for _ in 0..21 {
            let (index, _) = schedule.next(on(20), &mut random).unwrap();
            schedule.answered(index, Grade::Right, on(20));
            phrases.push(schedule.items()[index].0.phrase);
        }
        phrases.dedup();
        assert_eq!(phrases.len(), 3, "{phrases:?}");
    }

    #[test]
    fn a_slip_of_the_key_leaves_no_trace() {
        let known = vec![(item(0, 1), memory(3.0, 0)), (item(0, 2), None)];
        let mut schedule = Schedule::new(known.clone(), MemoryModel::default(), Aim::default());
        for (index, (_, before)) in known.iter().enumerate() {
            schedule.answered(index, Grade::Wrong, on(4));
            schedule.put_back(index, *before);
        }
        assert_eq!(schedule.items(), known);
        assert_eq!(schedule.due_count(on(4)), 1);
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
            let mut schedule = Schedule::new(items, MemoryModel::default(), Aim::default());
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            answers.iter().zip(0..).all(|(answer, day)| {
                let next = schedule.next(on(day / 5), &mut random);
                if let Some((index, _)) = next {
                    let grade = [Grade::Wrong, Grade::Slow, Grade::Right][*answer as usize % 3];
                    schedule.answered(index, grade, on(day / 5));
                }
                next.is_none() == is_empty
            })
        }
    }
}
