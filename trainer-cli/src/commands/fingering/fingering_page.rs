//! The page that `neckline fingering` prints.

use fretlib::fingering::{Fingering, FingeringMeasure, Shift, ShiftReason, Term, TermCosts};
use fretlib::text::{NoteMark, Role, StyledLine, StyledText, TabNote, Tablature};
use fretlib::theory::Octave;

use super::{FingeredTune, Found};
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;

/// A shift of more frets than this is a long one; chosen by ear.
const FAR: u8 = 5;
/// Terms that nearly every note has, which are not specific to a bar.
const EVERYWHERE: [Term; 5] = [
    Term::Height,
    Term::HomeHeight,
    Term::HomeNearNut,
    // Named as a shift.
    Term::HomeShift,
    Term::Change,
];
/// Terms that cost less than this in a bar are not mentioned; chosen by ear.
const WORTH_NAMING: f64 = 1.0;

/// What is printed and how.
pub struct FingeringPage<'a> {
    pub fingered: &'a FingeredTune,
    pub why: bool,
    pub ascii: bool,
    pub width: usize,
}

impl FingeringPage<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = self.head();
        for (index, found) in self.fingered.found.iter().enumerate() {
            page.push("");
            page.push(self.summary(index, found));
            if let Some(region) = found.region {
                page.push(format!("Good for: {}.", region.good_for()).as_str());
            }
            page.push("");
            page.append(self.tablature(&found.fingering));
            page.push("");
            page.append(self.shifts(found));
            page.push("");
            for line in wrap(
                &self.difficulty(&found.fingering),
                self.width.clamp(60, 100),
            ) {
                page.push(line.as_str());
            }
            if self.why {
                page.push("");
                page.append(self.terms(found));
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
        if let Some(path) = &it.kept_in {
            text.push(format!("as kept in {path}").as_str());
        }
        text
    }

    fn summary(&self, index: usize, found: &Found) -> StyledLine {
        let region = found
            .region
            .map_or(String::new(), |region| format!(", {}", region.name()));
        heading(&format!(
            "Fingering {}{region}: from {}, {}",
            index + 1,
            found.fingering.notes[0].position,
            count(found.fingering.shifts().count(), "shift")
        ))
    }

    /// Its three highest measures, compared with other tunes.
    fn difficulty(&self, fingering: &Fingering) -> String {
        let measures = fingering.measures(&self.fingered.player(), &self.fingered.line);
        let mut percentiles: Vec<(FingeringMeasure, u8)> = measures
            .into_iter()
            .map(|(measure, amount)| (measure, measure.percentile(amount)))
            .collect();
        percentiles.sort_by_key(|(_, percentile)| std::cmp::Reverse(*percentile));
        let hardest: Vec<String> = percentiles
            .iter()
            .take(3)
            .filter(|(_, percentile)| *percentile >= 50)
            .map(|(measure, percentile)| {
                format!("{} (more than {percentile} of 100 tunes)", measure.name())
            })
            .collect();
        if hardest.is_empty() {
            return "Nothing in it is harder than in most tunes.".into();
        }
        format!("Hardest in it: {}.", hardest.join(", "))
    }

    fn tablature(&self, fingering: &Fingering) -> StyledText {
        let mut before = None;
        let notes: Vec<TabNote> = fingering
            .notes
            .iter()
            .map(|note| {
                let moved = before != Some(note.position);
                before = Some(note.position);
                TabNote {
                    place: Some(note.place),
                    finger: note.finger,
                    position: moved.then_some(note.position),
                    chord_tone: None,
                    label: String::new(),
                    mark: NoteMark {
                        role: Role::Plain,
                        stretch: note.is_stretched(),
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

    fn shifts(&self, found: &Found) -> StyledText {
        let mut text = StyledText::default();
        let fingering = &found.fingering;
        let all = fingering.explain_shifts(&self.fingered.search(found), &self.fingered.line);
        let start = fingering.notes[0].position;
        if all.is_empty() {
            text.push(format!("The hand stays in {start}.").as_str());
            return text;
        }
        text.push(heading("Shifts"));
        for shift in &all {
            text.push(self.shift(fingering, shift).as_str());
        }
        if all
            .iter()
            .any(|shift| shift.from.get().abs_diff(shift.to.get()) > FAR)
        {
            text.push("Long shifts: practise them slowly, and stop at the first pain.");
        }
        text
    }

    fn shift(&self, fingering: &Fingering, shift: &Shift) -> String {
        let notes = self.fingered.tune.melody.notes();
        let named = |index: usize| format!("{} (note {})", notes[index].pitch, index + 1);
        let reason = match shift.reason {
            ShiftReason::Reach(index) => {
                let place = fingering.notes[index].place;
                format!(
                    "to reach {} on string {}, fret {}",
                    named(index),
                    place.string,
                    place.fret
                )
            }
            ShiftReason::WithoutStretch(index) => {
                format!("to play {} without a stretch", named(index))
            }
            ShiftReason::Home => "to be nearer home".into(),
            ShiftReason::Without(term, index) => spared(term, &named(index)),
            ShiftReason::Ready(index) => format!("to be ready for {}", named(index)),
        };
        format!(
            "{} {}, {:.1} s: {reason}",
            self.fingered.moment(shift),
            shift.cue.name(),
            shift.seconds
        )
    }

    /// What makes each bar hard, the hardest thing first.
    fn terms(&self, found: &Found) -> StyledText {
        let it = self.fingered;
        let mut text = StyledText::default();
        let Some(costs) = found.fingering.breakdown(&it.search(found), &it.line) else {
            return text;
        };
        text.push(heading(&format!(
            "What is hard, bar by bar, the hardest first (a shift is easier with more time; the tune goes at {} {} a minute)",
            it.tempo().count(),
            it.tempo().unit_in_words()
        )));
        let bars: Vec<u32> = it
            .tune
            .melody
            .notes()
            .iter()
            .map(|note| it.tune.melody.bar_at(note.onset).number)
            .collect();
        let sums: Vec<(u32, TermCosts)> = bars.iter().zip(costs).fold(
            Vec::new(),
            |mut sums: Vec<(u32, TermCosts)>, (bar, cost)| {
                match sums.last_mut() {
                    Some((last, sum)) if last == bar => *sum = *sum + cost,
                    _ => sums.push((*bar, cost)),
                }
                sums
            },
        );
        let hardest = sums
            .iter()
            .map(|(_, sum)| sum.total())
            .fold(f64::MIN, f64::max);
        for (bar, sum) in &sums {
            let mut terms: Vec<(Term, f64)> = sum
                .iter()
                .filter(|(term, cost)| !EVERYWHERE.contains(term) && *cost >= WORTH_NAMING)
                .collect();
            terms.sort_by(|one, other| other.1.total_cmp(&one.1));
            let names: Vec<&str> = terms.iter().map(|(term, _)| term.name()).collect();
            let names = if names.is_empty() {
                "nothing much".into()
            } else {
                names.join(", ")
            };
            let mark = if sum.total() == hardest {
                " (the hardest bar)"
            } else {
                ""
            };
            for (nth, line) in wrap(&format!("{names}{mark}"), self.width.clamp(60, 100) - 10)
                .iter()
                .enumerate()
            {
                let head = if nth == 0 {
                    format!("  bar {bar:<3} ")
                } else {
                    " ".repeat(10)
                };
                text.push(format!("{head}{line}").as_str());
            }
        }
        text
    }
}

pub(super) fn heading(words: &str) -> StyledLine {
    let mut line = StyledLine::default();
    line.push(words, Role::Heading);
    line
}

/// Why the hand moves when it need not: what a note then does without.
fn spared(term: Term, note: &str) -> String {
    let without = match term {
        Term::Height | Term::HighUp | Term::HomeHeight => return "to be lower on the neck".into(),
        Term::HomeNearNut => return "to be farther from the nut".into(),
        Term::OpenFirst | Term::OpenNear | Term::OpenFar => {
            return format!("to be lower on the neck for the open string of {note}");
        }
        Term::Early
        | Term::EarlyNearNut
        | Term::BackToNut
        | Term::OtherNearNut
        | Term::OtherFinger => {
            return format!("to have a finger on the fret of {note}");
        }
        Term::Fourth | Term::WeakLong => "the fourth finger",
        Term::Slide => "sliding a finger",
        Term::SameFinger | Term::Hop => "the finger of the note before",
        Term::Barre => "the first finger across strings",
        Term::Crossing => "crossing fingers",
        Term::Lean => "leaning the hand",
        Term::Span => "a wide span",
        Term::Cut | Term::Ringing => "cutting a note off",
        _ => return format!("to make {note} easier ({})", term.name()),
    };
    format!("to play {note} without {without}")
}
