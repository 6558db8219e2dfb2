//! Large type, readable from the player's seat.

/// How many rows a letter is high.
pub const HEIGHT: usize = 5;

/// The five rows of a character, `#` for ink; unknown characters are blank.
fn sign(sign: char) -> [&'static str; HEIGHT] {
    match sign {
        'A' => [" ## ", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   "],
        'G' => [" ###", "#   ", "# ##", "#  #", " ###"],
        'I' => ["###", " # ", " # ", " # ", "###"],
        'V' => ["#   #", "#   #", " # # ", " # # ", "  #  "],
        'X' => ["#   #", " # # ", "  #  ", " # # ", "#   #"],
        'b' => ["#  ", "#  ", "## ", "# #", "## "],
        '#' => [" # # ", "#####", " # # ", "#####", " # # "],
        '0' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["### ", "   #", " ## ", "#   ", "####"],
        '3' => ["### ", "   #", " ## ", "   #", "### "],
        '4' => ["#  #", "#  #", "####", "   #", "   #"],
        '5' => ["####", "#   ", "### ", "   #", "### "],
        '6' => [" ## ", "#   ", "### ", "#  #", " ## "],
        '7' => ["####", "   #", "  # ", " #  ", " #  "],
        '8' => [" ## ", "#  #", " ## ", "#  #", " ## "],
        '9' => [" ## ", "#  #", " ###", "   #", " ## "],
        '?' => ["### ", "   #", " ## ", "    ", " #  "],
        ':' => [" ", "#", " ", "#", " "],
        '+' => ["   ", " # ", "###", " # ", "   "],
        '-' => ["   ", "   ", "###", "   ", "   "],
        '>' => ["#   ", " ## ", "   #", " ## ", "#   "],
        _ => ["  ", "  ", "  ", "  ", "  "],
    }
}

/// Text in large type: five rows of one length, `ink` for every dot.
pub fn large(text: &str, ink: char) -> [String; HEIGHT] {
    let mut rows: [String; HEIGHT] = Default::default();
    for (index, letter) in text.chars().enumerate() {
        for (row, dots) in rows.iter_mut().zip(sign(letter)) {
            if index > 0 {
                row.push(' ');
            }
            row.extend(dots.chars().map(|dot| if dot == '#' { ink } else { ' ' }));
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_a_word_are_of_one_length() {
        for text in [
            "Eb5",
            "F#4 V",
            "XVIII",
            "3:12",
            "b3?",
            "0123456789",
            "A B C D E F G",
        ] {
            let rows = large(text, '█');
            assert!(
                rows.iter()
                    .all(|row| row.chars().count() == rows[0].chars().count()),
                "{text}"
            );
        }
        assert_eq!(large("I", '#').join("\n"), "###\n # \n # \n # \n###");
    }
}
