//! The page that `neckline map` prints.

use std::collections::BTreeMap;

use fretlib::fingering::Fingering;
use fretlib::mapping::Placement;
use fretlib::melody::AnalysedNote;
use fretlib::neck::Reach;
use fretlib::text::{
    NeckDiagram, NeckMark, NoteMark, Role, StyledLine, StyledText, TabNote, Tablature,
};
use fretlib::theory::{Direction, Interval, Membership, MidiNumber, Octave, Pitch};

use super::Mapped;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;

/// What is drawn on the neck and as tablature.
#[derive(Clone, Copy)]
pub enum Drawn<'a> {
    /// One position.
    Placement(&'a Placement),
    /// The way along the neck, at an octave.
    Fingering(&'a Fingering, Octave),
}

impl Drawn<'_> {
    fn is(self, placement: &Placement) -> bool {
        match self {
            Drawn::Placement(drawn) => drawn == placement,
            Drawn::Fingering(..) => false,
        }
    }
}

/// What is printed and how.
pub struct MapPage<'a> {
    pub mapped: &'a Mapped<'a>,
    pub drawn: Drawn<'a>,
    /// The best placements, the best first.
    pub best: Vec<&'a Placement>,
    /// The one on open strings, if it is not among them.
    pub on_open_strings: Option<&'a Placement>,
    pub has_all: bool,
    pub has_tablature: bool,
    pub has_chord_tones: bool,
    pub left_handed: bool,
    pub ascii: bool,
    pub width: usize,
}

