//! Where the phrases of a melody begin and end.

use std::ops::Range;

use super::{Melody, Quarters};

impl Melody {
    /// The phrases as ranges of note indices: none empty, each beginning where the one before ends.
    ///
    /// Phrases marked in the source are taken as they are. Otherwise they are found, to divide a tune of any length
    /// into parts that can be practised one by one. The cheapest segmentation wins. Costs:
    ///
    /// * each phrase: `PHRASE`, so that nothing is cut without a reason;
    /// * another length than four bars: `OTHER_LENGTH` for each doubling or halving;
    /// * a start elsewhere in the bar than the phrase before: `OTHER_PLACE_IN_BAR`;
    /// * minus the break before it: the time from the last onset to the next, silence counted twice, in average notes,
    ///   at most `WIDEST_BREAK`. So breaks fall after long notes and rests.
    ///
    /// These are the preferences of grouping that D. Temperley's book *The Cognition of Basic Musical Structures* (2001)
    /// names gap, length and metrical parallelism, from memory; the weights here are chosen by ear.
    ///
    /// ```
    /// use fretlib::format::tune_ron;
    ///
    /// let text = r#"(meter: "2/4", lines: [(notes: "E4 e F G E | A4 q r, | G4 e A B G | C5 h")])"#;
    /// let melody = tune_ron::read(text.as_bytes())?.melody;
    /// assert_eq!(melody.phrases(), [0..5, 5..10]);
    /// # Ok::<(), fretlib::format::ReadError>(())
    /// ```
    pub fn phrases(&self) -> Vec<Range<usize>> {
        let starts = match self.phrase_starts() {
            [] => found_starts(self),
            given => given
                .iter()
                .map(|start| self.notes().partition_point(|note| note.onset < *start))
                .collect(),
        };
        let count = self.notes().len();
        let mut phrases: Vec<Range<usize>> = Vec::with_capacity(starts.len() + 1);
        let mut begin = 0;
        for start in starts.into_iter().chain([count]) {
            if start > begin {
                phrases.push(begin..start);
                begin = start;
            }
        }
        phrases
    }
}

/// Cost of each phrase.
const PHRASE: f64 = 2.0;
/// Cost of a phrase of twice or half the ideal length.
const OTHER_LENGTH: f64 = 1.5;
/// Cost of a phrase that begins elsewhere in the bar than the one before.
const OTHER_PLACE_IN_BAR: f64 = 1.0;
/// The highest worth of a break, in average notes.
const WIDEST_BREAK: f64 = 8.0;
/// The ideal length of a phrase.
const BARS: f64 = 4.0;
/// The longest phrases tried, in bars or notes, so that the time of the search is proportional to
/// the melody.
const MOST_BARS: f64 = 12.0;
const MOST_NOTES: usize = 256;

