//! Answers as players type them, brought to the library's own notation.
//!
//! One table turns words into notation: `flat seven` becomes `♭7`, `down a minor third` becomes `-m3`. The types of the
//! library then read the result. To support another word, add a line to the table.

use super::{Answer, AnswerError};
use crate::neck::{Fret, Instrument, Place, StringNumber};
use crate::practice::arranged_question::{ArrangedTask, read_fingers, read_tones};
use crate::practice::question::{Question, Task};
use crate::theory::{Degree, Direction, Interval, MidiNumber, Pitch, PitchClass};

/// What players write, in small letters, and how the library writes it. The longest matching entry wins.
///
/// Words with an empty entry are skipped. Words and their meanings: common practice, no source.
const WORDS: &[(&str, &str)] = &[
    // Accidentals.
    ("flat", "♭"),
    ("sharp", "♯"),
    ("natural", "♮"),
    ("lowered", "♭"),
    ("raised", "♯"),
    ("double flat", "♭♭"),
    ("double sharp", "♯♯"),
    ("triple flat", "♭♭♭"),
    ("triple sharp", "♯♯♯"),
    // Degrees and numbers.
    ("root", "1"),
    ("tonic", "1"),
    ("supertonic", "2"),
    ("mediant", "3"),
    ("subdominant", "4"),
    ("dominant", "5"),
    ("submediant", "6"),
    ("leading note", "7"),
    ("leading tone", "7"),
    ("subtonic", "♭7"),
    ("i", "1"),
    ("ii", "2"),
    ("iii", "3"),
    ("iv", "4"),
    ("v", "5"),
    ("vi", "6"),
    ("vii", "7"),
    ("one", "1"),
    ("two", "2"),
    ("three", "3"),
    ("four", "4"),
    ("five", "5"),
    ("six", "6"),
    ("seven", "7"),
    ("first", "1"),
    ("unison", "1"),
    ("second", "2"),
    ("third", "3"),
    ("fourth", "4"),
    ("fifth", "5"),
    ("sixth", "6"),
    ("seventh", "7"),
    ("octave", "8"),
    ("ninth", "9"),
    ("tenth", "10"),
    ("eleventh", "11"),
    ("twelfth", "12"),
    ("thirteenth", "13"),
    ("fourteenth", "14"),
    ("fifteenth", "15"),
    // Intervals.
    ("perfect", "P"),
    ("perf", "P"),
    ("per", "P"),
    ("p", "P"),
    ("major", "M"),
    ("maj", "M"),
    ("ma", "M"),
    ("minor", "m"),
    ("min", "m"),
    ("mi", "m"),
    ("augmented", "A"),
    ("aug", "A"),
    ("diminished", "d"),
    ("dim", "d"),
    ("doubly augmented", "AA"),
    ("doubly diminished", "dd"),
    ("double augmented", "AA"),
    ("double diminished", "dd"),
    ("half step", "m2"),
    ("halfstep", "m2"),
    ("half tone", "m2"),
    ("halftone", "m2"),
    ("semitone", "m2"),
    ("whole step", "M2"),
    ("wholestep", "M2"),
    ("whole tone", "M2"),
    ("wholetone", "M2"),
    ("step", "M2"),
    ("tone", "M2"),
    ("tritone", "A4"),
    ("same", "P1"),
    ("same note", "P1"),
    ("the same note", "P1"),
    ("up", "+"),
    ("upward", "+"),
    ("upwards", "+"),
    ("rising", "+"),
    ("ascending", "+"),
    ("higher", "+"),
    ("down", "-"),
    ("downward", "-"),
    ("downwards", "-"),
    ("falling", "-"),
    ("descending", "-"),
    ("lower", "-"),
    // Places.
    ("string", "string"),
    ("str", "string"),
    ("fret", "fret"),
    ("fr", "fret"),
    ("open", "open"),
    ("high", "high"),
    ("top", "high"),
    ("low", "low"),
    ("bottom", "low"),
    // In the scale or not.
    ("y", "yes"),
    ("yes", "yes"),
    ("yeah", "yes"),
    ("yep", "yes"),
    ("yup", "yes"),
    ("aye", "yes"),
    ("in", "yes"),
    ("inside", "yes"),
    ("in scale", "yes"),
    ("in the scale", "yes"),
    ("in key", "yes"),
    ("in the key", "yes"),
    ("n", "no"),
    ("no", "no"),
    ("nope", "no"),
    ("nah", "no"),
    ("not", "no"),
    ("not in", "no"),
    ("not in the scale", "no"),
    ("not in the key", "no"),
    ("out", "no"),
    ("out of the scale", "no"),
    ("out of the key", "no"),
    ("outside", "no"),
    ("outside the scale", "no"),
    ("outside the key", "no"),
    ("chromatic", "no"),
    // Passed over.
    ("the", ""),
    ("it", ""),
    ("is", ""),
    ("of", ""),
    ("on", ""),
    ("at", ""),
    ("and", ""),
    ("note", ""),
];

