//! Chord symbols, and the degree of a note over one.

mod symbol;
mod tones;

use std::fmt;
use std::str::FromStr;

pub use self::tones::ChordDegree;

use self::symbol::{plainness, read_kind, write_kind};
use self::tones::{ChordTones, fifths_of};
use super::interval::Interval;
use super::pitch_class::PitchClass;
use crate::error::{OutOfRange, ParseError, check_range};

/// A chord symbol: a root, a kind and perhaps another bass note.
///
/// Two symbols for the same tones over the same root and bass are the same chord: `C-7`, `Cmi7` and `Cm7` are equal, and
/// print as `Cm7`.
///
/// ```
/// use fretlib::theory::Chord;
///
/// let chord: Chord = "F♯ø7".parse()?;
/// assert_eq!(chord.to_string(), "F#m7b5");
/// let tones: Vec<String> = chord.tones().iter().map(ToString::to_string).collect();
/// assert_eq!(tones, ["F#", "A", "C", "E"]);
/// assert_eq!(chord.degree("G#".parse()?).to_string(), "9");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
///
/// # What a symbol stands for
///
/// Common practice agrees on most symbols. Where usage varies, a symbol here means exactly what it spells out; the
/// rest is left to the player:
///
/// * `11` has the major third: thirds are stacked up to the eleventh. Without the third, `C11` and
///   `C9sus4` would be the same chord.
/// * `13`, `maj13` and `m13` have no eleventh: the symbol does not ask for it, and players avoid it
///   over a major third.
/// * `7b13` keeps the perfect fifth, as `7b9` does; the chord without it is `7#5`.
/// * `7alt` is every alteration at once, `1 3 b5 #5 b7 b9 #9`, since the symbol leaves the choice open.
/// * An alteration replaces the natural tone of its number (`13b9` has no 9), `add` adds to what is there.
/// * `sus` is `sus4`; `C(b9)` without a seventh is a triad with that note.
/// * `C2`, `C4`, `C+11` and `Cdim9` mean different things to different people and are refused.
#[derive(Clone, Copy, Eq, Hash, PartialEq)]
pub struct Chord {
    // Invariant: far enough from the ends of the line of fifths for every chord tone to exist.
    root: PitchClass,
    kind: ChordTones,
    // Invariant: not the root.
    bass: Option<PitchClass>,
}

impl Chord {
    /// The kinds of chord that MusicXML 4.0 names (data type kind-value): the name, and the part of the symbol after
    /// the root.
    ///
    /// ```
    /// use fretlib::theory::Chord;
    ///
    /// let symbol = Chord::kinds_in_musicxml().find(|(word, _)| *word == "half-diminished");
    /// assert_eq!(symbol, Some(("half-diminished", "m7b5")));
    /// ```
    pub fn kinds_in_musicxml() -> impl Iterator<Item = (&'static str, &'static str)> {
        symbol::musicxml_kinds()
    }

    const LOWEST_ROOT: i64 = -20;
    const HIGHEST_ROOT: i64 = 24;

    fn new(
        root: PitchClass,
        kind: ChordTones,
        bass: Option<PitchClass>,
    ) -> Result<Chord, OutOfRange> {
        check_range(
            "chord root's place on the line of fifths",
            root.fifths().into(),
            Self::LOWEST_ROOT,
            Self::HIGHEST_ROOT,
        )?;
        Ok(Chord {
            root,
            kind,
            bass: bass.filter(|bass| *bass != root),
        })
    }

    /// Reads what stands over a melody: a chord, or `N.C.` (also `NC`) for "no chord".
    ///
    /// A chord in brackets, which may be left out, is read as the others. H is the German name of B natural.
    ///
    /// # Errors
    ///
    /// When the whole text is neither.
    ///
    /// ```
    /// use fretlib::theory::Chord;
    ///
    /// assert_eq!(Chord::parse_symbol("N.C.")?, None);
    /// assert_eq!(Chord::parse_symbol("Am7/G")?, Some("A-7/G".parse()?));
    /// assert_eq!(Chord::parse_symbol("(G7)")?, Some("G7".parse()?));
    /// assert_eq!(Chord::parse_symbol("H7/F#")?, Some("B7/F#".parse()?));
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn parse_symbol(text: &str) -> Result<Option<Chord>, ParseError> {
        match text {
            "N.C." | "N.C" | "NC" | "n.c." | "nc" => Ok(None),
            _ => read_chart_chord(text).map(Some),
        }
    }

