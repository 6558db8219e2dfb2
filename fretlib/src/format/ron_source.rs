//! RON text and the places in it.

use std::fmt::Display;
use std::str::FromStr;

use ron::error::SpannedError;
use ron::extensions::Extensions;
use serde::{Deserialize, Deserializer, de::Error};

use super::{Diagnostic, Location};

/// Reads a value out of RON, `Some(…)` left out.
///
/// # Errors
///
/// The first error, at its place.
pub(super) fn read<'a, T: serde::Deserialize<'a>>(source: &'a str) -> Result<T, Diagnostic> {
    ron::Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .from_str(source)
        .map_err(|error| fault(&error))
}

/// A word of text that is read as a value; `None` when the field is left out.
pub(super) fn word<'de, T, D>(deserializer: D) -> Result<Option<T>, D::Error>
where
    T: FromStr<Err: Display>,
    D: Deserializer<'de>,
{
    let text: Option<String> = Option::deserialize(deserializer)?;
    text.map(|text| text.parse().map_err(D::Error::custom))
        .transpose()
}

fn fault(error: &SpannedError) -> Diagnostic {
    use ron::error::Error;

    // An invalid word is reported where it begins, a missing sign where reading stopped.
    let at = match error.code {
        Error::NoSuchStructField { .. } | Error::InvalidValueForType { .. } | Error::Message(_) => {
            &error.span.start
        }
        _ => &error.span.end,
    };
    let (problem, hint) = match &error.code {
        Error::NoSuchStructField {
            expected, found, ..
        } => (
            format!("there is no field `{found}` here"),
            Some(format!("the fields are {}", expected.join(", "))),
        ),
        Error::MissingStructField { field, .. } => (
            format!("the field `{field}` is missing"),
            Some(format!("add `{field}: …,`")),
        ),
        Error::DuplicateStructField { field, .. } => {
            (format!("the field `{field}` stands here twice"), None)
        }
        Error::ExpectedString => (
            "expected text".to_owned(),
            Some("put it between quotes".to_owned()),
        ),
        Error::InvalidValueForType { expected, .. } if expected == "a borrowed string" => (
            "expected text without a backslash".to_owned(),
            Some("type the sign itself".to_owned()),
        ),
        Error::Eof => (
            "the text ends too early".to_owned(),
            Some("close what is open, with `)` or `]`".to_owned()),
        ),
        Error::ExpectedComma => (
            "expected a comma".to_owned(),
            Some("put one before this, or close what is open with `)`".to_owned()),
        ),
        Error::ExpectedIdentifier => (
            "expected the name of a field".to_owned(),
            Some("a `)` may be missing before this".to_owned()),
        ),
        Error::ExpectedMapColon => (
            "expected a colon".to_owned(),
            Some("put one after the name of the field".to_owned()),
        ),
        Error::ExpectedInteger => (
            "expected a whole number".to_owned(),
            Some("write it in figures, without quotes".to_owned()),
        ),
        Error::ExpectedBoolean => (
            "expected yes or no".to_owned(),
            Some("write `true` or `false`".to_owned()),
        ),
        Error::UnclosedBlockComment => (
            "a comment has no end".to_owned(),
            Some("close it with `*/`".to_owned()),
        ),
        other => (lower_first(&other.to_string()), None),
    };
    Diagnostic {
        at: Location::Text {
            line: at.line,
            column: at.col,
        },
        problem,
        hint,
    }
}

fn lower_first(text: &str) -> String {
    let mut rest = text.chars();
    let first = rest.next().map(|first| first.to_ascii_lowercase());
    first.into_iter().chain(rest).collect()
}

/// The place where `part`, a slice of `source`, begins.
pub(super) fn location(source: &str, part: &str) -> Location {
    // Text from elsewhere has no place in the source, so the whole file is named.
    let offset = (part.as_ptr() as usize).wrapping_sub(source.as_ptr() as usize);
    let Some(before) = source.get(..offset) else {
        return Location::Whole;
    };
    let line_start = before.rfind('\n').map_or(0, |end| end + 1);
    Location::Text {
        line: before.bytes().filter(|byte| *byte == b'\n').count() + 1,
        column: before[line_start..].chars().count() + 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_is_said_with_what_to_do() {
        #[derive(Debug, serde::Deserialize)]
        #[expect(dead_code, reason = "only what cannot be read is looked at")]
        struct Pinned {
            note: u8,
            pin: bool,
        }
        for (source, expected, to_do) in [
            ("(note: ", "the text ends too early", "`)`"),
            ("(note: 1, pin: true", "expected a comma", "`)`"),
            ("(note: 1 pin: true)", "expected a comma", "before this"),
            ("(note: 1, (pin", "expected the name of a field", "`)`"),
            ("(note = 1)", "expected a colon", "after the name"),
            ("(note: one)", "expected a whole number", "in figures"),
            ("(note: 1, pin: yes)", "expected yes or no", "`true`"),
            ("(note: 1, /* pin", "a comment has no end", "`*/`"),
        ] {
            let found = read::<Pinned>(source).unwrap_err();
            assert_eq!(found.problem, expected, "{source}");
            let hint = found.hint.unwrap_or_default();
            assert!(hint.contains(to_do), "{source}: {hint}");
        }
    }

    #[test]
    fn the_place_of_a_slice_is_found() {
        let source = "one\ntwo, ünï three";
        let three = &source[source.find("three").unwrap()..];
        assert_eq!(
            location(source, three),
            Location::Text {
                line: 2,
                column: 10
            }
        );
        assert_eq!(location(source, "elsewhere"), Location::Whole);
    }
}
