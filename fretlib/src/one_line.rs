//! Names out of files, made safe to show.

/// Whether a character can be seen or is a space: it is no control character, does not turn the direction of writing, has a
/// width and stands for something. Text of such characters can neither steer a terminal nor hide what it says.
///
/// Source: the Unicode Character Database, general categories Cc, Cf, Zl and Zp (compared with version 14), the noncharacters
/// of the Basic Multilingual Plane, and the property `Default_Ignorable_Code_Point` (from memory).
///
/// ```
/// use fretlib::is_visible;
/// assert!("Café ♭ 湖".chars().all(is_visible));
/// assert!(!['\u{1b}', '\u{202e}', '\u{200b}', '\u{feff}', '\n'].into_iter().any(is_visible));
/// ```
pub const fn is_visible(c: char) -> bool {
    !matches!(c,
        '\0'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{ad}' | '\u{34f}' | '\u{600}'..='\u{605}' | '\u{61c}' | '\u{6dd}'
        | '\u{70f}' | '\u{890}' | '\u{891}' | '\u{8e2}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
        | '\u{3164}' | '\u{fdd0}'..='\u{fdef}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}'
        | '\u{fff0}'..='\u{fffb}' | '\u{fffe}' | '\u{ffff}' | '\u{110bd}' | '\u{110cd}' | '\u{13430}'..='\u{1343f}'
        | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
}

/// Whether XML 1.0 can hold a character, escaped or not.
///
/// Source: XML 1.0, production 2, `Char`.
#[cfg(any(feature = "formats", feature = "sheet"))]
pub(crate) const fn is_in_xml(c: char) -> bool {
    !matches!(c, '\0'..='\u{8}' | '\u{b}' | '\u{c}' | '\u{e}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}')
}

/// Text from a file as one line that is safe on a terminal: visible characters and single spaces. Those that join letters
/// or part them stay, since some scripts cannot do without them.
pub(crate) fn one_line(text: &str) -> String {
    let is_unsafe = |c: char| !is_visible(c) && !matches!(c, '\u{200c}' | '\u{200d}');
    let mut words = String::with_capacity(text.len());
    for word in text.split(char::is_whitespace) {
        let word = word.chars().filter(|c| !is_unsafe(*c));
        let before = words.len();
        if before > 0 {
            words.push(' ');
        }
        let space_end = words.len();
        words.extend(word);
        if words.len() == space_end {
            words.truncate(before);
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_stripped_of_control_characters() {
        let cases = [
            ("Harbour \u{1b}[31mLights\n", "Harbour [31mLights"),
            ("  two   spaces ", "two spaces"),
            ("\u{202e}turned", "turned"),
            ("Pier\u{fffe} 9\u{feff}\u{200b}", "Pier 9"),
            ("می\u{200c}خواهم", "می\u{200c}خواهم"),
            ("\u{7}", ""),
        ];
        for (given, kept) in cases {
            assert_eq!(one_line(given), kept);
        }
    }
}
