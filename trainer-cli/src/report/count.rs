//! Numbers of things.

/// `1 phrase`, `3 phrases`: a number with its noun, for nouns that add an `s`.
pub fn count(number: usize, noun: &str) -> String {
    let ending = if number == 1 { "" } else { "s" };
    format!("{number} {noun}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_singular() {
        assert_eq!(count(0, "shift"), "0 shifts");
        assert_eq!(count(1, "shift"), "1 shift");
        assert_eq!(count(2, "shift"), "2 shifts");
    }
}
