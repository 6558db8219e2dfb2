//! A phrase of a lesson: note names bar by bar, tablature with chords, and the neck.

use fretlib::neck::Position;
use fretlib::practice::{Lesson, PhraseStrip, PracticeMaterial, Stage};
use fretlib::text::{NeckMark, NoteMark, StyledText, TabNote, Tablature};

use crate::session::{bars_in_words, placement_in_words};

/// A phrase at a stage of its lesson.
#[derive(Clone, Copy, Debug)]
pub struct PhrasePage<'a> {
    /// What is practised.
    pub material: &'a PracticeMaterial,
    /// The phrase and its placement.
    pub lesson: &'a Lesson,
    /// How much of it is shown.
    pub stage: Stage,
    /// Draw with ASCII characters only.
    pub ascii: bool,
    /// The most columns to use.
    pub width: usize,
}

impl PhrasePage<'_> {
    /// `Learn bars 5-8 in position V`, `Bars 5-8 in another place: position X`; along the player's own fingering
    /// `Bars 5-8 along your fingering: positions V and X`.
    pub fn heading(&self) -> String {
        let bars = bars_in_words(self.material, self.lesson.phrase);
        let in_words = |it| placement_in_words(self.material, self.lesson.phrase, it);
        let place = self.lesson.placement.map(in_words);
        match (self.lesson.is_untouched, place) {
            (true, Some(place)) => format!("Learn {bars} in {place}"),
            (true, None) => format!("Learn {bars}"),
            (false, Some(place)) if self.material.is_fingered() => {
                format!("{} along your fingering: {place}", capital(&bars))
            }
            (false, Some(place)) => format!("{} in another place: {place}", capital(&bars)),
            (false, None) => capital(&bars),
        }
    }

    /// Where the hand is; at no one position when it shifts within the phrase.
    pub fn position(&self) -> Option<Position> {
        let along = (self.material).placements_along(self.lesson.phrase as usize);
        match along[..] {
            [] => Some(self.lesson.placement?.position),
            [one] => Some(one.position),
            _ => None,
        }
    }

    /// The note names, bar by bar.
    pub fn strip(&self) -> StyledText {
        let notes = self.lesson.notes(self.material);
        PhraseStrip::of_lesson(notes, self.stage, self.material).draw(self.width, self.ascii)
    }

    /// The tablature with chords above; `None` when the tune is nowhere on the neck.
    pub fn tablature(&self) -> Option<StyledText> {
        let placement = self.lesson.placement?;
        let notes = self.lesson.notes(self.material);
        let melody = self.material.melody();
        let (first, last) = (&melody.notes()[notes.start], &melody.notes()[notes.end - 1]);
        let (start, end) = (
            melody.bar_at(first.onset).onset,
            melody.bar_at(last.onset).end,
        );
        let phrase = melody.between(start, end)?;
        let placed = self.material.placed(placement)?;
        let way = |note: usize| match self.material.fingered(note, placement) {
            Some(own) => Some((own.place, own.finger)),
            None => {
                let found = placed.places().iter().find(|it| it.note == note);
                found.map(|it| (it.place, it.finger))
            }
        };
        // Whole bars are drawn; notes outside the phrase have no name.
        let onsets = melody.notes().iter().map(|note| note.onset);
        let in_bars = onsets
            .enumerate()
            .filter(|(_, at)| (start..end).contains(at));
        let tab_notes: Vec<TabNote> = in_bars
            .map(|(note, _)| {
                let is_inside = notes.contains(&note);
                let is_hidden = is_inside && self.stage.hides(note - notes.start);
                let found = way(note);
                let analysed = &self.material.notes()[note];
                TabNote {
                    place: found.filter(|_| !is_hidden).map(|(place, _)| place),
                    finger: found.and_then(|(_, finger)| finger),
                    position: None,
                    chord_tone: None,
                    label: match (is_inside, is_hidden) {
                        (false, _) => String::new(),
                        (true, true) => "?".into(),
                        (true, false) => analysed.note.pitch.class().to_string(),
                    },
                    mark: NoteMark::default(),
                }
            })
            .collect();
        let tablature = Tablature {
            melody: &phrase,
            notes: &tab_notes,
            instrument: self.material.instrument(),
            ascii: self.ascii,
            width: self.width,
        };
        Some(tablature.draw())
    }

    /// The notes of the phrase on the neck that the stage shows.
    pub fn marks(&self) -> Vec<NeckMark> {
        let notes = self.lesson.notes(self.material);
        let shown = notes
            .clone()
            .filter(|note| !self.stage.hides(note - notes.start));
        let Some(placement) = self.lesson.placement else {
            return Vec::new();
        };
        shown
            .flat_map(|note| crate::session::note_marks(self.material, note, placement))
            .collect()
    }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}
