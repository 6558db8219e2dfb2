//! The page that `neckline map` prints.

use std::collections::BTreeMap;

use fretlib::mapping::Placement;
use fretlib::neck::Reach;
use fretlib::text::{
    NeckDiagram, NeckMark, NoteMark, Role, StyledLine, StyledText, TabNote, Tablature,
};
use fretlib::theory::{Interval, Membership, MidiNumber, Octave};

use super::Mapped;
use crate::report::heading::title_or_untitled;

/// What is printed and how.
pub struct Page<'a> {
    pub mapped: &'a Mapped,
    pub drawn: &'a Placement,
    pub left_handed: bool,
    pub ascii: bool,
    pub width: usize,
}

impl Page<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = StyledText::default();
        page.append(self.head());
        page.push("");
        page.append(self.outside());
        page.push("");
        page.append(self.table());
        page.push("");
        page.append(self.placement());
        page
    }

    fn head(&self) -> StyledText {
        let melody = &self.mapped.tune.melody;
        let mut text = StyledText::default();
        let mut title = StyledLine::default();
        title.push(title_or_untitled(melody.title()), Role::Heading);
        if let Some(composer) = melody.composer() {
            title.push(&format!(", {composer}"), Role::Plain);
        }
        text.push(title);
        let (low, high) = melody.range();
        let mut facts = vec![format!(
            "{} ({})",
            self.mapped.tune.key,
            self.mapped.tune.key_source.name()
        )];
        facts.extend(
            melody
                .meters()
                .first()
                .copied()
                .flatten()
                .map(|meter| meter.to_string()),
        );
        facts.push(format!("{low} to {high} ({})", (high - low).size().name()));
        facts.push(format!("{} notes", melody.notes().len()));
        let bars = melody.bars().iter().filter(|bar| bar.number > 0).count();
        facts.push(format!("{bars} bars"));
        facts.push(self.instrument());
        for line in wrapped(&facts, self.width) {
            text.push(line.as_str());
        }
        text
    }

    fn instrument(&self) -> String {
        let instrument = &self.mapped.instrument;
        match instrument.capo() {
            0 => instrument.name().to_owned(),
            capo => format!("{}, capo at {capo}", instrument.name()),
        }
    }

    /// The notes outside the scale, a line each.
    fn outside(&self) -> StyledText {
        let mut text = StyledText::default();
        let notes = &self.mapped.notes;
        let outside: Vec<usize> = (0..notes.len())
            .filter(|index| notes[*index].membership != Membership::Scale)
            .collect();
        let mut head = StyledLine::default();
        if outside.is_empty() {
            head.push("Every note belongs to the scale.", Role::Heading);
            text.push(head);
            return text;
        }
        head.push("Outside the scale", Role::Heading);
        text.push(head);
        // A long tune is told in full by --json; here the page must stay a page.
        const MOST: usize = 24;
        let places = outside
            .iter()
            .take(MOST)
            .map(|index| self.whereabouts(*index).len());
        let room = places.max().unwrap_or(0).max(18) + 2;
        for &index in outside.iter().take(MOST) {
            text.push(self.outside_line(index, room));
        }
        if outside.len() > MOST {
            text.push(
                format!(
                    "  and {} more (all of them with --json)",
                    outside.len() - MOST
                )
                .as_str(),
            );
        }
        text
    }

    /// Where a note stands: `bar 3   beat 2&`.
    fn whereabouts(&self, index: usize) -> String {
        let beat = self
            .mapped
            .tune
            .melody
            .beat_at(self.mapped.notes[index].note.onset);
        format!("  bar {:<3} beat {beat}", beat.bar.to_string())
    }

    /// One note outside the scale, with its place in `room` columns.
    fn outside_line(&self, index: usize, room: usize) -> StyledLine {
        let notes = &self.mapped.notes;
        let it = &notes[index];
        let mut line = StyledLine::default();
        line.push(&format!("{:<room$}", self.whereabouts(index)), Role::Plain);
        let mark = NoteMark::of(it.degree, it.membership);
        line.push(
            &format!(
                "{:<5}{:<5}",
                it.note.pitch.to_string(),
                mark.sign(&it.degree.to_string())
            ),
            mark.role,
        );
        let left = match notes.get(index + 1) {
            Some(next) => {
                let interval = next.note.pitch - it.note.pitch;
                let how = if interval == Interval::UNISON {
                    "repeated".to_owned()
                } else {
                    format!("left by {interval} to {}", next.note.pitch)
                };
                format!("{how:<20}")
            }
            None => format!("{:<20}", "the last note"),
        };
        line.push(&left, Role::Plain);
        if let Some(chord) = it.chord {
            line.push(
                &format!("{} of {chord}", chord.degree(it.note.pitch.class())),
                Role::Plain,
            );
        }
        if it.membership == Membership::Raised {
            line.fill_to(62, " ", Role::Plain);
            line.push("raised", Role::Plain);
        }
        line
    }

    /// Positions by octave.
    fn table(&self) -> StyledText {
        let mapped = self.mapped;
        let mut text = StyledText::default();
        let octaves = &mapped.octaves;
        const HEAD: usize = 11;
        let room = (self.width.saturating_sub(HEAD) / octaves.len().max(1)).clamp(10, 60);
        let mut head = StyledLine::default();
        head.push(&format!("{:<HEAD$}", "position"), Role::Heading);
        for octave in octaves {
            let name = octave_name(*octave);
            head.push(&format!("{name:<room$}"), Role::Heading);
        }
        text.push(head);
        for row in mapped.placements.chunk_by(|a, b| a.position == b.position) {
            let mut line = StyledLine::default();
            let drawn_here = row[0].position == self.drawn.position;
            line.push(
                &format!("{:<HEAD$}", row[0].position.to_string()),
                if drawn_here {
                    Role::Heading
                } else {
                    Role::Plain
                },
            );
            for placement in row {
                let drawn = drawn_here && placement.octave == self.drawn.octave;
                let mut cell = self.cell(placement, room - 1);
                if drawn {
                    cell.push_str(" <");
                    cell = shorten(&cell, room - 1);
                }
                let role = match (drawn, placement.is_whole()) {
                    (true, _) => Role::Heading,
                    (false, true) => Role::Right,
                    (false, false) => Role::Faint,
                };
                line.push(&format!("{cell:<room$}"), role);
            }
            text.push(line);
        }
        text
    }

    /// One placement in a few words: whole, or what is missing.
    fn cell(&self, placement: &Placement, room: usize) -> String {
        if placement.is_whole() {
            let stretches = placement.stretches();
            let words = match stretches {
                0 => "whole".into(),
                1 => "whole, 1 stretch".into(),
                many => format!("whole, {many} stretches"),
            };
            // The sign that stretches carry on the neck, where the words do not fit.
            return if words.len() <= room {
                words
            } else {
                format!("whole ~{stretches}")
            };
        }
        // Which pitches are missing, from the lowest, each once.
        let mut missing: BTreeMap<MidiNumber, String> = BTreeMap::new();
        for &note in &placement.missing {
            let pitch = self.mapped.notes[note].note.pitch;
            let sounded = pitch
                .transpose(placement.octave.interval())
                .unwrap_or(pitch);
            missing
                .entry(sounded.midi())
                .or_insert_with(|| sounded.to_string());
        }
        let names: Vec<&str> = missing.values().map(String::as_str).collect();
        shorten(
            &format!("-{}: {}", placement.missing.len(), names.join(" ")),
            room,
        )
    }

    /// The drawn placement: a neck and a tablature.
    fn placement(&self) -> StyledText {
        let (mapped, drawn) = (self.mapped, self.drawn);
        let mut text = StyledText::default();
        let mut head = StyledLine::default();
        let octave = octave_name(drawn.octave);
        let state = self.cell(drawn, usize::MAX);
        head.push(
            &format!("Position {}, {octave}: {state}", drawn.position),
            Role::Heading,
        );
        text.push(head);
        let mut tab: Vec<TabNote> = mapped
            .notes
            .iter()
            .map(|it| TabNote {
                label: it.degree.to_string(),
                mark: NoteMark::of(it.degree, it.membership),
                ..TabNote::default()
            })
            .collect();
        for placed in &drawn.places {
            tab[placed.note].place = Some(placed.place);
            tab[placed.note].mark.stretch = placed.reach == Reach::Stretch;
        }
        let mut marks: Vec<NeckMark> = Vec::new();
        for it in &tab {
            let Some(place) = it.place else { continue };
            if !marks.iter().any(|mark| mark.place == place) {
                marks.push(NeckMark {
                    place,
                    label: it.label.clone(),
                    mark: it.mark,
                });
            }
        }
        let neck = NeckDiagram {
            instrument: &mapped.instrument,
            marks: &marks,
            position: Some(drawn.position),
            left_handed: self.left_handed,
            ascii: self.ascii,
            width: self.width,
        };
        text.append(neck.draw());
        if let Some(legend) = legend(&tab) {
            text.push(legend.as_str());
        }
        text.push("");
        let tablature = Tablature {
            melody: &mapped.tune.melody,
            notes: &tab,
            instrument: &mapped.instrument,
            ascii: self.ascii,
            width: self.width,
        };
        text.append(tablature.draw());
        text
    }
}

