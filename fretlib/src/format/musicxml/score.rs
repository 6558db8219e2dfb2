//! What a score holds that a melody is made of, gathered part by part in one pass.

use std::collections::HashMap;

use num_traits::{CheckedAdd, CheckedDiv, CheckedSub};
use quick_xml::events::BytesStart;

use super::harmony::{Harmony, Step};
use super::xml::Xml;
use crate::format::Fault;
use crate::melody::{Melody, Meter, Quarters, Tempo};
use crate::theory::{Interval, Letter, Mode, Pitch};

const MOST_PARTS: usize = 1000;
const MOST_VOICES: usize = 256;

#[derive(Default)]
pub(super) struct Score {
    pub(super) title: String,
    pub(super) composer: Option<String>,
    pub(super) parts: Vec<Part>,
    by_id: HashMap<String, usize>,
}

/// A note as it stands in the file, at the pitch that is written there.
#[derive(Clone, Copy)]
pub(super) struct Written {
    pub(super) onset: Quarters,
    pub(super) duration: Quarters,
    pub(super) pitch: Pitch,
    /// An index into [`Part::voices`].
    pub(super) voice: u16,
    pub(super) staff: u8,
    pub(super) ties_on: bool,
    pub(super) is_tied: bool,
}

/// A key signature; the file need not say the mode.
#[derive(Clone, Copy)]
pub(super) struct Signature {
    pub(super) fifths: i8,
    pub(super) mode: Option<Mode>,
}

pub(super) struct Part {
    pub(super) id: String,
    pub(super) name: String,
    /// General MIDI, counted from 1 as MusicXML does.
    pub(super) program: Option<u8>,
    pub(super) voices: Vec<String>,
    pub(super) notes: Vec<Written>,
    pub(super) bars: Vec<Quarters>,
    // All of these are as they come, not in order of time.
    pub(super) keys: Vec<(Quarters, Signature)>,
    pub(super) meters: Vec<(Quarters, Option<Meter>)>,
    pub(super) tempos: Vec<(Quarters, Tempo)>,
    pub(super) sections: Vec<(Quarters, String)>,
    pub(super) harmonies: Vec<(Quarters, Harmony)>,
    /// From what is written to what sounds.
    pub(super) transpositions: Vec<(Quarters, Interval)>,
    pub(super) tablature_staves: Vec<u8>,
    pub(super) has_octave_clef: bool,
    pub(super) graces: usize,
    pub(super) lyrics: usize,
    divisions: Quarters,
    bar: Quarters,
    now: Quarters,
    furthest: Quarters,
    last_onset: Quarters,
}

impl Part {
    /// When its last note or rest ends.
    pub(super) fn length(&self) -> Quarters {
        self.furthest
    }

    fn new(id: String) -> Part {
        let zero = Quarters::from(0);
        Part {
            id,
            name: String::new(),
            program: None,
            voices: Vec::new(),
            notes: Vec::new(),
            bars: Vec::new(),
            keys: Vec::new(),
            meters: Vec::new(),
            tempos: Vec::new(),
            sections: Vec::new(),
            harmonies: Vec::new(),
            transpositions: Vec::new(),
            tablature_staves: Vec::new(),
            has_octave_clef: false,
            graces: 0,
            lyrics: 0,
            divisions: Quarters::from(1),
            bar: zero,
            now: zero,
            furthest: zero,
            last_onset: zero,
        }
    }
}

