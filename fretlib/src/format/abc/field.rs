//! The values of the `M:`, `L:`, `Q:` and `V:` fields.

use super::note_length::Length;
use crate::melody::{Feel, Meter, Quarters, Tempo};

/// Reads `M:`: `6/8`, `C`, `C|`, `2+2+3/8`, `(2+3)/8`; nothing, `none` and `free` are free meter.
///
/// The outer `None` means unreadable. Source: ABC 2.1, 3.1.6 (from memory).
pub(super) fn meter(value: &[u8]) -> Option<Option<Meter>> {
    let text = std::str::from_utf8(value).ok()?;
    match text {
        "" | "none" | "None" | "free" => return Some(None),
        "C" | "c" => return Some(Some(Meter::COMMON)),
        "C|" | "c|" => return Some(Meter::new(2, 2).ok()),
        _ => {}
    }
    let (count, unit) = text.split_once('/')?;
    let count = count.trim().trim_start_matches('(').trim_end_matches(')');
    let mut total = 0u8;
    for part in count.split('+') {
        total = total.checked_add(part.trim().parse().ok()?)?;
    }
    let unit = unit.trim().parse().ok()?;
    Meter::new(total, unit).ok().map(Some)
}

/// The unit note length when there is no `L:`: a sixteenth in meters shorter than 3/4, else an eighth.
///
/// Source: ABC 2.1, 3.1.7 (from memory).
pub(super) fn default_unit(meter: Option<Meter>) -> Length {
    match meter {
        Some(meter) if meter.bar_length() < Quarters::from(3) => Length::SIXTEENTH,
        _ => Length::EIGHTH,
    }
}

/// Reads `L:`: `1/8`, or `1` for a whole note. Denominators go up to 4096.
pub(super) fn unit(value: &[u8]) -> Option<Length> {
    let text = std::str::from_utf8(value).ok()?;
    let (numer, denom) = text.split_once('/').unwrap_or((text, "1"));
    let part = |digits: &str| digits.trim().parse().ok().filter(|part| *part <= 4096u32);
    Length::new(part(numer)?, part(denom)?)
}

/// Reads `Q:`: `1/4=120`, `"Andante" 1/4=80`, `1/4 3/8 1/4 3/8=40` (the sum is the beat), and the forms of older files,
/// `120` and `C=120` (unit notes a minute) and `C3=40` (beats of three unit notes).
///
/// Words alone set no tempo: `Some(None)`. The outer `None` means unreadable. A count may have decimals, as many programs
/// write it. Source: ABC 2.1, 3.1.8 and 10.1 (from memory).
pub(super) fn tempo(value: &[u8], unit: Length) -> Option<Option<Tempo>> {
    let outside = quoted_apart(value).1;
    let text = std::str::from_utf8(&outside).ok()?.trim();
    if text.is_empty() {
        return Some(None);
    }
    let (beat, count) = match text.split_once('=') {
        Some((beat, count)) => (beat.trim(), count.trim()),
        None => ("C", text),
    };
    let beat = match beat.strip_prefix(['C', 'c']) {
        Some("") => unit.quarters()?,
        Some(units) => unit
            .times(Length::new(units.parse().ok()?, 1)?)?
            .quarters()?,
        None => {
            let mut total = Quarters::from(0);
            for part in beat.split_whitespace() {
                // A few fractions with terms up to 4096 are far from overflow.
                total = total.checked_add(self::unit(part.as_bytes())?.quarters()?)?;
            }
            total
        }
    };
    let count = count.strip_suffix('.').unwrap_or(count);
    let is_decimal = count
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'.');
    let count: Quarters = count.parse().ok().filter(|_| is_decimal)?;
    Tempo::new(beat, count).ok().map(Some)
}

/// The feel that the words beside a tempo name: `"Swing" 1/4=120`.
pub(super) fn feel(value: &[u8]) -> Option<Feel> {
    let words = quoted_apart(value).0;
    Feel::among_words(&String::from_utf8_lossy(&words))
}

/// What stands between quotes, and what stands outside of them; a space for each byte of the other.
fn quoted_apart(value: &[u8]) -> (Vec<u8>, Vec<u8>) {
    let mut is_quoted = false;
    let apart = value.iter().map(|byte| match *byte {
        b'"' => {
            is_quoted = !is_quoted;
            (b' ', b' ')
        }
        byte if is_quoted => (byte, b' '),
        byte => (b' ', byte),
    });
    apart.unzip()
}

/// The settings of a voice in a `V:` field.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct VoiceField<'a> {
    pub id: &'a [u8],
    /// `name=` or `nm=`, without quotes.
    pub name: Option<&'a [u8]>,
    /// `octave=`.
    pub octave: Option<i8>,
}

/// Reads `V:`: an id, then settings, of which the name and the octave matter here.
pub(super) fn voice(value: &[u8]) -> VoiceField<'_> {
    let end = value
        .iter()
        .position(u8::is_ascii_whitespace)
        .unwrap_or(value.len());
    let (id, mut rest) = value.split_at(end);
    let mut field = VoiceField {
        id,
        name: None,
        octave: None,
    };
    while let Some((word, after)) = setting(rest) {
        let name = word.strip_prefix(b"name=").or(word.strip_prefix(b"nm="));
        field.name = field.name.or(name.map(without_quotes));
        field.octave = field.octave.or(super::key_field::octave(word));
        rest = after;
    }
    field
}

