//! Durations as the trade writes them.

use crate::melody::Quarters;

/// The name of a duration: `w h q e s t` from whole to thirty-second note, with dots, `e3` for one of three in the time
/// of two, `h+e` for tied values, or a part of a whole note where nothing else fits.
///
/// These are the values of the project's RON tunes.
///
/// ```
/// use fretlib::melody::Quarters;
/// use fretlib::text::note_value;
///
/// assert_eq!(note_value(Quarters::new(3, 2)), "q.");
/// assert_eq!(note_value(Quarters::new(1, 3)), "e3");
/// assert_eq!(note_value(Quarters::new(5, 2)), "h+e");
/// ```
pub fn note_value(duration: Quarters) -> String {
    if let Some(value) = plain(duration) {
        return value;
    }
    if let Some(value) = tuplet(duration) {
        return value;
    }
    // Tied values, the longest first; only for binary durations, which are sums of the letters.
    let mut parts = Vec::new();
    let mut rest = duration;
    while rest > Quarters::from(0) && parts.len() < 4 {
        let fits = LETTERS
            .iter()
            .find(|(_, length)| Quarters::new(length.0, length.1) <= rest);
        let Some((letter, (numer, denom))) = fits else {
            break;
        };
        parts.push(*letter);
        rest -= Quarters::new(*numer, *denom);
    }
    if rest == Quarters::from(0) {
        return parts.join("+");
    }
    let part = duration / 4;
    format!("{}/{}", part.numer(), part.denom())
}

/// Each letter with its length in quarter notes, as a numerator and a denominator.
const LETTERS: [(&str, (i64, i64)); 6] = [
    ("w", (4, 1)),
    ("h", (2, 1)),
    ("q", (1, 1)),
    ("e", (1, 2)),
    ("s", (1, 4)),
    ("t", (1, 8)),
];

fn plain(duration: Quarters) -> Option<String> {
    LETTERS.iter().find_map(|(letter, (numer, denom))| {
        let length = Quarters::new(*numer, *denom);
        [(1, ""), (3, "."), (7, "..")]
            .iter()
            .enumerate()
            .find_map(|(dots, (times, sign))| {
                let dotted = length * *times / (1 << dots);
                (dotted == duration).then(|| format!("{letter}{sign}"))
            })
    })
}

fn tuplet(duration: Quarters) -> Option<String> {
    [3i64, 5, 6, 7, 9, 10, 11, 12, 13].iter().find_map(|count| {
        let in_time_of = 1 << count.ilog2();
        let value = plain(duration * *count / in_time_of)?;
        Some(format!("{value}{count}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_have_their_names() {
        let cases = [
            (4, 1, "w"),
            (3, 1, "h."),
            (7, 2, "h.."),
            (1, 1, "q"),
            (3, 4, "e."),
            (1, 8, "t"),
            (2, 3, "q3"),
            (1, 6, "s3"),
            (1, 5, "s5"),
            (5, 1, "w+q"),
            (8, 1, "w+w"),
            (1, 64, "1/256"),
        ];
        for (numer, denom, name) in cases {
            assert_eq!(note_value(Quarters::new(numer, denom)), name);
        }
    }
}
