//! A melody as tablature.

mod columns;

use super::neck_diagram::NoteMark;
use super::styled_text::{Role, StyledLine, StyledText};
use crate::melody::Melody;
use crate::neck::{Finger, Instrument, Place, Position, StringNumber};
use crate::theory::ChordDegree;
use columns::{BarColumns, TabColumn, broken};

/// What the tablature shows for one note.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TabNote {
    /// Its place; `None` when it cannot be played.
    pub place: Option<Place>,
    /// The finger, if fingers are shown.
    pub finger: Option<Finger>,
    /// The position of the hand from here on, if shown.
    pub position: Option<Position>,
    /// The label under it, such as its degree.
    pub label: String,
    /// Its degree over the chord, if shown.
    pub chord_tone: Option<ChordDegree>,
    /// Its mark.
    pub mark: NoteMark,
}

/// Tablature with chord symbols and rhythm above and a label under each note, broken at whole bars.
#[derive(Clone, Copy, Debug)]
pub struct Tablature<'a> {
    /// The melody.
    pub melody: &'a Melody,
    /// One entry for each note of the melody.
    pub notes: &'a [TabNote],
    /// The instrument.
    pub instrument: &'a Instrument,
    /// Draw with ASCII characters only.
    pub ascii: bool,
    /// The greatest width in columns.
    pub width: usize,
}

