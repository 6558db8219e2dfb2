//! The arithmetic of spelling, shared by pitches, intervals and degrees.

use super::key::Degree;

/// The most sharps or flats one note may carry.
///
/// Two is what notation prints; chord tones over a root that already has two may need two more.
pub(crate) const MAX_ALTERATION: i8 = 4;

/// Semitones from C0 up to the natural note `steps` diatonic steps above C0.
///
/// The white keys are the twelve semitones shared out among seven steps as evenly as can be, C first, so one line of
/// integer arithmetic gives 0 2 4 5 7 9 11.
pub(crate) const fn natural_semitones(steps: i16) -> i16 {
    (12 * steps + 5).div_euclid(7)
}

/// Reads accidentals: `#` or `♯` and `b` or `♭`, repeated, or `x`/`𝄪` and `𝄫` for double ones, or `♮`.
///
/// `None` when there is anything else, sharps and flats together, or more than [`MAX_ALTERATION`].
pub(crate) fn parse_alteration(text: &str) -> Option<i8> {
    if text == "♮" {
        return Some(0);
    }
    let mut total = 0i8;
    for sign in text.chars() {
        let step = match sign {
            '#' | '♯' => 1,
            'x' | '𝄪' => 2,
            'b' | '♭' => -1,
            '𝄫' => -2,
            _ => return None,
        };
        if total.signum() * step < 0 {
            return None;
        }
        total += step;
        if total.abs() > MAX_ALTERATION {
            return None;
        }
    }
    Some(total)
}

/// Reads degrees as theory books print them, `1 2 b3 4`. For the library's own tables: anything
/// else is skipped.
pub(super) fn degree_formula(text: &'static str) -> impl Iterator<Item = Degree> {
    text.split(' ').filter_map(|word| word.parse().ok())
}

/// Writes an alteration as it is typed: `##` or `bb`.
pub(crate) fn write_alteration(alteration: i8, out: &mut impl std::fmt::Write) -> std::fmt::Result {
    let sign = if alteration < 0 { 'b' } else { '#' };
    for _ in 0..alteration.unsigned_abs() {
        out.write_char(sign)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_white_keys_are_spread_evenly() {
        let octave: Vec<i16> = (0..8).map(natural_semitones).collect();
        assert_eq!(octave, [0, 2, 4, 5, 7, 9, 11, 12]);
        assert_eq!(natural_semitones(-1), -1); // B below
    }

    #[test]
    fn accidentals_of_one_kind_are_read() {
        let cases = [
            ("", Some(0)),
            ("#", Some(1)),
            ("x", Some(2)),
            ("♭♭", Some(-2)),
            ("𝄫b", Some(-3)),
            ("♮", Some(0)),
            ("#b", None),
            ("#####", None),
            ("q", None),
        ];
        for (text, expected) in cases {
            assert_eq!(parse_alteration(text), expected, "{text}");
        }
    }
}