    /// The simplest chord with exactly these notes, the first of them in the bass; `None` when no
    /// symbol describes them.
    ///
    /// Spelling matters; repeated notes count once. Each alteration, addition or omission makes a reading less simple.
    /// So does a bass other than the root, and a bass outside the chord counts twice. Chosen by what players write.
    ///
    /// ```
    /// use fretlib::theory::Chord;
    ///
    /// let chord = |notes: &str| {
    ///     let notes: Vec<_> = notes.split(' ').map(|name| name.parse().unwrap()).collect();
    ///     Chord::from_notes(&notes).map(|chord| chord.to_string())
    /// };
    /// assert_eq!(chord("C E G"), Some("C".into()));
    /// assert_eq!(chord("E G C"), Some("C/E".into()));
    /// assert_eq!(chord("D F Ab C"), Some("Dm7b5".into()));
    /// assert_eq!(chord("F C E G A"), Some("Fmaj9".into()));
    /// assert_eq!(chord("C C# D"), None);
    /// ```
    pub fn from_notes(notes: &[PitchClass]) -> Option<Chord> {
        let bass = *notes.first()?;
        let above = &notes[1..];
        let is_foreign = !above.contains(&bass);
        // The bass as a chord tone, and the bass as a note added under the chord.
        let with_bass = notes.iter().map(|root| (*root, notes, 0));
        let without = above.iter().map(|root| (*root, above, 1));
        with_bass
            .chain(without.filter(|_| is_foreign))
            .filter_map(|(root, notes, more)| {
                let tones = ChordTones::above(root, notes)?;
                let chord = Chord::new(root, tones, Some(bass)).ok()?;
                let is_inverted = root != bass;
                Some((
                    plainness(tones)? + more + usize::from(is_inverted),
                    is_inverted,
                    chord,
                ))
            })
            .min_by_key(|(cost, is_inverted, chord)| (*cost, *is_inverted, chord.to_string().len()))
            .map(|(_, _, chord)| chord)
    }

    /// The note the chord is built on.
    pub const fn root(self) -> PitchClass {
        self.root
    }

    /// The lowest note: the one after the slash, else the root.
    pub fn bass(self) -> PitchClass {
        self.bass.unwrap_or(self.root)
    }

    /// The chord tones from the root upwards: 1 3 5 7 9 11 13, as many as there are, without a bass
    /// that is no chord tone.
    pub fn tones(self) -> Vec<PitchClass> {
        self.kind
            .stacked()
            .into_iter()
            .map(|tone| {
                match PitchClass::from_fifths(i16::from(self.root.fifths()) + i16::from(tone)) {
                    Ok(class) => class,
                    Err(_) => unreachable!(),
                }
            })
            .collect()
    }

    /// What a melody note is over this chord.
    ///
    /// Common practice, no source; where usage varies this is our reading of it:
    ///
    /// 1. A note that sounds like a chord tone is that chord tone, however it is spelled: D# over Cm7 is `b3`, Eb over
    ///    C7#9 is `#9`, A over Cdim7 is `bb7`. Where two chord tones sound alike, the spelling chooses.
    /// 2. The second is `9`, but `2` in a sus2 chord. The fourth is `11` over a third, else `4`. The sixth is `13` over a
    ///    seventh, else `6`; and so is `b13` against `b6`.
    /// 3. The spelling chooses between `#11` and `b5`, and between `#5` and `b13`.
    /// 4. The minor third over a major one is `#9` when the chord has a seventh, even if spelled Eb over C7; over triads
    ///    and sixth chords the spelling chooses between `#9` and the blue `b3`.
    /// 5. Everything else is named by its sound: C# over C is `b9`, Cb is `7`, E# over C is `11`.
    ///
    /// The root counts, not the bass.
    ///
    /// ```
    /// use fretlib::theory::Chord;
    ///
    /// let over = |chord: &str, note: &str| -> Result<String, fretlib::ParseError> {
    ///     Ok(chord.parse::<Chord>()?.degree(note.parse()?).to_string())
    /// };
    /// assert_eq!(over("C7", "A")?, "13");
    /// assert_eq!(over("C6", "A")?, "6");
    /// assert_eq!(over("C7", "Eb")?, "#9");
    /// assert_eq!(over("Cm7", "Eb")?, "b3");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn degree(self, class: PitchClass) -> ChordDegree {
        self.kind.degree(class.fifths() - self.root.fifths())
    }

    /// The spelled note of a degree of this chord: the `#11` of Bb7 is E.
    ///
    /// ```
    /// use fretlib::theory::Chord;
    ///
    /// let chord: Chord = "Bb7".parse()?;
    /// assert_eq!(chord.class_of("#11".parse()?).to_string(), "E");
    /// assert_eq!(chord.class_of("b9".parse()?).to_string(), "Cb");
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn class_of(self, degree: ChordDegree) -> PitchClass {
        let above = fifths_of(degree.number() as i8, degree.alteration());
        // Every degree is within nine fifths of the root, and every root at least that far from
        // both ends of the line.
        PitchClass::from_fifths(i16::from(self.root.fifths()) + i16::from(above))
            .unwrap_or(self.root)
    }

    /// The chord moved by an interval.
    ///
    /// # Errors
    ///
    /// When a note would need more than four sharps or flats.
    pub fn transpose(&self, interval: Interval) -> Result<Chord, OutOfRange> {
        Chord::new(
            self.root.transpose(interval)?,
            self.kind,
            self.bass.map(|bass| bass.transpose(interval)).transpose()?,
        )
    }
}

