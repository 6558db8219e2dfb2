//! The contents of a score that a melody needs, collected part by part in one pass.

use std::borrow::Cow;
use std::collections::HashMap;

use quick_xml::events::BytesStart;

use super::part::ScorePart;
use super::xml::Xml;
use crate::format::Diagnostic;
use crate::format::limits::MOST_PARTS;

#[derive(Default)]
pub(super) struct Score {
    pub(super) title: String,
    pub(super) composer: Option<String>,
    pub(super) source: Option<String>,
    pub(super) transcriber: Option<String>,
    /// Words printed after the music, line by line.
    pub(super) words: Vec<String>,
    pub(super) parts: Vec<ScorePart>,
    by_id: HashMap<String, usize>,
}

/// Reads a whole score, by parts or by measures.
pub(super) fn scan(text: &str) -> Result<Score, Diagnostic> {
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
            "credit" => {
                let (kind, mut words) = read_credit(&mut xml)?;
                if kind == "lyrics" {
                    score.words.append(&mut words);
                } else if !words.is_empty() {
                    credits.push((kind, words.swap_remove(0)));
                }
            }
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
    // A movement is the piece itself; a work may be the book that contains it.
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
    fn part(&mut self, xml: &Xml, start: &BytesStart) -> Result<usize, Diagnostic> {
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
        self.parts.push(ScorePart::new(id));
        Ok(self.parts.len() - 1)
    }
}

fn read_identification(xml: &mut Xml, score: &mut Score) -> Result<(), Diagnostic> {
    while let Some(child) = xml.child()? {
        let kind = Xml::attribute(&child, "type").map(Cow::into_owned);
        match (child.name().as_ref(), kind.as_deref()) {
            ("creator", Some("composer")) => score.composer = Some(xml.text()?.into_owned()),
            ("source", _) => score.source = Some(xml.text()?.into_owned()),
            ("encoding", _) => {
                while let Some(child) = xml.child()? {
                    match child.name().as_ref() {
                        "encoder" => score.transcriber = Some(xml.text()?.into_owned()),
                        _ => xml.skip(&child)?,
                    }
                }
            }
            _ => xml.skip(&child)?,
        }
    }
    Ok(())
}

/// The lines of a credit, and what the file says they are.
fn read_credit(xml: &mut Xml) -> Result<(String, Vec<String>), Diagnostic> {
    let (mut kind, mut words) = (String::new(), Vec::new());
    while let Some(child) = xml.child()? {
        match child.name().as_ref() {
            "credit-type" => kind = xml.text()?.into_owned(),
            "credit-words" => words.push(xml.text()?.into_owned()),
            _ => xml.skip(&child)?,
        }
    }
    Ok((kind, words))
}

fn read_part_list(xml: &mut Xml, score: &mut Score) -> Result<(), Diagnostic> {
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