/// The most words of one entry of the table.
const LONGEST_ENTRY: usize = 4;

fn in_notation(words: &str) -> Option<&'static str> {
    let entry = WORDS.iter().find(|(word, _)| *word == words)?;
    Some(entry.1)
}

/// A piece of an answer in the library's notation: a letter, a number, a sign, or a word of the table.
#[derive(Clone, Debug, Eq, PartialEq)]
struct AnswerPiece {
    text: String,
    // Whether white space or a separator comes before it.
    is_apart: bool,
}

impl AnswerPiece {
    fn number(&self) -> Option<u32> {
        let is_number = self.text.starts_with(|c: char| c.is_ascii_digit());
        // Digits too long for a number become the largest number, which no instrument has.
        is_number.then(|| self.text.parse().unwrap_or(u32::MAX))
    }
}

/// A run of letters, a run of digits, or a single sign, as typed.
fn runs(text: &str) -> Option<Vec<AnswerPiece>> {
    let mut runs: Vec<AnswerPiece> = Vec::new();
    let mut before = ' ';
    for c in text.chars() {
        let last = std::mem::replace(&mut before, c);
        let is_apart = last.is_whitespace() || ",;:/.()".contains(last);
        let continues = |last: &AnswerPiece| {
            let first = last.text.chars().next().unwrap_or(' ');
            !is_apart
                && (first.is_ascii_digit() && c.is_ascii_digit()
                    || first.is_ascii_alphabetic() && c.is_ascii_alphabetic())
        };
        match c {
            _ if c.is_whitespace() => {}
            // Signs that `map` prints beside a degree, and quotation marks.
            '^' | '*' | '~' | '[' | ']' | '\'' | '"' | '`' | '!' | ',' | ';' | ':' | '/' | '.'
            | '(' | ')' => {}
            // A hyphen joins words, unless it comes before a word or is alone.
            '-' | '−' | '–' if is_apart => runs.push(AnswerPiece {
                text: "-".into(),
                is_apart,
            }),
            '-' | '−' | '–' => before = ' ',
            '#' | '♯' | '♭' | '♮' | '𝄪' | '𝄫' | '+' => runs.push(AnswerPiece {
                text: c.into(),
                is_apart,
            }),
            _ if !c.is_ascii_alphanumeric() => return None,
            _ => match runs.last_mut() {
                Some(last) if continues(last) => last.text.push(c),
                _ => runs.push(AnswerPiece {
                    text: c.into(),
                    is_apart,
                }),
            },
        }
    }
    Some(runs)
}

/// A typed answer in the library's notation; `None` when a word is not known.
fn normalise(text: &str) -> Option<Vec<AnswerPiece>> {
    let runs = runs(text)?;
    let is_word = |run: &AnswerPiece| run.text.starts_with(|c: char| c.is_ascii_alphabetic());
    let small: Vec<String> = runs.iter().map(|run| run.text.to_lowercase()).collect();
    let mut pieces = Vec::new();
    let mut at = 0;
    while at < runs.len() {
        let run = &runs[at];
        let is_after_number = at > 0 && !run.is_apart && !is_word(&runs[at - 1]);
        let words = runs[at..]
            .iter()
            .take_while(|run| is_word(run))
            .count()
            .min(LONGEST_ENTRY);
        // "A perfect fifth", but "a flat" is a note.
        let is_article = match small.get(at + 1) {
            Some(next) if ["a", "an"].contains(&small[at].as_str()) && runs[at + 1].is_apart => {
                next.len() > 2 && !["flat", "sharp", "natural", "double"].contains(&next.as_str())
            }
            _ => false,
        };
        if is_article || is_after_number && matches!(&*small[at], "st" | "nd" | "rd" | "th" | "ve")
        {
            at += 1;
            continue;
        }
        let entry = (1..=words).rev().find_map(|count| {
            let is_letter = count == 1 && run.text.len() == 1;
            let words = small[at..at + count].join(" ");
            // A single letter keeps its case when that can mean major or minor; `y`, `n`, `p`, `i` and `v` have one
            // meaning in either case.
            let found = in_notation(&words).filter(|_| !is_letter || "ynpiv".contains(&*words))?;
            Some((count, found))
        });
        match entry {
            Some((count, found)) => {
                if !found.is_empty() {
                    pieces.push(AnswerPiece {
                        text: found.into(),
                        is_apart: run.is_apart,
                    });
                }
                at += count;
            }
            None if is_word(run) => {
                split_run(&run.text, run.is_apart, &mut pieces)?;
                at += 1;
            }
            None => {
                pieces.push(run.clone());
                at += 1;
            }
        }
    }
    Some(pieces)
}