/// Reads a whole score, by parts or by measures.
pub(super) fn scan(text: &str) -> Result<Score, Fault> {
    let mut xml = Xml::new(text);
    let root = xml.root()?;
    let mut score = Score::default();
    match root.name().as_ref() {
        "score-partwise" | "score-timewise" => {}
        other => {
            return Err(xml.fault(
                format!(
                    "this is a file of <{}>, not a score",
                    other.chars().take(40).collect::<String>()
                ),
                "a MusicXML score begins with <score-partwise> or <score-timewise>",
            ));
        }
    }
    let mut credits = Vec::new();
    let (mut work, mut movement) = (String::new(), String::new());
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "work" => {
                while let Some(child) = xml.child()? {
                    match child.name().as_ref() {
                        "work-title" => work = xml.text()?.into_owned(),
                        _ => xml.skip(&child)?,
                    }
                }
            }
            "movement-title" => movement = xml.text()?.into_owned(),
            "identification" => read_identification(&mut xml, &mut score)?,
            "credit" => read_credit(&mut xml, &mut credits)?,
            "part-list" => read_part_list(&mut xml, &mut score)?,
            "part" => {
                let part = score.part(&xml, &child)?;
                while let Some(measure) = xml.child()? {
                    match measure.name().as_ref() {
                        "measure" => score.parts[part].read_measure(&mut xml, &measure)?,
                        _ => xml.skip(&measure)?,
                    }
                }
            }
            "measure" => {
                while let Some(part) = xml.child()? {
                    match part.name().as_ref() {
                        "part" => {
                            let index = score.part(&xml, &part)?;
                            score.parts[index].read_measure(&mut xml, &child)?;
                        }
                        _ => xml.skip(&part)?,
                    }
                }
            }
            _ => xml.skip(&child)?,
        }
    }
    let credit = |kind: &str| {
        credits
            .iter()
            .find(|(it, _)| it == kind)
            .map(|(_, words)| words.clone())
    };
    // A movement is the piece at hand; a work may be the book it stands in.
    score.title = [movement, work]
        .into_iter()
        .find(|title| !title.is_empty())
        .or_else(|| credit("title"))
        .or_else(|| credit(""))
        .unwrap_or_default();
    score.composer = score
        .composer
        .filter(|name| !name.is_empty())
        .or_else(|| credit("composer"));
    Ok(score)
}

impl Score {
    fn part(&mut self, xml: &Xml, start: &BytesStart) -> Result<usize, Fault> {
        let id = Xml::attribute(start, "id").unwrap_or_default().into_owned();
        if let Some(index) = self.by_id.get(&id) {
            return Ok(*index);
        }
        if self.parts.len() == MOST_PARTS {
            return Err(xml.fault(
                format!("more than {MOST_PARTS} parts"),
                "take out the parts that are not needed",
            ));
        }
        self.by_id.insert(id.clone(), self.parts.len());
        self.parts.push(Part::new(id));
        Ok(self.parts.len() - 1)
    }
}

fn read_identification(xml: &mut Xml, score: &mut Score) -> Result<(), Fault> {
    while let Some(child) = xml.child()? {
        let kind = Xml::attribute(&child, "type").map(std::borrow::Cow::into_owned);
        match (child.name().as_ref(), kind.as_deref()) {
            ("creator", Some("composer")) => score.composer = Some(xml.text()?.into_owned()),
            _ => xml.skip(&child)?,
        }
    }
    Ok(())
}

/// The first words of a credit, with what the file says they are.
fn read_credit(xml: &mut Xml, credits: &mut Vec<(String, String)>) -> Result<(), Fault> {
    let (mut kind, mut words) = (String::new(), String::new());
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "credit-type" => kind = xml.text()?.into_owned(),
            "credit-words" if words.is_empty() => words = xml.text()?.into_owned(),
            _ => xml.skip(&child)?,
        }
    }
    if !words.is_empty() {
        credits.push((kind, words));
    }
    Ok(())
}

fn read_part_list(xml: &mut Xml, score: &mut Score) -> Result<(), Fault> {
    while let Some(child) = xml.child()? {
        if child.name().as_ref() != "score-part" {
            xml.skip(&child)?;
            continue;
        }
        let index = score.part(xml, &child)?;
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "part-name" => score.parts[index].name = xml.text()?.into_owned(),
                "midi-instrument" => {
                    while let Some(child) = xml.child()? {
                        match child.name().as_ref() {
                            "midi-program" => score.parts[index].program = xml.text()?.parse().ok(),
                            _ => xml.skip(&child)?,
                        }
                    }
                }
                _ => xml.skip(&child)?,
            }
        }
    }
    Ok(())
}

/// Reads a decimal number of the schema's `divisions` types exactly; `None` when it is none or has more digits than anyone needs.
fn decimal(text: &str) -> Option<Quarters> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if whole.len() > 12
        || fraction.len() > 6
        || !fraction.bytes().all(|digit| digit.is_ascii_digit())
    {
        return None;
    }
    let scale = 10i64.pow(fraction.len() as u32);
    let whole_number: i64 = if matches!(whole, "" | "-" | "+") {
        0
    } else {
        whole.parse().ok()?
    };
    let fraction: i64 = if fraction.is_empty() {
        0
    } else {
        fraction.parse().ok()?
    };
    let fraction = if whole.starts_with('-') {
        -fraction
    } else {
        fraction
    };
    Some(Quarters::new(whole_number * scale + fraction, scale))
}

