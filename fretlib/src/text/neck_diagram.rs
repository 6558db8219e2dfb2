//! A picture of the neck with notes on it.

use super::styled_text::{Role, StyledLine, StyledText};
use crate::neck::{FretColumn, Instrument, NeckLayout, Place, Position, StringNumber};
use crate::theory::{Degree, Membership};

/// How a note is marked: with signs, so that it can be read without colour.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct NoteMark {
    /// Its membership in the key.
    pub role: Role,
    /// Whether the hand stretches for it.
    pub stretch: bool,
}

impl NoteMark {
    /// The mark of a note in its key.
    pub fn of(degree: Degree, membership: Membership) -> NoteMark {
        let role = match membership {
            Membership::Chromatic => Role::Outside,
            Membership::Raised => Role::Raised,
            Membership::Scale if degree == Degree::TONIC => Role::Tonic,
            Membership::Scale => Role::Plain,
        };
        NoteMark {
            role,
            stretch: false,
        }
    }

    /// The label with its signs: `*` outside the scale, `^` a raised degree of minor, `[1]` the tonic, `~` a stretch.
    pub fn sign(self, label: &str) -> String {
        let stretch = if self.stretch { "~" } else { "" };
        match self.role {
            Role::Outside => format!("{stretch}*{label}"),
            Role::Raised => format!("{stretch}^{label}"),
            Role::Tonic => format!("{stretch}[{label}]"),
            _ => format!("{stretch}{label}"),
        }
    }
}

/// A note on the neck.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct NeckMark {
    /// Its place.
    pub place: Place,
    /// Its label, such as a degree.
    pub label: String,
    /// Its mark.
    pub mark: NoteMark,
}

/// A picture of part of the neck: string 1 on top, the nut at the left, or at the right for a left-handed player.
#[derive(Clone, Copy, Debug)]
pub struct NeckDiagram<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// The notes; the first at a place is shown.
    pub marks: &'a [NeckMark],
    /// Where the hand stands, to write its fingers over the frets.
    pub position: Option<Position>,
    /// Draw for a left-handed player.
    pub left_handed: bool,
    /// Draw with ASCII characters only.
    pub ascii: bool,
    /// The greatest width in columns; outer frets that do not fit are left out.
    pub width: usize,
}

impl NeckDiagram<'_> {
    /// Draws it.
    pub fn draw(&self) -> StyledText {
        let cell = 2 + self
            .marks
            .iter()
            .map(|it| it.mark.sign(&it.label).chars().count())
            .max()
            .unwrap_or(1);
        let names = self.instrument.strings().iter().map(ToString::to_string);
        let names: Vec<String> = names.collect();
        let heads = names.iter().map(String::len);
        let head = heads.max().unwrap_or(0).max("finger".len());

        let places = self.marks.iter().map(|it| it.place);
        let layout = NeckLayout::around(self.instrument, places, self.position);
        let margin = head + 1 + if layout.is_at_nut() { cell } else { 0 };
        let fitting = self.width.saturating_sub(margin + 1) / (cell + 1);
        let layout = layout.narrowed(fitting).mirrored(self.left_handed);

        let mut text = StyledText::default();
        let row = |name: &str, word: &dyn Fn(&FretColumn) -> String| {
            self.row(&layout, name, head, cell, word)
        };
        if self.position.is_some() {
            let finger = |it: &FretColumn| it.finger.map_or(String::new(), |it| it.to_string());
            text.push(row("finger", &finger));
        }
        for (string, name) in self.instrument.string_numbers().zip(&names) {
            text.push(self.string(&layout, string, name, head, cell));
        }
        let number = |it: &FretColumn| {
            if it.is_open() {
                String::new()
            } else {
                it.fret.to_string()
            }
        };
        text.push(row("fret", &number));
        let dot = if self.ascii { "o" } else { "•" };
        text.push(row("", &|it: &FretColumn| dot.repeat(it.inlay.dots())));
        text
    }

    /// One string with its marks, between wires.
    fn string(
        &self,
        layout: &NeckLayout,
        string: StringNumber,
        name: &str,
        head: usize,
        cell: usize,
    ) -> StyledLine {
        let (wire, nut, wood) = match self.ascii {
            true => ("|", "H", "-"),
            false => ("┼", "╫", "─"),
        };
        let mut cells: Vec<Vec<(String, Role)>> = Vec::new();
        let first = if layout.is_at_nut() { nut } else { wire };
        for column in layout.columns() {
            let place = Place {
                string,
                fret: column.fret,
            };
            let mark = self.marks.iter().find(|it| it.place == place);
            if column.is_open() {
                cells.push(filled(mark, cell, " "));
                continue;
            }
            if cells.len() <= 1 {
                cells.push(vec![(first.into(), Role::Faint)]);
            }
            cells.push(filled(mark, cell, wood));
            cells.push(vec![(wire.into(), Role::Faint)]);
        }
        let mut line = StyledLine::default();
        if layout.is_left_handed() {
            cells.reverse();
        } else {
            line.push(&format!("{name:>head$} "), Role::Faint);
        }
        for (piece, role) in cells.iter().flatten() {
            line.push(piece, *role);
        }
        if layout.is_left_handed() {
            line.push(&format!(" {name}"), Role::Faint);
        }
        line
    }

    /// A row of words, each centred over or under its fret.
    fn row(
        &self,
        layout: &NeckLayout,
        name: &str,
        head: usize,
        cell: usize,
        word: &dyn Fn(&FretColumn) -> String,
    ) -> StyledLine {
        let cells: String = layout
            .left_to_right()
            .map(|column| match (column.is_open(), layout.is_left_handed()) {
                // The open strings have no wire of their own.
                (true, _) => " ".repeat(cell),
                (false, false) => format!(" {:^cell$}", word(column)),
                (false, true) => format!("{:^cell$} ", word(column)),
            })
            .collect();
        let mut line = StyledLine::default();
        let text = match layout.is_left_handed() {
            true => format!(" {cells} {name}"),
            false => format!("{name:>head$} {cells}"),
        };
        line.push(&text, Role::Faint);
        line
    }
}

