//! The amount of each cost term in a fingering.

use super::hand_state::{HandState, LEAP, NoteContext};
use super::home::Pull;
use super::pinned::AboutNote;
use super::preferences::Preferences;
use super::term::{TERMS, Term};
use super::{FingeredNote, FingeringSearch, Player, TimedMelody};
use crate::neck::{Finger, Fret, Position, StringNumber};

/// The share of a shift's cost that remains with unlimited time, since the hand still leaves its place; chosen by ear.
const AT_EASE: f64 = 0.7;
/// Seconds after which half of the rest of the cost is gone; chosen by ear.
const UNHURRIED: f64 = 0.5;
/// Seconds that a phrase end gives the hand; chosen by ear.
const BREATH: f64 = 0.5;

/// The distances of an instrument and a hand, in millimetres.
pub(super) struct Spans {
    /// From the nut, by fret.
    nut: [f64; Fret::HIGHEST as usize + 1],
    /// Comfortable and greatest reach, by finger indices from 0.
    reach: [[(f64, f64); 4]; 4],
}

impl Spans {
    pub(super) fn new(player: &Player) -> Spans {
        let fret = |number: usize| {
            let fret = Fret::new(number as u8);
            fret.map_or(0.0, |fret| player.instrument.millimetres_at(fret))
        };
        let pair =
            |one: usize, other: usize| player.hand.reach(Finger::ALL[one], Finger::ALL[other]);
        Spans {
            nut: std::array::from_fn(fret),
            reach: std::array::from_fn(|one| std::array::from_fn(|other| pair(one, other))),
        }
    }
}

/// The fret where the first finger would stand.
fn lean(finger: Finger, fret: Fret) -> i8 {
    fret.get() as i8 - finger.get() as i8
}

/// Adds the terms of standing in a position, whatever is played. With a home, the distance from it counts instead of
/// the height on the neck.
pub(super) fn standing(position: Position, pull: Option<&Pull>, mut add: impl FnMut(Term, f64)) {
    let number = f64::from(position.get());
    let Some(pull) = pull else {
        add(Term::Height, number / 12.0);
        if number > 9.0 {
            add(Term::HighUp, (number - 9.0) / 3.0);
        }
        return;
    };
    let (distance, strength) = (pull.distance(position), pull.strength());
    add(Term::Away, strength * distance);
    add(Term::HomeHeight, strength * number / 12.0);
    if number < 5.0 {
        add(Term::HomeNearNut, strength * (5.0 - number) / 4.0);
    }
}

/// Adds the terms of a single note, which do not depend on the home.
pub(super) fn alone(
    player: &Player,
    long: bool,
    note: &FingeredNote,
    mut add: impl FnMut(Term, f64),
) {
    let (string, fret) = (note.place.string.get(), f64::from(note.place.fret.get()));
    let Some(finger) = note.finger else {
        let term = match note.position.get() {
            1 => Term::OpenFirst,
            2..=3 => Term::OpenNear,
            _ => Term::OpenFar,
        };
        add(term, 1.0);
        return;
    };
    let strings = player.instrument.strings().len() as u8;
    if 2 * string > strings && fret > 5.0 {
        add(
            Term::DarkTone,
            (fret - 5.0) / 5.0 * f64::from(string - strings / 2),
        );
    }
    if 3 * string > 2 * strings {
        add(Term::LowString, 1.0);
    }
    let offset = note.place.fret.get() as i16 - note.position.get() as i16;
    let in_second = note.position.get() == 2;
    match (offset, finger) {
        (-1, _) if in_second => add(Term::BackToNut, 1.0),
        (-1, _) => add(Term::StretchBack, 1.0),
        (4, _) => add(Term::StretchOn, 1.0),
        (2, Finger::Fourth) if note.position == Position::FIRST && 3 * string <= strings => {
            add(Term::EarlyNearNut, 1.0);
        }
        (0, Finger::Second) | (1, Finger::Third) | (2, Finger::Fourth) if in_second => {
            add(Term::OtherNearNut, 1.0)
        }
        (2, Finger::Fourth) => add(Term::Early, 1.0),
        (0, Finger::Second) | (1, Finger::Third) => add(Term::OtherFinger, 1.0),
        _ => {}
    }
    if finger == Finger::Fourth {
        add(Term::Fourth, 1.0);
        if long {
            add(Term::WeakLong, 1.0);
        }
    }
}

