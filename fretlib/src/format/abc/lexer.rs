//! The signs of a line of music, one at a time, without allocation.

#[cfg(test)]
mod tests;

use crate::format::abc::note_length::Length;
use crate::format::abc::problem::Problem;
use crate::format::abc::source::{Field, SourceLine};
use crate::format::bar_line::{self, BarLine};
use crate::format::form_words;
use crate::format::limits::LARGEST_NUMBER;
use crate::melody::{Endings, FormSign};
use crate::theory::Letter;

/// A sign that matters to the melody. Grace notes, decorations, slurs and spacing are skipped.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Token<'a> {
    /// `^c'3/2`
    Note(Staff, Length),
    /// `z` or `x`
    Rest(Length),
    /// `Z4`: rest for this many bars
    BarRest(u32),
    /// `[` ahead of a note: the start of a chord written out
    StackOpen,
    /// `]`
    StackClose(Length),
    /// `|`, `:|`, `|1` and other bar lines
    Bar(BarLine),
    /// `[1`
    Ending(Endings),
    /// `!D.C.!`
    Form(FormSign),
    /// `>>` (2) or `<<` (−2)
    Broken(i8),
    /// `-`
    Tie,
    /// `(3:2:4`
    Tuplet {
        notes: u32,
        time: Option<u32>,
        span: Option<u32>,
    },
    /// `"…"`: a chord symbol or an annotation
    Quoted(&'a [u8]),
    /// `[K:G]`
    Field(Field<'a>),
    /// `&`
    Overlay,
    /// `(&`
    OverlayOpen,
    /// `&)`
    OverlayClose,
    /// A letter that stands for a decoration, predefined or defined by the tune
    Sign(u8),
    /// Anything else
    Unknown(char),
}

/// Where a note stands on the staff, with the accidental printed before it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Staff {
    pub letter: Letter,
    /// The octave of scientific pitch notation, limited to ±20.
    pub octave: i8,
    pub accidental: Option<i8>,
    /// The accidental was finer than a semitone and is rounded.
    pub is_rounded: bool,
}

impl Staff {
    /// Diatonic steps above C0.
    pub fn steps(self) -> i16 {
        i16::from(self.letter.steps()) + 7 * i16::from(self.octave)
    }
}

/// Reads the letter of a note: capitals from middle C up, small letters an octave above.
pub(super) fn pitch_letter(byte: u8) -> Option<(Letter, i8)> {
    let octave = match byte {
        b'A'..=b'G' => 4,
        b'a'..=b'g' => 5,
        _ => return None,
    };
    Letter::from_char(byte.into()).map(|letter| (letter, octave))
}

/// Reads a line of music from left to right.
pub(super) struct Lexer<'a> {
    text: &'a [u8],
    base: usize,
    at: usize,
    start: usize,
    /// A stack of notes is open that began with `+`.
    in_old_stack: bool,
}

impl<'a> Lexer<'a> {
    pub fn new(line: SourceLine<'a>) -> Lexer<'a> {
        Lexer {
            text: line.text,
            base: line.start,
            at: 0,
            start: 0,
            in_old_stack: false,
        }
    }

    /// The start of the last sign in the file.
    pub fn start(&self) -> usize {
        self.base + self.start
    }

    fn peek(&self, ahead: usize) -> u8 {
        // No sign of music is a zero byte.
        self.text.get(self.at + ahead).copied().unwrap_or(0)
    }

    /// Takes the bytes up to `close` and skips it; `None` when `close` is not on the line.
    fn up_to(&mut self, close: u8) -> Option<&'a [u8]> {
        let rest = self.text.get(self.at..)?;
        let length = rest.iter().position(|byte| *byte == close)?;
        self.at += length + 1;
        Some(&rest[..length])
    }

    /// It stays open: reading continues on the next line.
    fn unclosed(&mut self, open: char) -> Problem {
        self.at = self.text.len();
        Problem::Unclosed(open)
    }

    /// Reads digits; `None` when there are none.
    fn number(&mut self) -> Result<Option<u32>, Problem> {
        if !self.peek(0).is_ascii_digit() {
            return Ok(None);
        }
        let mut value = 0u32;
        while let digit @ b'0'..=b'9' = self.peek(0) {
            value = value
                .saturating_mul(10)
                .saturating_add(u32::from(digit - b'0'));
            self.at += 1;
        }
        match value {
            0 => Err(Problem::Zero),
            1..=LARGEST_NUMBER => Ok(Some(value)),
            _ => Err(Problem::TooLarge),
        }
    }

    /// Reads the length after a note: `2`, `3/2`, `/`, `//`, nothing.
    fn length(&mut self) -> Result<Length, Problem> {
        let numer = self.number()?.unwrap_or(1);
        let mut denom = 1u32;
        while self.peek(0) == b'/' {
            self.at += 1;
            denom = denom.saturating_mul(self.number()?.unwrap_or(2));
        }
        if denom > LARGEST_NUMBER {
            return Err(Problem::TooLarge);
        }
        Length::new(numer, denom).ok_or(Problem::Zero)
    }

