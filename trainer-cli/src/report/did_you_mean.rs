//! Suggestions for mistyped names.

/// The name most similar to `typed`, if at most a third of the letters differ.
pub fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let typed = typed.to_lowercase();
    names
        .map(|name| {
            (
                strsim::damerau_levenshtein(&typed, &name.to_lowercase()),
                name,
            )
        })
        .min_by_key(|(edits, _)| *edits)
        .filter(|(edits, name)| 3 * edits <= name.chars().count().max(3))
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_key_finds_the_name_meant() {
        let names = || ["guitar", "ukulele", "mandolin"].into_iter();
        assert_eq!(nearest("ukelele", names()), Some("ukulele"));
        assert_eq!(nearest("Guitra", names()), Some("guitar"));
        assert_eq!(nearest("harp", names()), None);
    }
}