/// An octave as the head of a column: `as written`, `octave +1`.
fn octave_name(octave: Octave) -> String {
    match octave {
        Octave::WRITTEN => octave.in_words(),
        _ => format!("octave {octave}"),
    }
}

/// The signs that occur, explained.
fn legend(notes: &[TabNote]) -> Option<String> {
    let any = |test: &dyn Fn(&TabNote) -> bool| notes.iter().any(test);
    let signs = [
        (any(&|it| it.mark.role == Role::Tonic), "[1] tonic"),
        (
            any(&|it| it.mark.role == Role::Outside),
            "* outside the scale",
        ),
        (any(&|it| it.mark.role == Role::Raised), "^ raised"),
        (any(&|it| it.mark.stretch), "~ stretch"),
        (any(&|it| it.place.is_none()), "( ) out of reach here"),
    ];
    let said: Vec<&str> = signs.iter().filter(|it| it.0).map(|it| it.1).collect();
    (!said.is_empty()).then(|| said.join("   "))
}

/// Facts with commas between them, in lines of at most `width` characters.
fn wrapped(facts: &[String], width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for (index, fact) in facts.iter().enumerate() {
        let comma = if index + 1 < facts.len() { "," } else { "" };
        let word = format!("{fact}{comma}");
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// The text cut to `room` characters, with an ellipsis where something is left out.
fn shorten(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(room.saturating_sub(2)).collect();
    cut.push_str("..");
    cut
}
