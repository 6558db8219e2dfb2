//! One part of a score, measure by measure.

use std::borrow::Cow;

use quick_xml::events::BytesStart;

use super::elements::{
    KeySignature, PrintedValue, decimal, note_tie, read_degree, read_feel, read_key, read_lyric,
    read_metronome, read_named_note, read_pitch, read_time, read_time_modification, read_transpose,
    tempo_of_direction, tempo_of_sound,
};
use super::form_signs::{read_bar_line, sign_of_direction, sign_of_sound};
use super::harmony::Harmony;
use super::xml::Xml;
use crate::format::Diagnostic;
use crate::format::limits::MOST_PART_VOICES;
use crate::melody::{
    Feel, Form, FormSign, Melody, Meter, Quarters, Syllable, Tempo, Tuplet, TupletGrouper,
};
use crate::theory::{Interval, Pitch};

/// A note as in the file, at its written pitch.
#[derive(Clone, Copy)]
pub(super) struct WrittenNote {
    pub(super) onset: Quarters,
    pub(super) duration: Quarters,
    pub(super) pitch: Pitch,
    /// An index into [`ScorePart::voices`].
    pub(super) voice: u16,
    pub(super) staff: u8,
    pub(super) ties_on: bool,
    pub(super) is_tied: bool,
}

pub(super) struct ScorePart {
    pub(super) id: String,
    pub(super) name: String,
    /// General MIDI, counted from 1 as MusicXML does.
    pub(super) program: Option<u8>,
    pub(super) voices: Vec<String>,
    pub(super) notes: Vec<WrittenNote>,
    pub(super) bars: Vec<Quarters>,
    // All of these are in file order, not in order of time.
    pub(super) keys: Vec<(Quarters, KeySignature)>,
    pub(super) meters: Vec<(Quarters, Option<Meter>)>,
    pub(super) tempos: Vec<(Quarters, Tempo)>,
    pub(super) feel: Option<Feel>,
    pub(super) sections: Vec<(Quarters, String)>,
    pub(super) form: Form,
    pub(super) line_breaks: Vec<Quarters>,
    /// The tuplets, with the voice each is in.
    pub(super) tuplets: Vec<(u16, Tuplet)>,
    pub(super) harmonies: Vec<(Quarters, Harmony)>,
    /// The interval from the written to the sounding pitch.
    pub(super) transpositions: Vec<(Quarters, Interval)>,
    pub(super) tablature_staves: Vec<u8>,
    pub(super) has_octave_clef: bool,
    pub(super) graces: usize,
    /// How many notes were rounded to a semitone.
    pub(super) quarter_tones: usize,
    /// How many of its notes have lyrics.
    pub(super) sung: usize,
    /// The lyrics, with the voice each is in.
    pub(super) lyrics: Vec<(u16, Syllable)>,
    /// The tuplets that are being read, by voice.
    open_tuplets: Vec<TupletGrouper>,
    /// What takes effect at the end of the measure.
    signs_at_bar_end: Vec<FormSign>,
    divisions: Quarters,
    bar: Quarters,
    now: Quarters,
    furthest: Quarters,
    last_onset: Quarters,
}

impl ScorePart {
    /// When its last note or rest ends.
    pub(super) fn length(&self) -> Quarters {
        self.furthest
    }

    pub(super) fn new(id: String) -> ScorePart {
        let zero = Quarters::from(0);
        ScorePart {
            id,
            name: String::new(),
            program: None,
            voices: Vec::new(),
            notes: Vec::new(),
            bars: Vec::new(),
            keys: Vec::new(),
            meters: Vec::new(),
            tempos: Vec::new(),
            feel: None,
            sections: Vec::new(),
            form: Form::default(),
            line_breaks: Vec::new(),
            tuplets: Vec::new(),
            open_tuplets: Vec::new(),
            signs_at_bar_end: Vec::new(),
            harmonies: Vec::new(),
            transpositions: Vec::new(),
            tablature_staves: Vec::new(),
            has_octave_clef: false,
            graces: 0,
            quarter_tones: 0,
            sung: 0,
            lyrics: Vec::new(),
            divisions: Quarters::from(1),
            bar: zero,
            now: zero,
            furthest: zero,
            last_onset: zero,
        }
    }
}

