//! Words under a line of notes, as ABC and our own tunes write them: `Lan-terns on the wa-ter _`.

use std::fmt::Write;

use crate::melody::{Quarters, Syllable};

/// A word or sign in a line of lyrics.
#[derive(Clone, Debug, Eq, PartialEq)]
enum LyricSign {
    Syllable {
        text: String,
        joins: bool,
    },
    /// `_` or `*`: a note without a syllable.
    Skip,
    /// `|`: on to the next bar.
    BarLine,
}

/// A note that a syllable can stand under.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SungNote {
    pub onset: Quarters,
    /// It goes on from the note before, so that a syllable under it has no place.
    pub is_tied: bool,
}

/// A line of lyrics under its notes.
pub(super) struct SetLine {
    pub syllables: Vec<Syllable>,
    /// How many syllables have no note.
    pub left_over: usize,
}

/// Sets a line of lyrics under notes. `letters` makes letters out of the escapes of a format.
///
/// Source: ABC 2.1, 5.1 (from memory): `-` parts the syllables of a word, `_` holds the one before over another note, `*` leaves
/// a note out, `~` is a space inside a syllable, `\-` a hyphen, and `|` goes on to the next bar. A hyphen that stands alone or
/// follows another holds the syllable as well. What is left over at the end of the notes is counted.
pub(super) fn set_under(
    line: &str,
    verse: u8,
    notes: &[SungNote],
    bars: &[Quarters],
    letters: impl Fn(&str) -> String,
) -> SetLine {
    let bar_of = |note: &SungNote| bars.partition_point(|bar| *bar <= note.onset);
    let mut syllables = Vec::new();
    let mut left_over = 0;
    let mut next = 0usize;
    let mut bar = notes.first().map_or(0, bar_of);
    for sign in signs(line) {
        match sign {
            LyricSign::BarLine => {
                let before = next.checked_sub(1).and_then(|last| notes.get(last));
                bar = before.map_or(bar, |note| bar.max(bar_of(note))) + 1;
                next = notes.partition_point(|note| bar_of(note) < bar).max(next);
            }
            LyricSign::Skip => next += 1,
            LyricSign::Syllable { text, joins } => {
                let Some(note) = notes.get(next) else {
                    left_over += 1;
                    continue;
                };
                next += 1;
                if !note.is_tied {
                    syllables.push(Syllable {
                        onset: note.onset,
                        verse,
                        text: letters(&text),
                        joins,
                    });
                }
            }
        }
    }
    SetLine {
        syllables,
        left_over,
    }
}

fn signs(line: &str) -> Vec<LyricSign> {
    let mut signs = Vec::new();
    let mut text = String::new();
    // What ends a syllable, and whether it goes on with the next one.
    let close = |text: &mut String, signs: &mut Vec<LyricSign>, joins: bool| {
        let is_there = !text.is_empty();
        if is_there {
            let text = std::mem::take(text);
            signs.push(LyricSign::Syllable { text, joins });
        }
        is_there
    };
    let mut rest = line.chars().peekable();
    while let Some(sign) = rest.next() {
        match sign {
            '\\' => match rest.next_if(|next| matches!(next, '-' | '_' | '*' | '~' | '|')) {
                Some(next) => text.push(next),
                None => text.push('\\'),
            },
            '~' => text.push(' '),
            '-' => {
                if !close(&mut text, &mut signs, true) {
                    signs.push(LyricSign::Skip);
                }
            }
            '_' | '*' => {
                close(&mut text, &mut signs, false);
                signs.push(LyricSign::Skip);
            }
            '|' => {
                close(&mut text, &mut signs, false);
                signs.push(LyricSign::BarLine);
            }
            sign if sign.is_whitespace() => {
                close(&mut text, &mut signs, false);
            }
            sign => text.push(sign),
        }
    }
    close(&mut text, &mut signs, false);
    signs
}

/// Writes the lyrics of one verse under notes, which are one syllable or `_` each; `None` when nothing is sung to them.
pub(super) fn write_under(notes: &[SungNote], verse: u8, lyrics: &[Syllable]) -> Option<String> {
    let mut line = String::new();
    let mut last_written = 0;
    for note in notes {
        let first = lyrics.partition_point(|it| (it.onset, it.verse) < (note.onset, verse));
        let syllable = lyrics
            .get(first)
            .filter(|it| (it.onset, it.verse) == (note.onset, verse) && !note.is_tied);
        if !line.is_empty() && !line.ends_with('-') {
            line.push(' ');
        }
        match syllable {
            None => line.push('_'),
            Some(it) => {
                for letter in it.text.chars() {
                    match letter {
                        ' ' => line.push('~'),
                        '-' | '_' | '*' | '~' | '|' => {
                            // Writing to a string does not fail.
                            let _ = write!(line, "\\{letter}");
                        }
                        letter => line.push(letter),
                    }
                }
                if it.joins {
                    line.push('-');
                }
                last_written = line.len();
            }
        }
    }
    line.truncate(last_written);
    (last_written > 0).then_some(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(count: i64) -> Vec<SungNote> {
        let note = |onset| SungNote {
            onset: Quarters::from(onset),
            is_tied: onset == 3,
        };
        (0..count).map(note).collect()
    }

    /// Bars of two notes.
    fn set(line: &str) -> String {
        let bars: Vec<Quarters> = (0..4).map(|bar| Quarters::from(2 * bar)).collect();
        let set = set_under(line, 1, &notes(7), &bars, str::to_owned);
        let set = set.syllables.iter().map(|it| {
            let joins = if it.joins { "-" } else { "" };
            format!("{}:{}{joins}", it.onset, it.text)
        });
        set.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_line_is_set_under_its_notes() {
        assert_eq!(set("Lan-terns on _ the"), "0:Lan- 1:terns 2:on 4:the");
        assert_eq!(set("one | two | three"), "0:one 2:two 4:three");
        assert_eq!(set("one two | three"), "0:one 1:two 2:three");
        assert_eq!(set("* a_ b"), "1:a", "b falls on the tied note");
        assert_eq!(set("of~the well\\-known--quay"), "0:of the 1:well-known-");
        assert_eq!(set("a b c _ d e f g h"), "0:a 1:b 2:c 4:d 5:e 6:f");
        assert_eq!(set(""), "");
    }

    #[test]
    fn what_is_written_is_read_back() {
        for line in ["Lan-terns on _ the", "_ a _ _ b\\-c~d\\_e", "a _ _ _ b-c-d"] {
            let bars = [Quarters::ZERO];
            let set = set_under(line, 1, &notes(7), &bars, str::to_owned);
            assert_eq!(
                write_under(&notes(7), 1, &set.syllables).as_deref(),
                Some(line)
            );
        }
        assert_eq!(write_under(&notes(3), 1, &[]), None);
    }
}