/// The first note of every phrase but the first.
fn found_starts(melody: &Melody) -> Vec<usize> {
    let notes = melody.notes();
    let count = notes.len();
    let meter = melody.meters().first().copied().flatten();
    let bar = meter.map_or(Quarters::from(4), |meter| meter.bar_length());
    let bars_to = |time: Quarters| time.to_f64() / bar.to_f64();

    let end = notes[count - 1].end();
    let onsets: Vec<f64> = notes
        .iter()
        .map(|note| note.onset)
        .chain([end])
        .map(bars_to)
        .collect();
    // As two numbers, since fractions take long to compare.
    let places_in_bar: Vec<(i64, i64)> = notes
        .iter()
        .map(|note| note.onset - melody.bar_at(note.onset).onset)
        .map(|place| (place.numer(), place.denom()))
        .collect();
    let average = (onsets[count] - onsets[0]) / count as f64;
    let breaks: Vec<f64> = notes
        .windows(2)
        .map(|pair| {
            let between = pair[1].onset - pair[0].onset;
            let silence = pair[1].onset - pair[0].end();
            (bars_to(between + silence) / average).min(WIDEST_BREAK)
        })
        .collect();

    // For every note: the least cost of the phrases before it, and where the last of them begins.
    let mut costs = vec![0.0; count + 1];
    let mut last_starts = vec![0; count + 1];
    for next in 1..=count {
        let gain = if next == count { 0.0 } else { breaks[next - 1] };
        let mut least = f64::INFINITY;
        for start in (next.saturating_sub(MOST_NOTES)..next).rev() {
            let bars = onsets[next] - onsets[start];
            if bars > MOST_BARS && least.is_finite() {
                break;
            }
            let elsewhere = match next < count && places_in_bar[next] != places_in_bar[start] {
                true => OTHER_PLACE_IN_BAR,
                false => 0.0,
            };
            // The logarithm takes longer than all the rest, and its term is never negative.
            if costs[start] + PHRASE - gain + elsewhere >= least {
                continue;
            }
            let length = OTHER_LENGTH * (bars / BARS).log2().abs();
            let cost = costs[start] + PHRASE + length - gain + elsewhere;
            if cost < least {
                least = cost;
                last_starts[next] = start;
            }
        }
        costs[next] = least;
    }
    let mut starts: Vec<usize> = std::iter::successors(Some(last_starts[count]), |start| {
        (*start > 0).then(|| last_starts[*start])
    })
    .collect();
    starts.reverse();
    starts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::Draft;

    /// Phrases of a tune written in quarter notes: `3` is a note, `r1` a rest, `,` a mark that a phrase begins.
    fn check(meter: &str, music: &str, expected: &[Range<usize>]) {
        let mut draft = Draft::default();
        let meter = meter.parse().unwrap();
        draft.meters.set(Quarters::from(0), Some(meter));
        draft.bar_line();
        let quarters = |text: &str| Quarters::from(text.parse::<i64>().unwrap());
        for word in music.split_whitespace() {
            match word.strip_prefix('r') {
                _ if word == "|" => draft.bar_line(),
                _ if word == "," => draft.phrase_starts.push(draft.now),
                Some(length) => draft.rest(quarters(length)).unwrap(),
                None => draft.note("E4".parse().unwrap(), quarters(word)).unwrap(),
            }
        }
        assert_eq!(Melody::new(draft).unwrap().phrases(), expected, "{music}");
    }

    #[test]
    fn marked_phrases_are_kept() {
        check("4/4", "1 1 , 1 1 | 4", &[0..2, 2..5]);
        check("4/4", ", 2 2 | r2 , r2 | 4", &[0..2, 2..3]); // one mark at the start, one in a rest
        check("4/4", "4 , | r2 , r2 , ", std::slice::from_ref(&(0..1))); // nothing after the last note
    }

    #[test]
    fn phrases_are_found() {
        let even = "1 1 1 1 | ";
        let long = "3 r1 | ";
        // All bars alike: groups of four.
        check("4/4", &even.repeat(8), &[0..16, 16..32]);
        // A long note and a rest end a phrase, after four bars or after six.
        let closed = |bars: usize| even.repeat(bars - 1) + long;
        check("4/4", &(closed(4) + &closed(4)), &[0..13, 13..26]);
        check("4/4", &(closed(6) + &closed(4)), &[0..21, 21..34]);
        // The pickup belongs to the phrase it leads into.
        let led = "3 1 | ";
        check(
            "4/4",
            &("1 | ".to_owned() + &led.repeat(7) + "3"),
            &[0..8, 8..16],
        );
        check("4/4", "4", std::slice::from_ref(&(0..1)));
    }

    quickcheck::quickcheck! {
        fn phrases_part_the_notes(values: Vec<u8>, starts: Vec<u8>) -> bool {
            let mut draft = Draft::default();
            for value in &values {
                let length = Quarters::new(i64::from(value % 9) + 1, 4);
                if value % 7 == 0 {
                    draft.rest(length).unwrap();
                } else {
                    draft.note("E4".parse().unwrap(), length).unwrap();
                }
            }
            draft.note("E4".parse().unwrap(), Quarters::from(1)).unwrap();
            draft.phrase_starts = starts.iter().map(|start| Quarters::from(i64::from(*start))).collect();
            let melody = Melody::new(draft).unwrap();
            let phrases = melody.phrases();
            let mut next = 0;
            phrases.iter().all(|phrase| {
                let follows = phrase.start == next && phrase.end > phrase.start;
                next = phrase.end;
                follows
            }) && next == melody.notes().len()
        }
    }
}