impl Tablature<'_> {
    /// Draws it.
    pub fn draw(&self) -> StyledText {
        self.draw_bars(|_| true)
    }

    /// Draws the bars whose numbers are `shown`; bars that are left out end a line.
    pub fn draw_bars(&self, shown: impl Fn(u32) -> bool) -> StyledText {
        let names: Vec<String> = self
            .instrument
            .strings()
            .iter()
            .map(|open| open.class().to_string())
            .collect();
        let margin = names.iter().map(String::len).max().unwrap_or(1) + 1;
        let room = self.width.saturating_sub(margin + 1).max(12);

        let mut systems: Vec<Vec<BarColumns>> = Vec::new();
        // The columns that are left in the last system.
        let mut left = 0;
        for bar in self.bars(&shown) {
            let onset = bar.columns.first().map(|column| column.onset);
            if !onset.is_some_and(|onset| shown(self.melody.bar_at(onset).number)) {
                left = 0;
                continue;
            }
            for measure in broken(bar, room) {
                let width = measure.width();
                match systems.last_mut().filter(|_| width <= left) {
                    Some(system) => system.push(measure),
                    None => {
                        systems.push(vec![measure]);
                        left = room;
                    }
                }
                left = left.saturating_sub(width);
            }
        }

        let mut text = StyledText::default();
        for (index, system) in systems.iter().enumerate() {
            if index > 0 {
                text.push("");
            }
            self.draw_system(system, &names, margin, &mut text);
        }
        text
    }

    fn fret_text(&self, note: usize, tied: bool) -> String {
        match self.notes[note].place {
            Some(place) if tied => format!("({})", place.fret),
            Some(place) => place.fret.to_string(),
            None => String::new(),
        }
    }

    /// The label with its signs; in brackets when the note cannot be played.
    fn label(&self, note: usize, tied: bool) -> String {
        let it = &self.notes[note];
        if tied {
            return String::new();
        }
        // The tonic needs no sign here: its number 1 marks it.
        let mark = if it.mark.role == Role::Tonic {
            NoteMark {
                role: Role::Plain,
                ..it.mark
            }
        } else {
            it.mark
        };
        match it.place {
            Some(_) => mark.sign(&it.label),
            None => format!("({})", mark.sign(&it.label)),
        }
    }

    fn draw_system(
        &self,
        system: &[BarColumns],
        names: &[String],
        margin: usize,
        text: &mut StyledText,
    ) {
        let signs = match self.ascii {
            true => LineSigns {
                bar: "|",
                double_bar: "|",
                string: "-",
                dot: ":",
            },
            false => LineSigns {
                bar: "│",
                double_bar: "║",
                string: "─",
                dot: "•",
            },
        };
        let indent = " ".repeat(margin);
        let any =
            |has: &dyn Fn(&TabColumn) -> bool| system.iter().flat_map(|it| &it.columns).any(has);

        let mut numbers = StyledLine::from(indent.as_str());
        let mut start = margin;
        for measure in system {
            let head = measure.head();
            // A heading that reaches into this bar replaces the bar's own.
            if numbers.length() <= start {
                numbers.fill_to(start, " ", Role::Plain);
                numbers.push(
                    &head.chars().take(measure.width()).collect::<String>(),
                    Role::Faint,
                );
                numbers.push(" ", Role::Plain);
            }
            start += measure.width();
        }
        text.push(numbers);
        let word_row = |words: &dyn Fn(&TabColumn) -> Option<(String, Role)>| {
            let mut line = StyledLine::from(indent.as_str());
            let mut start = margin;
            for measure in system {
                let mut at = start + 2;
                for column in &measure.columns {
                    if let Some((word, role)) = words(column) {
                        line.fill_to(at, " ", Role::Plain);
                        line.push(&word, role);
                    }
                    at += column.width;
                }
                start += measure.width();
            }
            line
        };
        if any(&|column| column.chord.is_some()) {
            text.push(word_row(&|column| {
                column.chord.clone().map(|it| (it, Role::Heading))
            }));
        }
        if any(&|column| column.position.is_some()) {
            text.push(word_row(&|column| {
                column.position.map(|it| (it.to_string(), Role::Heading))
            }));
        }
        text.push(word_row(&|column| {
            Some((column.rhythm.clone(), Role::Faint))
        }));
        for (string_number, name) in self.instrument.string_numbers().zip(names) {
            text.push(self.string_line(system, string_number, name, margin, &signs));
        }
        let finger = |column: &TabColumn| match column.note {
            Some((note, false)) => self.notes[note]
                .finger
                .map(|it| (it.to_string(), Role::Plain)),
            _ => None,
        };
        if any(&|column| finger(column).is_some()) {
            text.push(word_row(&finger));
        }
        let label = |column: &TabColumn| {
            let (note, tied) = column.note?;
            let label = self.label(note, tied);
            (!label.is_empty()).then_some((label, self.notes[note].mark.role))
        };
        if any(&|column| label(column).is_some()) {
            text.push(word_row(&label));
        }
        let chord_tone = |column: &TabColumn| match column.note {
            Some((note, false)) => Some((self.notes[note].chord_tone?.to_string(), Role::Plain)),
            _ => None,
        };
        if any(&|column| chord_tone(column).is_some()) {
            text.push(word_row(&chord_tone));
        }
    }

    fn string_line(
        &self,
        system: &[BarColumns],
        number: StringNumber,
        name: &str,
        margin: usize,
        signs: &LineSigns,
    ) -> StyledLine {
        let LineSigns {
            bar,
            double_bar,
            string,
            dot,
        } = *signs;
        // The dots of a repeat sign stand on the two strings in the middle.
        let middle = self.instrument.strings().len() / 2;
        let has_dots = number.index() == middle || number.index() + 1 == middle;
        let mut line = StyledLine::default();
        line.push(&format!("{name:>width$} ", width = margin - 1), Role::Faint);
        for (index, measure) in system.iter().enumerate() {
            let before = index.checked_sub(1).map(|before| &system[before]);
            let opens = before.is_none_or(|before| before.ends);
            let is_double = measure.begins_repeat() || before.is_some_and(BarColumns::ends_double);
            line.push(
                match (opens, is_double) {
                    (false, _) => string,
                    (true, false) => bar,
                    (true, true) => double_bar,
                },
                Role::Faint,
            );
            let begins = measure.begins_repeat() && has_dots;
            line.push(if begins { dot } else { string }, Role::Faint);
            for (at, column) in measure.columns.iter().enumerate() {
                let end = line.length() + column.width;
                let ends = at + 1 == measure.columns.len() && measure.ends_repeat() && has_dots;
                let end = end - usize::from(ends);
                if let Some((note, tied)) = column.note
                    && self.notes[note]
                        .place
                        .is_some_and(|place| place.string == number)
                {
                    line.push(&self.fret_text(note, tied), self.notes[note].mark.role);
                }
                line.fill_to(end, string, Role::Faint);
                if ends {
                    line.push(dot, Role::Faint);
                }
            }
        }
        if let Some(last) = system.last().filter(|measure| measure.ends) {
            line.push(
                if last.ends_double() { double_bar } else { bar },
                Role::Faint,
            );
        }
        line
    }
}

/// What the lines of the strings are drawn with.
struct LineSigns {
    bar: &'static str,
    double_bar: &'static str,
    string: &'static str,
    dot: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mapping::{NeckMap, OpenStrings};
    use crate::melody::{Draft, Quarters};
    use crate::theory::Octave;

    fn tune() -> Melody {
        let mut draft = Draft::default();
        draft
            .keys
            .set(Quarters::from(0), "E minor".parse().unwrap());
        draft
            .meters
            .set(Quarters::from(0), Some("3/4".parse().unwrap()));
        draft.chords.set(
            Quarters::from(1),
            crate::theory::Chord::parse_symbol("Em9").unwrap(),
        );
        draft.chords.set(
            Quarters::from(5),
            crate::theory::Chord::parse_symbol("F#m7b5").unwrap(),
        );
        draft.chords.set(
            Quarters::from(6),
            crate::theory::Chord::parse_symbol("N.C.").unwrap(),
        );
        draft.sections.set(Quarters::from(1), "A".into());
        let half = Quarters::new(1, 2);
        draft.bar_line();
        for name in ["E4", "F#4"] {
            draft.note(name.parse().unwrap(), half).unwrap();
        }
        draft.bar_line();
        draft
            .note("G4".parse().unwrap(), Quarters::from(2))
            .unwrap();
        draft
            .note("A#4".parse().unwrap(), Quarters::from(3))
            .unwrap();
        draft.bars.push(Quarters::from(4));
        draft.rest(half).unwrap();
        draft.note("D#5".parse().unwrap(), half).unwrap();
        draft.bar_line();
        draft
            .note("E5".parse().unwrap(), Quarters::from(3))
            .unwrap();
        Melody::new(draft).unwrap()
    }

