//! The voice under the melody of an arrangement: chords with their stems down, on the staff of the melody.
//!
//! Sources: Gould, *Behind Bars* (2011), "Chords", "Accidentals" and "Two or more parts on a staff", from memory: of two
//! heads a step apart the higher one lies right of the stem; two voices a step apart do not share a column, the lower one
//! moves right; accidentals stand in as few columns as keep them clear of each other; ties of the lower voice curve down;
//! a voice that comes and goes needs no rests.

use std::collections::HashMap;

use super::canvas::{Canvas, draw_dots, draw_tie, ledger_lines};
use super::drawing::Subject;
use super::font::Sign;
use super::measure::{DOT_GAP, MeasuredBar, SymbolColumn, head_sign, x_at};
use super::staff_block::{Notation, System};
use super::stems::{self, Head, Stems};
use crate::arranging::LowerChord;
use crate::melody::{Note, Quarters};
use crate::neck::{Finger, Place};
use crate::notation::accidental::Accidentals;
use crate::notation::beam::note_index;
use crate::notation::rhythm::{Symbol, Written, WrittenBar, write_down_voice};
use crate::theory::Pitch;

/// A bar of the second voice.
#[derive(Clone, Debug)]
pub(super) struct SecondVoice {
    pub written: WrittenBar,
    /// The heads of each of its symbols; none for a rest.
    pub stacks: Vec<Option<ChordHeads>>,
}

/// The heads of a chord.
#[derive(Clone, Debug)]
pub(super) struct ChordHeads {
    /// Which of the chords of [`Notation::under`].
    pub chord: usize,
    /// The lowest first; not empty.
    pub heads: Vec<ChordHead>,
    /// Whether its accidentals were found.
    is_said: bool,
    /// How far it stands right of where the melody's head stands or would stand.
    pub shift: f64,
    /// The dotted melody note beside which it stands.
    dotted: Option<Pitch>,
    /// Ink left and right of that place.
    pub left: f64,
    pub right: f64,
}

/// A head of a chord.
#[derive(Clone, Debug)]
pub(super) struct ChordHead {
    pub pitch: Pitch,
    pub place: Place,
    pub accidentals: &'static [Sign],
    /// From where the melody's head stands to the left edge of its first accidental.
    pub accidental_x: f64,
    /// Whether it lies left of the stem, being a step below its neighbour.
    pub is_left: bool,
    tied_back: bool,
    tied_on: bool,
}

/// Accidentals nearer than a seventh stand beside each other.
const CLEAR_STEPS: i16 = 6;
/// From an accidental to what is right of it.
const BESIDE: f64 = 0.2;

/// The bars of the second voice, one for each bar of the melody; nothing where there is no second voice.
pub(super) fn write_second_voice(notation: &Notation<'_>) -> Vec<WrittenBar> {
    let rhythm = notation.tune.under.iter().map(|chord| Note {
        pitch: chord.notes[0].pitch,
        onset: chord.onset,
        duration: chord.duration,
    });
    write_down_voice(notation.tune.melody, rhythm.collect(), &[]).unwrap_or_default()
}

impl SecondVoice {
    /// The chords of a bar, without their accidentals.
    pub fn new(notation: &Notation<'_>, written: &WrittenBar) -> SecondVoice {
        let stack = |symbol: &Written| {
            let chord = note_index(symbol)?;
            Some(ChordHeads::new(notation.tune.under.get(chord)?, chord))
        };
        SecondVoice {
            stacks: written.symbols.iter().map(stack).collect(),
            written: written.clone(),
        }
    }

    /// Each chord with its symbol.
    pub fn chords(&self) -> impl Iterator<Item = (&Written, &ChordHeads)> {
        let symbols = self.written.symbols.iter().zip(&self.stacks);
        symbols.filter_map(|(written, stack)| Some((written, stack.as_ref()?)))
    }

    /// Whether any of it sounds at a time of the bar.
    pub fn sounds_in(&self, from: Quarters, to: Quarters) -> bool {
        self.chords()
            .any(|(written, _)| written.onset < to && from < written.onset + written.duration)
    }
}

