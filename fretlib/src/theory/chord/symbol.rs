//! The vocabulary of chord symbols: what may follow the root, read and written.

use std::fmt;

use super::tones::{ChordTones, FIFTH, FOURTH, Fifths, SECOND, SIXTH, alteration_of, fifths_of};

/// A kind of chord with a name of its own.
struct ChordKind {
    /// What is written after the root.
    name: &'static str,
    tones: ChordTones,
    /// Its name in MusicXML 4.0 (data type kind-value), if it has one.
    in_musicxml: Option<&'static str>,
}

const fn kind(name: &'static str, formula: &str, in_musicxml: Option<&'static str>) -> ChordKind {
    ChordKind {
        name,
        tones: ChordTones::formula(formula),
        in_musicxml,
    }
}

/// The kinds with a name of their own: symbol and formula. Every other chord is one of these with tones suspended,
/// altered, added or left out. Where several would need equally few changes, the first one listed is written.
#[rustfmt::skip]
const KINDS: [ChordKind; 31] = [
    kind("", "1 3 5", Some("major")),
    kind("m", "1 b3 5", Some("minor")),
    kind("6", "1 3 5 6", Some("major-sixth")),
    kind("m6", "1 b3 5 6", Some("minor-sixth")),
    kind("6/9", "1 3 5 6 9", None),
    kind("m6/9", "1 b3 5 6 9", None),
    kind("maj7", "1 3 5 7", Some("major-seventh")),
    kind("maj9", "1 3 5 7 9", Some("major-ninth")),
    kind("maj11", "1 3 5 7 9 11", Some("major-11th")),
    kind("maj13", "1 3 5 7 9 13", Some("major-13th")),
    kind("7", "1 3 5 b7", Some("dominant")),
    kind("9", "1 3 5 b7 9", Some("dominant-ninth")),
    kind("11", "1 3 5 b7 9 11", Some("dominant-11th")),
    kind("13", "1 3 5 b7 9 13", Some("dominant-13th")),
    kind("m7", "1 b3 5 b7", Some("minor-seventh")),
    kind("m9", "1 b3 5 b7 9", Some("minor-ninth")),
    kind("m11", "1 b3 5 b7 9 11", Some("minor-11th")),
    kind("m13", "1 b3 5 b7 9 13", Some("minor-13th")),
    kind("mMaj7", "1 b3 5 7", Some("major-minor")),
    kind("mMaj9", "1 b3 5 7 9", None),
    kind("mMaj11", "1 b3 5 7 9 11", None),
    kind("mMaj13", "1 b3 5 7 9 13", None),
    kind("dim", "1 b3 b5", Some("diminished")),
    kind("dim7", "1 b3 b5 bb7", Some("diminished-seventh")),
    kind("aug", "1 3 #5", Some("augmented")),
    kind("7alt", "1 3 b5 #5 b7 b9 #9", None),
    kind("5", "1 5", Some("power")),
    kind("m7b5", "1 b3 b5 b7", Some("half-diminished")),
    kind("7#5", "1 3 #5 b7", Some("augmented-seventh")),
    kind("sus2", "1 2 5", Some("suspended-second")),
    kind("sus4", "1 4 5", Some("suspended-fourth")),
];

/// The kinds that MusicXML names: its name, and the symbol after the root.
pub(super) fn musicxml_kinds() -> impl Iterator<Item = (&'static str, &'static str)> {
    KINDS
        .iter()
        .filter_map(|kind| Some((kind.in_musicxml?, kind.name)))
}

/// The words for the quality of the triad, as charts print them. A longer word is listed before any
/// prefix of it.
const QUALITIES: [(Quality, &[&str]); 6] = [
    (Quality::HalfDiminished, &["ø"]),
    (Quality::Diminished, &["dim", "°", "o"]),
    (Quality::Augmented, &["aug", "+5", "+"]),
    (Quality::Major, MAJOR),
    (
        Quality::Minor,
        &["min", "Min", "MIN", "mi", "Mi", "MI", "m", "-"],
    ),
    (Quality::Plain, &[""]),
];
const MAJOR: &[&str] = &["maj", "Maj", "MAJ", "ma", "Ma", "MA", "M", "Δ"];
const NUMBERS: [&str; 11] = [
    "7alt", "alt", "13", "11", "9", "7", "6/9", "69", "6", "5", "",
];

#[derive(Clone, Copy, PartialEq)]
enum Quality {
    Plain,
    Major,
    Minor,
    Diminished,
    HalfDiminished,
    Augmented,
}