impl fmt::Display for Chord {
    /// The one spelling this program prints, with `#` and `b`: `Bbmaj7`, `F#m7b5`, `C7(b9)` as `C7b9`, `C/E`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.root)?;
        write_kind(self.kind, f)?;
        match self.bass {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

impl fmt::Debug for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

fn read_chart_chord(text: &str) -> Result<Chord, ParseError> {
    let inside = text.strip_prefix('(').and_then(|it| it.strip_suffix(')'));
    let symbol = inside.filter(|it| !it.contains(['(', ')'])).unwrap_or(text);
    let (chord, bass) = symbol.split_once('/').unwrap_or((symbol, ""));
    if !chord.starts_with('H') && bass != "H" {
        return symbol.parse();
    }
    let in_english = symbol.replace('H', "B");
    // The message is about the text as it stands.
    let refused = |_| ParseError::unreadable(text, "a chord symbol such as Am7, F#m7b5 or H7");
    in_english.parse().map_err(refused)
}

impl FromStr for Chord {
    type Err = ParseError;

    /// Reads a chord symbol as printed on charts; see [`Chord`] for its meaning.
    ///
    /// The root is a capital letter, since a small `b` is a flat, and takes every `#` or `b` that follows: `Cb5` is a
    /// power chord on C flat, `C(b5)` the other. Words: `maj` `ma` `M` `Δ`, `m` `min` `mi` `-`, `dim` `°` `o`, `ø`,
    /// `aug` `+`, `sus` `sus4` `sus2`, `alt`, `add`, `no` or `omit`; `5` `6` `6/9` `69` `7` `9` `11` `13`; alterations
    /// with `#` or `+`, `b` or `-`, alone or in brackets. A letter after the last slash is the bass.
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let unreadable =
            || ParseError::unreadable(text, "a chord symbol such as Am7, F#m7b5 or C7(b9)/E");
        // Longer than any symbol, yet short enough to read quickly.
        if text.len() > 64 {
            return Err(unreadable());
        }
        let (symbol, bass) = match text.rsplit_once('/') {
            Some((symbol, bass)) if bass.starts_with(|first: char| first.is_alphabetic()) => {
                let bass: PitchClass = bass.parse().map_err(|_| unreadable())?;
                (symbol, Some(bass))
            }
            _ => (text, None),
        };
        if !symbol.starts_with(|first: char| first.is_ascii_uppercase()) {
            return Err(unreadable());
        }
        let root_end = symbol[1..]
            .find(|sign| !matches!(sign, '#' | '♯' | 'b' | '♭'))
            .map_or(symbol.len(), |index| index + 1);
        let (root, kind) = symbol.split_at(root_end);
        let root: PitchClass = root.parse().map_err(|_| unreadable())?;
        let kind = read_kind(kind).ok_or_else(unreadable)?;
        Ok(Chord::new(root, kind, bass)?)
    }
}

#[cfg(test)]
mod tests;