/// A run of letters that is not a word: `Eb`, `eflat`, `bVII`, `dd`, one letter at a time until a word is left.
fn split_run(run: &str, is_apart: bool, pieces: &mut Vec<AnswerPiece>) -> Option<()> {
    const LETTERS: &str = "abcdefgABCDEFGmMPsSx";
    let (first, rest) = run.split_at(1);
    if !LETTERS.contains(first) {
        return None;
    }
    pieces.push(AnswerPiece {
        text: first.into(),
        is_apart,
    });
    if rest.is_empty() {
        return Some(());
    }
    let small = rest.to_lowercase();
    let is_word = rest.len() > 1 || ["i", "v"].contains(&&*small);
    match in_notation(&small).filter(|_| is_word) {
        Some(found) => pieces.push(AnswerPiece {
            text: found.into(),
            is_apart: false,
        }),
        None => split_run(rest, false, pieces)?,
    }
    Some(())
}

fn joined(pieces: &[AnswerPiece]) -> String {
    pieces.iter().map(|piece| piece.text.as_str()).collect()
}

/// Reads a note: `Eb`, `e flat`, `F♯`, `f-sharp`, `B double flat`, `c natural`; an octave after it is ignored.
///
/// # Errors
///
/// When the text is not a note name.
pub(super) fn read_name(text: &str) -> Result<PitchClass, AnswerError> {
    const EXPECTED: AnswerError = AnswerError::Expected("a note, such as Eb");
    let pieces = normalise(text).ok_or(EXPECTED)?;
    let octave_is_apart = pieces
        .last()
        .is_some_and(|last| last.number().is_some() && last.is_apart);
    let name = joined(&pieces);
    let class = name.parse().ok();
    let of_pitch = || name.parse().ok().map(Pitch::class);
    class
        .or_else(|| of_pitch().filter(|_| !octave_is_apart))
        .ok_or(EXPECTED)
}

/// A degree in the library's own notation: `b3`, `flat third`, `♯4`, `root`, `bVII`.
fn plain_degree(pieces: &[AnswerPiece]) -> Option<Degree> {
    joined(pieces).parse().ok()
}

/// Reads a degree: `b3`, `flat 3`, `flat third`, `♯4`, `root`, `bVII`, or the interval above the tonic, `minor third`.
///
/// # Errors
///
/// When the text is not a degree.
pub(super) fn read_degree(text: &str) -> Result<Degree, AnswerError> {
    let pieces = normalise(text).unwrap_or_default();
    degree_from(&pieces).ok_or(AnswerError::Expected("a scale degree, such as b3 or #4"))
}

fn degree_from(pieces: &[AnswerPiece]) -> Option<Degree> {
    plain_degree(pieces).or_else(|| {
        let interval = interval_from(pieces).ok()?;
        Degree::from_fifths(interval.fifths().try_into().ok()?).ok()
    })
}

