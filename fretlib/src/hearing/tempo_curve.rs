//! The tempo as a curve that bends little by little, through all notes of a part at once.
//!
//! A line through the notes around a place lies beside a tempo that swings, and the nearest notes count hardly more for it
//! than those two seconds away. Here the beat drifts at random by a little from quarter to quarter (R. E. Kalman, 1960), and
//! the estimates from the notes before a place and from those after it are joined (D. C. Fraser and J. E. Potter, 1969; both
//! from memory).

use super::local_tempo::{STEADY, TempoPoint, when};

/// By which share the tempo drifts within a quarter note; chosen on takes of our own whose tempo swings.
const DRIFT: f64 = 0.025;

/// By which share the tempo at one end differs from that of the whole.
const UNEVEN_ENDS: f64 = 0.1;

/// Times that the notes are weighed anew; after that hardly anything changes.
const ROUNDS: usize = 3;

/// When a note is expected.
#[derive(Clone, Copy, Debug, Default)]
pub struct Prediction {
    /// Seconds from the start of the recording.
    pub time: f64,
    /// Its standard error in seconds: larger at the ends, and far from other notes.
    pub error: f64,
}

/// The tempo of a part that was played without a long stop.
pub struct TempoCurve<'a> {
    points: &'a [TempoPoint],
    // After each point, what is known from it and those before; and from it and those after.
    before: Vec<Beat>,
    after: Vec<Beat>,
    drift: f64,
}

impl TempoCurve<'_> {
    /// The curve through `points`, which last `usual` seconds a quarter note over all.
    ///
    /// Points far from the line through the `side` nearest on either side, and then from the curve itself, count little.
    pub fn new(points: &[TempoPoint], usual: f64, side: usize) -> TempoCurve<'_> {
        let off_the_line = |it: &TempoPoint| {
            let line = when(points, it.at, usual, side);
            line.map_or(0.0, |line| (it.heard - line) / STEADY)
        };
        let mut curve = TempoCurve {
            points,
            before: Vec::new(),
            after: Vec::new(),
            drift: (DRIFT * usual).powi(2),
        };
        let mut off: Vec<f64> = points.iter().map(off_the_line).collect();
        for _ in 0..ROUNDS {
            let weighed = points.iter().zip(off.iter().map(|it| variance(*it)));
            curve.before = run(weighed.clone(), usual, curve.drift);
            curve.after = run(weighed.rev(), usual, curve.drift);
            curve.after.reverse();
            let off_the_curve = |it: &TempoPoint| {
                let curve = curve.when(it.at);
                curve.map_or(0.0, |curve| {
                    (it.heard - curve.time) / curve.error.hypot(STEADY)
                })
            };
            off = points.iter().map(off_the_curve).collect();
        }
        curve
    }

    /// When a note at `at` quarter notes is expected; a point at `at` itself is left out, so that a late note does not
    /// excuse itself.
    pub fn when(&self, at: f64) -> Option<Prediction> {
        let split = self.points.partition_point(|it| it.at < at - 1e-6);
        let behind = self.points.partition_point(|it| it.at <= at + 1e-6);
        let moved = |beat: &Beat, from: &TempoPoint| beat.moved(at - from.at, self.drift);
        let before = split
            .checked_sub(1)
            .map(|last| moved(&self.before[last], &self.points[last]));
        let after = self.after.get(behind);
        let after = after.map(|beat| moved(beat, &self.points[behind]));
        let beat = match (before, after) {
            (Some(before), Some(after)) => before.joined(&after),
            (one, other) => one.or(other)?,
        };
        Some(Prediction {
            time: beat.time,
            error: beat.time_variance.sqrt(),
        })
    }
}

/// How far a point may lie from the curve when it is this many times as far off as a steady hand; squared, in seconds.
fn variance(off: f64) -> f64 {
    STEADY.powi(2) * (1.0 + (off / 3.0).powi(4))
}

/// What is known at each point, in the order in which they are given.
fn run<'a>(
    points: impl Iterator<Item = (&'a TempoPoint, f64)>,
    usual: f64,
    drift: f64,
) -> Vec<Beat> {
    let mut beats: Vec<Beat> = Vec::new();
    let mut last = 0.0;
    for (point, variance) in points {
        let beat = match beats.last() {
            Some(beat) => beat
                .moved(point.at - last, drift)
                .seen(point.heard, variance),
            None => Beat {
                time: point.heard,
                quarter: usual,
                time_variance: variance,
                covariance: 0.0,
                quarter_variance: (UNEVEN_ENDS * usual).powi(2),
            },
        };
        last = point.at;
        beats.push(beat);
    }
    beats
}

