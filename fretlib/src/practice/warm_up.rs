//! Warming up on the tune itself: short exercises made of it, easiest first.
//!
//! That playing soft and slow first is advised is common practice; whether a warm-up keeps anybody from harm is not known
//! (no study with a guitar was found), and nothing of the sort is promised. All numbers here are design choices.

use std::collections::BTreeMap;

use super::material::PracticeMaterial;
use super::placement_key::PlacementKey;
use crate::fingering::{FingeringSearch, Player};
use crate::melody::{Draft, Melody, Quarters};
use crate::neck::{Finger, Place, Position, Reach};
use crate::theory::{Key, Membership, Octave, Pitch};

/// What the player is told before every warm-up.
pub const CAUTIONS: [&str; 3] = [
    "Soft and slow. Stop at pain, numbness or tingling.",
    "Rest ten minutes an hour; after 25 minutes put the guitar down for a moment.",
    "See a doctor or a hand therapist about pain that does not go away.",
];

/// The material of an exercise.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum ExerciseKind {
    /// The scale of the tune, up and down in the position.
    Scale,
    /// One of the commonest intervals of the tune, in sequence along the scale.
    Interval,
    /// A note outside the scale with its neighbours.
    Outside,
    /// The hardest move of the fingering that is within comfortable reach, slowed.
    Move,
    /// A phrase in the next position.
    NextPosition,
}

/// A note of an exercise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExerciseNote {
    /// The pitch, where it is played.
    pub pitch: Pitch,
    /// Where.
    pub place: Place,
    /// The finger; `None` on an open string.
    pub finger: Option<Finger>,
    /// In which position.
    pub position: Position,
}

/// One exercise.
#[derive(Clone, Debug, PartialEq)]
pub struct Exercise {
    /// Which of the tunes it is made from, counted from 0.
    pub tune: usize,
    /// Its material.
    pub kind: ExerciseKind,
    /// Its description: `the scale of D minor in position VII`.
    pub title: String,
    /// Its notes; at least two.
    pub notes: Vec<ExerciseNote>,
    /// The same notes in time: a phrase as it stands in the tune, anything else in quarter notes.
    pub melody: Melody,
    /// The tempo to begin at, in percent of the tune's own.
    pub percent: u16,
    /// How long to stay with it.
    pub seconds: u32,
    /// The widest distance of two successive fingers, relative to their comfortable reach: 1 is just comfortable.
    pub load: f64,
    /// The two fingers that most often follow each other; `None` when there is only one finger.
    pub pair: Option<(Finger, Finger)>,
    /// Whether to rest before it, because the same fingers have just worked.
    pub rest_before: bool,
}

impl Exercise {
    /// The mean fret of its stopped notes.
    fn height(&self) -> f64 {
        let frets = self
            .notes
            .iter()
            .map(|note| f64::from(note.place.fret.get()));
        frets.sum::<f64>() / self.notes.len().max(1) as f64
    }
}

/// The tempos at which exercises begin, in percent, in order; from there a ladder of 5 percent leads up. A design choice.
const PERCENTS: [u16; 3] = [50, 55, 60];
/// Exercises with a load above this do not come in the first minutes: 1 is what the hand calls comfortable.
const COMFORTABLE: f64 = 1.0;
/// The first minutes, in seconds. A design choice.
const FIRST_MINUTES: u32 = 180;
/// The most pairs of an interval in sequence, and the most intervals and notes outside the scale. A design choice.
const MOST_PAIRS: usize = 6;
const MOST_INTERVALS: usize = 3;
const MOST_OUTSIDE: usize = 3;
/// No exercise is shorter than this, in seconds: rather there are fewer. A design choice.
const SHORTEST: u32 = 40;

/// Exercises made from a tune, for this many seconds in all, at its first placement; empty when it has none.
///
/// Easiest first, and of equally easy ones those on higher frets first. Nothing is beyond comfortable reach in the
/// first three minutes, and nothing is ever at the limit of the hand. Successive exercises do not work the same pair of
/// fingers without a rest between.
pub fn warm_up(material: &PracticeMaterial, player: Player, seconds: u32) -> Vec<Exercise> {
    warm_up_on_all(&[(material, player)], seconds)
}