impl ScorePart {
    pub(super) fn read_measure(
        &mut self,
        xml: &mut Xml,
        start: &BytesStart,
    ) -> Result<(), Diagnostic> {
        let is_continued = Xml::attribute(start, "implicit").is_some_and(|it| it == "yes");
        (self.bar, self.now) = (self.furthest, self.furthest);
        self.open_tuplets.clear();
        // The second half of a bar that a repeat sign splits has no number of its own.
        // An empty measure takes no time: what is in it has been counted to the one ahead, which is too long.
        if self.bars.is_empty() || (!is_continued && self.bars.last() != Some(&self.bar)) {
            self.bars.push(self.bar);
        }
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "note" => self.read_note(xml)?,
                "backup" => {
                    let duration = self.read_duration_of(xml)?;
                    let back = self
                        .now
                        .checked_sub(duration)
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
                    let tempo = tempo_of_sound(&child);
                    self.tempos.extend(tempo.map(|tempo| (self.now, tempo)));
                    if let Some(sign) = sign_of_sound(&child) {
                        self.form_sign(sign);
                    }
                    self.read_swing(xml)?;
                }
                "harmony" => self.read_harmony(xml)?,
                "barline" => {
                    let is_left = Xml::attribute(&child, "location").is_some_and(|it| it == "left");
                    for sign in read_bar_line(xml)? {
                        match is_left {
                            true => self.form.add(self.bar, sign),
                            false => self.form_sign(sign),
                        }
                    }
                }
                "print" => {
                    let breaks = |name| Xml::attribute(&child, name).is_some_and(|it| it == "yes");
                    if breaks("new-system") || breaks("new-page") {
                        self.line_breaks.push(self.bar);
                    }
                    xml.skip(&child)?;
                }
                _ => xml.skip(&child)?,
            }
        }
        for sign in std::mem::take(&mut self.signs_at_bar_end) {
            self.form.add(self.furthest, sign);
        }
        Ok(())
    }

    /// A sign inside the measure: jumps take effect at the end of the measure.
    fn form_sign(&mut self, sign: FormSign) {
        match sign.ends() {
            true => self.signs_at_bar_end.push(sign),
            false => self.form.add(self.now, sign),
        }
    }

    fn advance(&mut self, xml: &Xml, duration: Quarters) -> Result<(), Diagnostic> {
        self.now = end(xml, self.now, duration)?;
        self.furthest = self.furthest.max(self.now);
        Ok(())
    }

    fn read_duration(&self, xml: &mut Xml) -> Result<Quarters, Diagnostic> {
        let text = xml.text()?;
        decimal(&text)
            .filter(|ticks| *ticks >= Quarters::from(0))
            .and_then(|ticks| ticks.checked_div(self.divisions))
            .ok_or_else(|| {
                let found: String = text.chars().take(40).filter(|c| !c.is_control()).collect();
                xml.fault(
                    format!("a duration of `{found}` is not a length of time"),
                    "durations are counts of divisions, from 0 up",
                )
            })
    }

    fn read_duration_of(&self, xml: &mut Xml) -> Result<Quarters, Diagnostic> {
        let mut duration = Quarters::from(0);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "duration" => duration = self.read_duration(xml)?,
                _ => xml.skip(&child)?,
            }
        }
        Ok(duration)
    }

    fn read_note(&mut self, xml: &mut Xml) -> Result<(), Diagnostic> {
        let mut pitch = None;
        let mut duration = None;
        let mut by_value = PrintedValue::default();
        let mut ratio = None;
        let (mut is_grace, mut is_cue, mut in_chord) = (false, false, false);
        let (mut ties_on, mut is_tied) = (false, false);
        let mut lyrics = Vec::new();
        let (mut voice, mut staff) = (None, 1);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "pitch" => {
                    let (read, is_rounded) = read_pitch(xml)?;
                    pitch = Some(read);
                    self.quarter_tones += usize::from(is_rounded);
                }
                "duration" => duration = Some(self.read_duration(xml)?),
                "voice" => voice = Some(self.voice(xml)?),
                "staff" => staff = xml.text()?.parse().unwrap_or(1),
                "type" => by_value.set(&xml.text()?),
                "dot" => {
                    by_value.dot();
                    xml.skip(&child)?;
                }
                "time-modification" => ratio = read_time_modification(xml)?,
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
                "lyric" => {
                    let lyric = read_lyric(xml, &child)?;
                    if lyrics.len() < usize::from(Syllable::MOST_VERSES) {
                        lyrics.push(lyric);
                    }
                }
                name => {
                    match name {
                        "grace" => is_grace = true,
                        "cue" => is_cue = true,
                        "chord" => in_chord = true,
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
        self.sung += usize::from(!lyrics.is_empty());
        if !in_chord && !is_cue && (ratio.is_some() || !self.open_tuplets.is_empty()) {
            let index = match voice {
                Some(voice) => voice,
                None => self.voice_named(xml, "1")?,
            };
            let at = usize::from(index);
            if self.open_tuplets.len() <= at {
                self.open_tuplets.resize(at + 1, TupletGrouper::default());
            }
            let by_ratio = ratio
                .and_then(|(count, time_of)| duration.checked_mul(Quarters::new(count, time_of)));
            let written = by_value.quarters().or(by_ratio).unwrap_or(duration);
            let tuplet = self.open_tuplets[at].add(onset, self.now, written, ratio);
            self.tuplets.extend(tuplet.map(|tuplet| (index, tuplet)));
        }
        if let Some(pitch) = pitch
            && !is_cue
            && duration > Quarters::from(0)
        {
            let voice = match voice {
                Some(voice) => voice,
                None => self.voice_named(xml, "1")?,
            };
            if !in_chord {
                let syllables = lyrics.into_iter().map(|lyric| Syllable { onset, ..lyric });
                self.lyrics.extend(syllables.map(|lyric| (voice, lyric)));
            }
            self.notes.push(WrittenNote {
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

    fn voice(&mut self, xml: &mut Xml) -> Result<u16, Diagnostic> {
        let name = xml.text()?;
        self.voice_named(xml, &name)
    }

    fn voice_named(&mut self, xml: &Xml, name: &str) -> Result<u16, Diagnostic> {
        let known = self.voices.iter().position(|voice| voice == name);
        if known.is_none() && self.voices.len() == MOST_PART_VOICES {
            return Err(xml.fault(
                format!("more than {MOST_PART_VOICES} voices in one part"),
                "number the voices 1, 2, 3 …",
            ));
        }
        Ok(known.unwrap_or_else(|| {
            self.voices.push(name.to_owned());
            self.voices.len() - 1
        }) as u16)
    }

    fn read_attributes(&mut self, xml: &mut Xml) -> Result<(), Diagnostic> {
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

    fn read_clef(&mut self, xml: &mut Xml, staff: u8) -> Result<(), Diagnostic> {
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

    fn read_direction(&mut self, xml: &mut Xml) -> Result<(), Diagnostic> {
        let (mut printed, mut sounding) = (None, None);
        let (mut words, mut symbol, mut sound) = (String::new(), None, None);
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
                            "words" if words.len() < 100 => {
                                words.push(' ');
                                words.push_str(&xml.text()?);
                            }
                            "segno" => {
                                symbol = Some(FormSign::Segno);
                                xml.skip(&child)?;
                            }
                            "coda" => {
                                symbol = Some(FormSign::Coda);
                                xml.skip(&child)?;
                            }
                            _ => xml.skip(&child)?,
                        }
                    }
                }
                "sound" => {
                    sounding = tempo_of_sound(&child);
                    sound = sign_of_sound(&child);
                    self.read_swing(xml)?;
                }
                _ => xml.skip(&child)?,
            }
        }
        if let Some(sign) = sign_of_direction(&words, symbol, sound) {
            self.form_sign(sign);
        }
        let tempo = tempo_of_direction(printed, sounding);
        self.tempos.extend(tempo.map(|tempo| (self.now, tempo)));
        self.feel = self.feel.or_else(|| Feel::among_words(&words));
        Ok(())
    }

    /// Walks through a `<sound>`; the first `<swing>` is that of the tune.
    fn read_swing(&mut self, xml: &mut Xml) -> Result<(), Diagnostic> {
        while let Some(child) = xml.child()? {
            if child.name().as_ref() != "swing" {
                xml.skip(&child)?;
                continue;
            }
            let feel = read_feel(xml)?;
            self.feel = self.feel.or(Some(feel));
        }
        Ok(())
    }

    fn read_harmony(&mut self, xml: &mut Xml) -> Result<(), Diagnostic> {
        let mut harmony = Harmony::default();
        let mut offset = Quarters::from(0);
        while let Some(child) = xml.child()? {
            match child.name().as_ref() {
                "root" => harmony.root = read_named_note(xml, "root-step", "root-alter")?,
                "bass" => harmony.bass = read_named_note(xml, "bass-step", "bass-alter")?,
                "kind" => {
                    harmony.shown = Xml::attribute(&child, "text").map(Cow::into_owned);
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
                        .and_then(|ticks| ticks.checked_div(self.divisions))
                        .unwrap_or(offset);
                }
                _ => xml.skip(&child)?,
            }
        }
        let onset = self
            .now
            .checked_add(offset)
            .filter(is_on_a_grid)
            .filter(|at| *at >= self.bar);
        self.harmonies.push((onset.unwrap_or(self.now), harmony));
        Ok(())
    }
}

/// The end of something that begins at `onset`; times within the limits can be added and compared without overflow.
fn end(xml: &Xml, onset: Quarters, duration: Quarters) -> Result<Quarters, Diagnostic> {
    let end = onset
        .checked_add(duration)
        .filter(|end| is_on_a_grid(end) && is_on_a_grid(&duration));
    end.ok_or_else(|| {
        xml.fault(
            format!("the time here is on a grid finer than 1/{} of a quarter note, or weeks from the start", Melody::FINEST),
            "check <divisions> and the durations",
        )
    })
}

fn is_on_a_grid(time: &Quarters) -> bool {
    time.denom() <= Melody::FINEST
        && *time <= Quarters::from(Melody::LONGEST)
        && *time >= Quarters::from(-Melody::LONGEST)
}
