//! Titles and other words: character sets and the escapes for accented letters.

use std::borrow::Cow;

/// Bytes as text: UTF-8, or Latin-1 if they are not UTF-8. The flag is true for Latin-1.
pub(super) fn decode(bytes: &[u8]) -> (Cow<'_, str>, Encoding) {
    match std::str::from_utf8(bytes) {
        Ok(text) => (Cow::Borrowed(text), Encoding::Utf8),
        // The first 256 characters of Unicode are Latin-1.
        Err(_) => (
            bytes.iter().map(|byte| char::from(*byte)).collect(),
            Encoding::Latin1,
        ),
    }
}

/// Text of a file for a message: without control characters, at most 40 characters long.
pub(super) fn visible(text: &str) -> String {
    let mut shown: String = crate::one_line::one_line(text).chars().take(41).collect();
    if let Some((end, _)) = shown.char_indices().nth(40) {
        shown.truncate(end);
        shown.push('…');
    }
    shown
}

/// Bytes of a file, quoted for a message.
pub(super) fn quote(bytes: &[u8]) -> String {
    format!("`{}`", visible(&decode(bytes).0))
}

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Encoding {
    Utf8,
    Latin1,
}

/// Accents that follow a backslash, each with the letters that can carry it and the results.
///
/// Source: the accent mnemonics of ABC 2.1, 8.2 (from memory); the letters are those of Latin-1 and Latin Extended-A.
const ACCENTS: [(char, &str, &str); 9] = [
    ('`', "AEIOUaeiou", "ÀÈÌÒÙàèìòù"),
    ('\'', "AEIOUYaeiouyCcNnSsZz", "ÁÉÍÓÚÝáéíóúýĆćŃńŚśŹź"),
    ('^', "AEIOUaeiouWwYy", "ÂÊÎÔÛâêîôûŴŵŶŷ"),
    ('~', "ANOano", "ÃÑÕãñõ"),
    ('"', "AEIOUaeiouy", "ÄËÏÖÜäëïöüÿ"),
    ('c', "CcSsTt", "ÇçŞşŢţ"),
    ('v', "CcDdEeNnRrSsTtZz", "ČčĎďĚěŇňŘřŠšŤťŽž"),
    ('u', "AaGgUu", "ĂăĞğŬŭ"),
    ('H', "OoUu", "ŐőŰű"),
];

/// Letters written with two letters after a backslash. Source as for [`ACCENTS`].
const LETTERS: [(&str, char); 14] = [
    ("AA", 'Å'),
    ("aa", 'å'),
    ("AE", 'Æ'),
    ("ae", 'æ'),
    ("OE", 'Œ'),
    ("oe", 'œ'),
    ("/O", 'Ø'),
    ("/o", 'ø'),
    ("DH", 'Ð'),
    ("dh", 'ð'),
    ("TH", 'Þ'),
    ("th", 'þ'),
    ("ss", 'ß'),
    ("cC", 'Ç'),
];

/// Named characters other than a letter with an accent.
const ENTITIES: [(&str, char); 10] = [
    ("amp", '&'),
    ("quot", '"'),
    ("apos", '\''),
    ("lt", '<'),
    ("gt", '>'),
    ("copy", '©'),
    ("szlig", 'ß'),
    ("aelig", 'æ'),
    ("AElig", 'Æ'),
    ("nbsp", ' '),
];

/// Replaces escapes by their characters: `\'e`, `&eacute;`, `\u00e9`, `\%`. Other text stays as it is.
pub(super) fn unescape(text: &str) -> Cow<'_, str> {
    if !text.contains(['\\', '&']) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(['\\', '&']) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let found = match rest.strip_prefix('\\') {
            Some(escape) => mnemonic(escape).map(|(letter, length)| (letter, length + 1)),
            None => entity(&rest[1..]).map(|(letter, length)| (letter, length + 1)),
        };
        let (letter, length) = found.unwrap_or((char::from(rest.as_bytes()[0]), 1));
        out.push(letter);
        rest = &rest[length..];
    }
    out.push_str(rest);
    Cow::Owned(out)
}

