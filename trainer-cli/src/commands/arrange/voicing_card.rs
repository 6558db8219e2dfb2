//! A voicing on a few lines: the neck, the shape, the degrees, how the fingers go down.

use fretlib::arranging::{Accompaniment, FingeredPlace, Voicing};
use fretlib::neck::{Finger, Instrument, StringNumber};
use fretlib::text::{Role, StyledLine, StyledText};
use fretlib::theory::ChordDegree;

/// The fewest frets drawn, so that cards line up.
const FEWEST_FRETS: u8 = 4;
/// Columns of a card, including the space to the next one.
const CARD_WIDTH: usize = 25;

/// What is drawn.
pub struct Card<'a> {
    /// The head, such as `bar 5 note 13`.
    pub head: String,
    pub accompaniment: &'a Accompaniment,
    pub melody_degree: ChordDegree,
    pub instrument: &'a Instrument,
    pub ascii: bool,
    pub left_handed: bool,
}

impl Card<'_> {
    /// The lines, none wider than a card.
    pub fn lines(&self) -> Vec<String> {
        let voicing = &self.accompaniment.voicing;
        let mut lines = vec![self.head.clone(), self.accompaniment.chord.to_string()];
        lines.extend(self.neck(voicing));
        lines.push(voicing.shape(self.instrument).to_string());
        let degrees = voicing.under().iter().map(|note| note.degree.to_string());
        lines.push(
            degrees
                .chain([self.melody_degree.to_string()])
                .collect::<Vec<_>>()
                .join(" "),
        );
        lines.push(self.order(voicing));
        lines.push(names("without", voicing.omitted()));
        lines.push(self.stays());
        lines
            .iter()
            .map(|line| line.chars().take(CARD_WIDTH - 1).collect())
            .collect()
    }

    fn neck(&self, voicing: &Voicing) -> Vec<String> {
        let frets = || {
            voicing
                .places()
                .map(|it| it.place.fret.get())
                .filter(|fret| *fret > 0)
        };
        let (low, high) = (frets().min().unwrap_or(1), frets().max().unwrap_or(1));
        let low = if high <= FEWEST_FRETS { 1 } else { low };
        let last = high.max(low + FEWEST_FRETS - 1);
        let mut lines: Vec<String> = self
            .instrument
            .string_numbers()
            .map(|string| self.string(voicing, string, low, last))
            .collect();
        let number = low.to_string();
        lines.push(if self.left_handed {
            format!("{}{number}", " ".repeat(4 * usize::from(last - low)))
        } else {
            format!("   {number}")
        });
        lines
    }

    fn string(&self, voicing: &Voicing, string: StringNumber, low: u8, last: u8) -> String {
        let (wire, wall) = if self.ascii {
            ("-", "|")
        } else {
            ("─", "│")
        };
        let at = voicing.places().find(|it| it.place.string == string);
        let sign = match at {
            None => 'x',
            Some(at) if at.is_open() => 'o',
            Some(_) => ' ',
        };
        let cell = |fret: u8| match at {
            Some(at) if at.place.fret.get() == fret => {
                format!("{wire}{}{wire}", hand_sign(at))
            }
            _ => wire.repeat(3),
        };
        let cells: Vec<String> = (low..=last).map(cell).collect();
        if self.left_handed {
            let cells: Vec<String> = cells.into_iter().rev().collect();
            format!("{wall}{} {sign}", cells.join(wall))
        } else {
            format!("{sign} {}{wall}", cells.join(wall))
        }
    }

    /// The fingers in the order they go down, such as `4, 1+2, 3`.
    fn order(&self, voicing: &Voicing) -> String {
        let staging = &self.accompaniment.staging;
        let placed = voicing
            .under()
            .iter()
            .zip(&staging.placed)
            .map(|(note, turn)| (note.at, *turn));
        let mut all: Vec<(u8, String)> = placed
            .chain([(voicing.melody, staging.melody)])
            .filter_map(|(at, turn)| Some((turn?, hand_sign(at))))
            .collect();
        all.sort_unstable();
        all.dedup();
        let mut order = String::new();
        let mut before = None;
        for (turn, finger) in all {
            match before {
                None => order.push_str("down "),
                Some(before) if before == turn => order.push('+'),
                Some(_) => order.push_str(", "),
            }
            order.push_str(&finger);
            before = Some(turn);
        }
        order
    }

    fn stays(&self) -> String {
        let staging = &self.accompaniment.staging;
        let list = |fingers: &[Finger]| {
            fingers
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join("+")
        };
        let mut parts = Vec::new();
        if !staging.anchors.is_empty() {
            parts.push(format!("{} stay", list(&staging.anchors)));
        }
        if !staging.guides.is_empty() {
            parts.push(format!("{} lead", list(&staging.guides)));
        }
        if staging.lay_early {
            parts.push("lay the barre now".into());
        }
        parts.join(", ")
    }
}

/// The finger on a place, `T` for the thumb, `o` for an open string.
pub fn hand_sign(at: FingeredPlace) -> String {
    match at.finger {
        Some(finger) => finger.to_string(),
        None if at.is_thumb() => "T".into(),
        None => "o".into(),
    }
}

fn names(word: &str, degrees: &[ChordDegree]) -> String {
    if degrees.is_empty() {
        return String::new();
    }
    format!(
        "{word} {}",
        degrees
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" ")
    )
}

/// Cards side by side in rows, as many as the width allows.
pub fn in_rows(cards: &[Vec<String>], width: usize) -> StyledText {
    let across = (width / CARD_WIDTH).max(1);
    let mut text = StyledText::default();
    for row in cards.chunks(across) {
        for nth in 0..row[0].len() {
            let mut line = StyledLine::default();
            for (column, card) in row.iter().enumerate() {
                line.fill_to(column * CARD_WIDTH, " ", Role::Plain);
                let role = if nth < 2 { Role::Heading } else { Role::Plain };
                line.push(&card[nth], role);
            }
            let has_words = row.iter().any(|card| !card[nth].is_empty());
            if has_words {
                text.push(line);
            }
        }
        text.push("");
    }
    text
}