/// Reads a note and its degree, in either order: `Eb b3`, `e flat, flat 3`, `5 Bb`, `C5 b7`.
///
/// A comma always separates the two, white space may; otherwise any split that gives a meaning to both sides is taken.
///
/// # Errors
///
/// When one of the two is missing, or the text can be split in more than one way.
pub(super) fn read_name_and_degree(text: &str) -> Result<(PitchClass, Degree), AnswerError> {
    const EXPECTED: AnswerError = AnswerError::Expected("a note and its degree, such as Eb b3");
    let text = text.trim();
    let splits_at = |sign: fn(char) -> bool| -> Vec<usize> {
        text.char_indices()
            .filter(|(_, c)| sign(*c))
            .map(|(index, _)| index)
            .collect()
    };
    let mut splits = splits_at(|c| matches!(c, ',' | ';' | '/'));
    if splits.is_empty() {
        splits = splits_at(char::is_whitespace);
    }
    if splits.is_empty() {
        // `b3` is only a degree, rather than B and 3.
        if read_degree(text).is_ok() {
            return Err(EXPECTED);
        }
        splits = splits_at(|_| true);
    }
    let mut readings: Vec<(PitchClass, Degree)> = Vec::new();
    for split in splits {
        let (first, second) = text.split_at(split);
        for (name, degree) in [(first, second), (second, first)] {
            // `b7` is a degree rather than a B with its octave.
            let is_degree = name.trim().starts_with('b') && name.trim().parse::<Degree>().is_ok();
            if let (Ok(name), Ok(degree), false) = (read_name(name), read_degree(degree), is_degree)
                && !readings.contains(&(name, degree))
            {
                readings.push((name, degree));
            }
        }
    }
    match readings.as_slice() {
        [reading] => Ok(*reading),
        [] => Err(EXPECTED),
        _ => Err(AnswerError::TwoWays),
    }
}

/// Reads an interval: `m3`, `minor third`, `maj 7`, `P5 down`, `-M2`, `octave`, `half step up`, `tritone`.
///
/// Capital and small letters differ: `M3` is major, `m3` minor. Fourths, fifths and octaves need no quality.
///
/// # Errors
///
/// When the text is not an interval, or a second, third, sixth or seventh without a quality.
pub(super) fn read_interval(text: &str) -> Result<(Interval, Option<Direction>), AnswerError> {
    let pieces = normalise(text).ok_or(INTERVAL)?;
    let (signs, rest): (Vec<AnswerPiece>, Vec<AnswerPiece>) = pieces
        .into_iter()
        .partition(|piece| matches!(&*piece.text, "+" | "-"));
    let direction = match signs.as_slice() {
        [] => None,
        [sign] if sign.text == "+" => Some(Direction::Up),
        [_] => Some(Direction::Down),
        _ => return Err(INTERVAL),
    };
    Ok((interval_from(&rest)?, direction))
}

const INTERVAL: AnswerError = AnswerError::Expected("an interval, such as m3, P5 or major second");

fn interval_from(pieces: &[AnswerPiece]) -> Result<Interval, AnswerError> {
    let name = match pieces {
        [piece] if piece.number().is_some() => {
            let number = piece.number().unwrap_or(0);
            match number % 7 {
                _ if number == 0 => return Err(INTERVAL),
                1 | 4 | 5 => format!("P{number}"),
                _ => return Err(AnswerError::Quality),
            }
        }
        // A small a before a number is short for augmented.
        [first, number] if first.text == "a" => format!("A{}", number.text),
        [first, ..] if matches!(&*first.text, "+" | "-") => return Err(INTERVAL),
        _ => joined(pieces),
    };
    name.parse().map_err(|_| INTERVAL)
}

/// Reads a place: `3 5`, `s3 f5`, `string 3 fret 5`, `3rd string 5th fret`, `f5 s3`, `3:5`, `2 open`, `G 5`, `G string 5`.
///
/// # Errors
///
/// When there are not exactly a string and a fret, or the instrument lacks one of them.
pub(super) fn read_place(text: &str, instrument: &Instrument) -> Result<Place, AnswerError> {
    const EXPECTED: AnswerError = AnswerError::Expected("a string and a fret, such as 3 5");
    #[derive(PartialEq)]
    enum Label {
        String,
        Fret,
    }
    let pieces = normalise(text).ok_or(EXPECTED)?;
    let numbers: Vec<u32> = pieces.iter().filter_map(AnswerPiece::number).collect();
    let is_open = pieces.iter().any(|piece| piece.text == "open");
    // With two numbers, `s` and `f` are labels; with one number, F may be the name of a string.
    let are_letters_labels = numbers.len() + usize::from(is_open) > 1;
    let mut labels = Vec::new();
    let mut label_first = None;
    let mut name = Vec::new();
    for piece in &pieces {
        let label = match piece.text.as_str() {
            "string" | "s" | "S" => Some(Label::String),
            "fret" => Some(Label::Fret),
            "f" | "F" if are_letters_labels => Some(Label::Fret),
            _ => None,
        };
        match label {
            Some(label) => {
                label_first.get_or_insert(true);
                labels.push(label);
            }
            None if piece.number().is_some() => {
                label_first.get_or_insert(false);
            }
            None if ["yes", "-", "open"].contains(&&*piece.text) => {}
            None => name.push(piece.clone()),
        }
    }
    if !name.is_empty() {
        let string = string_of_name(&name, instrument)?.ok_or(EXPECTED)?;
        return match (numbers.as_slice(), is_open) {
            ([fret], false) => place_at(string, *fret, instrument),
            ([], true) => place_at(string, 0, instrument),
            _ => Err(EXPECTED),
        };
    }
    let (string, fret) = match (numbers.as_slice(), labels.as_slice(), is_open) {
        ([string], [] | [Label::String], true) => (*string, 0),
        ([first, second], [], false) => (*first, *second),
        ([first, second], [Label::String, Label::Fret], false) => (*first, *second),
        ([first, second], [Label::Fret, Label::String], false) => (*second, *first),
        ([first, second], [Label::String], false) if label_first == Some(true) => (*first, *second),
        _ => return Err(EXPECTED),
    };
    let string_number = u8::try_from(string)
        .ok()
        .and_then(|number| StringNumber::new(number).ok())
        .filter(|number| number.index() < instrument.strings().len())
        .ok_or(AnswerError::NoString(string))?;
    place_at(string_number, fret, instrument)
}