/// The character of an escape after a backslash, and its length in bytes.
fn mnemonic(escape: &str) -> Option<(char, usize)> {
    if let Some((_, letter)) = LETTERS.iter().find(|(name, _)| escape.starts_with(name)) {
        return Some((*letter, 2));
    }
    let mut characters = escape.chars();
    let mark = characters.next()?;
    if matches!(mark, '\\' | '%' | '&') {
        return Some((mark, 1));
    }
    if mark == 'u'
        && let Some(letter) = escape.get(1..5).and_then(hexadecimal)
    {
        return Some((letter, 5));
    }
    let accented = accent(mark, characters.next()?)?;
    Some((accented, 2))
}

fn accent(mark: char, letter: char) -> Option<char> {
    let (_, plain, accented) = ACCENTS.iter().find(|(name, _, _)| *name == mark)?;
    let index = plain.chars().position(|it| it == letter)?;
    accented.chars().nth(index)
}

fn hexadecimal(digits: &str) -> Option<char> {
    let is_number = digits.bytes().all(|digit| digit.is_ascii_hexdigit());
    is_number.then(|| {
        u32::from_str_radix(digits, 16)
            .ok()
            .and_then(char::from_u32)
    })?
}

/// The character of an entity after an ampersand, and its length in bytes up to the semicolon.
fn entity(escape: &str) -> Option<(char, usize)> {
    let end = escape.bytes().take(10).position(|byte| byte == b';')?;
    let name = &escape[..end];
    if let Some((_, letter)) = ENTITIES.iter().find(|(it, _)| *it == name) {
        return Some((*letter, end + 1));
    }
    if let Some(number) = name.strip_prefix('#') {
        return Some((char::from_u32(number.parse().ok()?)?, end + 1));
    }
    let letter = name.chars().next()?;
    let mark = match &name[letter.len_utf8()..] {
        "grave" => '`',
        "acute" => '\'',
        "circ" => '^',
        "tilde" => '~',
        "uml" => '"',
        "cedil" => 'c',
        "caron" => 'v',
        "slash" if letter == 'O' => return Some(('Ø', end + 1)),
        "slash" if letter == 'o' => return Some(('ø', end + 1)),
        "ring" if letter == 'A' => return Some(('Å', end + 1)),
        "ring" if letter == 'a' => return Some(('å', end + 1)),
        _ => return None,
    };
    Some((accent(mark, letter)?, end + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_stand_for_letters() {
        let cases = [
            (r"Caf\'e am See", "Café am See"),
            (r#"Sch\"on"#, "Schön"),
            ("Caf&eacute; &amp; Bar", "Café & Bar"),
            (r"\AAse and S\/oren", "Åse and Søren"),
            (r"fa\cc\cCade \ss", "façÇade ß"),
            (r"\u00e9t\'e, 100\%", "été, 100%"),
            (r"Dvo\vr\'ak", "Dvořák"),
            ("&#233;&Oslash;", "éØ"),
            // No escapes
            (r"a\b & c\", r"a\b & c\"),
            (
                "Rock&Roll; &nosuch; &#99999999;",
                "Rock&Roll; &nosuch; &#99999999;",
            ),
            (r"\u12", r"\u12"),
            ("plain", "plain"),
        ];
        for (written, meant) in cases {
            assert_eq!(unescape(written), meant, "{written}");
        }
    }

    #[test]
    fn accents_have_as_many_results_as_letters() {
        for (mark, plain, accented) in ACCENTS {
            assert_eq!(plain.chars().count(), accented.chars().count(), "{mark}");
        }
    }

    #[test]
    fn what_is_not_utf_8_is_latin_1() {
        assert_eq!(decode("é".as_bytes()), ("é".into(), Encoding::Utf8));
        assert_eq!(decode(b"\xE9"), ("é".into(), Encoding::Latin1));
    }

    quickcheck::quickcheck! {
        fn any_text_is_taken(text: String) -> bool {
            unescape(&text.replace('a', "\\").replace('b', "&")).len() <= 2 * text.len() + 2
        }
    }
}