impl ChordHeads {
    fn new(chord: &LowerChord, index: usize) -> ChordHeads {
        let mut heads: Vec<ChordHead> = chord
            .notes
            .iter()
            .map(|note| ChordHead {
                pitch: note.pitch,
                place: note.at.place,
                accidentals: &[],
                accidental_x: 0.0,
                is_left: false,
                tied_back: note.tied_back,
                tied_on: note.tied_on,
            })
            .collect();
        heads.sort_by_key(|head| head.pitch.steps());
        // From the top down: of two a step apart the lower one goes to the left, if its neighbour is not there already.
        for at in (0..heads.len().saturating_sub(1)).rev() {
            let above = &heads[at + 1];
            let is_second = above.pitch.steps() - heads[at].pitch.steps() <= 1;
            heads[at].is_left = is_second && !above.is_left;
        }
        ChordHeads {
            chord: index,
            heads,
            is_said: false,
            shift: 0.0,
            dotted: None,
            left: 0.0,
            right: 0.0,
        }
    }

    fn top(&self) -> Option<&ChordHead> {
        self.heads.last()
    }

    /// Whether a chord is a tied one that only goes on.
    pub fn is_only_tied(&self, written: &Written) -> bool {
        let goes_on = matches!(
            written.symbol,
            Symbol::Note {
                tied_back: true,
                ..
            }
        );
        goes_on || self.heads.iter().all(|head| head.tied_back)
    }

    /// Finds its accidentals, the first time it is asked.
    pub fn say_accidentals(&mut self, written: &Written, accidentals: &mut Accidentals) {
        if std::mem::replace(&mut self.is_said, true) {
            return;
        }
        let goes_on = matches!(
            written.symbol,
            Symbol::Note {
                tied_back: true,
                ..
            }
        );
        for head in &mut self.heads {
            let said = accidentals.before(head.pitch, goes_on || head.tied_back);
            head.accidentals = said.map_or(&[][..], Sign::of_alteration);
        }
    }

    /// Sets heads and accidentals beside each other, with those of the melody note that begins with it.
    pub fn set(&mut self, written: &Written, column: Option<&mut SymbolColumn>) {
        let width = head_sign(written).advance();
        let dots = f64::from(written.value.dots()) * (DOT_GAP + Sign::Dot.advance());
        let melody = column
            .as_ref()
            .and_then(|column| Some((column.pitch?, column.sign().advance())));
        if let (Some((pitch, melody_width)), Some(top)) = (melody, self.top())
            && pitch.steps() - top.pitch.steps() <= 1
        {
            self.shift = melody_width + 0.15;
        }
        let has_left = self.heads.iter().any(|head| head.is_left);
        // A head left of the stem stands where the melody's head is not: that one is at least a third higher.
        let edge = match has_left {
            true => (self.shift - width).min(0.0),
            false => 0.0,
        };
        self.right = self.shift + width + dots;
        if written.can_be_beamed() {
            self.right += 0.3;
        }
        let mut signs: Vec<(i16, &'static [Sign], Option<usize>)> = Vec::new();
        if let Some(column) = column.as_ref()
            && let Some(pitch) = column.pitch
        {
            signs.push((i16::from(pitch.steps()), column.accidentals, None));
        }
        let heads = self.heads.iter().enumerate().rev();
        signs.extend(
            heads.map(|(at, head)| (i16::from(head.pitch.steps()), head.accidentals, Some(at))),
        );
        signs.retain(|(_, signs, _)| !signs.is_empty());
        // From the top down, each in the first column where it is clear of those above it.
        let mut columns: Vec<(i16, f64)> = Vec::new();
        let mut placed = Vec::with_capacity(signs.len());
        for (step, signs, owner) in signs {
            let own: f64 = signs.iter().map(|sign| sign.advance() + BESIDE).sum();
            let free = columns
                .iter()
                .position(|(lowest, _)| lowest - step >= CLEAR_STEPS);
            let index = free.unwrap_or_else(|| {
                columns.push((step, 0.0));
                columns.len() - 1
            });
            columns[index] = (step, columns[index].1.max(own));
            placed.push((index, own, owner));
        }
        let x_of = |index: usize| {
            let widths = columns.iter().take(index).map(|(_, width)| width);
            edge - widths.sum::<f64>()
        };
        self.left = -x_of(columns.len());
        let mut melody_left = 0.0;
        for (index, own, owner) in placed {
            let x = x_of(index) - own;
            match owner {
                Some(at) => self.heads[at].accidental_x = x,
                None => melody_left = -x,
            }
        }
        if let Some(column) = column {
            column.left = column.left.max(self.left);
            if self.shift > 0.0 {
                column.dots_at = self.shift + width;
                self.dotted = column.pitch.filter(|_| column.written.value.dots() > 0);
            }
            column.accidental_left = melody_left;
        }
    }
}

impl Notation<'_> {
    /// Whether something lies under the melody.
    pub(super) fn is_arranged(&self) -> bool {
        !self.tune.under.is_empty()
    }