/// Reads what follows the root of a chord symbol, all of it; `None` unless all of it is understood.
pub(super) fn read_kind(text: &str) -> Option<ChordTones> {
    // Common practice, no source: `C2` is C with the second added, not suspended.
    let text = if text == "2" { "add9" } else { text };
    let text: String = text.chars().map(plain_sign).collect();
    // The first reading that uses up the text: `madd9` is not `ma` followed by `dd9`.
    QUALITIES
        .iter()
        .flat_map(|(quality, words)| words.iter().map(move |word| (*quality, *word)))
        .find_map(|(quality, word)| {
            let (kind, rest) = read_named_kind(quality, word, text.strip_prefix(word)?)?;
            // Right after the root, `+` and `-` are qualities: `C+11` and `C-5` are ambiguous.
            let is_guess = rest.len() == text.len() && rest.starts_with(['+', '-']);
            if is_guess {
                return None;
            }
            read_changes(kind, rest)
        })
}

/// One sign for those that look alike on paper.
fn plain_sign(sign: char) -> char {
    match sign {
        '♯' => '#',
        '♭' => 'b',
        '△' | '∆' | '^' => 'Δ',
        'º' | '˚' => '°',
        'Ø' | '∅' => 'ø',
        '−' | '–' => '-',
        other => other,
    }
}

fn read_named_kind<'a>(
    quality: Quality,
    word: &str,
    text: &'a str,
) -> Option<(ChordTones, &'a str)> {
    let (has_major_seventh, number, rest) = read_number(quality, text)?;
    let number = match number {
        "" if has_major_seventh || word == "Δ" || quality == Quality::HalfDiminished => "7",
        "69" => "6/9",
        "alt" => "7alt",
        number => number,
    };
    let is_extended = !matches!(number, "" | "6" | "6/9");
    let (prefix, altered_fifth) = match quality {
        Quality::Plain => ("", None),
        Quality::Major if is_extended => ("maj", None),
        Quality::Major => ("", None),
        Quality::Minor if has_major_seventh => ("mMaj", None),
        Quality::Minor => ("m", None),
        Quality::HalfDiminished if matches!(number, "7" | "9" | "11") => ("m", Some(-6)),
        Quality::Diminished if has_major_seventh => ("mMaj", Some(-6)),
        Quality::Diminished => ("dim", None),
        Quality::Augmented if has_major_seventh => ("maj", Some(8)),
        Quality::Augmented if matches!(number, "" | "7" | "9") => ("", Some(8)),
        Quality::HalfDiminished | Quality::Augmented => return None,
    };
    let kind = KINDS
        .iter()
        .find(|kind| kind.name.strip_prefix(prefix) == Some(number))?
        .tones;
    Some((
        altered_fifth.map_or(kind, |fifth| Change::Alter(fifth).apply(kind)),
        rest,
    ))
}

/// Reads `9`, `maj9` or `(maj9)`. Gives whether a major seventh is named, the number, and the rest
/// of the text.
fn read_number(quality: Quality, text: &str) -> Option<(bool, &'static str, &str)> {
    let takes_major_seventh = matches!(
        quality,
        Quality::Minor | Quality::Diminished | Quality::Augmented
    );
    if takes_major_seventh {
        if let Some((inside, rest)) = text.strip_prefix('(').and_then(|it| it.split_once(')'))
            && let Some(number) = strip_word(inside, MAJOR)
        {
            let number = NUMBERS.into_iter().find(|it| *it == number)?;
            return Some((true, number, rest));
        }
        if let Some(rest) = strip_word(text, MAJOR)
            && let Some(number) = strip_number(rest)
        {
            return Some((true, number, &rest[number.len()..]));
        }
    }
    let number = strip_number(text)?;
    Some((false, number, &text[number.len()..]))
}

fn strip_word<'a>(text: &'a str, words: &[&str]) -> Option<&'a str> {
    words.iter().find_map(|word| text.strip_prefix(word))
}

fn strip_number(text: &str) -> Option<&'static str> {
    NUMBERS.into_iter().find(|number| text.starts_with(number))
}

/// A change that turns one kind of chord into another.
#[derive(Clone, Copy, Debug)]
enum Change {
    /// This tone replaces the third.
    Suspend(Fifths),
    /// This tone replaces the natural tone of its number.
    Alter(Fifths),
    /// This tone is added.
    Add(Fifths),
    OmitThird,
    OmitFifth,
}

