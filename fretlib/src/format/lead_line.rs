//! Choosing a single line of notes: which part of a file is the melody, and which of its notes.
//!
//! MIDI and MusicXML hold parts that sound together, and chords within a part. Both readers choose here, so that one file in
//! either format gives one melody.

use std::cmp::Reverse;

use super::Diagnostic;
use crate::one_line::one_line;

/// How messages of a format name a part.
#[derive(Clone, Copy, Debug)]
pub(super) struct PartWords {
    /// `part` or `track`.
    pub noun: &'static str,
    /// The option of the program that chooses another one.
    pub option: &'static str,
    /// The hint when no part has a note.
    pub hint_without_notes: &'static str,
}

/// A part that might be the melody.
#[derive(Clone, Debug)]
pub(super) struct PartCandidate<'a> {
    /// Its number in the format, from 1.
    pub number: usize,
    pub name: &'a str,
    /// A second name, as MusicXML's ids are; may be empty.
    pub id: &'a str,
    pub lead: Lead,
}

/// How likely a part is the lead line. The first field in which two parts differ decides.
///
/// Chosen by ear.
#[derive(Clone, Copy, Debug, Default, Eq, Ord, PartialEq, PartialOrd)]
pub(super) struct Lead {
    /// It has at least an eighth of the onsets of the busiest part.
    pub is_busy: bool,
    /// It is neither a bass nor a copy in tablature of another part.
    pub may_lead: bool,
    pub name: LeadName,
    /// At least half of its notes are sung.
    pub is_sung: bool,
    pub has_chord_symbols: bool,
    /// Nine in ten of its notes sound alone.
    pub is_single: bool,
    /// The mean MIDI number of its notes.
    pub height: u64,
}

/// What the name of a part tells about it.
#[derive(Clone, Copy, Debug, Default, Eq, Ord, PartialEq, PartialOrd)]
pub(super) enum LeadName {
    #[default]
    Other,
    /// The top voice of a choir.
    Soprano,
    Lead,
}

impl LeadName {
    pub fn of(name: &str) -> LeadName {
        const LEAD: [&str; 6] = ["melod", "lead", "voice", "vocal", "solo", "tune"];
        let name = name.to_lowercase();
        let is_voice = name
            .split(|c: char| !c.is_alphabetic())
            .any(|word| word == "voc");
        if is_voice || LEAD.iter().any(|word| name.contains(word)) {
            LeadName::Lead
        } else if name.contains("sopran") {
            LeadName::Soprano
        } else {
            LeadName::Other
        }
    }
}

/// The part named by its name, id or number. If none is named, the part most like a lead line, the first of equals,
/// with a warning when there was a choice.
///
/// # Errors
///
/// When there is no candidate, or none matches `wanted`.
pub(super) fn choose<'c, 'a>(
    candidates: &'c [PartCandidate<'a>],
    wanted: Option<&str>,
    words: PartWords,
    warnings: &mut Vec<String>,
) -> Result<&'c PartCandidate<'a>, Diagnostic> {
    let PartWords { noun, option, .. } = words;
    if let Some(wanted) = wanted {
        let number = wanted.parse().ok();
        return candidates
            .iter()
            .find(|it| {
                it.name.eq_ignore_ascii_case(wanted) || (it.id == wanted && !wanted.is_empty())
            })
            .or_else(|| candidates.iter().find(|it| Some(it.number) == number))
            .ok_or_else(|| {
                Diagnostic::of_file(
                    format!("there is no {noun} `{wanted}` with notes in it"),
                    format!("those with notes are {}", list(candidates)),
                )
            });
    }
    let chosen = candidates
        .iter()
        .max_by_key(|it| (it.lead, Reverse(it.number)))
        .ok_or_else(|| Diagnostic::of_file("no notes found", words.hint_without_notes))?;
    if candidates.len() > 1 {
        warnings.push(format!(
            "{noun} {} is read, being most like a lead line; `{option}` takes another: {}",
            chosen.title(),
            list(candidates)
        ));
    }
    Ok(chosen)
}

impl PartCandidate<'_> {
    fn title(&self) -> String {
        match one_line(self.name) {
            name if name.is_empty() => self.number.to_string(),
            name => format!("{} ({name})", self.number),
        }
    }
}

fn list(candidates: &[PartCandidate]) -> String {
    const MOST: usize = 12;
    let mut titles: Vec<String> = candidates
        .iter()
        .take(MOST)
        .map(PartCandidate::title)
        .collect();
    if candidates.len() > MOST {
        titles.push("…".into());
    }
    titles.join(", ")
}

