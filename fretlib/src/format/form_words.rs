//! Signs of the form written as words: `D.C. al Fine`, `To Coda`.

use crate::melody::{BackTo, FormError, FormFault, FormSign, Jump, Melody, Until};

/// Reads the words that musicians write over a bar line; `None` for any other text.
///
/// Common practice, no source. Capitals, dots and spaces make no difference.
pub(super) fn parse(text: &str) -> Option<FormSign> {
    // Only letters are compared.
    let letters: String = text
        .chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .take(40)
        .collect();
    match letters.as_str() {
        "fine" | "alfine" => return Some(FormSign::Fine),
        "segno" => return Some(FormSign::Segno),
        "coda" => return Some(FormSign::Coda),
        "tocoda" | "dacoda" | "alcoda" => return Some(FormSign::ToCoda),
        _ => {}
    }
    let starts = [
        (BackTo::Start, ["dacapo", "dc"]),
        (BackTo::Segno, ["dalsegno", "ds"]),
    ];
    let (back_to, rest) = starts.iter().find_map(|(back_to, names)| {
        let rest = names.iter().find_map(|name| letters.strip_prefix(name));
        rest.map(|rest| (*back_to, rest))
    })?;
    let with_repeats = ["withrepeats", "withrepeat", "conrepetizione", "conrep"]
        .iter()
        .find_map(|words| rest.strip_suffix(words));
    let until = match with_repeats.unwrap_or(rest) {
        "" => Until::Unsaid,
        "alfine" | "fine" => Until::Fine,
        "alcoda" | "coda" | "etpoicoda" | "epoilacoda" => Until::Coda,
        _ => return None,
    };
    Some(FormSign::Jump(Jump {
        back_to,
        until,
        with_repeats: with_repeats.is_some(),
    }))
}

/// Warnings about the signs that could not be followed and were left out.
pub(super) fn left_out_of_form(melody: &Melody, errors: &[FormError]) -> Vec<String> {
    let said = errors.iter().map(|error| {
        let bar = melody.bar_at(error.at);
        if let FormFault::NoPart(_) = error.fault {
            return format!("{error}; the order is not followed");
        }
        format!("bar {bar}: {error}; the sign is left out")
    });
    said.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_as_they_are_written() {
        for (text, sign) in [
            ("  Fine", "Fine"),
            ("D.C.", "D.C."),
            ("Da Capo al Fine", "D.C. al Fine"),
            ("D. S. al Coda", "D.S. al Coda"),
            ("dal segno", "D.S."),
            ("D.C. al Fine with repeats", "D.C. al Fine with repeats"),
            ("To Coda", "To Coda"),
        ] {
            let said = match parse(text) {
                Some(FormSign::Jump(jump)) => jump.to_string(),
                Some(FormSign::Fine) => "Fine".to_owned(),
                Some(FormSign::ToCoda) => "To Coda".to_owned(),
                other => format!("{other:?}"),
            };
            assert_eq!(said, sign, "{text}");
        }
        for text in ["", "D", "Dm7", "D.C. al Tempo", "Finely", "F"] {
            assert_eq!(parse(text), None, "{text}");
        }
    }
}
