//! A phrase as a strip of bars with note names, the context of a question.

use std::ops::Range;

use super::lesson::Stage;
use super::material::PracticeMaterial;
use super::question::{Question, Task};
use crate::text::{Role, StyledLine, StyledText};

/// A phrase bar by bar.
///
/// ```text
/// 5 B              6
/// │ D  F  >Bb<  ?  │ G  F
/// ```
///
/// The example asks what comes after the second note, and leaves that blank:
///
/// ```
/// use fretlib::melody::{Draft, Melody, Quarters};
/// use fretlib::neck::{Instrument, Position};
/// use fretlib::practice::{Kind, PhraseStrip, PlacementKey, PracticeMaterial};
/// use fretlib::theory::Octave;
///
/// let mut draft = Draft::default();
/// draft.bar_line();
/// for name in ["D5", "F5", "Bb4", "G4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// let home = PlacementKey { position: Position::new(5)?, octave: Octave::WRITTEN };
/// let material = PracticeMaterial::new(
///     Melody::new(draft)?, "Bb major".parse()?, &[], Instrument::default(), vec![home],
/// );
/// let question = material.question(Kind::Next, 1, Some(home), |_| 0).expect("all of it lies there");
/// let strip = PhraseStrip::of_question(&question, &material).draw(40, false);
/// let lines: Vec<String> = strip.to_string().lines().map(|it| it.trim_end().to_owned()).collect();
/// assert_eq!(lines[1], "│ D  >F<  ?  G  │");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PhraseStrip {
    /// The bars that have notes of it, in order.
    pub bars: Vec<StripBar>,
}

/// A bar of a strip.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct StripBar {
    /// Its number, as in print.
    pub number: u32,
    /// The section that begins here.
    pub section: Option<String>,
    /// Its notes, in order; at least one.
    pub notes: Vec<StripNote>,
}

/// A note of a strip.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct StripNote {
    /// Its name without an octave.
    pub name: String,
    /// Whether the question is about it.
    pub is_marked: bool,
    /// Whether its name is left out, because it is asked or hidden in a lesson.
    pub is_blank: bool,
}

impl StripNote {
    fn text(&self) -> String {
        match (self.is_blank, self.is_marked) {
            (true, true) => ">?<".into(),
            (true, false) => "?".into(),
            (false, true) => format!(">{}<", self.name),
            (false, false) => self.name.clone(),
        }
    }
}

impl PhraseStrip {
    /// The phrase a question is about: the note asked about marked, what is asked left blank. What is heard is blank as a
    /// whole; where there are phrases to choose from, nothing is shown.
    pub fn of_question(question: &Question, material: &PracticeMaterial) -> PhraseStrip {
        if let Task::Phrase { .. } = question.task {
            return PhraseStrip { bars: Vec::new() };
        }
        let blank = match question.task {
            Task::Name { .. } => Some(question.note),
            Task::Interval { .. } | Task::Next { .. } => Some(question.note + 1),
            Task::Place { .. }
            | Task::Degree { .. }
            | Task::Scale { .. }
            | Task::Octave { .. }
            | Task::Phrase { .. }
            | Task::Arranged(_) => None,
        };
        let notes = PhraseStrip::notes_around(question, material);
        PhraseStrip::new(material, notes, |note| {
            let is_blank = question.is_heard() || Some(note) == blank;
            (note == question.note, is_blank)
        })
    }

    /// The phrase a question was about, nothing left blank: to be seen with the answer.
    pub fn of_answer(question: &Question, material: &PracticeMaterial) -> PhraseStrip {
        let notes = PhraseStrip::notes_around(question, material);
        let is_of_phrase = matches!(question.task, Task::Phrase { .. });
        let mut strip = PhraseStrip::new(material, notes, |note| {
            (note == question.note && !is_of_phrase, false)
        });
        if let Task::Scale { pitch, .. } = question.task {
            // By ear it need not be the tune's own note.
            let notes = strip.bars.iter_mut().flat_map(|bar| &mut bar.notes);
            for note in notes.filter(|note| note.is_marked) {
                note.name = pitch.class().to_string();
            }
        }
        strip
    }