impl Part {
    fn read_measure(&mut self, xml: &mut Xml, start: &BytesStart) -> Result<(), Fault> {
        let is_continued = Xml::attribute(start, "implicit").is_some_and(|it| it == "yes");
        (self.bar, self.now) = (self.furthest, self.furthest);
        // The second half of a bar that a repeat sign splits has no number of its own.
        if self.bars.is_empty() || !is_continued {
            self.bars.push(self.bar);
        }
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "note" => self.read_note(xml)?,
                "backup" => {
                    let duration = self.read_duration_of(xml)?;
                    let back = self
                        .now
                        .checked_sub(&duration)
                        .filter(|now| is_on_a_grid(now) && *now >= self.bar);
                    self.now = back.ok_or_else(|| {
                        xml.fault("<backup> leads to before the bar", "the durations in this bar do not add up: correct it where the score was written")
                    })?;
                }
                "forward" => {
                    let duration = self.read_duration_of(xml)?;
                    self.advance(xml, duration)?;
                }
                "attributes" => self.read_attributes(xml)?,
                "direction" => self.read_direction(xml)?,
                "sound" => {
                    self.read_sound(&child);
                    xml.skip(&child)?;
                }
                "harmony" => self.read_harmony(xml)?,
                _ => xml.skip(&child)?,
            }
        }
        Ok(())
    }

    fn advance(&mut self, xml: &Xml, duration: Quarters) -> Result<(), Fault> {
        self.now = end(xml, self.now, duration)?;
        self.furthest = self.furthest.max(self.now);
        Ok(())
    }

    fn read_duration(&self, xml: &mut Xml) -> Result<Quarters, Fault> {
        let text = xml.text()?;
        decimal(&text)
            .filter(|ticks| *ticks >= Quarters::from(0))
            .and_then(|ticks| ticks.checked_div(&self.divisions))
            .ok_or_else(|| {
                let found: String = text.chars().take(40).filter(|c| !c.is_control()).collect();
                xml.fault(
                    format!("a duration of `{found}` is no length of time"),
                    "durations are counts of divisions, from 0 up",
                )
            })
    }

    fn read_duration_of(&self, xml: &mut Xml) -> Result<Quarters, Fault> {
        let mut duration = Quarters::from(0);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "duration" => duration = self.read_duration(xml)?,
                _ => xml.skip(&child)?,
            }
        }
        Ok(duration)
    }

    fn read_note(&mut self, xml: &mut Xml) -> Result<(), Fault> {
        let mut pitch = None;
        let mut duration = None;
        let mut by_value = NoteValue::default();
        let (mut is_grace, mut is_cue, mut in_chord) = (false, false, false);
        let (mut ties_on, mut is_tied, mut has_lyric) = (false, false, false);
        let (mut voice, mut staff) = (None, 1);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "pitch" => pitch = Some(read_pitch(xml)?),
                "duration" => duration = Some(self.read_duration(xml)?),
                "voice" => voice = Some(self.voice(xml)?),
                "staff" => staff = xml.text()?.parse().unwrap_or(1),
                "type" => by_value.set(&xml.text()?),
                "dot" => {
                    by_value.dots += 1;
                    xml.skip(&child)?;
                }
                "tie" => {
                    note_tie(&child, &mut ties_on, &mut is_tied);
                    xml.skip(&child)?;
                }
                "notations" => {
                    while let Some(child) = xml.child()? {
                        if child.name().as_ref() == "tied" {
                            note_tie(&child, &mut ties_on, &mut is_tied);
                        }
                        xml.skip(&child)?;
                    }
                }
                name => {
                    match name {
                        "grace" => is_grace = true,
                        "cue" => is_cue = true,
                        "chord" => in_chord = true,
                        "lyric" => has_lyric = true,
                        _ => {}
                    }
                    xml.skip(&child)?;
                }
            }
        }
        if is_grace {
            self.graces += 1;
            return Ok(());
        }
        let duration = duration.or_else(|| by_value.quarters()).ok_or_else(|| {
            xml.fault(
                "the note that ends here has no length",
                "it needs a <duration> or a <type>",
            )
        })?;
        let onset = if in_chord { self.last_onset } else { self.now };
        if in_chord {
            end(xml, onset, duration)?;
        } else {
            self.last_onset = self.now;
            self.advance(xml, duration)?;
        }
        self.lyrics += usize::from(has_lyric);
        if let Some(pitch) = pitch
            && !is_cue
            && duration > Quarters::from(0)
        {
            let voice = match voice {
                Some(voice) => voice,
                None => self.voice_named(xml, "1")?,
            };
            self.notes.push(Written {
                onset,
                duration,
                pitch,
                voice,
                staff,
                ties_on,
                is_tied,
            });
        }
        Ok(())
    }

    fn voice(&mut self, xml: &mut Xml) -> Result<u16, Fault> {
        let name = xml.text()?;
        self.voice_named(xml, &name)
    }

    fn voice_named(&mut self, xml: &Xml, name: &str) -> Result<u16, Fault> {
        let known = self.voices.iter().position(|voice| voice == name);
        if known.is_none() && self.voices.len() == MOST_VOICES {
            return Err(xml.fault(
                format!("more than {MOST_VOICES} voices in one part"),
                "number the voices 1, 2, 3 …",
            ));
        }
        Ok(known.unwrap_or_else(|| {
            self.voices.push(name.to_owned());
            self.voices.len() - 1
        }) as u16)
    }

    fn read_attributes(&mut self, xml: &mut Xml) -> Result<(), Fault> {
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "divisions" => {
                    let text = xml.text()?;
                    self.divisions = decimal(&text)
                        .filter(|divisions| *divisions > Quarters::from(0))
                        .ok_or_else(|| {
                            let found: String =
                                text.chars().take(40).filter(|c| !c.is_control()).collect();
                            xml.fault(
                                format!("<divisions> of `{found}` do not divide a quarter note"),
                                "it is a number above 0, such as 24",
                            )
                        })?;
                }
                "key" => {
                    if let Some(signature) = read_key(xml)? {
                        self.keys.push((self.now, signature));
                    }
                }
                "time" => {
                    let meter = read_time(xml)?;
                    self.meters.push((self.now, meter));
                }
                "transpose" => {
                    let interval = read_transpose(xml)?;
                    self.transpositions.push((self.now, interval));
                }
                "clef" => {
                    let staff = Xml::attribute(&child, "number")
                        .and_then(|it| it.parse().ok())
                        .unwrap_or(1);
                    self.read_clef(xml, staff)?;
                }
                _ => xml.skip(&child)?,
            }
        }
        Ok(())
    }

    fn read_clef(&mut self, xml: &mut Xml, staff: u8) -> Result<(), Fault> {
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "sign" => {
                    if xml.text()? == "TAB" && !self.tablature_staves.contains(&staff) {
                        self.tablature_staves.push(staff);
                    }
                }
                "clef-octave-change" => self.has_octave_clef |= xml.text()? == "-1",
                _ => xml.skip(&child)?,
            }
        }
        Ok(())
    }

    fn read_direction(&mut self, xml: &mut Xml) -> Result<(), Fault> {
        let tempos_before = self.tempos.len();
        let mut printed = None;
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "direction-type" => {
                    while let Some(child) = xml.child()? {
                        match child.name().as_ref() {
                            "rehearsal" => {
                                let name = xml.text()?.into_owned();
                                self.sections.push((self.now, name));
                            }
                            "metronome" => printed = read_metronome(xml)?.or(printed),
                            _ => xml.skip(&child)?,
                        }
                    }
                }
                "sound" => {
                    self.read_sound(&child);
                    xml.skip(&child)?;
                }
                _ => xml.skip(&child)?,
            }
        }
        // What is to be played stands above what is printed.
        if let Some(tempo) = printed
            && self.tempos.len() == tempos_before
        {
            self.tempos.push((self.now, tempo));
        }
        Ok(())
    }

    fn read_sound(&mut self, start: &BytesStart) {
        let tempo = Xml::attribute(start, "tempo")
            .and_then(|text| decimal(text.trim()))
            .and_then(|count| Tempo::new(Quarters::from(1), count).ok());
        self.tempos.extend(tempo.map(|tempo| (self.now, tempo)));
    }

    fn read_harmony(&mut self, xml: &mut Xml) -> Result<(), Fault> {
        let mut harmony = Harmony::default();
        let mut offset = Quarters::from(0);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "root" => harmony.root = read_named_note(xml, "root-step", "root-alter")?,
                "bass" => harmony.bass = read_named_note(xml, "bass-step", "bass-alter")?,
                "kind" => {
                    harmony.shown =
                        Xml::attribute(&child, "text").map(std::borrow::Cow::into_owned);
                    harmony.kind = xml.text()?.into_owned();
                }
                "degree" => {
                    let step = read_degree(xml)?;
                    // A chord has seven tones; more changes than that are noise.
                    if harmony.degrees.len() < 8 {
                        harmony.degrees.push(step);
                    }
                }
                "offset" => {
                    offset = decimal(&xml.text()?)
                        .and_then(|ticks| ticks.checked_div(&self.divisions))
                        .unwrap_or(offset);
                }
                _ => xml.skip(&child)?,
            }
        }
        let onset = self
            .now
            .checked_add(&offset)
            .filter(is_on_a_grid)
            .filter(|at| *at >= self.bar);
        self.harmonies.push((onset.unwrap_or(self.now), harmony));
        Ok(())
    }
}

