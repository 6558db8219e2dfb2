//! A picture of the neck with notes on it.

use std::ops::RangeInclusive;

use super::styled_text::{Role, StyledLine, StyledText};
use crate::neck::{Finger, Fret, Instrument, Place, Position};
use crate::theory::{Degree, Membership};

/// How a note stands out: a sign of its own, so that it is seen without colour.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct NoteMark {
    /// What the note is in its key.
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
    /// Where.
    pub place: Place,
    /// What is written there, such as a degree.
    pub label: String,
    /// How it stands out.
    pub mark: NoteMark,
}

/// A stretch of the neck: string 1 on top, the nut at the left, or at the right for a left-handed player.
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
    /// The most columns to use; outer frets are left out where they do not fit.
    pub width: usize,
}

/// Frets that carry an inlay on most necks, within one octave. Common practice, no source.
const INLAYS: [u8; 5] = [3, 5, 7, 9, 12];

impl NeckDiagram<'_> {
    /// Draws it.
    pub fn draw(&self) -> StyledText {
        let frets = self.frets();
        let cell = 2 + self
            .marks
            .iter()
            .map(|it| it.mark.sign(&it.label).chars().count())
            .max()
            .unwrap_or(1);
        let names: Vec<String> = self
            .instrument
            .strings()
            .iter()
            .map(ToString::to_string)
            .collect();
        let name_width = names
            .iter()
            .map(String::len)
            .max()
            .unwrap_or(0)
            .max("finger".len());

        let at_nut = frets.start().get() <= 1;
        let margin = name_width + 1 + if at_nut { cell } else { 0 };
        let fit = (self.width.saturating_sub(margin + 1) / (cell + 1)).max(1);
        let shown: Vec<Fret> = self.fit(frets, fit);

        let (wire, nut, string) = match self.ascii {
            true => ("|", "H", "-"),
            false => ("┼", "╫", "─"),
        };
        let open = at_nut.then_some(cell);
        let row = |head: &str, words: Vec<String>| self.row(head, name_width, open, cell, words);
        let mut text = StyledText::default();
        if let Some(position) = self.position {
            let over = |fret: &Fret| {
                let finger = Finger::ALL
                    .into_iter()
                    .find(|finger| position.fret(*finger) == *fret);
                finger.map_or(String::new(), |finger| finger.to_string())
            };
            text.push(row("finger", shown.iter().map(over).collect()));
        }
        for (string_number, name) in self.instrument.string_numbers().zip(&names) {
            let mark_at = |fret: Fret| {
                let place = Place {
                    string: string_number,
                    fret,
                };
                self.marks.iter().find(|it| it.place == place)
            };
            let mut cells: Vec<Vec<(String, Role)>> = Vec::new();
            if at_nut {
                cells.push(filled(mark_at(Fret::OPEN), cell, " "));
            }
            cells.push(vec![(
                (if at_nut { nut } else { wire }).into(),
                Role::Faint,
            )]);
            for fret in &shown {
                cells.push(filled(mark_at(*fret), cell, string));
                cells.push(vec![(wire.into(), Role::Faint)]);
            }
            let mut line = StyledLine::default();
            if self.left_handed {
                for (piece, role) in cells.iter().rev().flatten() {
                    line.push(piece, *role);
                }
                line.push(&format!(" {name}"), Role::Faint);
            } else {
                line.push(&format!("{name:>name_width$} "), Role::Faint);
                for (piece, role) in cells.iter().flatten() {
                    line.push(piece, *role);
                }
            }
            text.push(line);
        }
        let number = |fret: &Fret| fret.to_string();
        text.push(row("fret", shown.iter().map(number).collect()));
        let dot = if self.ascii { "o" } else { "•" };
        let inlay = |fret: &Fret| {
            // The inlay stays where it is on the wood when a capo moves the count.
            let wood = fret.get() + self.instrument.capo();
            match wood % 12 {
                0 if wood > 0 => dot.repeat(2),
                within if INLAYS.contains(&within) => dot.into(),
                _ => String::new(),
            }
        };
        text.push(row("", shown.iter().map(inlay).collect()));
        text
    }

    /// From the lowest to the highest fret that has a mark or a finger, at least four frets.
    fn frets(&self) -> RangeInclusive<Fret> {
        let highest = self.instrument.highest_fret().get();
        let marked = || {
            self.marks
                .iter()
                .map(|it| it.place.fret.get())
                .filter(|fret| *fret > 0)
        };
        let hand = self.position.map(|it| (it.get(), it.get() + 3));
        let low = marked().chain(hand.map(|it| it.0)).min().unwrap_or(1);
        let high = marked()
            .chain(hand.map(|it| it.1))
            .max()
            .unwrap_or(4)
            .max(low + 3)
            .min(highest);
        let open = self.marks.iter().any(|it| it.place.fret == Fret::OPEN);
        let low = if open || low <= 2 { 1 } else { low };
        let fret = |number| Fret::new(number).unwrap_or(Fret::OPEN);
        fret(low.min(high))..=fret(high)
    }

    /// At most `most` frets, those about the hand kept.
    fn fit(&self, frets: RangeInclusive<Fret>, most: usize) -> Vec<Fret> {
        let all: Vec<Fret> = (frets.start().get()..=frets.end().get())
            .filter_map(|it| Fret::new(it).ok())
            .collect();
        let first = match self.position {
            Some(position) if all.len() > most => all
                .iter()
                .position(|fret| fret.get() >= position.get())
                .unwrap_or(0),
            _ => 0,
        };
        let first = first.min(all.len().saturating_sub(most));
        all.into_iter().skip(first).take(most).collect()
    }

    /// A row of words centred over or under the frets.
    fn row(
        &self,
        head: &str,
        name_width: usize,
        open: Option<usize>,
        cell: usize,
        words: Vec<String>,
    ) -> StyledLine {
        let mut cells: Vec<String> = words
            .into_iter()
            .map(|word| format!(" {word:^cell$}"))
            .collect();
        let open = " ".repeat(open.unwrap_or(0));
        let mut line = StyledLine::default();
        if self.left_handed {
            cells.reverse();
            line.push(&format!("{} {open} {head}", cells.concat()), Role::Faint);
        } else {
            line.push(
                &format!("{head:>name_width$} {open}{}", cells.concat()),
                Role::Faint,
            );
        }
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
    use crate::neck::StringNumber;
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
    fn the_neck_lies_before_the_player() {
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
        // With a capo at 2, fret 5 from the capo lies on the wood's seventh.
        let last = draw(false, true, 2, 80).lines().last().unwrap().to_owned();
        assert_eq!(last.matches('o').count(), 2);
    }
}
