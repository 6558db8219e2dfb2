//! Reading a tune.

use super::super::limits::{HINT_ABOUT_BARS, LARGEST_FILE};
use super::super::{Diagnostic, Location, ReadError, Reading, ron_source};
use super::chords::ChordWord;
use super::file::{TempoField, TuneFile};
use super::notes::BarState;
use super::value;
use crate::error::ParseError;
use crate::format::lyric_line::{SungNote, set_under};
use crate::melody::{
    Draft, FormFault, FormSign, Melody, MelodyError, PartOrder, Quarters, Syllable, TupletGrouper,
};

/// Reads a tune.
///
/// # Errors
///
/// When the file is larger than [`LARGEST_FILE`](crate::format::LARGEST_FILE), is not RON or has an unknown field: that
/// error alone. Otherwise every unreadable word and every bar of the wrong length, up to [`ReadError::MOST`].
///
/// ```
/// use fretlib::format::tune_ron;
///
/// let text = r#"(
///     title: "Jetty at Dusk",
///     meter: "3/4",
///     lines: [(chords: "Em | B7", notes: "B4 h G q | F# h")],
/// )"#;
/// let error = tune_ron::read(text.as_bytes()).unwrap_err();
/// assert_eq!(error.to_string(), "line 4, column 52: bar 2 is 1/4 too short for 3/4: it lasts 1/2");
/// ```
pub fn read(bytes: &[u8]) -> Result<Reading, ReadError> {
    let whole = |problem: &str, hint: &str| ReadError::new(Diagnostic::of_file(problem, hint));
    if bytes.len() > LARGEST_FILE {
        return Err(whole("larger than 64 MiB", "split the tune"));
    }
    let source =
        std::str::from_utf8(bytes).map_err(|_| whole("not text in UTF-8", "save it as UTF-8"))?;
    let source = source.strip_prefix('\u{feff}').unwrap_or(source);
    let file: TuneFile = ron_source::read(source).map_err(ReadError::new)?;
    let mut reader = Reader::default();
    // A fatal error ends the reading early; it has been noted like the others.
    let _ = reader.file(&file);
    reader.finish(source)
}

/// An error and the piece of the file it is about.
pub(super) struct Complaint<'a> {
    pub(super) about: &'a str,
    pub(super) problem: String,
    pub(super) hint: Option<String>,
}

/// A bar shorter than its meter, with the error in case nothing completes it.
pub(super) struct ShortBar<'a> {
    pub(super) complaint: Complaint<'a>,
    /// The missing time.
    pub(super) missing: Quarters,
    /// It ends at a sign of the form.
    pub(super) at_sign: bool,
}

/// Too many errors: reading stops.
pub(super) struct Stop;

#[derive(Default)]
pub(super) struct Reader<'a> {
    pub(super) draft: Draft,
    pub(super) complaints: Vec<Complaint<'a>>,
    /// The word of each note.
    pub(super) note_words: Vec<&'a str>,
    pub(super) bar: BarState<'a>,
    pub(super) bars_ended: usize,
    /// A short bar that the next bar or a pickup may complete.
    pub(super) short_bar: Option<ShortBar<'a>>,
    /// The lengths of the pickups, of the tune and inside it.
    pub(super) pickups: Vec<Quarters>,
    pub(super) tuplets: TupletGrouper,
    /// How often the strain is played, from `|::`.
    pub(super) times: u8,
    /// Jumps, which take effect at the end of this bar.
    pub(super) signs_at_bar_end: Vec<FormSign>,
    /// The word of each sign of the form, for errors.
    pub(super) form_words: Vec<(Quarters, &'a str)>,
    /// How many notes have their lyrics.
    sung: usize,
    pub(super) chord_bar: Vec<ChordWord>,
    /// The previous word could not be read, so a tie may refer to it.
    pub(super) is_sound_unknown: bool,
}

impl<'a> Reader<'a> {
    fn file(&mut self, file: &TuneFile<'a>) -> Result<(), Stop> {
        let start = Quarters::from(0);
        self.draft.title = file.title.clone();
        self.draft.composer.clone_from(&file.composer);
        self.draft.source.clone_from(&file.source);
        self.draft.transcriber.clone_from(&file.transcriber);
        self.draft.words.clone_from(&file.words);
        if let Some(text) = file.key {
            self.change("key", text, text, start)?;
        }
        if let Some(text) = file.meter {
            self.change("meter", text, text, start)?;
        }
        match file.tempo {
            Some(TempoField::Number(tempo)) => self.draft.tempos.set(start, tempo),
            Some(TempoField::Text(text)) => self.change("tempo", text, text, start)?,
            None => {}
        }
        if let Some(text) = file.feel {
            match text.parse() {
                Ok(feel) => self.draft.feel = Some(feel),
                Err(error) => self.complain(text, error, None)?,
            }
        }
        for (index, line) in file.lines.iter().enumerate() {
            if index > 0 {
                self.draft.line_breaks.push(self.draft.now);
            }
            let bars = self.notes(line.notes)?;
            self.chords(line.chords, &bars)?;
            self.lyrics(&line.lyrics)?;
        }
        let signs = std::mem::take(&mut self.signs_at_bar_end);
        self.form_signs(signs, "");
        if let Some(text) = file.parts {
            self.part_order(text)?;
        }
        self.settle_short_bar(true)
    }