/// A mark in the middle of a piece of string.
fn filled(mark: Option<&NeckMark>, cell: usize, string: &str) -> Vec<(String, Role)> {
    let Some(it) = mark else {
        return vec![(string.repeat(cell), Role::Faint)];
    };
    let sign = it.mark.sign(&it.label);
    let rest = cell.saturating_sub(sign.chars().count());
    let before = rest / 2;
    vec![
        (string.repeat(before), Role::Faint),
        (sign, it.mark.role),
        (string.repeat(rest - before), Role::Faint),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::neck::{Fret, StringNumber};
    use crate::theory::Key;

    fn marks() -> Vec<NeckMark> {
        let key: Key = "A minor".parse().unwrap();
        let cases = [
            (4, 7, "A"),
            (4, 6, "G#"),
            (3, 5, "C"),
            (3, 4, "B"),
            (2, 5, "E"),
            (1, 5, "A"),
            (2, 4, "D#"),
        ];
        cases
            .into_iter()
            .map(|(string, fret, name)| {
                let class = name.parse().unwrap();
                let degree = key.degree(class);
                let mut mark = NoteMark::of(degree, key.membership(class));
                mark.stretch = fret == 4;
                NeckMark {
                    place: Place {
                        string: StringNumber::new(string).unwrap(),
                        fret: Fret::new(fret).unwrap(),
                    },
                    label: degree.to_string(),
                    mark,
                }
            })
            .collect()
    }

    fn draw(left_handed: bool, ascii: bool, capo: u8, width: usize) -> String {
        let mut build = Instrument::default().build().clone();
        build.capo = capo;
        let instrument = Instrument::new(build).unwrap();
        let diagram = NeckDiagram {
            instrument: &instrument,
            marks: &marks(),
            position: Some("V".parse().unwrap()),
            left_handed,
            ascii,
            width,
        };
        diagram.draw().to_string()
    }

    #[test]
    fn the_neck_is_drawn_as_the_player_sees_it() {
        let expected = "
finger           1      2      3      4
    E5 ┼──────┼─[1]──┼──────┼──────┼──────┼
    B4 ┼─~*#4─┼──5───┼──────┼──────┼──────┼
    G4 ┼──~2──┼──b3──┼──────┼──────┼──────┼
    D4 ┼──────┼──────┼──^7──┼─[1]──┼──────┼
    A3 ┼──────┼──────┼──────┼──────┼──────┼
    E3 ┼──────┼──────┼──────┼──────┼──────┼
  fret    4      5      6      7      8
                 •             •
";
        assert_eq!(draw(false, false, 0, 80), expected[1..]);
    }

    #[test]
    fn a_left_handed_neck_is_its_mirror() {
        let right = draw(false, true, 0, 80);
        let left = draw(true, true, 0, 80);
        for (right, left) in right.lines().zip(left.lines()).skip(1).take(6) {
            let cells = |line: &str| {
                line.split('|')
                    .map(|it| it.trim_matches(['-', ' ']).to_owned())
                    .collect::<Vec<_>>()
            };
            let (right, mut left) = (cells(right), cells(left));
            left.reverse();
            assert_eq!(right, left);
        }
    }

    #[test]
    fn a_narrow_terminal_gets_fewer_frets() {
        for line in draw(false, false, 0, 30).lines() {
            assert!(line.chars().count() <= 30, "{line}");
        }
        assert!(draw(false, false, 0, 30).contains("5"));
    }

    #[test]
    fn inlays_stay_on_the_wood() {
        // With a capo at 2, fret 5 from the capo is the seventh fret of the wood.
        let last = draw(false, true, 2, 80).lines().last().unwrap().to_owned();
        assert_eq!(last.matches('o').count(), 2);
    }
}