    /// The chord that begins at a time of the tune.
    pub(super) fn chord_at(&self, onset: Quarters) -> Option<&LowerChord> {
        let index = self
            .tune
            .under
            .binary_search_by_key(&onset, |it| it.onset)
            .ok()?;
        self.tune.under.get(index)
    }

    /// The fingers that go down, from the lowest note to the melody's: 0 is an open string.
    pub(super) fn fingers(&self, melody: Option<usize>, chord: Option<&LowerChord>) -> String {
        let struck = chord.iter().flat_map(|chord| &chord.notes);
        let struck = struck.filter(|note| !note.tied_back);
        let mut fingers: Vec<Option<Finger>> = struck.map(|note| note.at.finger).collect();
        let is_alone = fingers.is_empty();
        if let Some(place) = melody.and_then(|index| self.shown_place(index)) {
            fingers.push(place.finger);
        }
        if is_alone && fingers == [None] {
            return String::new();
        }
        let figure = |finger: &Option<Finger>| finger.map_or(0, Finger::get).to_string();
        fingers.iter().map(figure).collect()
    }

    /// The widest figure of a chord on the tablature.
    pub(super) fn widest_fret(&self, chord: &LowerChord) -> String {
        let frets = chord.notes.iter().map(|note| note.at.place.fret);
        frets.max().map_or(String::new(), |fret| fret.to_string())
    }
}

/// A chord of the second voice where it is struck.
#[derive(Clone, Copy, Debug)]
pub(super) struct StruckChord<'a> {
    pub chord: &'a LowerChord,
    /// The melody note that sounds with it.
    pub note: usize,
    /// Whether that begins with it.
    pub is_joint: bool,
    /// The middle of the column.
    pub x: f64,
}

