//! Elements with a single value: pitches, keys, meters, durations.

use quick_xml::events::BytesStart;

use super::harmony::DegreeChange;
use super::xml::Xml;
use crate::format::Diagnostic;
use crate::melody::{Feel, Meter, NoteValue, Quarters, Syllable, Tempo};
use crate::theory::{Interval, Letter, Mode, Pitch};

/// A key signature; the file need not say the mode.
#[derive(Clone, Copy)]
pub(super) struct KeySignature {
    pub(super) fifths: i8,
    pub(super) mode: Option<Mode>,
}

/// Reads a decimal number of the schema's `divisions` types exactly; `None` when it is not one or has too many digits.
pub(super) fn decimal(text: &str) -> Option<Quarters> {
    const LARGEST: i64 = 1_000_000_000_000;
    let number: Quarters = text.strip_prefix('+').unwrap_or(text).parse().ok()?;
    (!text.contains('/') && number.to_integer().abs() < LARGEST).then_some(number)
}

/// The printed value of a note, for files that leave out its duration.
#[derive(Default)]
pub(super) struct PrintedValue {
    power: Option<i8>,
    dots: u8,
}

impl PrintedValue {
    pub(super) fn set(&mut self, name: &str) {
        const NAMES: [&str; 10] = [
            "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th",
        ];
        self.power = NAMES
            .iter()
            .position(|it| *it == name)
            .map(|power| power as i8 - 1);
    }

    pub(super) fn dot(&mut self) {
        self.dots = (self.dots + 1).min(4);
    }

    pub(super) fn quarters(&self) -> Option<Quarters> {
        NoteValue::new(self.power?, self.dots)
            .ok()
            .map(NoteValue::duration)
    }
}

pub(super) fn note_tie(start: &BytesStart, ties_on: &mut bool, is_tied: &mut bool) {
    match Xml::attribute(start, "type").as_deref() {
        Some("start") => *ties_on = true,
        Some("stop") => *is_tied = true,
        Some("continue") => (*ties_on, *is_tied) = (true, true),
        _ => {}
    }
}

/// A pitch, and whether it is rounded to a semitone.
pub(super) fn read_pitch(xml: &mut Xml) -> Result<(Pitch, bool), Diagnostic> {
    let (mut letter, mut alteration, mut octave) = (None, 0, None);
    let mut is_rounded = false;
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "step" => letter = one_letter(&xml.text()?),
            "alter" => {
                let text = xml.text()?;
                alteration = whole_alteration(&text);
                is_rounded = decimal(&text).is_some_and(|it| !it.is_integer());
            }
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
    Pitch::new(letter, alteration, octave)
        .map(|pitch| (pitch, is_rounded))
        .map_err(|error| unreadable(xml, error.to_string()))
}

fn one_letter(text: &str) -> Option<Letter> {
    let mut letters = text.chars();
    let letter = Letter::from_char(letters.next()?)?;
    letters.next().is_none().then_some(letter)
}

/// Semitones of alteration; quarter tones, which a fret cannot play, are rounded towards the natural note.
fn whole_alteration(text: &str) -> i8 {
    let whole = text.split('.').next().unwrap_or_default();
    whole.parse().unwrap_or(0)
}

pub(super) fn read_key(xml: &mut Xml) -> Result<Option<KeySignature>, Diagnostic> {
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
    Ok(fifths.map(|fifths| KeySignature { fifths, mode }))
}

/// The meter; `None` when it is free or has no single upper and lower number.
pub(super) fn read_time(xml: &mut Xml) -> Result<Option<Meter>, Diagnostic> {
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

/// How many notes in the time of how many; `None` for unreasonable numbers.
pub(super) fn read_time_modification(xml: &mut Xml) -> Result<Option<(i64, i64)>, Diagnostic> {
    let (mut count, mut time_of) = (None, None);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "actual-notes" => count = xml.text()?.trim().parse().ok(),
            "normal-notes" => time_of = xml.text()?.trim().parse().ok(),
            _ => xml.skip(&child)?,
        }
    }
    let is_played =
        |(count, time_of): &(i64, i64)| (1..=99).contains(count) && (1..=99).contains(time_of);
    Ok(count.zip(time_of).filter(is_played))
}

