//! The head of a sheet: title, composer, tempo, key, instrument.

use super::{Answers, Part, Sheet, fitted, heading_mark};
use crate::melody::{Feel, NoteValue, Tempo};
use crate::sheet::drawing::{Anchor, Ink, Mark, Point, SignMark, Subject};
use crate::sheet::font::{Face, Sign};
use crate::sheet::staff_block::Block;
use crate::sheet::words;

impl Sheet<'_> {
    pub(super) fn heading(&self, width: f64) -> Block {
        let mut marks = Vec::new();
        let mut y = 4.3;
        let title = match self.tune.melody.title() {
            "" => "Untitled",
            title => title,
        };
        // A long title is set smaller before it is cut short.
        let full = Face::Bold.width(title, 5.8);
        let size = (5.8 * (width / full).min(1.0)).max(4.5);
        let title = fitted(title, size, Face::Bold, width);
        let middle = Point::new(width / 2.0, y);
        let title = Mark::text(title, middle, size, Face::Bold, Anchor::Middle);
        marks.push(heading_mark(1, title));
        y += 4.6;
        let mut composer_width = 0.0;
        let from = self
            .tune
            .melody
            .source()
            .map(|source| format!("from {source}"));
        let credits: Vec<&str> = self
            .tune
            .melody
            .composer()
            .into_iter()
            .chain(from.as_deref())
            .collect();
        if !credits.is_empty() {
            let at = Point::new(width, y);
            let text = fitted(&credits.join(", "), 3.2, Face::Italic, width * 0.35);
            composer_width = Face::Italic.width(&text, 3.2);
            marks.push(Mark::text(text, at, 3.2, Face::Italic, Anchor::End));
        }
        let mut x = 0.0;
        let tempo = self.tune.melody.tempos().first().copied();
        let feel = self.tune.melody.feel();
        if tempo.is_some() || feel.is_some() {
            x = tempo_mark(&mut marks, tempo, feel, y) + 5.0;
        }
        let key = self
            .tune
            .melody
            .keys()
            .first()
            .copied()
            .unwrap_or(self.tune.key);
        let mut facts = vec![
            words::signs(&key.to_string()),
            self.tune.instrument.name().to_owned(),
        ];
        if let Some(order) = self.tune.melody.form().part_order() {
            facts.insert(1, format!("parts {order}"));
        }
        if self.tune.instrument.capo() > 0 {
            facts.push(format!("capo {}", self.tune.instrument.capo()));
        }
        if self.has(Part::Tablature) && self.answers != Answers::Blank && !self.caption.is_empty() {
            facts.push(self.caption.to_owned());
        }
        let at = Point::new(x, y);
        let room = width - x - composer_width - 3.0;
        let facts = fitted(&facts.join(" · "), 3.2, Face::Text, room);
        marks.push(Mark::text(facts, at, 3.2, Face::Text, Anchor::Start));
        Block {
            height: y + 0.9,
            marks,
        }
    }
}

/// Draws `♩ = 104` and the feel behind it in one group and gives its right end.
fn tempo_mark(page: &mut Vec<Mark>, tempo: Option<Tempo>, feel: Option<Feel>, y: f64) -> f64 {
    let space = 0.95;
    let mut x = 0.0;
    let mut marks = Vec::new();
    let mut said = Vec::new();
    if let Some(tempo) = tempo {
        let (signs, name, count) = counted(tempo);
        for sign in signs {
            marks.push(Mark::Sign(SignMark {
                sign,
                at: Point::new(x, y - 0.4),
                space,
                ink: Ink::Black,
            }));
            x += sign.advance() * space + 0.4;
        }
        let text = format!("= {count}");
        let at = Point::new(x + 0.4, y);
        x += 0.4 + Face::Text.width(&text, 3.4);
        marks.push(Mark::text(text, at, 3.4, Face::Text, Anchor::Start));
        said.push(format!("{name} = {count}"));
    }
    if let Some(feel) = feel {
        let text = feel.to_string();
        x += if marks.is_empty() { 0.0 } else { 2.0 };
        let at = Point::new(x, y);
        x += Face::Italic.width(&text, 3.4);
        said.push(text.clone());
        marks.push(Mark::text(text, at, 3.4, Face::Italic, Anchor::Start));
    }
    page.push(Mark::Group {
        subject: Subject::Figure(said.join(", ")),
        marks,
    });
    x
}

/// The signs of the value a tempo is counted in, its name, and how many of it there are; quarter notes where the font has no
/// sign for it.
fn counted(tempo: Tempo) -> (Vec<Sign>, String, String) {
    let sign = |value: NoteValue| match (value.power(), value.dots()) {
        (1, 0 | 1) => Some(Sign::MetronomeHalf),
        (2, 0 | 1) => Some(Sign::MetronomeQuarter),
        (3, 0 | 1) => Some(Sign::MetronomeEighth),
        _ => None,
    };
    let value = NoteValue::of(tempo.unit()).filter(|value| sign(*value).is_some());
    let value = value.unwrap_or(NoteValue::plain(2));
    let mut signs: Vec<Sign> = sign(value).into_iter().collect();
    if value.dots() > 0 {
        signs.push(Sign::MetronomeDot);
    }
    let count = tempo.counted_in(value.duration()).count();
    let count = match count.is_integer() {
        true => count.to_string(),
        false => format!("{:.1}", count.to_f64()),
    };
    (signs, value.name(), count)
}
