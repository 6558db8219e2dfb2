//! Why a tune is fingered otherwise at another tempo than its own.

use fretlib::fingering::{Fingering, Line, Shift, Weights, explain, shifts};
use fretlib::text::StyledText;

use super::{Fingered, page::heading};

impl Fingered {
    /// What differs from the way at the tune's own tempo, and why; `None` when no other was asked for.
    pub(super) fn against_own_tempo(&self) -> Option<StyledText> {
        let (own_line, own_way) = self.at_own_tempo.as_ref()?;
        let way = self.ways.first()?;
        let (asked, own) = (
            self.tempo().quarters_per_minute(),
            self.own_tempo().quarters_per_minute(),
        );
        let mut text = StyledText::default();
        if way.steps == own_way.steps {
            text.push(
                format!("At the tune's own tempo, {own}, the best way is the same.").as_str(),
            );
            return Some(text);
        }
        text.push(heading(&format!(
            "Otherwise than at the tune's own tempo of {own} (a shift costs less the more time there is)"
        )));
        let here = shifts(&self.line, way);
        let there = shifts(own_line, own_way);
        let only_there = only_in(&there, &here).map(|shift| {
            let now = own_way.time_to_move(&self.line, shift.index);
            (shift, own, asked, now)
        });
        let only_here = only_in(&here, &there).map(|shift| {
            let then = way.time_to_move(own_line, shift.index);
            (shift, asked, own, then)
        });
        let mut moments: Vec<_> = only_there.chain(only_here).collect();
        moments.sort_by_key(|(shift, ..)| shift.index);
        for (shift, tempo, other, other_seconds) in &moments {
            text.push(
                format!(
                    "{} only at {tempo}, with {:.1} s for it; {other_seconds:.1} s at {other}",
                    self.moment(shift),
                    shift.seconds
                )
                .as_str(),
            );
        }
        if moments.is_empty() {
            text.push(
                "  the hand moves at the same moments; some notes have other places or fingers",
            );
        }
        if let (Some(dearer_here), Some(dearer_there)) = (
            self.cost(&self.line, own_way).map(|cost| cost - way.cost),
            self.cost(own_line, way).map(|cost| cost - own_way.cost),
        ) {
            text.push(
                format!(
                    "  at {asked} the way for {own} would cost {dearer_here:.1} more; at {own} this one {dearer_there:.1} more than that"
                )
                .as_str(),
            );
        }
        Some(text)
    }

    fn cost(&self, line: &Line, way: &Fingering) -> Option<f64> {
        let amounts = explain(&self.player(), line, &way.steps)?;
        let weights = Weights::default();
        Some(amounts.iter().map(|note| weights.cost(note)).sum())
    }
}

/// The shifts of one way that the other does not make.
fn only_in<'a>(one: &'a [Shift], other: &'a [Shift]) -> impl Iterator<Item = &'a Shift> {
    one.iter().filter(|shift| {
        !other
            .iter()
            .any(|it| (it.index, it.from, it.to) == (shift.index, shift.from, shift.to))
    })
}
