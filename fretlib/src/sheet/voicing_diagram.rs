//! Diagrams of what is struck under a melody, over the staff: string 1 on top, the lower frets at the left.

use super::canvas::Canvas;
use super::drawing::{Anchor, Ink, Mark, Stroke, Subject};
use super::font::{Face, defaults};
use super::rows::{CAPITAL, STRING_GAP};
use super::second_voice::StruckChord;
use super::skyline::Skyline;
use super::staff_block::{FINGER_SIZE, Notation, System};
use crate::arranging::LowerChord;
use crate::neck::{Finger, Place};

/// Room for a fret.
const FRET_WIDTH: f64 = 1.75;
/// Room for `o` and `x` beside the strings.
const SIGNS: f64 = 1.2;
/// The fewest frets drawn.
const FEWEST: u8 = 4;
/// The type of the number of the first fret.
const NUMBER_SIZE: f64 = 1.45;

/// The first fret drawn and the last.
fn frets(places: &[(Place, Option<Finger>)]) -> (u8, u8) {
    let frets = || places.iter().map(|(place, _)| place.fret.get());
    let stopped = || frets().filter(|fret| *fret > 0);
    let (low, high) = (stopped().min().unwrap_or(1), stopped().max().unwrap_or(1));
    let low = if high <= FEWEST { 1 } else { low };
    (low, high.max(low + FEWEST - 1))
}

/// The width of the diagram of a chord with the melody over it.
pub(super) fn diagram_width(notation: &Notation<'_>, chord: &LowerChord) -> f64 {
    let notes = notation.tune.melody.notes();
    let note = notes.partition_point(|note| note.onset <= chord.onset);
    let (low, high) = frets(&places(notation, chord, note.saturating_sub(1)));
    SIGNS + FRET_WIDTH * f64::from(high - low + 1)
}

fn places(
    notation: &Notation<'_>,
    chord: &LowerChord,
    note: usize,
) -> Vec<(Place, Option<Finger>)> {
    let lower = chord.notes.iter().map(|it| (it.at.place, it.at.finger));
    let melody = notation.shown_place(note);
    let melody = melody.map(|it| (it.place, it.finger));
    lower.chain(melody).collect()
}

impl System<'_> {
    /// All diagrams of the line, on one height.
    pub fn diagrams(&self, canvas: &mut Canvas, skyline: &Skyline, lefts: &[f64]) {
        let struck = self.struck(lefts);
        let left = |it: &StruckChord<'_>| it.x - SIGNS;
        let clear = struck.iter().map(|it| {
            let right = left(it) + diagram_width(self.notation, it.chord);
            skyline.top(left(it), right) - 0.6
        });
        let bottom = clear.fold(-0.7, f64::min);
        for it in &struck {
            let subject = Subject::Note(it.note + 1, self.in_words(it.note));
            let places = places(self.notation, it.chord, it.note);
            canvas.group(subject, |canvas| {
                self.diagram(canvas, &places, left(it), bottom);
            });
        }
    }

    fn diagram(
        &self,
        canvas: &mut Canvas,
        places: &[(Place, Option<Finger>)],
        left: f64,
        bottom: f64,
    ) {
        let (low, high) = frets(places);
        let strings = self.notation.tune.instrument.strings().len();
        let lowest = bottom - NUMBER_SIZE * CAPITAL - 0.75;
        let top = lowest - STRING_GAP * strings.saturating_sub(1) as f64;
        let nut = left + SIGNS;
        let end = nut + FRET_WIDTH * f64::from(high - low + 1);
        let mut figures = Vec::new();
        for string in self.notation.tune.instrument.string_numbers() {
            let y = top + STRING_GAP * string.index() as f64;
            canvas.line((nut, y), (end, y), defaults::STAFF_LINE * 0.8);
            let at = places.iter().find(|(place, _)| place.string == string);
            let beside = left + 0.5;
            figures.push(match at {
                None => ("x".to_string(), beside, y),
                Some((_, None)) => ("o".to_string(), beside, y),
                Some((place, Some(finger))) => {
                    let along = f64::from(place.fret.get() - low) + 0.5;
                    (finger.to_string(), nut + FRET_WIDTH * along, y)
                }
            });
        }
        for fret in 0..=high - low + 1 {
            let x = nut + FRET_WIDTH * f64::from(fret);
            let is_nut = fret == 0 && low == 1;
            let width = if is_nut { 0.22 } else { 0.1 };
            let stroke = Stroke::solid(width * canvas.space, Ink::Black);
            let wire = Mark::line(canvas.point(x, top), canvas.point(x, lowest), stroke);
            canvas.marks.push(wire);
        }
        for (text, x, y) in figures {
            let (from, to) = (
                canvas.point(x - 0.5, y - 0.5),
                canvas.point(x + 0.5, y + 0.5),
            );
            let paper = Mark::rectangle(from, to, Some(Ink::White), None);
            canvas.marks.push(paper);
            let base = y + FINGER_SIZE * CAPITAL / 2.0;
            canvas.text(&text, x, base, FINGER_SIZE, Face::Figure, Anchor::Middle);
        }
        if low > 1 {
            let x = nut + FRET_WIDTH / 2.0;
            let number = low.to_string();
            canvas.text(&number, x, bottom, NUMBER_SIZE, Face::Label, Anchor::Middle);
        }
    }
}