/// Adds the terms of playing a note on a string, where the pins of other notes suggest another.
pub(super) fn unlike_pins(about: &AboutNote, string: StringNumber, mut add: impl FnMut(Term, f64)) {
    add(Term::UnlikePinned, f64::from(about.unlike(string)));
    add(Term::OtherString, about.on_other_strings(string));
}

/// Adds the terms of crossing `strings` strings (or none) to the note `index`.
pub(super) fn across(
    line: &TimedMelody,
    index: usize,
    strings: u8,
    mut add: impl FnMut(Term, f64),
) {
    let midi = |index: usize| line.notes()[index].pitch.midi();
    let leap = (midi(index) - midi(index - 1)).unsigned_abs();
    if strings == 0 {
        if leap >= LEAP {
            add(Term::Cut, 1.0);
        }
        return;
    }
    add(Term::Change, 1.0);
    if leap < LEAP {
        add(Term::StepAcross, 1.0);
    }
    if strings > 1 {
        add(Term::Skip, f64::from(strings - 1));
    }
}

/// Adds the terms of a note played without moving the hand; false when the hand cannot reach it.
#[must_use]
pub(super) fn staying(
    spans: &Spans,
    context: &NoteContext,
    state: &HandState,
    note: &FingeredNote,
    mut add: impl FnMut(Term, f64),
) -> bool {
    if let (Some((before, from)), Some(finger)) = (state.stopped, note.finger) {
        let to = note.place;
        if before == finger {
            if from.fret != to.fret && from.string == to.string {
                add(Term::Slide, 1.0);
            } else if from.fret != to.fret {
                add(Term::SameFinger, 1.0);
            } else if from.string != to.string {
                add(
                    if finger == Finger::First {
                        Term::Barre
                    } else {
                        Term::Hop
                    },
                    1.0,
                );
            }
        } else {
            let lean = lean(before, from.fret).abs_diff(lean(finger, to.fret));
            if lean > 0 && before != Finger::Fourth && finger != Finger::Fourth {
                add(Term::Lean, f64::from(lean));
            }
            let crossed = (before < finger) == (from.fret > to.fret) && from.fret != to.fret;
            if crossed || from == to {
                add(Term::Crossing, 1.0);
            }
            let (lower, upper) = if before < finger {
                (from, to)
            } else {
                (to, from)
            };
            let span =
                spans.nut[usize::from(upper.fret.get())] - spans.nut[usize::from(lower.fret.get())];
            let (comfortable, utmost) = spans.reach[before as usize - 1][finger as usize - 1];
            if span > utmost {
                return false;
            }
            if span > comfortable {
                add(Term::Span, (span - comfortable) / 20.0);
            }
        }
    }
    let string = note.place.string.get();
    for (before, earlier) in state.strings.iter().zip(&context.earlier) {
        if *before == 0 {
            continue;
        }
        if *before == string {
            if earlier.returns && earlier.leap {
                add(Term::Ringing, 1.0);
            }
        } else if earlier.same {
            add(Term::Elsewhere, 1.0);
        }
    }
    true
}

/// The seconds that the hand has to move before the note `index`, which is not the first.
///
/// The hand can move during a rest, the second half of a stopped note, all of an open string and a breath between
/// phrases.
pub(super) fn time_to_move(line: &TimedMelody, index: usize, from_open: bool) -> f64 {
    let (before, note) = (line.notes()[index - 1], line.notes()[index]);
    let share = if from_open { 1.0 } else { 0.5 };
    let breath = if note.starts_phrase { BREATH } else { 0.0 };
    note.rest + share * before.seconds + breath
}

/// How hurried a shift to the note `index` is, from 1 (no time at all) towards [`AT_EASE`].
pub(super) fn hurry(line: &TimedMelody, index: usize, from_open: bool) -> f64 {
    let time = time_to_move(line, index, from_open);
    AT_EASE + (1.0 - AT_EASE) * UNHURRIED / (UNHURRIED + time)
}