    /// An accidental, and whether it is rounded: a quarter tone, which a fret cannot give, becomes the semitone nearer the
    /// natural note. Source: ABC 2.1, 4.2 (from memory): `^/c` is half a sharp, `_3/2c` a flat and a half.
    fn accidental(&mut self) -> Result<(Option<i8>, bool), Problem> {
        let start = self.at;
        while matches!(self.peek(0), b'^' | b'_' | b'=') {
            self.at += 1;
        }
        let accidental = match &self.text[start..self.at] {
            b"" => None,
            b"^" => Some(1),
            b"^^" => Some(2),
            b"_" => Some(-1),
            b"__" => Some(-2),
            b"=" => Some(0),
            _ => {
                self.skip_note();
                return Err(Problem::BadAccidental);
            }
        };
        let (Some(sharps), b'/' | b'0'..=b'9') = (accidental, self.peek(0)) else {
            return Ok((accidental, false));
        };
        let numer = self.number()?.unwrap_or(1);
        let denom = match self.peek(0) {
            b'/' => {
                self.at += 1;
                self.number()?.unwrap_or(2)
            }
            _ => 1,
        };
        let semitones = i64::from(sharps) * i64::from(numer) / i64::from(denom);
        Ok((Some(semitones.clamp(-2, 2) as i8), true))
    }

    /// Skips the rest of an unreadable note, so that it is reported once.
    fn skip_note(&mut self) {
        let is_part =
            |byte: u8| matches!(byte, b'0'..=b'9' | b'/' | b'^' | b'_' | b'=' | b',' | b'\'');
        while is_part(self.peek(0)) {
            self.at += 1;
        }
        if pitch_letter(self.peek(0)).is_some() {
            self.at += 1;
            while is_part(self.peek(0)) {
                self.at += 1;
            }
        }
    }

    fn note(&mut self) -> Result<Token<'a>, Problem> {
        let (accidental, is_rounded) = self.accidental()?;
        let (letter, mut octave) = pitch_letter(self.peek(0)).ok_or(Problem::StrayAccidental)?;
        self.at += 1;
        loop {
            octave = match self.peek(0) {
                b'\'' => (octave + 1).min(20),
                b',' => (octave - 1).max(-20),
                _ => break,
            };
            self.at += 1;
        }
        let staff = Staff {
            letter,
            octave,
            accidental,
            is_rounded,
        };
        Ok(Token::Note(staff, self.length()?))
    }

    /// Reads a bar line in any of its forms, with the number of an ending if one follows.
    fn bar(&mut self) -> Token<'a> {
        let start = self.at;
        while matches!(self.peek(0), b'|' | b':' | b']')
            || (self.at == start && self.peek(0) == b'[')
        {
            self.at += 1;
        }
        let signs = &self.text[start..self.at];
        if signs == b":" {
            return Token::Unknown(':');
        }
        let mut line = BarLine::of(signs);
        let after = self.at;
        while self.peek(0) == b' ' {
            self.at += 1;
        }
        if self.peek(0).is_ascii_digit() {
            line.ending = self.ending();
        } else {
            self.at = after;
        }
        Token::Bar(line)
    }

    /// Reads the numbers of an ending: `1`, `2-3`, `1,3`; `None` when they are not valid.
    fn ending(&mut self) -> Option<Endings> {
        let rest = &self.text[self.at..];
        let length = bar_line::ending_length(rest);
        self.at += length;
        bar_line::parse_endings(&rest[..length])
    }

    fn tuplet(&mut self) -> Result<Token<'a>, Problem> {
        let notes = self.number()?.unwrap_or(1);
        let mut parts = [None; 2];
        for part in &mut parts {
            if self.peek(0) != b':' || self.peek(1) == b'|' {
                break;
            }
            self.at += 1;
            *part = self.number()?;
        }
        let [time, span] = parts;
        Ok(Token::Tuplet { notes, time, span })
    }

    fn broken(&mut self, sign: u8) -> Result<Token<'a>, Problem> {
        let start = self.at;
        while self.peek(0) == sign {
            self.at += 1;
        }
        match self.at - start {
            count @ 1..=3 if sign == b'>' => Ok(Token::Broken(count as i8)),
            count @ 1..=3 => Ok(Token::Broken(-(count as i8))),
            _ => Err(Problem::TooBroken),
        }
    }

    /// Reads `!D.C.!` and skips `!trill!` or `+trill+`. In old files a single `!` is a line break.
    fn decoration(&mut self, mark: u8) -> Option<Token<'a>> {
        let start = self.at;
        let is_name = |name: &[u8]| {
            name.len() <= 40
                && !name.contains(&b'|')
                && (mark == b'!' || name.iter().all(u8::is_ascii_alphanumeric))
        };
        self.at += 1;
        match self.up_to(mark).filter(|name| is_name(name)) {
            Some(name) => form_words::parse(&String::from_utf8_lossy(name)).map(Token::Form),
            None => {
                self.at = start + 1;
                (mark != b'!').then_some(Token::Unknown(mark.into()))
            }
        }
    }

    /// Reads `+GB+`, which is how old files stack notes; none when it is no such stack. A row of `f` is forte.
    ///
    /// Source: ABC 1.6 (from memory).
    fn old_stack(&mut self) -> Option<Token<'a>> {
        let rest = self.text.get(self.at + 1..)?;
        let inside = &rest[..rest.iter().position(|byte| *byte == b'+')?];
        let is_part = |byte: &u8| matches!(byte, b'A'..=b'G' | b'a'..=b'g' | b'0'..=b'9' | b'/' | b'^' | b'_' | b'=' | b',' | b'\'');
        let has_note = inside.iter().any(u8::is_ascii_alphabetic);
        let is_forte = inside.iter().all(|byte| *byte == b'f');
        if !has_note || is_forte || !inside.iter().all(is_part) {
            return None;
        }
        self.at += 1;
        self.in_old_stack = true;
        Some(Token::StackOpen)
    }

    fn inline_field(&mut self) -> Result<Token<'a>, Problem> {
        let name = self.peek(1);
        self.at += 3;
        match self.up_to(b']') {
            Some(value) => Ok(Token::Field(Field {
                name,
                value: value.trim_ascii(),
                start: self.start(),
            })),
            None => Err(self.unclosed('[')),
        }
    }

    /// A character without a meaning in music; a byte that is not UTF-8 counts as Latin-1.
    fn unknown(&mut self, first: u8) -> Token<'a> {
        let rest = &self.text[self.at..];
        let longest = &rest[..rest.len().min(4)];
        let valid = longest
            .utf8_chunks()
            .next()
            .map_or("", |chunk| chunk.valid());
        let (character, length) = match valid.chars().next() {
            Some(character) => (character, character.len_utf8()),
            None => (char::from(first), 1),
        };
        self.at += length;
        Token::Unknown(character)
    }
}

