//! Rests of several bars, written as one.

use std::ops::Range;

use super::rhythm::{Symbol, Written, WrittenBar};
use crate::melody::{Melody, Quarters};

/// The most bars in one rest: as many as a reader of ABC takes, and as the page has room for figures.
const LONGEST: usize = 999;

/// The runs of bars, by index, that are written as one rest: at least two silent bars of full length, with no bar line
/// but plain ones between them and nothing written in them after their start.
///
/// A line break of the source ends a run, too. `under` are the bars of another voice, one for one; empty when there is
/// none. Common practice, no source.
pub fn multi_bar_rests(
    melody: &Melody,
    bars: &[WrittenBar],
    under: &[WrittenBar],
) -> Vec<Range<usize>> {
    let written = times_of_signs(melody);
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (index, bar) in bars.iter().enumerate() {
        if !is_silent(bar) || under.get(index).is_some_and(has_notes) {
            continue;
        }
        let end = bar.onset + bar.length;
        let goes_on = runs.last().is_some_and(|run| {
            let start = bars[run.start].onset;
            let first = written.partition_point(|at| *at <= start);
            run.end == index
                && run.len() < LONGEST
                && written.get(first).is_none_or(|at| *at >= end)
        });
        match runs.last_mut().filter(|_| goes_on) {
            Some(run) => run.end = index + 1,
            None => runs.push(index..index + 1),
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

/// Whether there is nothing in a bar but one rest that fills it.
fn is_silent(bar: &WrittenBar) -> bool {
    let is_full = bar.meter.is_some_and(|it| it.bar_length() == bar.length);
    let is_rest = matches!(&bar.symbols[..], [only] if only.symbol == Symbol::BarRest);
    is_full && is_rest
}

fn has_notes(bar: &WrittenBar) -> bool {
    let is_note = |it: &Written| matches!(it.symbol, Symbol::Note { .. });
    bar.symbols.iter().any(is_note)
}

/// The times at which anything but notes and rests is written, in order.
fn times_of_signs(melody: &Melody) -> Vec<Quarters> {
    let mut times: Vec<Quarters> = melody.keys().iter().map(|(at, _)| at).collect();
    times.extend(melody.meters().iter().map(|(at, _)| at));
    times.extend(melody.tempos().iter().map(|(at, _)| at));
    times.extend(melody.chords().iter().map(|(at, _)| at));
    times.extend(melody.sections().iter().map(|(at, _)| at));
    times.extend(melody.form().signs().iter().map(|(at, _)| *at));
    times.extend(melody.line_breaks());
    times.sort_unstable();
    times
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::melody::{Draft, FormSign};
    use crate::notation::rhythm::write_down;

    /// The runs in a tune in 4/4, one word a bar: `r` is silent, `n` has a note, and a sign of what is written at the
    /// beginning of the bar may follow.
    fn check(tune: &str, expected: &str) {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some("4/4".parse().unwrap()));
        let bar = Quarters::from(4);
        for word in tune.split(' ') {
            let now = draft.now;
            match &word[1..] {
                "||" => draft.form.add(now, FormSign::DoubleBar),
                "C" => draft.chords.set(now, Some("C".parse().unwrap())),
                "A" => draft.sections.set(now, "A".to_owned()),
                "/" => draft.line_breaks.push(now),
                _ => {}
            }
            match &word[..1] {
                "r" => draft.rest(bar).unwrap(),
                _ => draft.note("E4".parse().unwrap(), bar).unwrap(),
            }
        }
        let melody = Melody::new(draft).unwrap();
        let runs = multi_bar_rests(&melody, &write_down(&melody), &[]);
        let runs: Vec<String> = runs.iter().map(|run| format!("{run:?}")).collect();
        assert_eq!(runs.join(" "), expected, "{tune}");
    }

    #[test]
    fn silent_bars_are_one_rest_up_to_the_next_sign() {
        check("r r r n", "0..3");
        check("n r n r r", "3..5");
        check("rA r n", "0..2");
        check("r r rA r n", "0..2 2..4");
        check("r r r|| n r rC n", "0..2");
        check("r r r/ r n", "0..2 2..4");
    }
}