impl Change {
    fn apply(self, tones: ChordTones) -> ChordTones {
        match self {
            Change::Suspend(tone) => tones.without_third().with(tone),
            Change::Alter(tone) => {
                let natural = natural_of(tone);
                // A suspended fourth is not an eleventh, so `#11` does not replace it.
                if tones.name(natural).number() == tones.name(tone).number() {
                    tones.without(natural).with(tone)
                } else {
                    tones.with(tone)
                }
            }
            Change::Add(tone) => tones.with(tone),
            Change::OmitThird => tones.without_third(),
            Change::OmitFifth => tones.without_fifth(),
        }
    }

    fn write(self, company: ChordTones, out: &mut String) -> fmt::Result {
        use fmt::Write;
        match self {
            Change::Suspend(SECOND) => out.write_str("sus2"),
            Change::Suspend(_) => out.write_str("sus4"),
            Change::Alter(tone) => write!(out, "{}", company.name(tone)),
            Change::Add(tone) => write!(out, "add{}", company.name(tone)),
            Change::OmitThird => out.write_str("no3"),
            Change::OmitFifth => out.write_str("no5"),
        }
    }
}

fn natural_of(tone: Fifths) -> Fifths {
    tone - 7 * alteration_of(tone)
}

/// Applies every change written in `text`: `sus4`, `b5#9`, `(b9,#11)`, `add9(no3)`.
fn read_changes(tones: ChordTones, text: &str) -> Option<ChordTones> {
    if text.is_empty() {
        return Some(tones);
    }
    let Some(group) = text.strip_prefix('(') else {
        let (run, rest) = text.split_at(text.find('(').unwrap_or(text.len()));
        return read_changes(read_run(tones, run, false)?, rest);
    };
    let (inside, rest) = group.split_once(')')?;
    let tones = inside
        .replace(", ", ",")
        .split([',', ' '])
        .try_fold(tones, |tones, run| read_run(tones, run, true))?;
    read_changes(tones, rest)
}

/// Applies changes written without anything between them, at least one.
fn read_run(tones: ChordTones, text: &str, in_brackets: bool) -> Option<ChordTones> {
    let (change, rest) = read_change(text, tones, in_brackets)?;
    let tones = change.apply(tones);
    if rest.is_empty() {
        Some(tones)
    } else {
        read_run(tones, rest, in_brackets)
    }
}

fn read_change(text: &str, tones: ChordTones, in_brackets: bool) -> Option<(Change, &str)> {
    if let Some(rest) = text.strip_prefix("sus") {
        let (tone, rest) = match (rest.strip_prefix('2'), rest.strip_prefix('4')) {
            (Some(rest), _) => (SECOND, rest),
            (_, Some(rest)) => (FOURTH, rest),
            _ => (FOURTH, rest),
        };
        return Some((Change::Suspend(tone), rest));
    }
    if let Some(rest) = strip_word(text, &["no", "omit"]) {
        return match (rest.strip_prefix('3'), rest.strip_prefix('5')) {
            (Some(rest), _) => Some((Change::OmitThird, rest)),
            (_, Some(rest)) => Some((Change::OmitFifth, rest)),
            _ => None,
        };
    }
    if let Some(rest) = text.strip_prefix("add") {
        let (tone, rest) = read_tone(rest)?;
        return (tone != FIFTH).then_some((Change::Add(tone), rest));
    }
    if let Some(rest) = text.strip_prefix('+')
        && !rest.starts_with(|next: char| next.is_ascii_digit())
    {
        return Some((Change::Alter(8), rest));
    }
    let (tone, rest) = read_tone(text)?;
    if alteration_of(tone) != 0 {
        return Some((Change::Alter(tone), rest));
    }
    // `7(13)` and `6(9)` add a tone to a chord with four tones or more; `C(9)` is ambiguous.
    let is_beyond_triad = tones.seventh().is_some() || tones.has(SIXTH);
    let is_tension = in_brackets && is_beyond_triad && tone != FIFTH;
    is_tension.then_some((Change::Add(tone), rest))
}

/// Reads a tone by its number, such as `9`, `b13` or `+11`.
fn read_tone(text: &str) -> Option<(Fifths, &str)> {
    let (alteration, rest) = match text.as_bytes().first()? {
        b'#' | b'+' => (1, &text[1..]),
        b'b' | b'-' => (-1, &text[1..]),
        _ => (0, text),
    };
    let known: &[i8] = match alteration {
        1 => &[11, 4, 5, 9],
        -1 => &[13, 5, 6, 9],
        _ => &[11, 13, 2, 4, 5, 6, 9],
    };
    known.iter().find_map(|number| {
        let rest = rest.strip_prefix(number.to_string().as_str())?;
        Some((fifths_of(*number, alteration), rest))
    })
}

