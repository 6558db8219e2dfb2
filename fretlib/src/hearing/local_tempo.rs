//! The tempo around a note, estimated from the notes on either side.

/// A played note: its time in the music and in the recording.
#[derive(Clone, Copy, Debug)]
pub struct TempoPoint {
    /// Quarter notes from the start of the playing.
    pub at: f64,
    /// Seconds from the start of the recording.
    pub heard: f64,
}

/// Seconds on each side from which notes are used, and the fewest notes; chosen on takes whose tempo swings.
const NEAR: f64 = 2.5;
const LEAST: usize = 3;

/// With more notes on a side than this, near and far ones count alike.
const MANY: usize = 12;

/// Errors of a hand that plays in time, in seconds; common practice says some 10 to 20 ms.
pub const STEADY: f64 = 0.012;

/// Seconds a quarter note lasts over all points: the median slope of pairs (Theil 1950, Sen 1968).
///
/// Only pairs of near points are used, so that a stop in the middle does not matter. `None` for fewer than two points.
pub fn seconds_a_quarter(points: &[TempoPoint]) -> Option<f64> {
    let mut slopes: Vec<f64> = (0..points.len())
        .flat_map(|k| {
            points[k + 1..]
                .iter()
                .take(8)
                .map(move |it| (points[k], *it))
        })
        .filter(|(one, other)| other.at - one.at > 1e-6)
        .map(|(one, other)| (other.heard - one.heard) / (other.at - one.at))
        .filter(|slope| *slope > 0.0)
        .collect();
    median(&mut slopes)
}

/// When a note at `at` quarter notes is expected, in seconds, by at most `side` points on each side.
///
/// A robust line: nearer points weigh more, and outliers little or nothing (Tukey's biweight). The point at `at` itself
/// is left out, so that a late note does not excuse itself. `usual` is the slope for a single point.
pub fn when(points: &[TempoPoint], at: f64, usual: f64, side: usize) -> Option<f64> {
    let split = points.partition_point(|it| it.at < at - 1e-6);
    let after = points.partition_point(|it| it.at <= at + 1e-6);
    let before = &points[split.saturating_sub(side)..split];
    let behind = &points[after..(after + side).min(points.len())];
    let near: Vec<TempoPoint> = before.iter().chain(behind).copied().collect();
    if near.len() < LEAST {
        let mut starts: Vec<f64> = near
            .iter()
            .map(|it| it.heard + usual * (at - it.at))
            .collect();
        return median(&mut starts);
    }
    // Wide enough for a few points on either side, even where notes are long.
    let farthest = |side: &[TempoPoint], nearest_first: bool| {
        let index = if nearest_first {
            LEAST - 1
        } else {
            side.len().saturating_sub(LEAST)
        };
        let it = side.get(index).or(if nearest_first {
            side.last()
        } else {
            side.first()
        });
        it.map_or(0.0, |it| (it.at - at).abs())
    };
    let wide = if side > MANY {
        f64::INFINITY
    } else {
        NEAR / usual
    };
    let reach = wide
        .max(1.3 * farthest(before, false))
        .max(1.3 * farthest(behind, true));
    let nearness: Vec<f64> = near
        .iter()
        .map(|it| {
            (1.0 - ((it.at - at).abs() / reach).powi(3))
                .max(0.0)
                .powi(3)
        })
        .collect();
    let (mut time, mut slope) = robust_start(&near, &nearness, at)?;
    for _ in 0..6 {
        let residuals: Vec<f64> = near
            .iter()
            .map(|it| it.heard - time - slope * (it.at - at))
            .collect();
        let mut sizes: Vec<f64> = residuals
            .iter()
            .zip(&nearness)
            .filter(|(_, near)| **near > 0.0)
            .map(|(it, _)| it.abs())
            .collect();
        let scale = (1.4826 * median(&mut sizes)?).max(STEADY);
        let weights: Vec<f64> = residuals
            .iter()
            .zip(&nearness)
            .map(|(it, near)| near * (1.0 - (it / (4.685 * scale)).powi(2)).max(0.0).powi(2))
            .collect();
        let Some(line) = weighted_line(&near, &weights, at) else {
            break;
        };
        (time, slope) = line;
    }
    Some(time)
}

/// The median slope of the nearer points, and the median of their predictions for `at`.
fn robust_start(points: &[TempoPoint], nearness: &[f64], at: f64) -> Option<(f64, f64)> {
    let near: Vec<TempoPoint> = points
        .iter()
        .zip(nearness)
        .filter(|(_, near)| **near > 0.0)
        .map(|(point, _)| *point)
        .collect();
    let mut slopes = Vec::new();
    for (k, one) in near.iter().enumerate() {
        let later = near[k + 1..].iter().filter(|it| it.at - one.at > 1e-6);
        slopes.extend(later.map(|it| (it.heard - one.heard) / (it.at - one.at)));
    }
    let slope = median(&mut slopes)?;
    let mut starts: Vec<f64> = near
        .iter()
        .map(|it| it.heard - slope * (it.at - at))
        .collect();
    Some((median(&mut starts)?, slope))
}

/// The line of least squares: its value at `at` and its slope.
fn weighted_line(points: &[TempoPoint], weights: &[f64], at: f64) -> Option<(f64, f64)> {
    let sum: f64 = weights.iter().sum();
    if sum < 1e-9 {
        return None;
    }
    let mean = |value: &dyn Fn(&TempoPoint) -> f64| {
        points
            .iter()
            .zip(weights)
            .map(|(it, weight)| weight * value(it))
            .sum::<f64>()
            / sum
    };
    let (x, y) = (mean(&|it| it.at - at), mean(&|it| it.heard));
    let spread = mean(&|it| (it.at - at - x).powi(2));
    if spread < 1e-9 {
        return None;
    }
    let slope = mean(&|it| (it.at - at - x) * (it.heard - y)) / spread;
    (slope > 0.0).then_some((y - slope * x, slope))
}

/// The middle value; the upper of two.
pub fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Quarter notes at a tempo that swings by `swing` around 100 a minute, once in 16 quarters.
    pub(in crate::hearing) fn swinging(swing: f64) -> Vec<TempoPoint> {
        let mut heard = 1.0;
        (0..48)
            .map(|k| {
                let point = TempoPoint {
                    at: f64::from(k),
                    heard,
                };
                heard += 0.6 * (1.0 + swing * (f64::from(k) * std::f64::consts::TAU / 16.0).sin());
                point
            })
            .collect()
    }

    #[test]
    fn a_late_note_stands_out_of_a_tempo_that_swings() {
        for swing in [0.0, 0.05, 0.08] {
            let mut points = swinging(swing);
            points[20].heard += 0.15;
            for (k, point) in points.iter().enumerate() {
                let late = point.heard - when(&points, point.at, 0.6, 7).unwrap();
                if k == 20 {
                    assert!((0.09..0.21).contains(&late), "{swing}: {late}");
                } else {
                    assert!(late.abs() < 0.09, "{swing}, note {k}: {late}");
                }
            }
        }
    }

    #[test]
    fn two_points_have_a_slope_and_one_has_not() {
        let points = swinging(0.0);
        let slope = seconds_a_quarter(&points[..2]).unwrap();
        assert!((slope - 0.6).abs() < 1e-9);
        assert_eq!(seconds_a_quarter(&points[..1]), None);
        assert_eq!(when(&points[..1], 2.0, 0.5, 7), Some(2.0));
        assert_eq!(when(&[], 2.0, 0.5, 7), None);
    }
}