/// When something ends that begins at `onset`: times on a grid can be added and compared without overflow.
fn end(xml: &Xml, onset: Quarters, duration: Quarters) -> Result<Quarters, Fault> {
    let end = onset
        .checked_add(&duration)
        .filter(|end| is_on_a_grid(end) && is_on_a_grid(&duration));
    end.ok_or_else(|| {
        xml.fault(
            format!("the time here is on a grid finer than 1/{} of a quarter note, or weeks from the start", Melody::FINEST),
            "check <divisions> and the durations",
        )
    })
}

fn is_on_a_grid(time: &Quarters) -> bool {
    *time.denom() <= Melody::FINEST
        && *time <= Quarters::from(Melody::LONGEST)
        && *time >= Quarters::from(-Melody::LONGEST)
}

/// The printed value of a note, for files that leave out how long it is.
#[derive(Default)]
struct NoteValue {
    quarters: Option<Quarters>,
    dots: u32,
}

impl NoteValue {
    fn set(&mut self, name: &str) {
        const NAMES: [&str; 9] = [
            "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th",
        ];
        let power = NAMES.iter().position(|it| *it == name);
        self.quarters = power.map(|power| Quarters::new(8, 1 << power));
    }

    fn quarters(&self) -> Option<Quarters> {
        let dots = self.dots.min(4);
        Some(self.quarters? * Quarters::new((2 << dots) - 1, 1 << dots))
    }
}

