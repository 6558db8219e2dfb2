//! The page that `neckline fingering` prints.

use fretlib::fingering::{
    FingeredNote, Fingering, FingeringMeasure, Home, Region, Shift, ShiftReason, Term, TermCosts,
};
use fretlib::neck::Position;
use fretlib::text::{NoteMark, Role, StyledLine, StyledText, TabNote, Tablature};
use fretlib::theory::Octave;
use unicode_width::UnicodeWidthStr;

use super::{FingeredTune, Found};
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;

/// A shift of more frets than this is a long one; chosen by ear.
const FAR: u8 = 5;
/// Terms that nearly every note has, which are not specific to a bar.
const EVERYWHERE: [Term; 4] = [
    Term::Height,
    Term::HomeHeight,
    Term::HomeNearNut,
    Term::Change,
];
/// What costs less than this in a bar is not mentioned; chosen by ear.
const WORTH_NAMING: f64 = 1.0;

/// What is printed and how.
pub struct FingeringPage<'a> {
    pub fingered: &'a FingeredTune,
    pub why: bool,
    pub ascii: bool,
    pub width: usize,
    /// Whether long lines are broken: on a pipe each record has one line.
    pub is_terminal: bool,
}

/// Further lines of a long one begin under the words of the bar.
const FURTHER: &str = "          ";

