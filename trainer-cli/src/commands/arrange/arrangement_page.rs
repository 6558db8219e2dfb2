//! The page that `neckline arrange` prints.

use fretlib::arranging::{
    Accompaniment, Arrangement, BareReason, Lattice, Texture, Voicing, VoicingTerm,
};
use fretlib::text::{Role, StyledLine, StyledText};
use fretlib::theory::Octave;

use super::Arranged;
use super::cautions::cautions;
use super::hard_moments::{HardMoment, hardest};
use super::voicing_card::{Card, in_rows};
use crate::input::tune::Tune;
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;

/// What is printed and how.
pub struct ArrangementPage<'a> {
    pub arranged: &'a Arranged<'a>,
    pub why: bool,
    pub ascii: bool,
    pub width: usize,
    pub left_handed: bool,
}

impl ArrangementPage<'_> {
    /// The whole page.
    pub fn draw(&self) -> StyledText {
        let mut page = self.head();
        let several = self.arranged.arrangements.len() > 1;
        for (index, arrangement) in self.arranged.arrangements.iter().enumerate() {
            page.push("");
            if several {
                page.push(heading(&format!(
                    "Arrangement {}: cost {:.1}",
                    index + 1,
                    arrangement.cost
                )));
            }
            self.sentence(&mut page, &self.figures(arrangement));
            page.push("");
            page.append(self.cards(arrangement));
            if index == 0 {
                page.append(self.later_times());
            }
            page.append(self.remarks(arrangement));
            page.append(self.hard_moments(arrangement));
            if self.why {
                page.append(self.terms(arrangement));
            }
        }
        page
    }

    fn head(&self) -> StyledText {
        let (tune, lattice) = (self.arranged.tune, self.arranged.lattice);
        let mut text = StyledText::default();
        text.push(heading(title_or_untitled(tune.melody.title())));
        text.push(facts(tune, lattice).as_str());
        text
    }

    fn sentence(&self, text: &mut StyledText, words: &str) {
        for line in wrap(words, self.width) {
            text.push(line.as_str());
        }
    }

    fn figures(&self, arrangement: &Arrangement) -> String {
        let figures = arrangement.figures(self.arranged.lattice);
        format!(
            "{} under {}, {} with every guide tone. From voicing to voicing an inner voice moves {:.1} semitones and the \
             hand {:.0} mm; {} in all.",
            count(figures.voicings, "voicing"),
            count(arrangement.notes.len(), "note"),
            figures.complete,
            figures.inner_motion,
            figures.travel_mm,
            match figures.anchors {
                0 => "no finger stays".into(),
                1 => "1 finger stays".into(),
                more => format!("{more} fingers stay"),
            },
        )
    }

    fn moment(&self, note: usize) -> String {
        let melody = &self.arranged.tune.melody;
        format!(
            "bar {} note {}",
            melody.bar_at(melody.notes()[note].onset).number,
            note + 1
        )
    }

    fn cards(&self, arrangement: &Arrangement) -> StyledText {
        let cards: Vec<Vec<String>> = arrangement
            .struck()
            .map(|(note, it)| self.card(arrangement, note, it))
            .collect();
        in_rows(&cards, self.width)
    }

    /// What sounds the later times of repeated strains with choices of their own.
    fn later_times(&self) -> StyledText {
        let mut text = StyledText::default();
        for later in &self.arranged.later_times {
            text.push(heading(&format!("Time {} of the repeat", later.time)));
            let arrangement = &later.arrangement;
            let is_its = |(note, _): &(usize, &Accompaniment)| later.notes.contains(note);
            let cards: Vec<Vec<String>> = arrangement
                .struck()
                .filter(is_its)
                .map(|(note, it)| self.card(arrangement, note, it))
                .collect();
            text.push("");
            text.append(in_rows(&cards, self.width));
        }
        text
    }

    fn card(&self, arrangement: &Arrangement, note: usize, it: &Accompaniment) -> Vec<String> {
        let later = if it.at.is_zero() {
            String::new()
        } else {
            format!("+{}", it.at)
        };
        let pitch = arrangement.notes[note].pitch;
        Card {
            head: format!("{}{later} {pitch}", self.moment(note)),
            accompaniment: it,
            melody_degree: it.chord.degree(pitch.class()),
            instrument: self.arranged.lattice.arranger().instrument,
            ascii: self.ascii,
            left_handed: self.left_handed,
        }
        .lines()
    }

    /// Notes without a voicing, notes that clash with their chord, and cautions.
    fn remarks(&self, arrangement: &Arrangement) -> StyledText {
        let mut lines = Vec::new();
        for (index, note) in arrangement.notes.iter().enumerate() {
            match note.bare {
                Some(BareReason::OutOfReach) => {
                    lines.push(format!(
                        "{}: {} stays bare, no voicing within reach",
                        self.moment(index),
                        note.pitch
                    ));
                }
                Some(BareReason::Asked) => {
                    lines.push(format!("{}: left bare as asked", self.moment(index)))
                }
                _ => {}
            }
        }
        let rests = arrangement.in_rests.iter();
        lines.extend(rests.map(|rest| {
            let bar = self.arranged.tune.melody.bar_at(rest.onset).number;
            format!(
                "bar {bar}: {} sounds again while the melody rests",
                rest.chord
            )
        }));
        lines.extend(self.fights(arrangement));
        lines.extend(cautions(&self.arranged.tune.melody, arrangement));
        let mut text = StyledText::default();
        if lines.is_empty() {
            return text;
        }
        text.push(heading("To mind"));
        for line in lines {
            for (nth, part) in wrap(&line, self.width.saturating_sub(4)).iter().enumerate() {
                let indent = if nth == 0 { "  " } else { "    " };
                text.push(format!("{indent}{part}").as_str());
            }
        }
        text.push("");
        text
    }

    fn fights(&self, arrangement: &Arrangement) -> Vec<String> {
        let lattice = self.arranged.lattice;
        let struck = arrangement.struck();
        struck
            .filter_map(|(index, it)| {
                let note = &arrangement.notes[index];
                let degree = lattice.roles(it.moment).fight(note.pitch)?;
                let below = (note.pitch.midi().chroma() + 11) % 12;
                let third = it.chord.tones().into_iter().find(|tone| tone.chroma() == below)?;
                let next = arrangement.notes.get(index + 1);
                let step = next.is_some_and(|next| matches!(note.pitch.midi() - next.pitch.midi(), 1 | 2));
                let what = if step {
                    let next = next.map(|next| next.pitch.to_string()).unwrap_or_default();
                    format!("it falls by step to {next}, a suspension: sounded without the {}", it.chord.degree(third))
                } else {
                    format!("sounded without the {}", it.chord.degree(third))
                };
                Some(format!(
                    "{}: {} is the {degree} of {}, a semitone above its {third}; {what}. Else write {}sus4 or {}7sus4 over \
                     it, or leave it bare (`--bare {}`) and let the chord come with the next note.",
                    self.moment(index),
                    note.pitch,
                    it.chord,
                    it.chord.root(),
                    it.chord.root(),
                    index + 1
                ))
            })
            .collect()
    }

    fn hard_moments(&self, arrangement: &Arrangement) -> StyledText {
        let mut text = StyledText::default();
        let moments = hardest(self.arranged.lattice, arrangement);
        if moments.is_empty() {
            return text;
        }
        text.push(heading("Hardest moments"));
        for moment in &moments {
            self.hard_moment(arrangement, moment, &mut text);
        }
        text
    }

    fn hard_moment(&self, arrangement: &Arrangement, moment: &HardMoment, text: &mut StyledText) {
        let note = &arrangement.notes[moment.note];
        let Some(first) = note.under.first() else {
            return;
        };
        let instrument = self.arranged.lattice.arranger().instrument;
        text.push(
            format!(
                "  {}: {} {}, {}, {:.0} mm, hand {:.1}",
                self.moment(moment.note),
                first.chord,
                first.voicing.shape(instrument),
                count(first.voicing.fingers(), "finger"),
                first.voicing.reach_mm(instrument),
                moment.cost
            )
            .as_str(),
        );
        for way in &moment.ways {
            let shown = match &way.voicing {
                Some(voicing) => format!(
                    ": {}{}",
                    voicing.shape(instrument),
                    self.saved(&first.voicing, voicing)
                ),
                None => String::new(),
            };
            text.push(format!("    {}{shown} (saves {:.1})", way.what, way.saved).as_str());
        }
    }

    /// What an easier voicing saves in fingers and millimetres.
    fn saved(&self, from: &Voicing, to: &Voicing) -> String {
        let instrument = self.arranged.lattice.arranger().instrument;
        let mut parts = String::new();
        if let Some(fewer) = from
            .fingers()
            .checked_sub(to.fingers())
            .filter(|fewer| *fewer > 0)
        {
            parts.push_str(&format!(", {} fewer", count(fewer, "finger")));
        }
        let nearer = from.reach_mm(instrument) - to.reach_mm(instrument);
        if nearer >= 1.0 {
            parts.push_str(&format!(", {nearer:.0} mm less reach"));
        }
        parts
    }

    /// The cost of each note, the dearest terms first.
    fn terms(&self, arrangement: &Arrangement) -> StyledText {
        let weights = &self.arranged.lattice.settings().weights;
        let mut text = StyledText::default();
        text.push("");
        text.push(heading(&format!(
            "Cost by note, {:.1} in all",
            arrangement.cost
        )));
        for (index, note) in arrangement.notes.iter().enumerate() {
            let mut costs: Vec<(VoicingTerm, f64)> = VoicingTerm::ALL
                .iter()
                .map(|term| (*term, weights.get(*term) * note.amounts[*term as usize]))
                .filter(|(_, cost)| cost.abs() >= 0.05)
                .collect();
            if costs.is_empty() {
                continue;
            }
            costs.sort_by(|one, other| other.1.total_cmp(&one.1));
            let head = format!(
                "  {:<16}{:>6.1}  ",
                self.moment(index),
                weights.cost(&note.amounts)
            );
            let list: Vec<String> = costs
                .iter()
                .map(|(term, cost)| format!("{} {cost:.1}", term.name()))
                .collect();
            for (nth, line) in wrap(
                &list.join(", "),
                self.width.saturating_sub(head.len()).max(30),
            )
            .iter()
            .enumerate()
            {
                let indent = if nth == 0 {
                    head.clone()
                } else {
                    " ".repeat(head.len())
                };
                text.push(format!("{indent}{line}").as_str());
            }
        }
        text
    }
}

/// Key, instrument, octave, style and density in a line.
pub fn facts(tune: &Tune, lattice: &Lattice) -> String {
    let instrument = lattice.arranger().instrument;
    let mut facts = vec![tune.key.to_string(), instrument.name().to_owned()];
    if instrument.capo() > 0 {
        facts.push(format!("capo at {}", instrument.capo()));
    }
    let octave = lattice.settings().octave;
    if octave != Octave::WRITTEN {
        facts.push(format!("octave {octave}"));
    }
    facts.push(format!("style {}", lattice.arranger().style));
    facts.push(format!("density {}", lattice.settings().density));
    let texture = lattice.settings().texture;
    if texture != Texture::Together {
        facts.push(format!("texture {texture}"));
    }
    facts.join(", ")
}

fn heading(words: &str) -> StyledLine {
    let mut line = StyledLine::default();
    line.push(words, Role::Heading);
    line
}