    /// A phrase as it is, counted from 0.
    pub(super) fn of_phrase(phrase: usize, material: &PracticeMaterial) -> PhraseStrip {
        let notes = material.phrases().get(phrase).cloned().unwrap_or(0..0);
        PhraseStrip::new(material, notes, |_| (false, false))
    }

    /// The phrase of a question; what comes next may belong to the next one.
    fn notes_around(question: &Question, material: &PracticeMaterial) -> Range<usize> {
        let phrase = material.phrase_of(question.note);
        let notes = material.phrases().get(phrase).cloned().unwrap_or(0..0);
        notes.start..notes.end.max(question.last_note() + 1)
    }

    /// The names alone, with a line between bars: `D  F  Bb | C`.
    pub(super) fn names(&self) -> String {
        let bars = self.bars.iter().map(|bar| {
            let names: Vec<&str> = bar.notes.iter().map(|note| note.name.as_str()).collect();
            names.join("  ")
        });
        bars.collect::<Vec<_>>().join(" | ")
    }

    /// Notes of a lesson, as far as a stage shows them.
    pub fn of_lesson(
        notes: Range<usize>,
        stage: Stage,
        material: &PracticeMaterial,
    ) -> PhraseStrip {
        let start = notes.start;
        PhraseStrip::new(material, notes, |note| (false, stage.hides(note - start)))
    }

    fn new(
        material: &PracticeMaterial,
        notes: Range<usize>,
        look: impl Fn(usize) -> (bool, bool),
    ) -> PhraseStrip {
        let mut bars: Vec<StripBar> = Vec::new();
        for index in notes {
            let Some(note) = material.notes().get(index) else {
                continue;
            };
            let (is_marked, is_blank) = look(index);
            let strip_note = StripNote {
                name: note.note.pitch.class().to_string(),
                is_marked,
                is_blank,
            };
            match bars.last_mut() {
                Some(bar) if bar.number == note.bar => bar.notes.push(strip_note),
                _ => {
                    let melody = material.melody();
                    let starts_at = melody.bar_at(note.note.onset).onset;
                    bars.push(StripBar {
                        number: note.bar,
                        section: melody.sections().on(starts_at).cloned(),
                        notes: vec![strip_note],
                    });
                }
            }
        }
        PhraseStrip { bars }
    }

    /// Two lines of at most `width` characters: bar numbers over note names. Of a long phrase the bars around the marked
    /// note are shown.
    pub fn draw(&self, width: usize, ascii: bool) -> StyledText {
        if self.bars.is_empty() {
            return StyledText::default();
        }
        let (line, cut) = if ascii { ("|", "...") } else { ("│", "…") };
        let room = width.saturating_sub(2 * cut.chars().count() + 2);
        let shown = self.bars_within(room);
        let mut numbers = StyledLine::default();
        let mut names = StyledLine::default();
        let is_cut = |at_end: bool| match at_end {
            false => shown.start > 0,
            true => shown.end < self.bars.len(),
        };
        if is_cut(false) {
            names.push(cut, Role::Faint);
        }
        for bar in &self.bars[shown.clone()] {
            numbers.fill_to(names.length(), " ", Role::Plain);
            numbers.push(&bar.label(), Role::Faint);
            names.push(line, Role::Faint);
            names.push(" ", Role::Plain);
            for note in bar.notes_within(room) {
                let role = match note.is_marked {
                    true => Role::Heading,
                    false => Role::Plain,
                };
                names.push(&note.text(), role);
                names.push("  ", Role::Plain);
            }
            names.fill_to(numbers.length() + 1, " ", Role::Plain);
        }
        names.push(if is_cut(true) { cut } else { line }, Role::Faint);
        let mut text = StyledText::default();
        text.push(numbers);
        text.push(names);
        text
    }

