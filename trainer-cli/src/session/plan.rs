//! A plan for the available minutes: what to answer, what to play, and what is left out.

/// The needs of a tune.
#[derive(Clone, Debug)]
pub struct Need {
    /// Seconds that each fading item will take, in the order they are asked.
    pub fading: Vec<f64>,
    /// Seconds that each untouched item will take, with its share of learning the phrase.
    pub untouched: Vec<f64>,
    /// How far the tune is from ready, 0 to 1.
    pub distance: f64,
}

/// The share of a tune.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// How many fading items are asked.
    pub fading: usize,
    /// How many untouched items are asked.
    pub untouched: usize,
    /// Minutes of answering.
    pub knowing: u32,
    /// Minutes of playing.
    pub playing: u32,
}

/// The largest share of a tune's time for answering; the rest is for playing. Chosen by ear.
const MOST_KNOWING: f64 = 0.6;
/// The least distance from ready that counts, so that every tune gets some time. Chosen by ear.
const LEAST_DISTANCE: f64 = 0.1;

/// Divides minutes among tunes by how far each is from ready, and in each between answering and playing.
///
/// The minutes of all shares add up to those available. At most `untouched` untouched items are asked in all.
pub fn divide(needs: &[Need], minutes: u32, untouched: usize) -> Vec<Share> {
    let weights: Vec<f64> = needs
        .iter()
        .map(|need| need.distance.max(LEAST_DISTANCE))
        .collect();
    let all: f64 = weights.iter().sum();
    let mut untouched_left = untouched;
    let mut seconds: Vec<f64> = Vec::new();
    let mut shares: Vec<Share> = Vec::new();
    for (index, need) in needs.iter().enumerate() {
        let budget = f64::from(minutes) * 60.0 * weights[index] / all;
        let room = budget * MOST_KNOWING;
        let mut spent = 0.0;
        let mut fits = |items: &[f64]| {
            let fitting = items.iter().take_while(|item| {
                let fits = spent + **item <= room;
                if fits {
                    spent += **item;
                }
                fits
            });
            fitting.count()
        };
        let fading = fits(&need.fading);
        // The rest of the day's share is divided among the remaining tunes.
        let part = untouched_left.div_ceil(needs.len() - index);
        let most = need.untouched.len().min(part);
        let untouched = fits(&need.untouched[..most]);
        untouched_left -= untouched;
        seconds.extend([spent, budget - spent]);
        shares.push(Share {
            fading,
            untouched,
            ..Share::default()
        });
    }
    for (share, minutes) in shares.iter_mut().zip(whole_minutes(&seconds).chunks(2)) {
        (share.knowing, share.playing) = (minutes[0], minutes[1]);
    }
    shares
}

/// Whole minutes with the sum that the seconds have: the largest remainders are rounded up.
fn whole_minutes(seconds: &[f64]) -> Vec<u32> {
    let sum = (seconds.iter().sum::<f64>() / 60.0).round() as u32;
    let mut minutes: Vec<u32> = seconds.iter().map(|it| (it / 60.0) as u32).collect();
    let mut order: Vec<usize> = (0..seconds.len()).collect();
    order.sort_by(|one, other| {
        let rest = |index: usize| (seconds[index] / 60.0).fract();
        rest(*other).total_cmp(&rest(*one))
    });
    let left = sum.saturating_sub(minutes.iter().sum());
    for index in order.into_iter().take(left as usize) {
        minutes[index] += 1;
    }
    minutes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn need(fading: usize, untouched: usize, distance: f64) -> Need {
        Need {
            fading: vec![12.0; fading],
            untouched: vec![20.0; untouched],
            distance,
        }
    }

    #[test]
    fn the_minutes_add_up() {
        for minutes in [1, 5, 20, 61] {
            for needs in [
                vec![need(0, 0, 0.0)],
                vec![need(90, 200, 0.4), need(3, 0, 0.9), need(0, 40, 1.0)],
                vec![need(500, 500, 1.0); 7],
            ] {
                let shares = divide(&needs, minutes, 12);
                let sum: u32 = shares.iter().map(|it| it.knowing + it.playing).sum();
                assert_eq!(sum, minutes, "{shares:?}");
                assert!(shares.iter().map(|it| it.untouched).sum::<usize>() <= 12);
            }
        }
    }

    #[test]
    fn the_tune_that_is_farther_from_ready_has_more_time() {
        let shares = divide(&[need(5, 90, 0.9), need(5, 90, 0.3)], 20, 12);
        let time = |share: &Share| share.knowing + share.playing;
        assert!(time(&shares[0]) > time(&shares[1]), "{shares:?}");
    }

    #[test]
    fn what_does_not_fit_is_left_out() {
        let shares = divide(&[need(100, 0, 1.0)], 10, 12);
        // Six of ten minutes for answers of twelve seconds.
        assert_eq!(shares[0].fading, 30);
        assert_eq!((shares[0].knowing, shares[0].playing), (6, 4));
    }
}
