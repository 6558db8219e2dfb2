//! A stretch of the melody, such as a phrase, within a pass.

use std::ops::Range;

use super::take::{HeardPass, JudgedNote};

/// A stretch of the melody that was played whole once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayedStretch {
    /// The first of its notes with a certain fault, or after which one was certainly added; `None` when it was right.
    pub first_fault: Option<usize>,
    /// From its first note to its last one, in seconds.
    pub seconds: f64,
}

impl HeardPass {
    /// Each time the notes of a stretch, counted from 0 in the melody, were played whole in it.
    ///
    /// A stretch whose notes do not follow each other in playing order, as where an ending stands inside, counts once.
    /// Nothing when a note of it lies before or after the pass.
    pub fn times_through(&self, stretch: &Range<usize>) -> Vec<PlayedStretch> {
        if stretch.is_empty() {
            return Vec::new();
        }
        let follow_each_other = |from: &usize| {
            let notes = self.notes.get(*from..*from + stretch.len());
            notes.is_some_and(|notes| notes.iter().map(|it| it.index).eq(stretch.clone()))
        };
        let times: Vec<PlayedStretch> = (0..self.notes.len())
            .filter(follow_each_other)
            .map(|from| self.judged(from..from + stretch.len(), |_| true))
            .collect();
        let has = |index: usize| self.notes.iter().any(|note| note.index == index);
        if !times.is_empty() || !stretch.clone().all(has) {
            return times;
        }
        let is_in = |note: &JudgedNote| stretch.contains(&note.index);
        let first = self.notes.iter().position(is_in);
        let last = self.notes.iter().rposition(is_in);
        let ends = first.zip(last);
        ends.map(|(first, last)| self.judged(first..last + 1, is_in))
            .into_iter()
            .collect()
    }

    /// The verdict on those of these notes of the pass that belong to the stretch.
    fn judged(&self, notes: Range<usize>, is_in: impl Fn(&JudgedNote) -> bool) -> PlayedStretch {
        let at = |note: &JudgedNote| note.heard.map_or(note.expected, |heard| heard.onset);
        let has_extra = |number: usize| {
            let next = self.notes.get(number + 1).map_or(f64::INFINITY, at);
            let during = at(&self.notes[number])..next;
            self.sure_extras.iter().any(|it| during.contains(it))
        };
        let mut faults = notes.clone().filter(|number| {
            let note = &self.notes[*number];
            is_in(note) && (note.is_sure_fault() || has_extra(*number))
        });
        let (first, last) = (&self.notes[notes.start], &self.notes[notes.end - 1]);
        PlayedStretch {
            first_fault: faults.next().map(|number| self.notes[number].index),
            seconds: (last.expected - first.expected).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hearing::NoteVerdict;

    /// Notes of a pass half a second apart: their indices, with `!` a certain fault and with `?` a doubtful one. For each time
    /// through, the first fault.
    fn check(notes: &str, extras: &[f64], stretch: Range<usize>, expected: &[Option<usize>]) {
        let judged = notes.split(' ').zip(0..).map(|(word, number)| JudgedNote {
            index: word.trim_end_matches(['!', '?']).parse().unwrap(),
            time: 1,
            verdict: match word.contains(['!', '?']) {
                true => NoteVerdict::Missing,
                false => NoteVerdict::Right,
            },
            sure: !word.contains('?'),
            expected: 0.5 * f64::from(number),
            heard: None,
            break_after: 0.0,
        });
        let pass = HeardPass {
            notes: judged.collect(),
            tempo: Some(120.0),
            bars: (1, 2),
            sure_extras: extras.to_vec(),
        };
        let times = pass.times_through(&stretch);
        let faults: Vec<Option<usize>> = times.iter().map(|it| it.first_fault).collect();
        assert_eq!(faults, expected, "{notes} {stretch:?}");
    }

    #[test]
    fn a_stretch_counts_when_it_was_played_whole() {
        check("0 1 2 3 4 5", &[], 0..3, &[None]);
        check("1 2 3 4 5", &[], 0..3, &[]); // begun after its first note
        check("0 1", &[], 0..3, &[]); // stopped within it
        check("0 1! 2 3 4 5", &[], 0..3, &[Some(1)]);
        check("0 1! 2 3 4 5", &[], 3..6, &[None]); // a fault elsewhere
        check("0 1? 2 3 4 5", &[], 0..3, &[None]); // what is doubtful never counts
        check("0 1 2 0 1 2! 3", &[], 0..3, &[None, Some(2)]); // a repeat
        check("0 1 2 0 1 3", &[], 0..4, &[None]); // two endings
        check("0 1! 2 0 1 3", &[], 0..4, &[Some(1)]);
        check("0 1 2 3", &[1.2], 0..2, &[None]); // added after note 2
        check("0 1 2 3", &[1.2], 2..4, &[Some(2)]);
        check("0 1 2 3", &[], 2..2, &[]);
    }

    #[test]
    fn its_time_is_from_its_first_note_to_its_last() {
        let note = |index: usize| JudgedNote {
            index,
            time: 1,
            verdict: NoteVerdict::Right,
            sure: true,
            expected: 1.5 * index as f64,
            heard: None,
            break_after: 0.0,
        };
        let pass = HeardPass {
            notes: (0..6).map(note).collect(),
            tempo: Some(40.0),
            bars: (1, 2),
            sure_extras: Vec::new(),
        };
        assert_eq!(pass.times_through(&(2..5))[0].seconds, 3.0);
    }
}
