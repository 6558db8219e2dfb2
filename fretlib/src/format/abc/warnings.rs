//! Warnings of a reading, each given once.

use super::decoding::{quote, visible};

/// A kind of warning that may come up many times in a tune.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum WarningKind {
    Stacks,
    Overlays,
    Octaves,
    Slurred,
    Tuplets,
    Latin1,
    Macros,
    KeyGivenUp,
    Meter,
    Tempo,
    Lyrics,
    QuarterTones,
    OpenTie,
}

/// Warnings in the order in which they came up.
#[derive(Clone, Debug, Default)]
pub(super) struct Warnings {
    list: Vec<String>,
    said: Vec<WarningKind>,
    unread_chords: Vec<String>,
    unread_signs: Vec<char>,
}

/// The most chord symbols or characters named in one warning.
const MOST_NAMED: usize = 8;

impl Warnings {
    pub fn say(&mut self, remark: String) {
        self.list.push(remark);
    }

    pub fn say_once(&mut self, matter: WarningKind, remark: impl FnOnce() -> String) {
        if !self.said.contains(&matter) {
            self.said.push(matter);
            self.list.push(remark());
        }
    }

    /// A chord symbol that cannot be read.
    pub fn unread_chord(&mut self, symbol: &[u8]) {
        if self.unread_chords.len() <= MOST_NAMED {
            let quoted = quote(symbol);
            if !self.unread_chords.contains(&quoted) {
                self.unread_chords.push(quoted);
            }
        }
    }

    /// A character that has no meaning in music.
    pub fn unread_sign(&mut self, sign: char) {
        if self.unread_signs.len() <= MOST_NAMED && !self.unread_signs.contains(&sign) {
            self.unread_signs.push(sign);
        }
    }

    pub fn into_list(mut self) -> Vec<String> {
        if let Some(names) = named(&self.unread_chords) {
            self.list.push(format!(
                "text that is not a chord symbol is left out: {names}"
            ));
        }
        let signs: Vec<String> = self.unread_signs.iter().copied().map(sign_name).collect();
        if let Some(names) = named(&signs) {
            self.list.push(format!(
                "signs without a meaning in music are left out: {names}"
            ));
        }
        self.list
    }
}

/// A list for a sentence; `None` when it is empty.
fn named(all: &[String]) -> Option<String> {
    let shown = all.get(..MOST_NAMED).unwrap_or(all).join(", ");
    match all.len() {
        0 => None,
        1..=MOST_NAMED => Some(shown),
        _ => Some(format!("{shown} and others")),
    }
}

/// The character itself, or its code point when it is invisible.
fn sign_name(sign: char) -> String {
    let text = visible(sign.encode_utf8(&mut [0; 4]));
    match text.as_str() {
        "" => format!("U+{:04X}", u32::from(sign)),
        text => format!("`{text}`"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_warning_is_given_once() {
        let mut warnings = Warnings::default();
        for _ in 0..3 {
            warnings.say_once(WarningKind::Stacks, || "stacks".to_owned());
            warnings.unread_chord(b"loud\x1b");
            warnings.unread_sign('?');
            warnings.unread_sign('\u{a0}');
        }
        assert_eq!(
            warnings.into_list(),
            [
                "stacks",
                "text that is not a chord symbol is left out: `loud`",
                "signs without a meaning in music are left out: `?`, U+00A0",
            ]
        );
    }

    #[test]
    fn a_long_list_is_cut_short() {
        let mut warnings = Warnings::default();
        ('0'..='~').for_each(|sign| warnings.unread_sign(sign));
        let list = warnings.into_list();
        assert!(list[0].ends_with("`6`, `7` and others"), "{list:?}");
    }
}
