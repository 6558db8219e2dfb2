//! What is struck under a melody that is played as it is arranged.

use crate::melody::{Melody, Note};

/// The notes under each note of a melody.
pub struct NotesUnder {
    // For each note of the melody: what is struck with it, and what comes after it, before the next.
    with: Vec<Vec<i32>>,
    after: Vec<Vec<LaterNote>>,
}

/// A note that is struck after a note of the melody.
#[derive(Clone, Copy, Debug)]
struct LaterNote {
    /// Its sounding pitch.
    pitch: i32,
    /// Quarter notes after the note of the melody.
    after: f64,
}

/// How many seconds from its time something may be struck to belong to the accompaniment: a hand spreads a chord, and
/// its tempo swings; chosen on takes of our own.
const WITHIN: f64 = 0.2;
/// How many seconds around a note of the melody everything belongs to what is struck with it.
const TOGETHER: f64 = 0.08;

impl NotesUnder {
    /// The notes under a melody, both in written time and pitch, played `shift` semitones from there.
    pub fn new(melody: &Melody, under: &[Note], shift: i32) -> NotesUnder {
        let notes = melody.notes();
        let mut with = vec![Vec::new(); notes.len()];
        let mut after = vec![Vec::new(); notes.len()];
        for it in under {
            let begun = notes.partition_point(|note| note.onset <= it.onset);
            let Some(index) = begun.checked_sub(1) else {
                continue;
            };
            let pitch = i32::from(it.pitch.midi().get()) + shift;
            let quarters = (it.onset - notes[index].onset).to_f64();
            match quarters > 0.0 {
                true => after[index].push(LaterNote {
                    pitch,
                    after: quarters,
                }),
                false => with[index].push(pitch),
            }
        }
        NotesUnder { with, after }
    }

    /// The sounding pitches struck with a note of the melody.
    pub fn struck_with(&self, note: usize) -> &[i32] {
        &self.with[note]
    }

    /// Whether a strike belongs to what lies under a note. It came `after` quarter notes after it, of `quarter` seconds each.
    pub fn has(&self, note: usize, pitch: i32, after: f64, quarter: f64) -> bool {
        let with = &self.with[note];
        let off = (after * quarter).abs();
        // Octaves share overtones, so that a low note is often taken for a higher one.
        let is_like = |it: i32| (it - pitch) % 12 == 0;
        (!with.is_empty() && off < TOGETHER)
            || (off < WITHIN && with.iter().any(|it| is_like(*it)))
            || self.after[note].iter().any(|it| {
                let off = (after - it.after).abs() * quarter;
                off < TOGETHER || (off < WITHIN && is_like(it.pitch))
            })
    }
}
