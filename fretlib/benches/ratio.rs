//! How many times as long one thing takes as another, measured side by side.

use std::time::{Duration, Instant};

/// Turns that each of the two gets; the fastest counts, since everything else on the machine only slows.
const TURNS: usize = 30;
/// No turn begins later.
const LONGEST: Duration = Duration::from_secs(5);

/// Prints how many times as long `this` takes as `floor`, in a plain run of all benches.
#[allow(
    clippy::disallowed_methods,
    reason = "a bench has a clock and arguments"
)]
pub fn ratio(name: &str, this: impl Fn(), floor: impl Fn()) {
    if std::env::args().skip(1).any(|it| it != "--bench") {
        return;
    }
    let [mut fastest, mut fastest_floor] = [f64::INFINITY; 2];
    let seconds = |run: &dyn Fn()| {
        let start = Instant::now();
        run();
        start.elapsed().as_secs_f64()
    };
    let start = Instant::now();
    for turn in 0..TURNS {
        if turn > 0 && start.elapsed() > LONGEST {
            break;
        }
        fastest = fastest.min(seconds(&this));
        fastest_floor = fastest_floor.min(seconds(&floor));
    }
    println!("{name}: {:.1} times", fastest / fastest_floor);
}