    /// Sets the order of parts; each must be the name of a section.
    fn part_order(&mut self, text: &'a str) -> Result<(), Stop> {
        let order: PartOrder = match text.parse() {
            Ok(order) => order,
            Err(error) => return self.complain(text, error, None),
        };
        let sections = &self.draft.sections;
        let has = |letter: char| sections.iter().any(|(_, name)| name.chars().eq([letter]));
        let missing = order
            .letters()
            .iter()
            .find(|letter| !has(**letter))
            .copied();
        if let Some(letter) = missing {
            let hint = "mark where it begins with `[section A]`, under its own letter";
            return self.complain(text, FormFault::NoPart(letter), Some(hint));
        }
        self.draft.form.set_part_order(order);
        Ok(())
    }

    /// Sets the verses of a line under its notes; ties take no syllable.
    fn lyrics(&mut self, verses: &[&'a str]) -> Result<(), Stop> {
        let notes: Vec<SungNote> = self.draft.notes[self.sung..]
            .iter()
            .map(|note| SungNote {
                onset: note.onset,
                is_tied: false,
            })
            .collect();
        self.sung = self.draft.notes.len();
        if let Some(line) = verses.get(usize::from(Syllable::MOST_VERSES)) {
            let problem = format!("more than {} verses under a line", Syllable::MOST_VERSES);
            self.complain(line, problem, Some("print the others with `words`"))?;
        }
        for (verse, line) in (1..=Syllable::MOST_VERSES).zip(verses) {
            let set = set_under(line, verse, &notes, &self.draft.bars, str::to_owned);
            self.draft.lyrics.extend(set.syllables);
            if set.left_over > 0 {
                let problem = format!("{} syllables more than the line has notes", set.left_over);
                let hint = "a syllable stands under each note; ties and rests take none";
                self.complain(line, problem, Some(hint))?;
            }
        }
        Ok(())
    }

    fn finish(mut self, source: &str) -> Result<Reading, ReadError> {
        self.complaints
            .sort_by_key(|complaint| complaint.about.as_ptr() as usize);
        let diagnostics = self.complaints.into_iter().map(|complaint| Diagnostic {
            at: ron_source::location(source, complaint.about),
            problem: complaint.problem,
            hint: complaint.hint,
        });
        if let Some(unreadable) = ReadError::from_diagnostics(diagnostics.collect()) {
            return Err(unreadable);
        }
        // A breath after the last note begins no phrase.
        let end = self.draft.now;
        self.draft.phrase_starts.retain(|start| *start < end);
        let note_words = self.note_words;
        let form_words = self.form_words;
        Melody::new(self.draft)
            .map(|melody| Reading {
                melody,
                warnings: Vec::new(),
            })
            .map_err(|error| {
                if let MelodyError::Form(error) = error {
                    let word = form_words.iter().find(|(at, _)| *at == error.at);
                    return ReadError::new(Diagnostic {
                        at: word.map_or(Location::Whole, |(_, word)| {
                            ron_source::location(source, word)
                        }),
                        problem: error.to_string(),
                        hint: None,
                    });
                }
                let word = match error {
                    MelodyError::NoNotes
                    | MelodyError::Form(_)
                    | MelodyError::BarOrder { .. }
                    | MelodyError::TooManyBars => None,
                    MelodyError::Overlap { note }
                    | MelodyError::NoLength { note }
                    | MelodyError::TooFine { note }
                    | MelodyError::TooLong { note } => note_words.get(note - 1),
                };
                ReadError::new(Diagnostic {
                    at: word.map_or(Location::Whole, |word| ron_source::location(source, word)),
                    problem: error.to_string(),
                    hint: (error == MelodyError::TooManyBars).then(|| HINT_ABOUT_BARS.to_owned()),
                })
            })
    }

    /// Notes an error; reading continues unless there are too many.
    pub(super) fn complain(
        &mut self,
        about: &'a str,
        problem: impl ToString,
        hint: Option<&str>,
    ) -> Result<(), Stop> {
        self.complaints.push(Complaint {
            about,
            problem: problem.to_string(),
            hint: hint.map(str::to_owned),
        });
        if self.complaints.len() < ReadError::MOST {
            Ok(())
        } else {
            Err(Stop)
        }
    }

    /// Puts a key, meter, tempo or section in force.
    pub(super) fn change(
        &mut self,
        kind: &str,
        text: &'a str,
        about: &'a str,
        onset: Quarters,
    ) -> Result<(), Stop> {
        let draft = &mut self.draft;
        let outcome: Result<(), ParseError> = match kind {
            "key" => text.parse().map(|key| draft.keys.set(onset, key)),
            "meter" => value::parse_meter(text).map(|meter| draft.meters.set(onset, meter)),
            "tempo" => text.parse().map(|tempo| draft.tempos.set(onset, tempo)),
            "section" => {
                draft.sections.set(onset, text.to_owned());
                Ok(())
            }
            _ => Err(ParseError::unreadable(
                kind,
                "a mark such as [section A], [key G major], [meter 3/4], [tempo 90], [pickup] or [irregular]",
            )),
        };
        match outcome {
            Ok(()) => Ok(()),
            Err(error) => self.complain(about, error, None),
        }
    }
}
