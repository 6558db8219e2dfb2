//! How the fingering differs from that at the tune's own tempo.

use fretlib::fingering::Shift;
use fretlib::text::StyledText;

use super::{FingeredTune, fingering_page::heading};

impl FingeredTune {
    /// The differences from the best fingering at the tune's own tempo, and why; `None` when no other tempo was
    /// requested.
    pub(super) fn against_own_tempo(&self) -> Option<StyledText> {
        let (own_line, own_found) = self.at_own_tempo.as_ref()?;
        let found = self.found.first()?;
        let (best, own_best) = (&found.fingering, &own_found.fingering);
        let (asked, own) = (self.tempo(), self.tune.melody.first_tempo());
        let mut text = StyledText::default();
        if best.notes == own_best.notes {
            text.push(
                format!("The best fingering is the same at the tune's own tempo ({own}).").as_str(),
            );
            return Some(text);
        }
        text.push(heading(&format!(
            "What changes from the tune's own tempo ({own}); a shift is easier with more time"
        )));
        let here = best.explain_shifts(&self.search(found), &self.line);
        let there = own_best.explain_shifts(&self.search(own_found), own_line);
        let only_there = only_in(&there, &here).map(|shift| {
            let now = own_best.time_to_move(&self.line, shift.index);
            (shift, own, asked, now)
        });
        let only_here = only_in(&here, &there).map(|shift| {
            let then = best.time_to_move(own_line, shift.index);
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
        Some(text)
    }
}

/// The shifts of one fingering that the other does not make.
fn only_in<'a>(one: &'a [Shift], other: &'a [Shift]) -> impl Iterator<Item = &'a Shift> {
    one.iter().filter(|shift| {
        !other
            .iter()
            .any(|it| (it.index, it.from, it.to) == (shift.index, shift.from, shift.to))
    })
}