fn note_tie(start: &BytesStart, ties_on: &mut bool, is_tied: &mut bool) {
    match Xml::attribute(start, "type").as_deref() {
        Some("start") => *ties_on = true,
        Some("stop") => *is_tied = true,
        Some("continue") => (*ties_on, *is_tied) = (true, true),
        _ => {}
    }
}

fn read_pitch(xml: &mut Xml) -> Result<Pitch, Fault> {
    let (mut letter, mut alteration, mut octave) = (None, 0, None);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "step" => letter = one_letter(&xml.text()?),
            "alter" => alteration = whole_alteration(&xml.text()?),
            "octave" => {
                octave = xml
                    .text()?
                    .parse::<i8>()
                    .ok()
                    .filter(|octave| (0..=9).contains(octave))
            }
            _ => xml.skip(&child)?,
        }
    }
    let unreadable = |xml: &Xml, problem: String| {
        xml.fault(
            problem,
            "a pitch is a <step> A to G, perhaps an <alter>, and an <octave> 0 to 9",
        )
    };
    let (Some(letter), Some(octave)) = (letter, octave) else {
        return Err(unreadable(
            xml,
            "the pitch that ends here has no step or no octave".into(),
        ));
    };
    Pitch::new(letter, alteration, octave).map_err(|error| unreadable(xml, error.to_string()))
}

fn one_letter(text: &str) -> Option<Letter> {
    let mut letters = text.chars();
    let letter = Letter::from_char(letters.next()?)?;
    letters.next().is_none().then_some(letter)
}