    /// As many bars as fit, the marked one first, then those before and after it.
    fn bars_within(&self, room: usize) -> Range<usize> {
        let is_marked = |bar: &StripBar| bar.notes.iter().any(|note| note.is_marked);
        let marked = self.bars.iter().position(is_marked).unwrap_or(0);
        let mut shown = marked..(marked + 1).min(self.bars.len());
        let mut used = self.bars[shown.clone()]
            .iter()
            .map(StripBar::width)
            .sum::<usize>();
        loop {
            let after = self.bars.get(shown.end).map(StripBar::width);
            let before = shown.start.checked_sub(1).map(|it| self.bars[it].width());
            match (after, before) {
                (Some(after), _) if used + after <= room => {
                    used += after;
                    shown.end += 1;
                }
                (_, Some(before)) if used + before <= room => {
                    used += before;
                    shown.start -= 1;
                }
                _ => return shown,
            }
        }
    }
}

impl StripBar {
    fn label(&self) -> String {
        match &self.section {
            Some(section) => format!("{} {section}", self.number),
            None => self.number.to_string(),
        }
    }

    fn width(&self) -> usize {
        let notes: usize = self.notes.iter().map(|it| it.text().len() + 2).sum();
        (notes + 2).max(self.label().chars().count() + 1)
    }

    /// The notes of a bar too full for the screen: as many as fit, around the marked one.
    fn notes_within(&self, room: usize) -> &[StripNote] {
        // Names take at most three characters beside their marks.
        let most = (room.saturating_sub(2) / 7).max(1);
        if self.width() <= room || self.notes.len() <= most {
            return &self.notes;
        }
        let marked = self.notes.iter().position(|note| note.is_marked);
        let start = marked.unwrap_or(0).saturating_sub(most / 2);
        let start = start.min(self.notes.len() - most);
        &self.notes[start..start + most]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, Melody, Quarters};
    use crate::neck::Instrument;
    use crate::practice::Kind;

    fn material(names: &str) -> PracticeMaterial {
        let mut draft = Draft::default();
        draft.sections.set(Quarters::ZERO, "A".into());
        for bar in names.split('|') {
            for name in bar.split_whitespace() {
                let pitch = name.parse().unwrap();
                draft.note(pitch, Quarters::ONE).unwrap();
            }
            draft.bar_line();
        }
        let melody = Melody::new(draft).unwrap();
        let home = "Bb major".parse().unwrap();
        PracticeMaterial::new(melody, home, &[], Instrument::default(), Vec::new())
    }

    fn drawn(kind: Kind, note: usize, width: usize) -> String {
        let material = material("Bb4 D5 F5 Eb5 | D5 C5 | G4 A4 Bb4 E5 | F5");
        let question = material.question(kind, note, None, |_| 0).unwrap();
        let strip = PhraseStrip::of_question(&question, &material);
        strip.draw(width, false).to_string()
    }

    #[test]
    fn the_note_asked_about_is_marked_and_the_answer_left_blank() {
        let expected = "
1 A             2       3                4
│ Bb  D  F  Eb  │ D  C  │ G  A  Bb  >E<  │ F  │
";
        assert_eq!(drawn(Kind::Degree, 9, 80), expected[1..]);
        assert!(drawn(Kind::Interval, 4, 80).contains("│ >D<  ?  │ G"));
    }

    #[test]
    fn a_narrow_screen_shows_the_bars_around_it() {
        for width in 12..80 {
            for note in [1, 5, 9, 10] {
                let strip = drawn(Kind::Degree, note, width);
                assert!(strip.contains('>'), "{width}: {strip}");
                assert!(
                    strip
                        .lines()
                        .all(|line| line.chars().count() <= width.max(24)),
                    "{width}: {strip}"
                );
            }
        }
    }

    #[test]
    fn a_lesson_hides_note_by_note() {
        let material = material("Bb4 D5 F5 | Eb5");
        let names = |stage| {
            let strip = PhraseStrip::of_lesson(0..4, stage, &material);
            strip
                .draw(60, true)
                .to_string()
                .lines()
                .nth(1)
                .map(String::from)
        };
        assert_eq!(names(Stage::Whole).as_deref(), Some("| Bb  D  F  | Eb  |"));
        assert_eq!(
            names(Stage::EveryOther).as_deref(),
            Some("| Bb  ?  F  | ?  |")
        );
        assert_eq!(
            names(Stage::FirstOnly).as_deref(),
            Some("| Bb  ?  ?  | ?  |")
        );
    }
}