impl<'a> Iterator for Lexer<'a> {
    type Item = Result<Token<'a>, Problem>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            self.start = self.at;
            let byte = *self.text.get(self.at)?;
            let single = |lexer: &mut Self, token| {
                lexer.at += 1;
                Some(Ok(token))
            };
            match byte {
                b'A'..=b'G' | b'a'..=b'g' | b'^' | b'_' | b'=' => return Some(self.note()),
                b'z' | b'x' => {
                    self.at += 1;
                    return Some(self.length().map(Token::Rest));
                }
                b'Z' | b'X' => {
                    self.at += 1;
                    return Some(self.number().map(|bars| Token::BarRest(bars.unwrap_or(1))));
                }
                b'|' | b':' => return Some(Ok(self.bar())),
                b'[' => match self.peek(1) {
                    b'|' => return Some(Ok(self.bar())),
                    b'0'..=b'9' => {
                        self.at += 1;
                        if let Some(ending) = self.ending() {
                            return Some(Ok(Token::Ending(ending)));
                        }
                    }
                    letter if letter.is_ascii_alphabetic() && self.peek(2) == b':' => {
                        return Some(self.inline_field());
                    }
                    _ => return single(self, Token::StackOpen),
                },
                b']' => {
                    self.at += 1;
                    return Some(self.length().map(Token::StackClose));
                }
                b'>' | b'<' => return Some(self.broken(byte)),
                b'-' => return single(self, Token::Tie),
                b'(' => {
                    self.at += 1;
                    match self.peek(0) {
                        b'0'..=b'9' => return Some(self.tuplet()),
                        b'&' => return single(self, Token::OverlayOpen),
                        _ => {}
                    }
                }
                b'&' => {
                    self.at += 1;
                    if self.peek(0) == b')' {
                        return single(self, Token::OverlayClose);
                    }
                    return Some(Ok(Token::Overlay));
                }
                b'"' => {
                    self.at += 1;
                    return Some(match self.up_to(b'"') {
                        Some(text) => Ok(Token::Quoted(text)),
                        None => Err(self.unclosed('"')),
                    });
                }
                b'{' => {
                    if self.up_to(b'}').is_none() {
                        return Some(Err(self.unclosed('{')));
                    }
                }
                b'+' if self.in_old_stack => {
                    self.at += 1;
                    self.in_old_stack = false;
                    return Some(self.length().map(Token::StackClose));
                }
                b'!' | b'+' => {
                    if let Some(token) = (byte == b'+').then(|| self.old_stack()).flatten() {
                        return Some(Ok(token));
                    }
                    if let Some(token) = self.decoration(byte) {
                        return Some(Ok(token));
                    }
                }
                b'H'..=b'W' | b'h'..=b'w' | b'~' => return single(self, Token::Sign(byte)),
                b'y' => {
                    self.at += 1;
                    if let Err(problem) = self.length() {
                        return Some(Err(problem));
                    }
                }
                b'0'..=b'9' | b'/' => {
                    self.skip_note();
                    return Some(Err(Problem::StrayNumber));
                }
                // Slur ends, staccato dots, beam and line breaks, continuation; the last four are reserved by the
                // standard.
                b' ' | b'\t' | b')' | b'.' | b'`' | b'\\' | b'$' | b'*' | b'#' | b';' | b'@' => {
                    self.at += 1
                }
                _ => return Some(Ok(self.unknown(byte))),
            }
        }
    }
}