/// The named kind nearest to these tones, and the changes from it to them.
fn nearest_kind(tones: ChordTones) -> Option<(&'static str, Vec<Change>)> {
    // Most chords are of a named kind, and to try the changes from all of them takes long.
    if let Some(kind) = KINDS.iter().find(|kind| kind.tones == tones) {
        return Some((kind.name, Vec::new()));
    }
    KINDS
        .iter()
        .filter_map(|kind| Some((kind.name, changes_between(kind.tones, tones)?)))
        .min_by_key(|(_, changes)| changes.len())
}

/// How many changes turn a named kind into these tones; `None` when no changes do, or when too
/// little of a chord is left.
pub(super) fn plainness(tones: ChordTones) -> Option<usize> {
    let is_chord = tones.third().is_some() || tones != tones.without_fifth();
    nearest_kind(tones)
        .filter(|_| is_chord)
        .map(|(_, changes)| changes.len())
}

/// Writes the kind with as few words as it takes.
pub(super) fn write_kind(tones: ChordTones, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    // Every set that can be read can be written: a test tries them all.
    let Some((name, changes)) = nearest_kind(tones) else {
        return Err(fmt::Error);
    };
    let mut text = String::new();
    for change in changes {
        change.write(tones, &mut text)?;
    }
    // `Cb5` would be a chord on C flat.
    if name.is_empty() && text.starts_with(['b', '#']) {
        write!(f, "({text})")
    } else {
        write!(f, "{name}{text}")
    }
}

/// The changes that turn one set of tones into another, if any do, in the order in which they are
/// written.
fn changes_between(from: ChordTones, to: ChordTones) -> Option<Vec<Change>> {
    let mut changes = Vec::new();
    let mut tones = from;
    let mut make = |change: Change, tones: &mut ChordTones| {
        *tones = change.apply(*tones);
        changes.push(change);
    };
    if from.third().is_some() && to.third().is_none() {
        let suspension = [FOURTH, SECOND].into_iter().find(|tone| to.has(*tone));
        make(
            suspension.map_or(Change::OmitThird, Change::Suspend),
            &mut tones,
        );
    }
    let has_no_fifth = to == to.without_fifth();
    let loses_altered_fifth = [-6, 8]
        .iter()
        .any(|tone| tones.has(*tone) && !to.has(*tone));
    if loses_altered_fifth || (has_no_fifth && tones.has(FIFTH)) {
        make(Change::OmitFifth, &mut tones);
    }
    for tone in to.stacked() {
        if tones.has(tone) {
            continue;
        }
        let is_tension = to.name(tone).number() > 7;
        let replaces = alteration_of(tone) != 0 && !to.has(natural_of(tone));
        let change = if replaces && (!is_tension || to.seventh().is_some()) {
            Change::Alter(tone)
        } else {
            Change::Add(tone)
        };
        make(change, &mut tones);
    }
    // A difference that no change describes, such as another third or seventh, is found here.
    let can_be_said = changes.iter().all(|change| match change {
        Change::Add(tone) | Change::Alter(tone) => {
            !matches!(to.name(*tone).number(), 3 | 7) && *tone != FIFTH
        }
        _ => true,
    });
    (tones == to && can_be_said).then_some(changes)
}

#[cfg(test)]
mod tests {
    use super::*;

    struct WrittenTones(ChordTones);

    impl fmt::Display for WrittenTones {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            write_kind(self.0, f)
        }
    }

    #[test]
    fn every_set_of_tones_that_can_be_read_is_written_and_read_back() {
        let thirds = [None, Some(-3), Some(4)];
        let sevenths = [None, Some(-2), Some(5), Some(-9)];
        let others = [-1, 2, 3, -4, -5, 9, 6, -6, 8, 1];
        let mut count = 0;
        for third in thirds {
            for seventh in sevenths {
                for mask in 0..1 << others.len() {
                    let chosen = (0..others.len())
                        .filter(|bit| mask >> bit & 1 == 1)
                        .map(|bit| others[bit]);
                    let tones = third
                        .into_iter()
                        .chain(seventh)
                        .chain(chosen)
                        .fold(ChordTones::formula("1"), ChordTones::with);
                    // Only `dim7` has a diminished seventh, and it has no perfect fifth and no
                    // major third.
                    if seventh == Some(-9) && (third == Some(4) || tones.has(FIFTH)) {
                        continue;
                    }
                    let text = WrittenTones(tones).to_string();
                    assert_eq!(read_kind(&text), Some(tones), "{text}");
                    count += 1;
                }
            }
        }
        assert_eq!(count, 3 * 3 * 1024 + 2 * 512);
    }
}
