//! How much faster than real time a recording is heard. Run with `cargo bench -p fretlib --bench hearing`.

use divan::Bencher;
use divan::counter::ItemsCount;
use fretlib::hearing::{Heard, RecordingRate};

fn main() {
    divan::main();
}

/// Seconds of sound.
const SECONDS: usize = 60;

/// Four plucked notes a second; an item of the throughput is a sample.
#[divan::bench]
fn a_minute_of_plucked_notes(bencher: Bencher) {
    let rate = RecordingRate::WORKING;
    let step = rate.get() as usize / 4;
    let samples: Vec<f32> = (0..SECONDS * rate.get() as usize)
        .map(|k| {
            let t = (k % step) as f32 / rate.get() as f32;
            let hertz = 110.0 * (((k / step) * 5 % 24) as f32 / 12.0).exp2();
            let wave =
                (1..9).map(|h| (std::f32::consts::TAU * hertz * h as f32 * t).sin() / h as f32);
            0.2 * (-4.0 * t).exp() * wave.sum::<f32>()
        })
        .collect();
    bencher
        .counter(ItemsCount::new(samples.len()))
        .bench(|| Heard::whole(&samples, rate).struck_notes().len());
}