/// A note with its onset and end in the time unit of the format.
#[derive(Clone, Copy, Debug)]
pub(super) struct Timed<T, N> {
    pub onset: T,
    pub end: T,
    /// Its MIDI number.
    pub height: u8,
    pub note: N,
}

/// A single line: of notes that begin together the highest, each cut where the next begins.
///
/// The notes must be in order of onset. `sounds_on` tells whether the first of two notes really sounds into the second;
/// overlaps from rounding are mended without a warning.
pub(super) fn top_line<T: Copy + Ord, N>(
    notes: impl IntoIterator<Item = Timed<T, N>>,
    sounds_on: impl Fn(&N, &N) -> bool,
    warnings: &mut Vec<String>,
) -> Vec<Timed<T, N>> {
    let (mut stacked, mut cut) = (0, 0);
    let notes = notes.into_iter();
    let mut line: Vec<Timed<T, N>> = Vec::with_capacity(notes.size_hint().0);
    for note in notes {
        match line.last_mut() {
            Some(last) if last.onset == note.onset => {
                stacked += 1;
                if note.height > last.height {
                    *last = note;
                }
                continue;
            }
            Some(last) if last.end > note.onset => {
                last.end = note.onset;
                cut += usize::from(sounds_on(&last.note, &note.note));
            }
            _ => {}
        }
        line.push(note);
    }
    if stacked > 0 {
        warnings.push(format!(
            "{stacked} notes under the top one of a chord are left out"
        ));
    }
    if cut > 0 {
        warnings.push(format!(
            "{cut} notes that sound on into the next are cut there"
        ));
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORDS: PartWords = PartWords {
        noun: "part",
        option: "--part",
        hint_without_notes: "a score of rests has no melody",
    };

    fn named(number: usize, name: &str) -> PartCandidate<'_> {
        let lead = Lead {
            is_busy: true,
            may_lead: true,
            name: LeadName::of(name),
            height: 60 + number as u64,
            ..Lead::default()
        };
        PartCandidate {
            number,
            name,
            id: "",
            lead,
        }
    }

    #[test]
    fn a_lead_comes_before_a_soprano_and_a_soprano_before_the_rest() {
        let parts = [
            named(1, "Bass"),
            named(2, "Solo guitar"),
            named(3, "Soprano"),
            named(4, "Fiddle"),
        ];
        let mut warnings = Vec::new();
        assert_eq!(
            choose(&parts, None, WORDS, &mut warnings).unwrap().number,
            2
        );
        assert_eq!(
            warnings,
            [
                "part 2 (Solo guitar) is read, being most like a lead line; `--part` takes another: \
              1 (Bass), 2 (Solo guitar), 3 (Soprano), 4 (Fiddle)"
            ]
        );
        assert_eq!(
            choose(&parts[2..], None, WORDS, &mut warnings)
                .unwrap()
                .number,
            3
        );
    }

    #[test]
    fn a_part_is_chosen_by_name_or_number() {
        let parts = [named(1, "4"), named(4, "Viola")];
        let choose =
            |wanted| choose(&parts, Some(wanted), WORDS, &mut Vec::new()).map(|it| it.number);
        assert_eq!(choose("viola"), Ok(4));
        assert_eq!(choose("4"), Ok(1), "a name is asked for before a number");
        assert_eq!(choose("1"), Ok(1));
        assert_eq!(
            choose("7").unwrap_err().to_string(),
            "in the file: there is no part `7` with notes in it"
        );
    }

    #[test]
    fn without_a_note_there_is_no_melody() {
        let error = choose(&[], None, WORDS, &mut Vec::new()).unwrap_err();
        assert_eq!(error.hint.as_deref(), Some(WORDS.hint_without_notes));
    }

    #[test]
    fn the_top_note_is_kept_and_cut_where_the_next_begins() {
        let note = |onset, end, height| Timed {
            onset,
            end,
            height,
            note: (),
        };
        let given = [
            note(0, 4, 60),
            note(0, 2, 67),
            note(1, 3, 64),
            note(3, 4, 65),
        ];
        let mut warnings = Vec::new();
        let line = top_line(given, |(), ()| true, &mut warnings);
        let line: Vec<(i32, i32, u8)> = line
            .iter()
            .map(|it| (it.onset, it.end, it.height))
            .collect();
        assert_eq!(line, [(0, 1, 67), (1, 3, 64), (3, 4, 65)]);
        assert_eq!(
            warnings,
            [
                "1 notes under the top one of a chord are left out",
                "1 notes that sound on into the next are cut there"
            ]
        );
    }
}