    fn draw(width: usize) -> String {
        let melody = tune();
        let instrument = Instrument::default();
        let map = NeckMap::new(&melody, &instrument, OpenStrings::default());
        let placement = map.at("V".parse().unwrap(), Octave::WRITTEN).unwrap();
        let mut notes: Vec<TabNote> = melody
            .analyse("E minor".parse().unwrap())
            .iter()
            .map(|it| TabNote {
                label: it.degree.to_string(),
                mark: NoteMark::of(it.degree, it.membership),
                ..TabNote::default()
            })
            .collect();
        for placed in placement.places() {
            notes[placed.note].place = Some(placed.place);
        }
        notes[0].position = Some("V".parse().unwrap());
        let tablature = Tablature {
            melody: &melody,
            notes: &notes,
            instrument: &instrument,
            ascii: true,
            width,
        };
        tablature.draw().to_string()
    }

    #[test]
    fn a_melody_is_drawn_with_rhythm_chords_and_degrees() {
        let expected = "
  0     1 A         2                    3
          Em9               F#m7b5 N.C.
    V
    e e   h    q      h            re e    h.
E |-----|-----------|--------------------|------|
B |-----|-----------|--------------------|-5----|
G |-----|-----------|-----------------8--|------|
D |-----|-5----8----|-(8)----------------|------|
A |-7-9-|-----------|--------------------|------|
E |-----|-----------|--------------------|------|
    1 2   b3   *#4                    ^7   1
";
        assert_eq!(draw(80), expected[1..]);
    }

    #[test]
    fn several_silent_bars_are_one_rest() {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some("2/4".parse().unwrap()));
        draft
            .note("E4".parse().unwrap(), Quarters::from(2))
            .unwrap();
        draft.rest(Quarters::from(6)).unwrap();
        draft
            .note("A4".parse().unwrap(), Quarters::from(2))
            .unwrap();
        let place = |string_and_fret: &str| TabNote {
            place: Some(string_and_fret.parse().unwrap()),
            ..TabNote::default()
        };
        let tablature = Tablature {
            melody: &Melody::new(draft).unwrap(),
            notes: &[place("4:2"), place("3:2")],
            instrument: &Instrument::default(),
            ascii: true,
            width: 80,
        };
        let expected = "
  1     2-4              5
    h     rest of 3 bars   h
E |-----|----------------|-----|
B |-----|----------------|-----|
G |-----|----------------|-2---|
D |-2---|----------------|-----|
A |-----|----------------|-----|
E |-----|----------------|-----|
";
        assert_eq!(tablature.draw().to_string(), expected[1..]);
        // Of a rest that is shown in part, that part.
        let drawn = tablature.draw_bars(|bar| bar != 2).to_string();
        assert!(
            drawn.contains("3-4") && drawn.contains("rest of 2 bars"),
            "{drawn}"
        );
        let drawn = tablature.draw_bars(|bar| bar < 3).to_string();
        assert!(
            drawn.starts_with("  1     2\n") && !drawn.contains("rest of"),
            "{drawn}"
        );
    }

    #[test]
    fn bars_that_are_left_out_end_a_line() {
        let melody = tune();
        let instrument = Instrument::default();
        let tablature = Tablature {
            melody: &melody,
            notes: &vec![TabNote::default(); melody.notes().len()],
            instrument: &instrument,
            ascii: true,
            width: 80,
        };
        let check = |shown: &[u32], heads: &[&str]| {
            let drawn = tablature.draw_bars(|bar| shown.contains(&bar)).to_string();
            let is_number = |word: &str| word.parse::<u32>().is_ok();
            let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
            let lines = drawn.lines().map(words);
            let numbers: Vec<String> = lines.filter(|it| it.split(' ').any(is_number)).collect();
            assert_eq!(numbers, heads, "{drawn}");
        };
        check(&[2], &["2"]);
        check(&[0, 3], &["0", "3"]);
        check(&[2, 3], &["2 3"]);
        check(&[], &[]);
    }

    #[test]
    fn systems_break_at_bars_and_fit_the_width() {
        for width in [20, 30, 40, 60] {
            for line in draw(width).lines() {
                assert!(line.chars().count() <= width, "{width}: {line}");
            }
        }
        assert_eq!(draw(30).matches("B |").count(), 3);
    }
}
