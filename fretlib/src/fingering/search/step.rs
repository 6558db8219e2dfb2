//! Going from one note to the next: what is the same for all its candidates.

use super::super::FingeredNote;
use super::super::cost;
use super::super::hand_state::NoteContext;
use super::super::term::Term;
use super::Search;

/// What moving the hand costs before one note, after a stopped or after an open string.
#[derive(Clone, Copy)]
pub(super) struct MoveCost {
    /// Whatever the distance.
    pub(super) start: f64,
    /// For every fret.
    pub(super) fret: f64,
}

impl MoveCost {
    /// The cost of a move by its frets.
    pub(super) fn over(self, frets: u8) -> f64 {
        self.start + f64::from(frets) * self.fret
    }
}

/// The costs of going to one note.
pub(super) struct Step {
    pub(super) context: NoteContext,
    /// What moving the hand costs after a stopped and after an open string.
    pub(super) moves: [MoveCost; 2],
    /// Cost of changing the string, by the strings crossed.
    across: [f64; 12],
    /// What is added to that by a shift.
    shift_across: f64,
    guide: f64,
}

impl Step {
    /// To the note `index`, which is not the first.
    pub(super) fn to(search: &Search, index: usize) -> Step {
        let weights = search.weights;
        let pull = search.preferences.pull(index);
        let on_beat = search.line.notes()[index].on_beat;
        let moves = [false, true].map(|open| {
            let hurry = cost::hurry(search.line, index, open);
            let price =
                |distance| weights.total(|add| cost::moving(on_beat, pull, hurry, distance, add));
            MoveCost {
                start: price(0),
                fret: price(1) - price(0),
            }
        });
        let [none, one, two] = [0, 1, 2]
            .map(|strings| weights.total(|add| cost::across(search.line, index, strings, add)));
        Step {
            context: NoteContext::new(search.line, index),
            moves,
            // Every further string costs the same.
            across: std::array::from_fn(|strings| match strings {
                0 => none,
                _ => one + (strings - 1) as f64 * (two - one),
            }),
            shift_across: weights.get(Term::ShiftAcross),
            guide: weights.get(Term::Guide),
        }
    }

    /// The least of all ways to change the string or not.
    pub(super) fn least_across(&self) -> f64 {
        self.across.into_iter().fold(f64::INFINITY, f64::min)
    }

    /// Of going from the string of one note to that of another.
    pub(super) fn across(&self, from: &FingeredNote, to: &FingeredNote) -> f64 {
        self.across[usize::from(from.place.string.get().abs_diff(to.place.string.get()))]
    }

    /// Of changing the string, by the strings crossed, in a shift without a guide finger, without the move of the hand.
    pub(super) fn shift_across(&self, strings: u8) -> f64 {
        let shift = if strings == 0 { 0.0 } else { self.shift_across };
        self.across[usize::from(strings)] + shift
    }

    /// The least that any shift costs, apart from the note it comes to.
    pub(super) fn least_shift(&self) -> f64 {
        let moves = self.moves.map(|moves| moves.over(1));
        let across = (0..self.across.len()).map(|strings| self.shift_across(strings as u8));
        let least = across.fold(self.across[0] + self.guide, f64::min);
        least + moves[0].min(moves[1])
    }

    /// Of shifting along a string with a guide finger, by frets.
    pub(super) fn guided(&self, frets: u8) -> f64 {
        self.across[0] + self.guide + self.moves[0].over(frets)
    }
}