fn place_at(
    string: StringNumber,
    fret: u32,
    instrument: &Instrument,
) -> Result<Place, AnswerError> {
    let fret = u8::try_from(fret)
        .ok()
        .and_then(|number| Fret::new(number).ok())
        .filter(|number| *number <= instrument.highest_fret())
        .ok_or(AnswerError::NoFret(fret))?;
    Ok(Place { string, fret })
}

/// The string named by its open note: `G`, `high E`. `None` when the pieces are not a note.
fn string_of_name(
    pieces: &[AnswerPiece],
    instrument: &Instrument,
) -> Result<Option<StringNumber>, AnswerError> {
    let is_said = |word: &str| pieces.iter().any(|piece| piece.text == word);
    let (is_high, is_low) = (is_said("high"), is_said("low"));
    let name: Vec<AnswerPiece> = pieces
        .iter()
        .filter(|piece| !["high", "low"].contains(&&*piece.text))
        .cloned()
        .collect();
    let Ok(class) = joined(&name).parse::<PitchClass>() else {
        return Ok(None);
    };
    let mut called: Vec<(MidiNumber, StringNumber)> = instrument
        .string_numbers()
        .zip(instrument.strings())
        .filter(|(_, open)| open.class().chroma() == class.chroma())
        .map(|(string, open)| (open.midi(), string))
        .collect();
    called.sort_by_key(|(midi, _)| *midi);
    match called.as_slice() {
        [] => Err(AnswerError::NoStringOfName(class)),
        [(_, string)] => Ok(Some(*string)),
        [.., (_, string)] if is_high && !is_low => Ok(Some(*string)),
        [(_, string), ..] if is_low && !is_high => Ok(Some(*string)),
        _ => Err(AnswerError::WhichString(class)),
    }
}

/// Reads what comes next: a note, a degree, or a place.
fn read_next(text: &str, instrument: &Instrument) -> Result<Answer, AnswerError> {
    const EXPECTED: AnswerError =
        AnswerError::Expected("a note such as Eb, a degree such as b3, or a place such as 3 5");
    let pieces = normalise(text).ok_or(EXPECTED)?;
    let degree = plain_degree(&pieces).map(Answer::Degree);
    // `b3` is a degree; only a capital makes it a B with its octave.
    let is_flat =
        degree.is_some() && pieces[0].text == "b" && pieces.len() == 2 && !pieces[1].is_apart;
    if let (Some(degree), true) = (degree, is_flat) {
        return Ok(degree);
    }
    let name = read_name(text).ok().map(Answer::Name);
    // `D 5` is a place, `D5` a note with its octave.
    let place = match name {
        None => Some(read_place(text, instrument)),
        Some(_) => None,
    };
    let readings = [name, degree, place.and_then(Result::ok).map(Answer::Place)];
    let mut readings = readings.into_iter().flatten();
    match (readings.next(), readings.next()) {
        (Some(reading), None) => Ok(reading),
        (Some(_), Some(_)) => Err(AnswerError::TwoWays),
        (None, _) => Err(match place {
            Some(Err(error)) if !matches!(error, AnswerError::Expected(_)) => error,
            _ => EXPECTED,
        }),
    }
}