/// The next setting and what follows it; white space within quotes does not end it.
fn setting(text: &[u8]) -> Option<(&[u8], &[u8])> {
    let text = text.trim_ascii_start();
    let mut is_quoted = false;
    let end = text
        .iter()
        .position(|byte| {
            is_quoted ^= *byte == b'"';
            !is_quoted && byte.is_ascii_whitespace()
        })
        .unwrap_or(text.len());
    (end > 0).then(|| text.split_at(end))
}

fn without_quotes(text: &[u8]) -> &[u8] {
    let text = text.strip_prefix(b"\"").unwrap_or(text);
    text.strip_suffix(b"\"").unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meters() {
        let cases = [
            ("6/8", "6/8"),
            ("C", "4/4"),
            ("C|", "2/2"),
            ("2+2+3/8", "7/8"),
            ("(2+3)/8", "5/8"),
            (" 3 / 4", "3/4"),
            ("none", "free"),
            ("", "free"),
            ("3/5", "unreadable"),
            ("4", "unreadable"),
            ("waltz", "unreadable"),
            ("255+1/4", "unreadable"),
            ("0/4", "unreadable"),
        ];
        for (value, expected) in cases {
            let meter = match meter(value.as_bytes()) {
                Some(Some(meter)) => meter.to_string(),
                Some(None) => "free".to_owned(),
                None => "unreadable".to_owned(),
            };
            assert_eq!(meter, expected, "{value}");
        }
    }

    #[test]
    fn the_unit_follows_the_meter_when_it_is_not_given() {
        let cases = [
            ("2/4", 16),
            ("3/8", 16),
            ("5/8", 16),
            ("3/4", 8),
            ("6/8", 8),
            ("4/4", 8),
            ("none", 8),
        ];
        for (value, denom) in cases {
            let meter = meter(value.as_bytes()).unwrap();
            assert_eq!(
                default_unit(meter),
                Length::new(1, denom).unwrap(),
                "{value}"
            );
        }
    }

    #[test]
    fn units() {
        assert_eq!(unit(b"1/16"), Some(Length::SIXTEENTH));
        assert_eq!(unit(b"1"), Some(Length::ONE));
        for value in ["", "1/0", "0/8", "1/5000", "x", "-1/8", "1/8/2"] {
            assert_eq!(unit(value.as_bytes()), None, "{value}");
        }
    }

    #[test]
    fn tempos_in_quarter_notes_a_minute() {
        let cases = [
            ("1/4=120", Some((120, 1))),
            ("3/8 = 120", Some((180, 1))),
            ("1/2=104", Some((208, 1))),
            (r#""Andante" 1/4=80"#, Some((80, 1))),
            (r#"1/4=80 "Slow = sad""#, Some((80, 1))),
            ("1/4 3/8 1/4 3/8=40", Some((200, 1))), // five quarter notes
            ("120", Some((60, 1))),                 // unit notes, here eighths
            ("C=120", Some((60, 1))),
            ("C3=40", Some((60, 1))),
            ("1/4=92.5", Some((185, 2))),
            (r#""Gently""#, None),
            ("", None),
        ];
        for (value, expected) in cases {
            let tempo =
                tempo(value.as_bytes(), Length::EIGHTH).unwrap_or_else(|| panic!("{value}"));
            let quarters = tempo.map(Tempo::quarters_per_minute);
            assert_eq!(
                quarters,
                expected.map(|(numer, denom)| Quarters::new(numer, denom)),
                "{value}"
            );
        }
        for value in [
            "fast",
            "1/4=",
            "1/4=x",
            "1/4=99999999999999",
            "1/0=3",
            "1/4=0",
            "C99999999=9",
            "1/4=3/2",
            "1/4=1.2.3",
            "=",
        ] {
            assert_eq!(tempo(value.as_bytes(), Length::EIGHTH), None, "{value}");
        }
    }

    #[test]
    fn tempos_keep_the_value_they_count_in() {
        for (value, unit) in [
            ("3/8=120", Quarters::new(3, 2)),
            ("1/2=60", Quarters::from(2)),
            ("120", Quarters::new(1, 2)),
        ] {
            let tempo = tempo(value.as_bytes(), Length::EIGHTH).flatten().unwrap();
            assert_eq!(tempo.unit(), unit, "{value}");
        }
    }

    #[test]
    fn a_feel_stands_among_the_words_of_a_tempo() {
        assert_eq!(feel(br#""Swing" 1/4=120"#), Some(Feel::Swing));
        assert_eq!(
            feel(br#"1/4=80 "swing 16ths""#),
            Some(Feel::SwingSixteenths)
        );
        assert_eq!(feel(b"1/4=120"), None);
        assert_eq!(feel(br#"swing "Gently" "#), None, "outside the quotes");
    }

    #[test]
    fn voices() {
        let field = voice(br#"T1 clef=treble-8 name="Tenor one" octave=-1 snm="T.1""#);
        assert_eq!(
            field,
            VoiceField {
                id: b"T1",
                name: Some(b"Tenor one"),
                octave: Some(-1)
            }
        );
        assert_eq!(
            voice(b"1"),
            VoiceField {
                id: b"1",
                name: None,
                octave: None
            }
        );
        assert_eq!(voice(b"").id, b"");
    }
}