impl FingeringPage<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = self.head();
        for (index, found) in self.fingered.found.iter().enumerate() {
            page.push("");
            page.push(self.summary(index, found));
            if let Some(region) = found.region_it_lies_in() {
                let good_for = format!("Good for: {}.", region.good_for());
                for line in wrap(&good_for, self.width.clamp(60, 100)) {
                    page.push(line.as_str());
                }
            }
            page.push("");
            page.append(self.tablature(&found.fingering));
            page.push("");
            if found.fingering.notes.iter().any(FingeredNote::is_stretched) {
                self.push_words(
                    &mut page,
                    "~ is a stretch: let the hand go after it, and stop at the first pain.",
                );
                page.push("");
            }
            let shifts = self.shifts(found);
            if !shifts.lines().is_empty() {
                page.append(shifts);
                page.push("");
            }
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
            .region_it_lies_in()
            .map_or(String::new(), |region| format!(", {}", region.name()));
        let notes = &found.fingering.notes;
        let open = notes.iter().filter(|it| it.finger.is_none()).count();
        let open = match open {
            0 => "no open strings".into(),
            some => format!("{} on open strings", count(some, "note")),
        };
        let start = notes[0].position;
        let shifts = match found.fingering.shifts().count() {
            0 => format!("all in {start}"),
            some => format!("from {start}, {}", count(some, "shift")),
        };
        heading(&format!(
            "Fingering {}{region}: {shifts}, {open}",
            index + 1
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
            .map(|(measure, percentile)| format!("{} than in {percentile}", measure.more()))
            .collect();
        if hardest.is_empty() {
            return "Nothing in it is harder than in most tunes.".into();
        }
        format!("Compared with 100 tunes: {}.", hardest.join(", "))
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
        if all.is_empty() {
            return text;
        }
        text.push(heading("Shifts: when, the time for it, and why"));
        for shift in &all {
            self.push_words(&mut text, &self.shift(found, shift));
        }
        if all
            .iter()
            .any(|shift| shift.from.get().abs_diff(shift.to.get()) > FAR)
        {
            self.push_words(
                &mut text,
                "Long shifts: practise them slowly, and stop at the first pain.",
            );
        }
        text
    }

    /// Adds a line, broken between words where the terminal would break it within one.
    fn push_words(&self, text: &mut StyledText, words: &str) {
        if !self.is_terminal || words.width() <= self.width {
            text.push(words);
            return;
        }
        let begin = &words[..words.len() - words.trim_start().len()];
        let further = if begin.is_empty() { "" } else { FURTHER };
        let lines = wrap(words.trim_start(), self.width.max(60) - further.len());
        for (nth, line) in lines.iter().enumerate() {
            let indent = if nth == 0 { begin } else { further };
            text.push(format!("{indent}{line}").as_str());
        }
    }

    fn shift(&self, found: &Found, shift: &Shift) -> String {
        let notes = self.fingered.tune.melody.notes();
        // The number of the note where the hand moves is said already.
        let named = |index: usize| match index == shift.index {
            true => notes[index].pitch.to_string(),
            false => format!("{} (note {})", notes[index].pitch, index + 1),
        };
        let reason = match shift.reason {
            ShiftReason::Reach(index) => {
                let place = found.fingering.notes[index].place;
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
            ShiftReason::Home(home) => self.homeward(found, home, shift.to),
            ShiftReason::Without(term, index) => spared(term, &named(index)),
            ShiftReason::Ready(index) => format!("to be ready for {}", named(index)),
        };
        let time = match shift.seconds < 0.05 {
            true => "under 0.1 s".into(),
            false => format!("{:.1} s", shift.seconds),
        };
        let (moment, cue) = (self.fingered.moment(shift), shift.cue.name());
        format!("{moment} {cue}, {time}: {reason}")
    }

    /// Why the hand moves towards a home: the player's own, that of a region, or what a pin or the start makes one.
    fn homeward(&self, found: &Found, home: Home, to: Position) -> String {
        let named = home.lowest();
        let is_there = to == named;
        if found.homes.iter().any(|(_, it)| *it == home) {
            match (found.region, is_there) {
                (Some(region), _) => format!("to stay near {}", place_of(region)),
                (None, true) => format!("to be at home in {to}"),
                (None, false) => format!("to be nearer home, {named}"),
            }
        } else if self.fingered.constraints.pins.is_empty() {
            match is_there {
                true => format!("to be back in {to}, where it starts"),
                false => format!("to be nearer {named}, where it starts"),
            }
        } else {
            "to be nearer the pinned notes".into()
        }
    }

    /// What makes each bar hard, the hardest thing first.
    fn terms(&self, found: &Found) -> StyledText {
        let it = self.fingered;
        let mut text = StyledText::default();
        let Some(costs) = found.fingering.breakdown(&it.search(found), &it.line) else {
            return text;
        };
        text.push(heading(&format!(
            "What is hard, by bar, at {} {} a minute",
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
        let is_hardest = |sum: &TermCosts| sum.total() == hardest;
        let mark = match sums.iter().filter(|(_, sum)| is_hardest(sum)).count() {
            1 => " (the hardest bar)",
            _ => " (as hard as any)",
        };
        // Bars in a row with the same words are one line.
        let mut lines: Vec<(u32, u32, String)> = Vec::new();
        for (bar, sum) in &sums {
            let mut words = hard_things(sum, found.region).join(", ");
            if words.is_empty() {
                continue;
            }
            if is_hardest(sum) {
                words.push_str(mark);
            }
            match lines.last_mut() {
                Some((_, last, same)) if *last + 1 == *bar && *same == words => *last = *bar,
                _ => lines.push((*bar, *bar, words)),
            }
        }
        for (first, last, words) in &lines {
            let bars = match first == last {
                true => format!("bar {first}"),
                false => format!("bars {first}-{last}"),
            };
            let indent = bars.len().max(10) + 3;
            for (nth, line) in wrap(words, self.width.clamp(60, 100) - indent)
                .iter()
                .enumerate()
            {
                let head = if nth == 0 { bars.as_str() } else { "" };
                text.push(format!("  {head:<0$} {line}", indent - 3).as_str());
            }
        }
        if lines.is_empty() {
            text.push("  nothing much");
        }
        text
    }
}

pub(super) fn heading(words: &str) -> StyledLine {
    let mut line = StyledLine::default();
    line.push(words, Role::Heading);
    line
}

/// What is hard in a bar, the hardest first; `region` is where the hand is at home.
fn hard_things(sum: &TermCosts, region: Option<Region>) -> Vec<String> {
    let off_beat = sum.get(Term::OffBeat) >= WORTH_NAMING;
    let mut things: Vec<(String, f64)> = Vec::new();
    for (term, cost) in sum.iter() {
        if cost <= 0.0 || EVERYWHERE.contains(&term) {
            continue;
        }
        let words = match term {
            Term::Shift | Term::OffBeat | Term::Distance | Term::HomeShift | Term::ShiftAcross => {
                let beat = if off_beat { " off the beat" } else { "" };
                format!("a shift{beat}")
            }
            Term::Away => format!("away from {}", region.map_or("home", place_of)),
            Term::OpenFar => "an open string beside stopped notes".into(),
            Term::StretchBack => "the first finger stretched back".into(),
            Term::StretchOn => "the fourth finger stretched forward".into(),
            Term::OtherFinger => "a finger off its fret".into(),
            Term::Lean => "a leaning hand".into(),
            Term::Slide => "a finger sliding along a string".into(),
            Term::SameFinger => "the same finger on another fret".into(),
            Term::Hop => "a finger hopping to another string".into(),
            Term::Barre => "the first finger across strings".into(),
            Term::Span => "a wide span".into(),
            Term::Cut => "a leap on one string".into(),
            Term::Ringing => "a ringing note cut off".into(),
            Term::Elsewhere => "the same note on another string".into(),
            Term::Skip => "a string skipped".into(),
            Term::StepAcross => "a step across strings".into(),
            Term::OtherString => "a string unlike the pins".into(),
            Term::DarkTone => "a dark tone".into(),
            Term::Fourth | Term::WeakLong => format!("the {}", term.name()),
            _ => term.name().into(),
        };
        match things.iter_mut().find(|(same, _)| *same == words) {
            Some((_, all)) => *all += cost,
            None => things.push((words, cost)),
        }
    }
    things.retain(|(_, cost)| *cost >= WORTH_NAMING);
    things.sort_by(|one, other| other.1.total_cmp(&one.1));
    things.into_iter().map(|(words, _)| words).collect()
}

/// The place that a region stays near.
fn place_of(region: Region) -> &'static str {
    match region {
        Region::Low => "first position",
        Region::Second => "second position",
        Region::Middle => "mid-neck",
        Region::High => "sixth position",
    }
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
            return format!("to have a finger over the fret of {note}");
        }
        Term::Fourth | Term::WeakLong => "the fourth finger",
        Term::Slide => "sliding a finger",
        Term::SameFinger | Term::Hop => "the finger of the note before",
        Term::Barre => "the first finger across strings",
        Term::Crossing => "crossing fingers",
        Term::Lean => "leaning the hand",
        Term::Span => "a wide span",
        Term::Cut | Term::Ringing => "cutting a note off",
        Term::StretchBack | Term::StretchOn => "stretching the fingers apart",
        _ => return format!("to make {note} easier ({})", term.name()),
    };
    format!("to play {note} without {without}")
}