/// Reads whether a note is in the scale: `yes`, `in`, `yes 5`; `no #4`, `out b3`, `not in the scale, #4`, `#4`.
///
/// A degree alone means neither yes nor no; the caller decides, since it knows the degrees of the scale.
///
/// # Errors
///
/// When the text is not such an answer, or "no" without a degree.
fn read_scale(text: &str) -> Result<(Option<bool>, Option<Degree>), AnswerError> {
    const EXPECTED: AnswerError = AnswerError::Expected("yes, or no and the degree, such as no #4");
    let pieces = normalise(text).ok_or(EXPECTED)?;
    let (said, rest): (Vec<AnswerPiece>, Vec<AnswerPiece>) = pieces
        .into_iter()
        .partition(|piece| ["yes", "no", "-"].contains(&&*piece.text));
    let says = |word: &str| said.iter().any(|piece| piece.text == word);
    let inside = match (says("yes"), says("no")) {
        (true, true) => return Err(AnswerError::Expected("either yes, or no and the degree")),
        (true, false) => Some(true),
        (false, true) => Some(false),
        (false, false) => None,
    };
    if rest.is_empty() {
        return match inside {
            Some(true) => Ok((inside, None)),
            Some(false) => Err(AnswerError::WhichDegree),
            None => Err(EXPECTED),
        };
    }
    let degree = degree_from(&rest).ok_or(EXPECTED)?;
    Ok((inside, Some(degree)))
}

/// Reads which of `count` choices is meant: `2`, `two`, `the second`, `2nd`.
///
/// # Errors
///
/// When the text is not the number of a choice.
fn read_choice(text: &str, count: usize) -> Result<u32, AnswerError> {
    let pieces = normalise(text).unwrap_or_default();
    let number = match pieces.as_slice() {
        [piece] => piece.number(),
        _ => None,
    };
    let in_range = |number: &u32| (1..=count).contains(&(*number as usize));
    number.filter(in_range).ok_or(AnswerError::NoChoice(count))
}

impl Question {
    /// Reads an answer as it was typed.
    ///
    /// # Errors
    ///
    /// When the text is not an answer to this kind of question; the error tells why, so that the question can be asked
    /// again.
    ///
    /// ```
    /// use fretlib::neck::Instrument;
    /// use fretlib::practice::{Answer, Presentation, Question, Task};
    ///
    /// let task = Task::Degree { pitch: "Bb4".parse()?, key: "C minor".parse()? };
    /// let presentation = Presentation::Heard;
    /// let question = Question { note: 0, placement: None, presentation, task };
    /// for typed in ["b7", "flat seven", "bVII", "minor seventh"] {
    ///     let answer = question.read(typed, &Instrument::default())?;
    ///     assert_eq!(answer, Answer::Degree("b7".parse()?));
    /// }
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn read(&self, text: &str, instrument: &Instrument) -> Result<Answer, AnswerError> {
        match &self.task {
            Task::Place { .. } | Task::Octave { .. } => {
                read_place(text, instrument).map(Answer::Place)
            }
            Task::Name { .. } => {
                read_name_and_degree(text).map(|(name, degree)| Answer::NameAndDegree(name, degree))
            }
            Task::Degree { .. } => read_degree(text).map(Answer::Degree),
            Task::Interval { .. } => {
                read_interval(text).map(|(size, direction)| Answer::Interval { size, direction })
            }
            Task::Next { .. } => read_next(text, instrument),
            Task::Arranged(ArrangedTask::Line { .. }) => {
                read_place(text, instrument).map(Answer::Place)
            }
            Task::Arranged(ArrangedTask::Stays(_)) => read_fingers(text).map(Answer::Fingers),
            Task::Arranged(ArrangedTask::Under(_) | ArrangedTask::LeftOut(_)) => {
                read_tones(text).map(Answer::Tones)
            }
            Task::Phrase { choices, .. } => read_choice(text, choices.len()).map(Answer::Choice),
            Task::Scale { key, .. } => {
                let (inside, degree) = read_scale(text)?;
                let in_scale =
                    |degree: Degree| key.scale().iter().any(|note| key.degree(*note) == degree);
                Ok(match (inside, degree) {
                    (Some(false), Some(degree)) => Answer::Outside(degree),
                    (None, Some(degree)) if !in_scale(degree) => Answer::Outside(degree),
                    _ => Answer::Inside(degree),
                })
            }
        }
    }
}

#[cfg(test)]
mod tests;
