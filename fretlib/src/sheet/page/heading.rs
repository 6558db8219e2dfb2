//! The head of a sheet: title, composer, tempo, key, instrument.

use super::{Answers, Part, Sheet, fitted, heading_mark};
use crate::melody::{Quarters, Tempo};
use crate::sheet::drawing::{Anchor, Ink, Mark, Point, Subject};
use crate::sheet::font::{Face, Sign};
use crate::sheet::staff_block::Block;
use crate::sheet::words;

impl Sheet<'_> {
    pub(super) fn heading(&self, width: f64) -> Block {
        let mut marks = Vec::new();
        let mut y = 4.3;
        let title = match self.melody.title() {
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
        if let Some(composer) = self.melody.composer() {
            let at = Point::new(width, y);
            let text = fitted(composer, 3.2, Face::Italic, width * 0.35);
            composer_width = Face::Italic.width(&text, 3.2);
            marks.push(Mark::text(text, at, 3.2, Face::Italic, Anchor::End));
        }
        let mut x = 0.0;
        if let Some(tempo) = self.melody.tempos().first() {
            x = tempo_mark(&mut marks, *tempo, self.beat(), y) + 5.0;
        }
        let key = self.melody.keys().first().copied().unwrap_or(self.key);
        let mut facts = vec![
            words::signs(&key.to_string()),
            self.instrument.name().to_owned(),
        ];
        if self.instrument.capo() > 0 {
            facts.push(format!("capo {}", self.instrument.capo()));
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

    pub(super) fn beat(&self) -> Quarters {
        let meter = self.melody.meters().first().copied().flatten();
        meter.map_or(Quarters::from(1), |meter| meter.beat())
    }
}

/// Draws `♩ = 104` in one group and gives its right end.
fn tempo_mark(page: &mut Vec<Mark>, tempo: Tempo, beat: Quarters, y: f64) -> f64 {
    let dotted = Quarters::new(3, 2);
    let (sign, length, dots, name) = if beat == dotted {
        (Sign::MetronomeQuarter, dotted, true, "dotted quarter note")
    } else if beat == Quarters::from(3) {
        (Sign::MetronomeHalf, beat, true, "dotted half note")
    } else if beat == Quarters::from(2) {
        (Sign::MetronomeHalf, beat, false, "half note")
    } else if beat == Quarters::new(1, 2) {
        (Sign::MetronomeEighth, beat, false, "eighth note")
    } else {
        (
            Sign::MetronomeQuarter,
            Quarters::from(1),
            false,
            "quarter note",
        )
    };
    let space = 0.95;
    let mut x = 0.0;
    let mut marks = Vec::new();
    let mut put = |sign: Sign| {
        marks.push(Mark::Sign {
            sign,
            at: Point::new(x, y - 0.4),
            space,
            ink: Ink::Black,
        });
        x += sign.advance() * space + 0.4;
    };
    put(sign);
    if dots {
        put(Sign::MetronomeDot);
    }
    let beats = (tempo.quarters_per_minute() / length).to_f64();
    let text = format!("= {beats:.0}");
    let end = x + 0.4 + Face::Text.width(&text, 3.4);
    let at = Point::new(x + 0.4, y);
    marks.push(Mark::text(text, at, 3.4, Face::Text, Anchor::Start));
    page.push(Mark::Group {
        subject: Subject::Figure(format!("{name} = {beats:.0}")),
        marks,
    });
    end
}
