//! The page that `neckline fingering` prints.

use fretlib::fingering::{Fingering, Shift, Term, TermCosts};
use fretlib::neck::Reach;
use fretlib::text::{NoteMark, Role, StyledLine, StyledText, TabNote, Tablature};
use fretlib::theory::Octave;

use super::FingeredTune;
use crate::report::heading::title_or_untitled;

/// What is printed and how.
pub struct Page<'a> {
    pub fingered: &'a FingeredTune,
    pub why: bool,
    pub ascii: bool,
    pub width: usize,
}

impl Page<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = self.head();
        for (index, fingering) in self.fingered.fingerings.iter().enumerate() {
            page.push("");
            page.push(self.summary(index, fingering));
            page.push("");
            page.append(self.tablature(fingering));
            page.push("");
            page.append(self.shifts(fingering));
            if self.why {
                page.push("");
                page.append(self.terms(fingering));
            }
        }
        if let Some(text) = self.fingered.against_own_tempo() {
            page.push("");
            page.append(text);
        }
        page
    }

    fn head(&self) -> StyledText {
        let it = self.fingered;
        let mut text = StyledText::default();
        let title = title_or_untitled(it.tune.melody.title());
        text.push(heading(title));
        let mut facts = vec![it.tune.key.to_string(), it.instrument.name().to_owned()];
        if it.instrument.capo() > 0 {
            facts.push(format!("capo at {}", it.instrument.capo()));
        }
        if it.octave != Octave::WRITTEN {
            facts.push(format!("octave {}", it.octave));
        }
        text.push(facts.join(", ").as_str());
        text
    }

    fn summary(&self, index: usize, fingering: &Fingering) -> StyledLine {
        let count = fingering.shifts().count();
        let shifts = if count == 1 {
            "1 shift".into()
        } else {
            format!("{count} shifts")
        };
        let from = fingering.notes[0].position;
        heading(&format!(
            "Fingering {}: from {from}, {shifts}, cost {:.1}",
            index + 1,
            fingering.cost
        ))
    }

    fn tablature(&self, fingering: &Fingering) -> StyledText {
        let mut before = None;
        let notes: Vec<TabNote> = fingering
            .notes
            .iter()
            .map(|note| {
                let moved = before != Some(note.position);
                before = Some(note.position);
                let reach = note.position.reach(note.place.fret);
                TabNote {
                    place: Some(note.place),
                    finger: note.finger,
                    position: moved.then_some(note.position),
                    chord_tone: None,
                    label: String::new(),
                    mark: NoteMark {
                        role: Role::Plain,
                        stretch: matches!(reach, Some((Reach::Stretch, _))),
                    },
                }
            })
            .collect();
        Tablature {
            melody: &self.fingered.tune.melody,
            notes: &notes,
            instrument: &self.fingered.instrument,
            ascii: self.ascii,
            width: self.width,
        }
        .draw()
    }

    fn shifts(&self, fingering: &Fingering) -> StyledText {
        let mut text = StyledText::default();
        let all = fingering.explain_shifts(&self.fingered.line);
        let start = fingering.notes[0].position;
        if all.is_empty() {
            text.push(format!("The hand stays in {start}.").as_str());
            return text;
        }
        text.push(heading("Shifts"));
        for shift in &all {
            text.push(self.shift(fingering, shift).as_str());
        }
        text
    }

    fn shift(&self, fingering: &Fingering, shift: &Shift) -> String {
        let notes = self.fingered.tune.melody.notes();
        let what_for = match shift.reaches {
            Some(index) => {
                let place = fingering.notes[index].place;
                let reached = notes[index].pitch;
                format!(
                    "for {reached} (note {}) on string {}, fret {}",
                    index + 1,
                    place.string,
                    place.fret
                )
            }
            None => "for an easier hand".into(),
        };
        format!(
            "{} {}, {:.1} s: {what_for}",
            self.fingered.moment(shift),
            shift.cue.name(),
            shift.seconds
        )
    }

    /// What makes each bar hard: the cost of every term, the dearest first.
    fn terms(&self, fingering: &Fingering) -> StyledText {
        let it = self.fingered;
        let mut text = StyledText::default();
        let Some(costs) = fingering.breakdown(&it.search(), &it.line) else {
            return text;
        };
        text.push(heading(&format!(
            "Cost by bar (a shift costs less the more time there is; the tune goes at {} quarter notes a minute)",
            it.tempo().quarters_per_minute()
        )));
        let bars: Vec<u32> = it
            .tune
            .melody
            .notes()
            .iter()
            .map(|note| it.tune.melody.bar_at(note.onset).number)
            .collect();
        let mut first = 0;
        while first < bars.len() {
            let last = (first..bars.len())
                .find(|index| bars[*index] != bars[first])
                .unwrap_or(bars.len());
            let sum = costs[first..last]
                .iter()
                .fold(TermCosts::ZERO, |sum, note| sum + *note);
            let mut terms: Vec<(Term, f64)> =
                sum.iter().filter(|(_, cost)| cost.abs() >= 0.05).collect();
            terms.sort_by(|one, other| other.1.total_cmp(&one.1));
            let sum: f64 = terms.iter().map(|(_, cost)| cost).sum();
            let head = format!("  bar {:<3} {sum:>6.1}  ", bars[first]);
            let mut line = head.clone();
            for (nth, (term, cost)) in terms.iter().enumerate() {
                let comma = if nth + 1 < terms.len() { ", " } else { "" };
                let piece = format!("{} {cost:.1}{comma}", term.name());
                if line.len() + piece.len() > self.width.max(60) {
                    text.push(line.trim_end());
                    line = " ".repeat(head.len());
                }
                line.push_str(&piece);
            }
            text.push(line.trim_end());
            first = last;
        }
        text
    }
}

pub(super) fn heading(words: &str) -> StyledLine {
    let mut line = StyledLine::default();
    line.push(words, Role::Heading);
    line
}