/// Semitones of alteration; quarter tones, which a fret cannot give, go to the nearest semitone towards the natural note.
fn whole_alteration(text: &str) -> i8 {
    let whole = text.split('.').next().unwrap_or_default();
    whole.parse().unwrap_or(0)
}

fn read_key(xml: &mut Xml) -> Result<Option<Signature>, Fault> {
    let (mut fifths, mut mode) = (None, None);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "fifths" => {
                fifths = xml
                    .text()?
                    .parse()
                    .ok()
                    .filter(|fifths| (-7..=7).contains(fifths))
            }
            "mode" => {
                let name = xml.text()?;
                mode = match &*name {
                    "ionian" => Some(Mode::Major),
                    "aeolian" => Some(Mode::Minor),
                    name => Mode::ALL.into_iter().find(|mode| mode.name() == name),
                };
            }
            _ => xml.skip(&child)?,
        }
    }
    Ok(fifths.map(|fifths| Signature { fifths, mode }))
}

/// The meter; `None` when it is free, or of a kind that has no single upper and lower number.
fn read_time(xml: &mut Xml) -> Result<Option<Meter>, Fault> {
    let (mut beats, mut unit, mut pairs) = (String::new(), None, 0);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "beats" => {
                beats = xml.text()?.into_owned();
                pairs += 1;
            }
            "beat-type" => unit = xml.text()?.parse().ok(),
            _ => xml.skip(&child)?,
        }
    }
    let count = beats.split('+').try_fold(0u8, |sum, beats| {
        sum.checked_add(beats.trim().parse().ok()?)
    });
    Ok(match (count, unit) {
        (Some(count), Some(unit)) if pairs == 1 => Meter::new(count, unit).ok(),
        _ => None,
    })
}

fn read_transpose(xml: &mut Xml) -> Result<Interval, Fault> {
    let (mut diatonic, mut chromatic, mut octaves) = (None, 0i16, 0i16);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "diatonic" => diatonic = xml.text()?.parse::<i8>().ok(),
            "chromatic" => {
                chromatic =
                    decimal(&xml.text()?).map_or(0, |it| it.to_integer().clamp(-127, 127) as i16)
            }
            "octave-change" => {
                octaves = xml
                    .text()?
                    .parse::<i8>()
                    .map_or(0, |it| it.clamp(-9, 9).into())
            }
            _ => xml.skip(&child)?,
        }
    }
    // Without diatonic steps, those of the usual transposing instruments: the nearest to 7 steps for 12 semitones.
    let steps = diatonic.map_or_else(
        || (f64::from(chromatic) * 7.0 / 12.0).round() as i16,
        i16::from,
    );
    Interval::new(steps + 7 * octaves, chromatic + 12 * octaves)
        .map_err(|error| xml.fault(error.to_string(), "check <transpose>"))
}

fn read_named_note(xml: &mut Xml, step: &str, alter: &str) -> Result<Option<(Letter, i8)>, Fault> {
    let (mut letter, mut alteration) = (None, 0);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            name if name == step => letter = one_letter(&xml.text()?),
            name if name == alter => alteration = whole_alteration(&xml.text()?),
            _ => xml.skip(&child)?,
        }
    }
    Ok(letter.map(|letter| (letter, alteration)))
}

fn read_degree(xml: &mut Xml) -> Result<Step, Fault> {
    let mut step = Step::default();
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "degree-value" => step.number = xml.text()?.parse().unwrap_or(0),
            "degree-alter" => step.alteration = whole_alteration(&xml.text()?),
            "degree-type" => step.leaves_out = xml.text()? == "subtract",
            _ => xml.skip(&child)?,
        }
    }
    Ok(step)
}

fn read_metronome(xml: &mut Xml) -> Result<Option<Tempo>, Fault> {
    let mut beat = NoteValue::default();
    let mut count = None;
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "beat-unit" if count.is_none() => beat.set(&xml.text()?),
            "beat-unit-dot" => {
                beat.dots += 1;
                xml.skip(&child)?;
            }
            "per-minute" => count = decimal(&xml.text()?),
            _ => xml.skip(&child)?,
        }
    }
    Ok(beat
        .quarters()
        .zip(count)
        .and_then(|(beat, count)| Tempo::new(beat, count).ok()))
}