pub(super) fn read_transpose(xml: &mut Xml) -> Result<Interval, Diagnostic> {
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
    // If the diatonic steps are missing, those of the usual transposing instruments: the nearest to 7 steps for 12
    // semitones.
    let steps = diatonic.map_or_else(
        || (f64::from(chromatic) * 7.0 / 12.0).round() as i16,
        i16::from,
    );
    Interval::new(steps + 7 * octaves, chromatic + 12 * octaves)
        .map_err(|error| xml.fault(error.to_string(), "check <transpose>"))
}

pub(super) fn read_named_note(
    xml: &mut Xml,
    step: &str,
    alter: &str,
) -> Result<Option<(Letter, i8)>, Diagnostic> {
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

pub(super) fn read_degree(xml: &mut Xml) -> Result<DegreeChange, Diagnostic> {
    let mut step = DegreeChange::default();
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

pub(super) fn read_metronome(xml: &mut Xml) -> Result<Option<Tempo>, Diagnostic> {
    let mut beat = PrintedValue::default();
    let mut count = None;
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "beat-unit" if count.is_none() => beat.set(&xml.text()?),
            "beat-unit-dot" => {
                beat.dot();
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

/// How many quarter notes a minute a `<sound>` asks for.
pub(super) fn tempo_of_sound(start: &BytesStart) -> Option<Tempo> {
    let count = decimal(Xml::attribute(start, "tempo")?.trim())?;
    Tempo::new(Quarters::ONE, count).ok()
}

/// The tempo of a direction: what is to be played, counted in the value that is printed.
pub(super) fn tempo_of_direction(printed: Option<Tempo>, sounding: Option<Tempo>) -> Option<Tempo> {
    // Decimals of what sounds are rounded, so that it is seldom exactly what is printed.
    const SAME: f64 = 1e-4;
    match (printed, sounding) {
        (Some(printed), Some(sounding)) => {
            let ratio = printed.seconds(Quarters::ONE) / sounding.seconds(Quarters::ONE);
            Some(match (ratio - 1.0).abs() < SAME {
                true => printed,
                false => sounding.counted_in(printed.unit()),
            })
        }
        (printed, sounding) => printed.or(sounding),
    }
}

/// Reads a `<swing>`.
pub(super) fn read_feel(xml: &mut Xml) -> Result<Feel, Diagnostic> {
    let (mut first, mut second, mut feel) = (None, None, Feel::Swing);
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "straight" => {
                feel = Feel::Straight;
                xml.skip(&child)?;
            }
            "first" => first = decimal(&xml.text()?),
            "second" => second = decimal(&xml.text()?),
            "swing-type" => {
                if xml.text()? == "16th" {
                    feel = Feel::SwingSixteenths;
                }
            }
            _ => xml.skip(&child)?,
        }
    }
    // Notes of one length are straight, whatever they are called.
    Ok(match first.is_some() && first == second {
        true => Feel::Straight,
        false => feel,
    })
}

/// Reads a `<lyric>`, whose note is not known here; elided syllables are one with a space inside.
pub(super) fn read_lyric(xml: &mut Xml, start: &BytesStart) -> Result<Syllable, Diagnostic> {
    let verse = Xml::attribute(start, "number").and_then(|number| number.parse().ok());
    let mut lyric = Syllable {
        onset: Quarters::ZERO,
        verse: verse.unwrap_or(1),
        text: String::new(),
        joins: false,
    };
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "syllabic" => lyric.joins = matches!(&*xml.text()?, "begin" | "middle"),
            "text" => {
                let text = xml.text()?;
                if !lyric.text.is_empty() {
                    lyric.text.push(' ');
                }
                lyric.text.push_str(&text);
            }
            _ => xml.skip(&child)?,
        }
    }
    Ok(lyric)
}
