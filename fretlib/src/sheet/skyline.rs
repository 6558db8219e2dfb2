//! The upper and lower outline of the ink on a staff, so that the rows around it can be set close.

use super::bounds::Bounds;
use super::canvas::Canvas;
use super::drawing::Mark;

/// The rectangles around everything on a staff but its lines, in staff spaces.
pub(super) struct Skyline {
    ink: Vec<Bounds>,
}

impl Skyline {
    /// The ink on a canvas so far.
    pub fn of(canvas: &Canvas) -> Skyline {
        let space = canvas.space;
        let scaled = |it: Bounds| Bounds {
            left: it.left / space,
            top: it.top / space,
            right: it.right / space,
            bottom: it.bottom / space,
        };
        let ink = canvas
            .marks
            .iter()
            .flat_map(Mark::flat)
            .filter_map(Mark::bounds);
        Skyline {
            ink: ink.map(scaled).collect(),
        }
    }

    /// The highest ink between two columns, or the top line of the staff.
    pub fn top(&self, left: f64, right: f64) -> f64 {
        self.between(left, right)
            .map(|it| it.top)
            .fold(0.0, f64::min)
    }

    /// The lowest ink between two columns, or the bottom line of the staff.
    pub fn bottom(&self, left: f64, right: f64) -> f64 {
        self.between(left, right)
            .map(|it| it.bottom)
            .fold(4.0, f64::max)
    }

    fn between(&self, left: f64, right: f64) -> impl Iterator<Item = &Bounds> {
        let is_here = move |it: &&Bounds| it.left < right && left < it.right;
        self.ink.iter().filter(is_here)
    }
}