/// Exercises made from several tunes, as [`warm_up`] makes them from one, in turn as long as there is time: the scale of each
/// first, then its commonest interval, and so on.
pub fn warm_up_on_all(tunes: &[(&PracticeMaterial, Player)], seconds: u32) -> Vec<Exercise> {
    let mut made: Vec<Exercise> = Vec::new();
    for (number, (material, player)) in tunes.iter().enumerate() {
        let Some(placement) = material.placements().first().copied() else {
            continue;
        };
        let maker = Maker {
            tune: number,
            material,
            player: *player,
            placement,
            key: material.key_at(0),
        };
        let mut of_tune: Vec<Exercise> = Vec::new();
        of_tune.extend(maker.scale());
        of_tune.extend(maker.intervals());
        of_tune.extend(maker.outside());
        of_tune.extend(maker.hardest_move());
        of_tune.extend(maker.next_position());
        // Exercises at the limit of the hand are left out.
        of_tune.retain(|exercise| exercise.load < maker.limit());
        made.extend(of_tune);
    }
    let fitting = (seconds / SHORTEST).max(1) as usize;
    share_out(chosen(in_turn(made, fitting), seconds), seconds)
}

/// At most `most` exercises: the first of each kind of each tune, then the second, and so on.
fn in_turn(made: Vec<Exercise>, most: usize) -> Vec<Exercise> {
    let mut seen: BTreeMap<(usize, ExerciseKind), usize> = BTreeMap::new();
    let mut numbered: Vec<(usize, Exercise)> = made
        .into_iter()
        .map(|exercise| {
            let count = seen.entry((exercise.tune, exercise.kind)).or_default();
            *count += 1;
            (*count, exercise)
        })
        .collect();
    numbered.sort_by_key(|(count, exercise)| (*count, exercise.kind, exercise.tune));
    numbered.truncate(most);
    numbered.into_iter().map(|(_, exercise)| exercise).collect()
}

/// The exercises in order: those that are comfortable first. Without enough of them for the first minutes the rest is left
/// out.
fn chosen(made: Vec<Exercise>, seconds: u32) -> Vec<Exercise> {
    let each = seconds / made.len().max(1) as u32;
    let (easy, hard): (Vec<Exercise>, Vec<Exercise>) = made
        .into_iter()
        .partition(|exercise| exercise.load <= COMFORTABLE);
    let is_long_enough = easy.len() as u32 * each >= FIRST_MINUTES;
    let mut ordered = Vec::new();
    add_in_order(&mut ordered, easy);
    if is_long_enough {
        add_in_order(&mut ordered, hard);
    }
    ordered
}

/// Adds exercises: easiest first, higher frets first, and not the same pair of fingers twice running where possible.
fn add_in_order(ordered: &mut Vec<Exercise>, mut made: Vec<Exercise>) {
    // Loads within a tenth of each other feel alike.
    made.sort_by_key(|it| ((it.load * 10.0) as i64, -(it.height() * 10.0) as i64));
    while !made.is_empty() {
        let last = ordered.last().and_then(|it| it.pair);
        let is_other = |it: &Exercise| it.pair.is_none() || it.pair != last;
        let next = made.iter().position(is_other);
        let mut exercise = made.remove(next.unwrap_or(0));
        exercise.rest_before = next.is_none();
        ordered.push(exercise);
    }
}

/// Gives each exercise its time and tempo.
fn share_out(mut exercises: Vec<Exercise>, seconds: u32) -> Vec<Exercise> {
    let each = seconds / exercises.len().max(1) as u32;
    let last = exercises.len().saturating_sub(1).max(1);
    for (index, exercise) in exercises.iter_mut().enumerate() {
        exercise.seconds = each;
        exercise.percent = PERCENTS[index * (PERCENTS.len() - 1) / last];
    }
    exercises
}

