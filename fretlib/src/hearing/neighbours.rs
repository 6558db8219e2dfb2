//! A strike weighed beside the strikes around it.
//!
//! A soft note between two others, a few semitones from both, is more likely than one far away, and more likely than one
//! of the overtones of the note that still sounds. By itself a strike does not tell this.

use super::neighbour_trees::TREES;
use super::strike::{self, Strike};
use super::strike_candidate::{HIGHEST, LOWEST, middle};
use super::trees::log_odds;

/// How many values are measured of a pitch: those of the strike by itself, and seven more.
pub const MEASURED: usize = strike::MEASURED + 7;

/// Where the log odds of the strike by itself are among the values; the trees add to them.
pub const BY_ITSELF: usize = strike::MEASURED;

/// A pitch that is less likely by itself than these log odds is not weighed again.
const LEAST: f32 = -5.0;

/// By itself a strike is more likely than not from here on.
const EVEN: f32 = 0.0;

/// Neighbours on each side whose flux is compared.
const SIDE: usize = 16;

/// No neighbour is farther away, in seconds.
const FAR: f64 = 2.0;

/// The interval to a neighbour that is not there, in semitones.
const NO_INTERVAL: f32 = 99.0;

/// What was measured of the pitches that are weighed again at one strike.
pub type MeasuredPitches = Vec<(i32, [f32; MEASURED])>;

/// Gives each strike the odds that it has among its neighbours.
pub fn weigh(strikes: &mut [Strike]) {
    let measured = measured(strikes);
    for (strike, pitches) in strikes.iter_mut().zip(measured) {
        for (pitch, values) in pitches {
            let odds = log_odds(values[BY_ITSELF], &TREES, &values);
            strike.set_log_odds(pitch, odds);
        }
    }
}

/// What is measured of each strike, given the odds of every strike by itself.
pub fn measured(strikes: &[Strike]) -> Vec<MeasuredPitches> {
    let neighbours: Vec<Neighbour> = strikes
        .iter()
        .filter(|it| it.highest_log_odds() > EVEN)
        .map(Neighbour::of)
        .collect();
    strikes
        .iter()
        .map(|strike| among(strike, &neighbours))
        .collect()
}

/// A strike that is likely by itself.
struct Neighbour {
    at: f64,
    pitch: i32,
    log_flux: f32,
}

impl Neighbour {
    fn of(strike: &Strike) -> Neighbour {
        Neighbour {
            at: strike.at(),
            pitch: strike.sounded().pitch.into(),
            log_flux: strike.candidate.flux.ln(),
        }
    }
}

fn among(strike: &Strike, neighbours: &[Neighbour]) -> MeasuredPitches {
    let at = strike.at();
    let before = neighbours.partition_point(|it| it.at < at);
    let after = neighbours.partition_point(|it| it.at <= at);
    let previous = before.checked_sub(1).map(|it| &neighbours[it]);
    let next = neighbours.get(after);
    let around = before.saturating_sub(SIDE)..(after + SIDE).min(neighbours.len());
    let mut fluxes: Vec<f32> = neighbours[around].iter().map(|it| it.log_flux).collect();
    let usual_flux = middle(&mut fluxes);
    let gap = |to: Option<&Neighbour>| to.map_or(FAR, |it| (it.at - at).abs().min(FAR)) as f32;
    let weighed = |pitch: i32| {
        let odds = strike.log_odds(pitch);
        let by_itself = strike.measured(pitch, &[]).filter(|_| odds > LEAST)?;
        let interval =
            |to: Option<&Neighbour>| to.map_or(NO_INTERVAL, |it| (pitch - it.pitch).abs() as f32);
        let added = [
            odds,
            odds - strike.rival_log_odds(pitch),
            strike.candidate.flux.ln() - usual_flux,
            gap(previous),
            gap(next),
            interval(previous),
            interval(next),
        ];
        let mut values = [0.0; MEASURED];
        values[..strike::MEASURED].copy_from_slice(&by_itself);
        values[strike::MEASURED..].copy_from_slice(&added);
        Some((pitch, values))
    };
    (LOWEST as i32..=HIGHEST as i32)
        .filter_map(weighed)
        .collect()
}
