//! What sounds the later times of a repeat, where choices are for one time of it.

use fretlib::arranging::{Arrangement, ArrangementChoice, Lattice, for_time};

/// An arrangement for one time of repeated strains, from the second on.
pub struct LaterTime {
    /// Which time.
    pub time: u32,
    /// The whole tune, as it would be with the choices for this time.
    pub arrangement: Arrangement,
    /// The indices of the notes it is for: those of the strains that have a choice of their own.
    pub notes: Vec<usize>,
}

/// The later times of all strains that have a choice for one time.
pub fn later_times(lattice: &Lattice, choices: &[ArrangementChoice]) -> Vec<LaterTime> {
    let melody = lattice.melody();
    let fits = |it: &&ArrangementChoice| it.time.is_some() && lattice.moment_of(it).is_ok();
    let own: Vec<&ArrangementChoice> = choices.iter().filter(fits).collect();
    let most = own.iter().map(|it| lattice.times(it.note - 1)).max();
    let order = melody.playing_order();
    let times = 2..=most.unwrap_or(1) as u32;
    times
        .map(|time| {
            let onset = |index: usize| melody.notes()[index].onset;
            let has_own = |pass: &&fretlib::melody::Pass| {
                let within =
                    |it: &&ArrangementChoice| (pass.start..pass.end).contains(&onset(it.note - 1));
                own.iter().any(within)
            };
            let strains: Vec<_> = order.passes().iter().filter(has_own).collect();
            let sounds = |index: &usize| {
                let here = strains
                    .iter()
                    .any(|pass| (pass.start..pass.end).contains(&onset(*index)));
                here && lattice.times(*index) >= time as usize
            };
            let notes = (0..melody.notes().len()).filter(sounds).collect();
            let arrangement = lattice
                .solve_around(1, &for_time(choices, time))
                .0
                .swap_remove(0);
            LaterTime {
                time,
                arrangement,
                notes,
            }
        })
        .collect()
}