impl MapPage<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let head = self.head();
        let placements = if self.has_all {
            self.table()
        } else {
            self.best_placements()
        };
        let neck = self.neck();
        // Blank lines between the four parts, and the heading over the notes.
        let others = head.lines().len() + placements.lines().len() + neck.lines().len() + 4;
        let outside = match self.has_all {
            true => self.outside(usize::MAX),
            false => self.outside(LINES.saturating_sub(others)),
        };
        let mut page = head;
        for part in [outside, placements, neck] {
            page.push("");
            page.append(part);
        }
        if self.has_tablature {
            page.push("");
            page.append(self.tablature());
        }
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
        facts.push(count(melody.notes().len(), "note"));
        let bars = melody.bars().iter().filter(|bar| bar.number > 0).count();
        facts.push(count(bars, "bar"));
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

    /// The notes outside the scale, one on each line; limited to `most` lines, but at least two.
    fn outside(&self, most: usize) -> StyledText {
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
        let most = most.max(2);
        let shown = match outside.len() <= most {
            true => &outside[..],
            false => &outside[..most - 1],
        };
        let places = shown.iter().map(|index| self.whereabouts(*index).len());
        let room = places.max().unwrap_or(0).max(18) + 2;
        for &index in shown {
            text.push(self.outside_line(index, room));
        }
        let left_out = outside.len() - shown.len();
        if left_out > 0 {
            let more = format!("  and {left_out} more (`--all` shows them)");
            text.push(more.as_str());
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
                self.how_it_is_left(interval, next.note.pitch)
            }
            None => "the last note".to_owned(),
        };
        let room = if self.has_words() { 30 } else { 20 };
        let left = format!("{left:<room$}");
        line.push(&left, Role::Plain);
        if let Some(chord) = it.chord {
            line.push(
                &format!("{} of {chord}", chord.degree(it.note.pitch.class())),
                Role::Plain,
            );
        }
        if it.membership == Membership::Raised {
            line.push("  raised", Role::Plain);
        }
        line
    }

    /// Whether the lines are wide enough for intervals in words.
    fn has_words(&self) -> bool {
        self.width >= 80
    }

    /// `down a major 3rd to D5`, or `-M3 to D5` where there is no room for it.
    fn how_it_is_left(&self, interval: Interval, next: Pitch) -> String {
        let way = match interval.direction() {
            Direction::Same => return "repeated".to_owned(),
            Direction::Up => "up",
            Direction::Down => "down",
        };
        if !self.has_words() {
            return format!("{interval} to {next}");
        }
        let name = interval.in_words();
        let article = if name.starts_with(['a', 'o']) {
            "an"
        } else {
            "a"
        };
        format!("{way} {article} {name} to {next}")
    }

    /// The best placements, one on each line, and the one on open strings.
    fn best_placements(&self) -> StyledText {
        let mut text = StyledText::default();
        for (index, placement) in self.best.iter().chain(&self.on_open_strings).enumerate() {
            let mut line = StyledLine::default();
            let head = if index == 0 { "best" } else { "" };
            line.push(&format!("{head:<11}"), Role::Heading);
            let is_drawn = self.drawn.is(placement);
            let words = format!(
                "{:<6}{:<13}{}",
                placement.position.to_string(),
                octave_name(placement.octave),
                self.state(placement, self.width.saturating_sub(32))
            );
            let role = match (is_drawn, placement.is_whole()) {
                (true, _) => Role::Heading,
                (false, true) => Role::Right,
                (false, false) => Role::Faint,
            };
            line.push(&words, role);
            line.push(if is_drawn { " <" } else { "" }, Role::Heading);
            text.push(line);
        }
        text
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
            let drawn_here = row.iter().any(|placement| self.drawn.is(placement));
            line.push(
                &format!("{:<HEAD$}", row[0].position.to_string()),
                if drawn_here {
                    Role::Heading
                } else {
                    Role::Plain
                },
            );
            for placement in row {
                let drawn = self.drawn.is(placement);
                let mut cell = self.cell(placement, room - 3);
                if let Some(shade) = self.shade(placement) {
                    cell = format!("{shade} {cell}");
                }
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
        let signs = self.shades();
        let legend = format!(
            "stretches: {} at most one note in twenty, {} at most one in five, {} more",
            signs[0], signs[1], signs[2]
        );
        let mut line = StyledLine::default();
        line.push(&legend, Role::Faint);
        text.push(line);
        text
    }

    /// Three shapes for few, some and many stretches.
    fn shades(&self) -> [&'static str; 3] {
        match self.ascii {
            true => [".", ":", "#"],
            false => ["░", "▒", "▓"],
        }
    }

    /// The shade of a whole placement with stretches.
    fn shade(&self, placement: &Placement) -> Option<&'static str> {
        let (stretches, notes) = (placement.stretches(), placement.places().len());
        let step = match stretches {
            _ if !placement.is_whole() => return None,
            0 => return None,
            _ if stretches * 20 <= notes => 0,
            _ if stretches * 5 <= notes => 1,
            _ => 2,
        };
        Some(self.shades()[step])
    }

    /// One placement in words: whole with what stretches and open strings it takes, or what is missing.
    fn state(&self, placement: &Placement, room: usize) -> String {
        let words = self.cell(placement, room);
        match placement.open_strings() {
            0 => words,
            _ if !placement.is_whole() => words,
            _ => format!("{words}, on open strings"),
        }
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
            // The sign for stretches on the neck, if the words do not fit.
            return if words.len() <= room {
                words
            } else {
                format!("whole ~{stretches}")
            };
        }
        // Which pitches are missing, from the lowest, each once.
        let mut missing: BTreeMap<MidiNumber, String> = BTreeMap::new();
        for &note in placement.missing() {
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
            &format!("{} missing: {}", placement.missing_count(), names.join(" ")),
            room,
        )
    }

    /// The notes for the tablature and the neck.
    fn tab_notes(&self) -> Vec<TabNote> {
        let mut tab: Vec<TabNote> = self
            .mapped
            .notes
            .iter()
            .map(|it| self.tab_note(it))
            .collect();
        match self.drawn {
            Drawn::Placement(drawn) => {
                for placed in drawn.places() {
                    tab[placed.note].place = Some(placed.place);
                    tab[placed.note].mark.stretch = placed.reach == Reach::Stretch;
                }
            }
            Drawn::Fingering(fingering, _) => {
                let mut before = None;
                for (tab, note) in tab.iter_mut().zip(&fingering.notes) {
                    tab.place = Some(note.place);
                    tab.finger = note.finger;
                    tab.position = (before != Some(note.position)).then_some(note.position);
                    tab.mark.stretch = note.is_stretched();
                    before = Some(note.position);
                }
            }
        }
        tab
    }

    fn tab_note(&self, it: &AnalysedNote) -> TabNote {
        let over = it.chord.filter(|_| self.has_chord_tones);
        TabNote {
            label: it.degree.to_string(),
            chord_tone: over.map(|chord| chord.degree(it.note.pitch.class())),
            mark: NoteMark::of(it.degree, it.membership),
            ..TabNote::default()
        }
    }

    /// The drawn placement on the neck.
    fn neck(&self) -> StyledText {
        let drawn = self.drawn;
        let mut text = StyledText::default();
        let mut head = StyledLine::default();
        let words = match drawn {
            Drawn::Placement(drawn) => format!(
                "Position {}, {}: {}",
                drawn.position,
                octave_name(drawn.octave),
                self.state(drawn, usize::MAX)
            ),
            Drawn::Fingering(fingering, octave) => format!(
                "Your fingering, {}: {}",
                octave_name(octave),
                count(fingering.shifts().count(), "shift")
            ),
        };
        head.push(&words, Role::Heading);
        text.push(head);
        let tab = self.tab_notes();
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
            instrument: &self.mapped.instrument,
            marks: &marks,
            position: match drawn {
                Drawn::Placement(drawn) => Some(drawn.position),
                Drawn::Fingering(..) => None,
            },
            left_handed: self.left_handed,
            ascii: self.ascii,
            width: self.width,
        };
        text.append(neck.draw());
        if let Some(legend) = legend(&tab) {
            text.push(legend.as_str());
        }
        text
    }

    /// The drawn placement as tablature.
    fn tablature(&self) -> StyledText {
        let tablature = Tablature {
            melody: &self.mapped.tune.melody,
            notes: &self.tab_notes(),
            instrument: &self.mapped.instrument,
            ascii: self.ascii,
            width: self.width,
        };
        let mut text = tablature.draw();
        if self.has_chord_tones {
            text.push("under the tablature: degrees of the key, then of the chord");
        }
        text
    }
}

/// The lines of a usual terminal.
const LINES: usize = 24;

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

/// The text cut to `room` characters, with an ellipsis if anything is left out.
fn shorten(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(room.saturating_sub(2)).collect();
    cut.push_str("..");
    cut
}
