//! Options with ranges: `5`, `1-8`, `II-IX`.

use std::ops::RangeInclusive;

/// Reads `5` or `2-9`.
pub fn range<T: PartialOrd + Clone>(
    text: &str,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<RangeInclusive<T>, String> {
    // Notes apps turn a hyphen into an en dash.
    let (first, last) = match text.split_once(['-', '–']) {
        Some((first, last)) => (read(first.trim())?, read(last.trim())?),
        None => (read(text)?, read(text)?),
    };
    if first > last {
        return Err(format!("`{text}` ends before it begins"));
    }
    Ok(first..=last)
}

/// Reads a number or a range of numbers: `5`, `1-8`.
pub fn numbers(text: &str) -> Result<RangeInclusive<u32>, String> {
    range(text, |number| {
        number
            .parse()
            .map_err(|_| format!("expected numbers such as 1-8, found `{text}`"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_read_and_checked() {
        assert_eq!(numbers("1-8"), Ok(1..=8));
        assert_eq!(numbers("5"), Ok(5..=5));
        for text in ["", "8-1", "a", "1-", "-3", "99999999999"] {
            assert!(numbers(text).is_err(), "{text}");
        }
    }
}