impl System<'_> {
    /// Where the melody's head stands over a symbol of the second voice, or would stand.
    fn column_x(&self, bar: &MeasuredBar, left: f64, written: &Written) -> f64 {
        left + x_at(bar, &bar.positions(self.stretch), written.onset)
    }

    /// The melody note that sounds at a time of the tune.
    fn note_at(&self, time: Quarters) -> usize {
        let notes = self.notation.tune.melody.notes();
        notes
            .partition_point(|note| note.onset <= time)
            .saturating_sub(1)
    }

    /// The chords that are struck in the line.
    pub fn struck(&self, lefts: &[f64]) -> Vec<StruckChord<'_>> {
        let mut out = Vec::new();
        for (bar, left) in self.line.iter().zip(lefts) {
            for (written, stack) in bar.second.iter().flat_map(SecondVoice::chords) {
                if stack.is_only_tied(written) {
                    continue;
                }
                let chord = &self.notation.tune.under[stack.chord];
                let note = self.note_at(chord.onset);
                let melody = self.notation.tune.melody.notes()[note];
                let middle = head_sign(written).advance() / 2.0;
                out.push(StruckChord {
                    chord,
                    note,
                    is_joint: melody.onset == chord.onset,
                    x: self.column_x(bar, *left, written) + middle,
                });
            }
        }
        out
    }

    /// Stems, heads, accidentals, dots and ties of the second voice.
    pub fn second_voice(&self, canvas: &mut Canvas, lefts: &[f64], right: f64) {
        let mut open: HashMap<Place, (f64, f64)> = HashMap::new();
        for (bar, left) in self.line.iter().zip(lefts) {
            let Some(second) = &bar.second else { continue };
            let y_of = |pitch: Pitch| f64::from(self.clef.top_step() - pitch.steps()) / 2.0;
            let symbols = second.written.symbols.iter().zip(&second.stacks);
            let mut heads: Vec<Head> = symbols
                .map(|(written, stack)| {
                    let pitches = stack.iter().flat_map(|stack| &stack.heads);
                    let pitches = || pitches.clone().map(|head| y_of(head.pitch));
                    Head {
                        x: self.column_x(bar, *left, written)
                            + stack.as_ref().map_or(0.0, |stack| stack.shift),
                        y: pitches().reduce(f64::max).unwrap_or(2.0),
                        far: pitches().reduce(f64::min).unwrap_or(2.0),
                        stem: None,
                    }
                })
                .collect();
            stems::draw(canvas, &second.written, &mut heads, Stems::Down);
            for (at, (written, stack)) in second
                .written
                .symbols
                .iter()
                .zip(&second.stacks)
                .enumerate()
            {
                let Some(stack) = stack else { continue };
                let column = self.column_x(bar, *left, written);
                let note = self.note_at(self.notation.tune.under[stack.chord].onset);
                let subject = Subject::Note(note + 1, self.in_words(note));
                let stem = heads[at];
                canvas.group(subject, |canvas| {
                    draw_stack(canvas, written, stack, column, stem, y_of);
                });
                let Symbol::Note {
                    tied_back, tied_on, ..
                } = written.symbol
                else {
                    continue;
                };
                let width = head_sign(written).advance();
                for head in &stack.heads {
                    let (x, y) = (
                        stem.x - if head.is_left { width } else { 0.0 },
                        y_of(head.pitch),
                    );
                    if tied_back || head.tied_back {
                        let (from, y) = open.remove(&head.place).unwrap_or((self.head - 1.2, y));
                        draw_tie(canvas, from, x - 0.1, y, true);
                    }
                    if tied_on || head.tied_on {
                        let dots = f64::from(written.value.dots()) * 0.6;
                        open.insert(head.place, (x + width + 0.1 + dots, y));
                    }
                }
            }
        }
        let mut left_open: Vec<(f64, f64)> = open.into_values().collect();
        left_open.sort_by(|one, other| one.1.total_cmp(&other.1));
        for (from, y) in left_open {
            draw_tie(canvas, from, (right - 0.3).max(from + 1.0), y, true);
        }
    }
}

fn draw_stack(
    canvas: &mut Canvas,
    written: &Written,
    stack: &ChordHeads,
    column: f64,
    stem: Head,
    y_of: impl Fn(Pitch) -> f64,
) {
    let sign = head_sign(written);
    let width = sign.advance();
    let dot_of = |y: f64| match (y - y.round()).abs() < 0.1 {
        true => y - 0.5,
        false => y,
    };
    let beside = stack.dotted.map(|pitch| dot_of(y_of(pitch)));
    let mut dotted: Vec<f64> = beside.into_iter().collect();
    for head in stack.heads.iter().rev() {
        let y = y_of(head.pitch);
        let x = stem.x - if head.is_left { width } else { 0.0 };
        let at = Head {
            x,
            y,
            far: y,
            stem: None,
        };
        ledger_lines(canvas, &at, width);
        let mut sign_x = column + head.accidental_x;
        for accidental in head.accidentals {
            canvas.sign(*accidental, sign_x, y);
            sign_x += accidental.advance() + BESIDE;
        }
        canvas.sign(sign, x, y);
        // Dots of heads that stand close go down from space to space.
        let mut dot = dot_of(y);
        while dotted.iter().any(|other| (other - dot).abs() < 0.9) {
            dot += 1.0;
        }
        dotted.push(dot);
        draw_dots(canvas, stem.x + width, dot, written.value.dots());
    }
}