struct Maker<'a> {
    tune: usize,
    material: &'a PracticeMaterial,
    player: Player<'a>,
    placement: PlacementKey,
    key: Key,
}

impl Maker<'_> {
    /// The load at which the hand is at its limit between fingers 1 and 4.
    fn limit(&self) -> f64 {
        let (comfortable, utmost) = self.player.hand.reach(Finger::First, Finger::Fourth);
        utmost / comfortable
    }

    /// A note in the position, without a stretch; of two places the one nearer to `string`.
    fn note(&self, pitch: Pitch, placement: PlacementKey) -> Option<ExerciseNote> {
        let places = placement.places(pitch.midi(), self.player.instrument);
        let mut found = places.into_iter().filter_map(|place| {
            let (reach, finger) = placement.position.reach(place.fret)?;
            (reach == Reach::InPosition).then_some(ExerciseNote {
                pitch,
                place,
                finger,
                position: placement.position,
            })
        });
        found.next()
    }

    /// An exercise in quarter notes; none of fewer than two notes.
    fn exercise(
        &self,
        kind: ExerciseKind,
        title: String,
        notes: Vec<ExerciseNote>,
    ) -> Option<Exercise> {
        let mut draft = Draft::default();
        draft.meters.set(Quarters::ZERO, "4/4".parse().ok());
        draft.keys.set(Quarters::ZERO, self.key);
        for (index, note) in notes.iter().enumerate() {
            if index % 4 == 0 {
                draft.bar_line();
            }
            draft.note(note.pitch, Quarters::ONE).ok()?;
        }
        self.exercise_in_time(kind, title, notes, Melody::new(draft).ok()?)
    }

    /// An exercise in its own time; the melody has the same notes.
    fn exercise_in_time(
        &self,
        kind: ExerciseKind,
        title: String,
        notes: Vec<ExerciseNote>,
        melody: Melody,
    ) -> Option<Exercise> {
        let pairs = notes.windows(2).filter_map(|pair| {
            let (one, other) = (pair[0].finger?, pair[1].finger?);
            (one != other).then_some((one.min(other), one.max(other)))
        });
        let mut counts: BTreeMap<(Finger, Finger), usize> = BTreeMap::new();
        for pair in pairs {
            *counts.entry(pair).or_default() += 1;
        }
        let pair = counts.iter().max_by_key(|(_, count)| **count);
        Some(Exercise {
            kind,
            title,
            load: self.load(&notes),
            pair: pair.map(|(pair, _)| *pair),
            percent: PERCENTS[0],
            seconds: 0,
            rest_before: false,
            tune: self.tune,
            melody,
            notes: (notes.len() > 1).then_some(notes)?,
        })
    }

    /// The distance of successive fingers, relative to their comfortable reach.
    fn load(&self, notes: &[ExerciseNote]) -> f64 {
        let loads = notes
            .windows(2)
            .map(|pair| self.load_of(&pair[0], &pair[1]));
        loads.fold(0.0, f64::max)
    }

    fn load_of(&self, one: &ExerciseNote, other: &ExerciseNote) -> f64 {
        let (Some(first), Some(second)) = (one.finger, other.finger) else {
            return 0.0;
        };
        if first == second {
            return 0.0;
        }
        let (comfortable, _) = self.player.hand.reach(first, second);
        let at = |fret| self.player.instrument.millimetres_at(fret);
        (at(one.place.fret) - at(other.place.fret)).abs() / comfortable
    }

    /// The notes of the scale in the position, from the lowest.
    fn scale_notes(&self) -> Vec<ExerciseNote> {
        let mut notes: Vec<ExerciseNote> = (0..9)
            .flat_map(|octave| self.key.scale().map(|class| (class, octave)))
            .filter_map(|(class, octave)| {
                Pitch::new(class.letter(), class.alteration(), octave).ok()
            })
            .filter_map(|pitch| self.note(pitch, self.placement))
            .collect();
        notes.sort_by_key(|note| note.pitch.midi());
        notes.dedup_by_key(|note| note.pitch.midi());
        notes
    }

    fn scale(&self) -> Option<Exercise> {
        let up = self.scale_notes();
        let down = up.iter().rev().skip(1).copied();
        let notes = up.iter().copied().chain(down).collect();
        let title = format!(
            "the scale of {} in position {}",
            self.key, self.placement.position
        );
        self.exercise(ExerciseKind::Scale, title, notes)
    }

    /// The commonest intervals of the melody, each in sequence along the scale in the direction it mostly takes.
    fn intervals(&self) -> Vec<Exercise> {
        const NAMES: [&str; 7] = [
            "seconds", "thirds", "fourths", "fifths", "sixths", "sevenths", "octaves",
        ];
        let mut counts: BTreeMap<usize, (usize, i32)> = BTreeMap::new();
        for interval in self.material.notes().iter().filter_map(|it| it.interval) {
            let steps = usize::from(interval.steps().unsigned_abs());
            if (1..=NAMES.len()).contains(&steps) {
                let (count, way) = counts.entry(steps).or_default();
                *count += 1;
                *way += i32::from(interval.steps().signum());
            }
        }
        let mut commonest: Vec<(usize, (usize, i32))> = counts.into_iter().collect();
        commonest.sort_by_key(|(steps, (count, _))| (std::cmp::Reverse(*count), *steps));
        let scale = self.scale_notes();
        let made = commonest
            .iter()
            .take(MOST_INTERVALS)
            .filter_map(|(steps, (_, way))| {
                let pairs = scale.iter().zip(scale.iter().skip(*steps));
                let notes: Vec<ExerciseNote> = pairs
                    .take(MOST_PAIRS)
                    .flat_map(|(low, high)| match way {
                        ..0 => [*high, *low],
                        _ => [*low, *high],
                    })
                    .collect();
                let title = format!(
                    "{} along the scale, {}",
                    NAMES[steps - 1],
                    if *way < 0 { "falling" } else { "rising" }
                );
                self.exercise(ExerciseKind::Interval, title, notes)
            });
        made.collect()
    }

    /// Notes outside the scale, each between its neighbours of the scale.
    fn outside(&self) -> Vec<Exercise> {
        let mut seen = Vec::new();
        let mut made = Vec::new();
        for note in self.material.notes() {
            let class = note.note.pitch.class();
            if note.membership == Membership::Scale || seen.contains(&class) {
                continue;
            }
            seen.push(class);
            let Ok(pitch) = note.note.pitch.transpose(self.placement.octave.interval()) else {
                continue;
            };
            let neighbours = [-1, 1].map(|steps| self.scale_note_beside(pitch, steps));
            let [Some(below), Some(above)] = neighbours else {
                continue;
            };
            let order = [below, pitch, above, pitch, below];
            let notes: Vec<ExerciseNote> = order
                .into_iter()
                .filter_map(|pitch| self.note(pitch, self.placement))
                .collect();
            if notes.len() == order.len() {
                let title = format!("{class}, outside the scale, between its neighbours");
                made.extend(self.exercise(ExerciseKind::Outside, title, notes));
            }
        }
        made.truncate(MOST_OUTSIDE);
        made
    }

    /// The note of the scale this many letters away from a pitch.
    fn scale_note_beside(&self, pitch: Pitch, steps: i16) -> Option<Pitch> {
        let beside = i16::from(pitch.steps()) + steps;
        self.key.scale().into_iter().find_map(|class| {
            let octave = i8::try_from(beside.div_euclid(7)).ok()?;
            let found = Pitch::new(class.letter(), class.alteration(), octave).ok()?;
            (i16::from(found.steps()) == beside).then_some(found)
        })
    }

    /// The hardest move between two notes of the best fingering that is still comfortable.
    fn hardest_move(&self) -> Option<Exercise> {
        let search = FingeringSearch::new(self.player);
        let fingering = search.best(self.material.melody(), self.placement.octave)?;
        let notes: Option<Vec<ExerciseNote>> = (0..)
            .zip(&fingering.notes)
            .map(|(index, fingered)| {
                Some(ExerciseNote {
                    pitch: self.material.pitch(index, self.placement.octave)?,
                    place: fingered.place,
                    finger: fingered.finger,
                    position: fingered.position,
                })
            })
            .collect();
        let notes = notes?;
        let stays = |index: &usize| {
            fingering.notes[*index].position == fingering.notes[*index + 1].position
        };
        let load = |index: usize| self.load_of(&notes[index], &notes[index + 1]);
        let hardest = (0..notes.len().saturating_sub(1))
            .filter(stays)
            .filter(|index| (0.01..=COMFORTABLE).contains(&load(*index)))
            .max_by(|one, other| load(*one).total_cmp(&load(*other)))?;
        let (from, to) = (notes[hardest], notes[hardest + 1]);
        let bar = self.material.notes()[hardest].bar;
        let title = format!(
            "the widest comfortable move, {} to {} in bar {bar}",
            from.pitch.class(),
            to.pitch.class()
        );
        let notes = std::iter::repeat_n([from, to], 4).flatten().collect();
        self.exercise(ExerciseKind::Move, title, notes)
    }

    /// The shortest phrase of some length in the next placement.
    fn next_position(&self) -> Option<Exercise> {
        const FEWEST: usize = 4;
        let next = self.material.placements().get(1).copied()?;
        let phrases = self.material.phrases().iter().enumerate();
        let played = phrases.filter_map(|(number, phrase)| {
            let notes: Vec<ExerciseNote> = phrase
                .clone()
                .filter_map(|note| self.material.pitch(note, next.octave))
                .filter_map(|pitch| self.note(pitch, next))
                .collect();
            (notes.len() == phrase.len() && notes.len() >= FEWEST).then_some((number, notes))
        });
        let (number, notes) = played.min_by_key(|(_, notes)| notes.len())?;
        let bars = self.material.phrase_bars(number)?;
        let title = format!(
            "bars {}-{} in {}",
            bars.start(),
            bars.end(),
            next.in_words()
        );
        let melody = self.phrase_in_time(number, next.octave)?;
        self.exercise_in_time(ExerciseKind::NextPosition, title, notes, melody)
    }

    /// The notes of a phrase in their own time, beginning with its first note.
    fn phrase_in_time(&self, number: usize, octave: Octave) -> Option<Melody> {
        let whole = self.material.melody();
        let range = self.material.phrases().get(number)?.clone();
        let start = self.material.notes().get(range.start)?.note.onset;
        let mut draft = Draft::default();
        draft
            .keys
            .set(Quarters::ZERO, self.material.key_at(range.start));
        let end = self.material.notes().get(range.end - 1)?.note.end();
        draft.meters = whole.meters().excerpt(start, end);
        let inside = whole
            .bars()
            .iter()
            .filter(|bar| (start..end).contains(&bar.onset));
        draft.bars = inside.map(|bar| bar.onset - start).collect();
        for index in range {
            let note = self.material.notes().get(index)?.note;
            draft.rest(note.onset - start - draft.now).ok()?;
            draft
                .note(self.material.pitch(index, octave)?, note.duration)
                .ok()?;
        }
        Melody::new(draft).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::mapping::{NeckMap, OpenStrings, Preference};
    use crate::neck::{Hand, Instrument};

    const TUNE: &str = "X:1\nT:Jetty\nM:4/4\nL:1/4\nK:Bb\nB d f e | d2 c2 | G A B =e | f4 |\n";

    fn material(source: &str) -> PracticeMaterial {
        let melody = abc::read(source.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let instrument = Instrument::default();
        let map = NeckMap::new(&melody, &instrument, OpenStrings::default());
        let mut placements: Vec<_> = map.whole().collect();
        placements.sort_by_key(|it| it.ease(Preference::default()));
        let placements = placements.iter().map(|it| PlacementKey {
            position: it.position,
            octave: it.octave,
        });
        let placements = placements.collect();
        let key = *melody.keys().first().unwrap();
        let phrases = melody.phrases();
        PracticeMaterial::new(melody, key, &phrases, instrument, placements)
    }

    fn made(hand: Hand) -> Vec<Exercise> {
        let material = material(TUNE);
        let instrument = Instrument::default();
        let player = Player {
            instrument: &instrument,
            hand,
        };
        warm_up(&material, player, 420)
    }

    #[test]
    fn exercises_are_made_of_the_tune() {
        let exercises = made(Hand::MEDIUM);
        let kinds: Vec<ExerciseKind> = exercises.iter().map(|it| it.kind).collect();
        for kind in [
            ExerciseKind::Scale,
            ExerciseKind::Interval,
            ExerciseKind::Outside,
            ExerciseKind::Move,
            ExerciseKind::NextPosition,
        ] {
            assert!(kinds.contains(&kind), "{kinds:?}");
        }
        let outside = exercises.iter().find(|it| it.kind == ExerciseKind::Outside);
        let names: Vec<String> = outside
            .unwrap()
            .notes
            .iter()
            .map(|it| it.pitch.class().to_string())
            .collect();
        assert_eq!(names, ["D", "E", "F", "E", "D"]);
        for exercise in &exercises {
            assert!((50..=60).contains(&exercise.percent));
            let in_time = exercise.melody.notes().iter().map(|it| it.pitch);
            assert!(in_time.eq(exercise.notes.iter().map(|it| it.pitch)));
            for note in &exercise.notes {
                let sounds = Instrument::default().midi_at(note.place);
                assert_eq!(sounds, Some(note.pitch.midi()), "{}", exercise.title);
            }
        }
        assert!(exercises.iter().map(|it| it.seconds).sum::<u32>() <= 420);
    }

    #[test]
    fn several_tunes_take_turns_and_no_exercise_is_too_short() {
        let other = TUNE.replace("K:Bb", "K:G").replace("d2 c2", "^c2 d2");
        let (one, two) = (material(TUNE), material(&other));
        let instrument = Instrument::default();
        let player = Player {
            instrument: &instrument,
            hand: Hand::MEDIUM,
        };
        let exercises = warm_up_on_all(&[(&one, player), (&two, player)], 300);
        assert!(exercises.len() <= 7, "{}", exercises.len());
        assert!(exercises.iter().all(|it| it.seconds >= SHORTEST));
        for tune in [0, 1] {
            let kinds = exercises.iter().filter(|it| it.tune == tune);
            let kinds: Vec<ExerciseKind> = kinds.map(|it| it.kind).collect();
            for kind in [ExerciseKind::Scale, ExerciseKind::Interval] {
                assert!(kinds.contains(&kind), "{tune}: {kinds:?}");
            }
        }
    }

    #[test]
    fn nothing_is_beyond_comfort_at_first_or_at_its_limit_ever() {
        let narrow = Hand::new(60, 80).unwrap();
        for hand in [Hand::SMALL, Hand::MEDIUM, Hand::LARGE, narrow] {
            let (comfortable, utmost) = hand.reach(Finger::First, Finger::Fourth);
            let mut passed = 0;
            for exercise in made(hand) {
                assert!(exercise.load < utmost / comfortable, "{}", exercise.title);
                assert!(passed >= FIRST_MINUTES || exercise.load <= COMFORTABLE);
                passed += exercise.seconds;
            }
        }
    }

    #[test]
    fn the_same_fingers_rest_between_two_exercises() {
        for pair in made(Hand::MEDIUM).windows(2) {
            let is_same = pair[0].pair.is_some() && pair[0].pair == pair[1].pair;
            assert!(
                !is_same || pair[1].rest_before,
                "{} {}",
                pair[0].title,
                pair[1].title
            );
        }
    }
}
