//! Repeats, endings and jumps, as they are read.

use quick_xml::events::BytesStart;

use super::xml::Xml;
use crate::format::Diagnostic;
use crate::format::bar_line::parse_endings;
use crate::format::form_words;
use crate::melody::{BackTo, Endings, FormSign, Jump, Times, Until};

/// Reads the signs of the form of a `<barline>`, for its end of the measure.
///
/// Source: MusicXML Version 4.0, `<barline>`, `<repeat>`, `<ending>`.
pub(super) fn read_bar_line(xml: &mut Xml) -> Result<Vec<FormSign>, Diagnostic> {
    let mut signs = Vec::new();
    while let Some(child) = xml.child()? {
        let attribute = |name: &str| Xml::attribute(&child, name).unwrap_or_default();
        match child.name().as_ref() {
            "bar-style" => {
                signs.extend(match &*xml.text()? {
                    "light-light" => Some(FormSign::DoubleBar),
                    "light-heavy" => Some(FormSign::FinalBar),
                    _ => None,
                });
                continue;
            }
            "repeat" if attribute("direction") == "forward" => signs.push(FormSign::RepeatStart),
            "repeat" => {
                let times = attribute("times").trim().parse().ok();
                let times = times.and_then(|times| Times::new(times).ok());
                signs.push(FormSign::RepeatEnd(times.unwrap_or(Times::TWICE)));
            }
            "ending" if attribute("type") == "start" => {
                signs.extend(read_numbers(&attribute("number")).map(FormSign::Ending));
            }
            "ending" => signs.push(FormSign::EndingEnd),
            "segno" => signs.push(FormSign::Segno),
            "coda" => signs.push(FormSign::Coda),
            _ => {}
        }
        xml.skip(&child)?;
    }
    Ok(signs)
}

/// The numbers of an ending: `1`, `1, 2`.
fn read_numbers(text: &str) -> Option<Endings> {
    let text: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    parse_endings(text.trim_end_matches('.').as_bytes())
}

/// The signs of the form in the attributes of a `<sound>`.
pub(super) fn sign_of_sound(sound: &BytesStart) -> Option<FormSign> {
    let has = |name: &str| Xml::attribute(sound, name).is_some_and(|value| value != "no");
    let jump = |back_to| {
        FormSign::Jump(Jump {
            back_to,
            until: Until::Unsaid,
            with_repeats: false,
        })
    };
    let signs = [
        ("dacapo", jump(BackTo::Start)),
        ("dalsegno", jump(BackTo::Segno)),
        ("tocoda", FormSign::ToCoda),
        ("fine", FormSign::Fine),
        ("segno", FormSign::Segno),
        ("coda", FormSign::Coda),
    ];
    signs
        .iter()
        .find(|(name, _)| has(name))
        .map(|(_, sign)| *sign)
}

/// The signs of the form of a direction. Its words are preferred to its sound, which may only name the kind of jump.
pub(super) fn sign_of_direction(
    words: &str,
    symbol: Option<FormSign>,
    sound: Option<FormSign>,
) -> Option<FormSign> {
    match (form_words::parse(words), sound) {
        // Many scores print only the coda sign where they mean "To Coda".
        (_, Some(FormSign::ToCoda)) => Some(FormSign::ToCoda),
        (Some(said), _) => Some(said),
        (None, sound) => symbol.or(sound),
    }
}