/// What is known of the beat at one place: when it is, how long a quarter note lasts there, and how far both may be off.
#[derive(Clone, Copy, Debug)]
struct Beat {
    time: f64,
    quarter: f64,
    time_variance: f64,
    covariance: f64,
    quarter_variance: f64,
}

impl Beat {
    /// The beat some quarter notes later, or earlier.
    fn moved(&self, quarters: f64, drift: f64) -> Beat {
        let drift = drift * quarters.abs();
        Beat {
            time: self.time + quarters * self.quarter,
            quarter: self.quarter,
            time_variance: self.time_variance
                + quarters * (2.0 * self.covariance + quarters * self.quarter_variance)
                + drift * quarters * quarters / 3.0,
            covariance: self.covariance + quarters * self.quarter_variance + drift * quarters / 2.0,
            quarter_variance: self.quarter_variance + drift,
        }
    }

    /// What is known once a note was heard at this beat.
    fn seen(&self, heard: f64, variance: f64) -> Beat {
        let all = self.time_variance + variance;
        let (time, quarter) = (self.time_variance / all, self.covariance / all);
        let late = heard - self.time;
        Beat {
            time: self.time + time * late,
            quarter: self.quarter + quarter * late,
            time_variance: (1.0 - time) * self.time_variance,
            covariance: (1.0 - time) * self.covariance,
            quarter_variance: self.quarter_variance - quarter * self.covariance,
        }
    }

    /// Two independent estimates of the same beat, joined.
    fn joined(&self, other: &Beat) -> Beat {
        let both = [
            self.time_variance + other.time_variance,
            self.covariance + other.covariance,
            self.quarter_variance + other.quarter_variance,
        ];
        let determinant = both[0] * both[2] - both[1] * both[1];
        // How much of the difference in time and in tempo counts.
        let weigh = |time: f64, quarter: f64| {
            (
                (time * both[2] - quarter * both[1]) / determinant,
                (quarter * both[0] - time * both[1]) / determinant,
            )
        };
        let of_time = weigh(self.time_variance, self.covariance);
        let of_quarter = weigh(self.covariance, self.quarter_variance);
        let (late, longer) = (other.time - self.time, other.quarter - self.quarter);
        Beat {
            time: self.time + of_time.0 * late + of_time.1 * longer,
            quarter: self.quarter + of_quarter.0 * late + of_quarter.1 * longer,
            time_variance: self.time_variance
                - of_time.0 * self.time_variance
                - of_time.1 * self.covariance,
            covariance: self.covariance
                - of_time.0 * self.covariance
                - of_time.1 * self.quarter_variance,
            quarter_variance: self.quarter_variance
                - of_quarter.0 * self.covariance
                - of_quarter.1 * self.quarter_variance,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::local_tempo::tests::swinging;
    use super::*;

    #[test]
    fn a_late_note_stands_out_of_a_tempo_that_swings() {
        for swing in [0.0, 0.05, 0.08, 0.13] {
            let mut points = swinging(swing);
            points[20].heard += 0.15;
            let curve = TempoCurve::new(&points, 0.6, 7);
            for (k, point) in points.iter().enumerate() {
                let late = point.heard - curve.when(point.at).unwrap().time;
                if k == 20 {
                    assert!((0.12..0.18).contains(&late), "{swing}: {late}");
                } else {
                    let most = if (1..47).contains(&k) { 0.03 } else { 0.06 };
                    assert!(late.abs() < most, "{swing}, note {k}: {late}");
                }
            }
        }
    }

    #[test]
    fn a_late_note_at_either_end_does_not_bend_the_curve() {
        for late in [1, 46] {
            let mut points = swinging(0.05);
            points[late].heard += 0.2;
            let curve = TempoCurve::new(&points, 0.6, 7);
            let end = if late == 1 { 0 } else { 47 };
            let off = points[end].heard - curve.when(points[end].at).unwrap().time;
            assert!(off.abs() < 0.04, "{off}");
        }
    }

    #[test]
    fn the_error_grows_with_the_distance_to_the_nearest_notes() {
        let points = swinging(0.0);
        let curve = TempoCurve::new(&points, 0.6, 7);
        let error = |at: f64| curve.when(at).unwrap().error;
        assert!(error(20.0) < 0.015);
        assert!(error(0.0) > error(20.0));
        assert!(error(-4.0) > 2.0 * error(0.0));
    }

    #[test]
    fn one_point_is_enough_and_none_is_not() {
        let points = swinging(0.0);
        let time = |points, at| Some(TempoCurve::new(points, 0.5, 7).when(at)?.time);
        assert_eq!(time(&points[..1], 2.0), Some(2.0));
        assert_eq!(time(&[], 2.0), None);
    }
}