/// Adds the terms of moving the hand, apart from fingers and strings.
pub(super) fn moving(
    on_beat: bool,
    pull: Option<&Pull>,
    hurry: f64,
    distance: u8,
    mut add: impl FnMut(Term, f64),
) {
    add(Term::Shift, hurry);
    if let Some(pull) = pull.filter(|pull| pull.is_of_one_home()) {
        add(Term::HomeShift, hurry * pull.strength());
    }
    if !on_beat {
        add(Term::OffBeat, hurry);
    }
    add(Term::Distance, hurry * f64::from(distance));
}

/// Adds the terms of changing fingers and strings in a shift.
pub(super) fn landing(from: &FingeredNote, to: &FingeredNote, mut add: impl FnMut(Term, f64)) {
    if from.place.string != to.place.string {
        add(Term::ShiftAcross, 1.0);
    } else if from.finger.is_some() && from.finger == to.finger {
        add(Term::Guide, 1.0);
    }
}

/// The amount of every term for each note of a fingering, unweighted, in the order of [`Term::ALL`].
///
/// This defines the cost: the search finds the fingering with the least weighted sum. `None` when the hand cannot reach
/// from one note to the next, or when the number of notes differs.
pub fn amounts(
    search: &FingeringSearch,
    line: &TimedMelody,
    notes: &[FingeredNote],
) -> Option<Vec<[f64; TERMS]>> {
    if notes.len() != line.notes().len() {
        return None;
    }
    amounts_from(0, &search.player, &search.preferences(line), line, notes)
}

/// The amounts for some notes, of which the first has the index `begin` in the line, as if the hand came to it just then.
pub(super) fn amounts_from(
    begin: usize,
    player: &Player,
    preferences: &Preferences,
    line: &TimedMelody,
    notes: &[FingeredNote],
) -> Option<Vec<[f64; TERMS]>> {
    let mut amounts = vec![[0.0; TERMS]; notes.len()];
    let spans = Spans::new(player);
    let mut state = HandState::default();
    for (at, note) in notes.iter().enumerate() {
        let index = begin + at;
        let sums = &mut amounts[at];
        let mut add = |term: Term, amount: f64| sums[term as usize] += amount;
        let context = NoteContext::new(line, index);
        standing(note.position, preferences.pull(index), &mut add);
        if let Some(about) = preferences.about(line, index) {
            unlike_pins(&about, note.place.string, &mut add);
        }
        alone(player, line.notes()[index].is_long(), note, &mut add);
        let Some(before) = at.checked_sub(1).map(|before| &notes[before]) else {
            state = HandState::first(&context, note);
            continue;
        };
        let strings = before.place.string.get().abs_diff(note.place.string.get());
        across(line, index, strings, &mut add);
        if before.position == note.position {
            if !staying(&spans, &context, &state, note, &mut add) {
                return None;
            }
            state = state.then(&context, note);
        } else {
            let hurry = hurry(line, index, before.finger.is_none());
            let distance = before.position.get().abs_diff(note.position.get());
            let (on_beat, pull) = (line.notes()[index].on_beat, preferences.pull(index));
            moving(on_beat, pull, hurry, distance, &mut add);
            landing(before, note, &mut add);
            state = HandState::first(&context, note);
        }
    }
    Some(amounts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::neck::{Hand, Instrument, InstrumentSpec};

    /// From fret 1 to fret 5 in millimetres, as a fingering counts it.
    fn span(capo: u8) -> f64 {
        let spec = Instrument::default().build().clone();
        let instrument = Instrument::new(InstrumentSpec { capo, ..spec }).unwrap();
        let spans = Spans::new(&Player {
            instrument: &instrument,
            hand: Hand::MEDIUM,
        });
        spans.nut[5] - spans.nut[1]
    }

    // L·(1 − 2^(−n/12)) from the nut: on 648 mm five frets from position I span 126 mm, from position V 100 mm.
    #[test]
    fn a_capo_shortens_what_the_hand_spans() {
        assert_eq!((span(0).round(), span(4).round()), (126.0, 100.0));
    }
}
