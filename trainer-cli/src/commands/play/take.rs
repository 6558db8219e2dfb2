//! Writing what is played to a file.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use fretlib::sound::{Layer, Performance, PlayThrough, Renderer, SampleRate};

use super::PlayRequest;
use super::control::{Loops, PlayControl};
use crate::audio::wav_bytes;
use crate::failure::Failure;
use crate::output::write_file;
use crate::report::heading::title_or_untitled;
use crate::terminal::Streams;

/// The most bytes of sound in a file: fifty minutes in 16 bits at 44,100 Hz.
const MOST_BYTES: u64 = 256 << 20;

/// Writes all loops to the requested file.
pub fn write(
    control: &mut PlayControl,
    request: &PlayRequest,
    output: &Path,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if request.loops == Loops::Endless {
        return Err(Failure::usage(
            "a file has an end: `--loop endless` cannot be written",
            "say how many times, as in `--loop 4`",
        ));
    }
    let is_pipe = output.as_os_str() == "-";
    if !is_pipe
        && output
            .extension()
            .is_some_and(|it| !it.eq_ignore_ascii_case("wav"))
    {
        return Err(Failure::usage(
            format!("`{}` is not a WAV file", output.display()),
            "sound is written as WAV: name a file such as `take.wav`",
        ));
    }
    let rate = request.rate.unwrap_or(SampleRate::CD);
    let mut passes = Vec::new();
    while let Some(pass) = control.next_pass()? {
        passes.push(pass);
        let bytes =
            seconds(&passes) * f64::from(rate.hertz()) * f64::from(request.format.bits() / 8);
        if bytes > MOST_BYTES as f64 {
            return Err(Failure::could_not(
                format!("that would be more than {} MiB of sound", MOST_BYTES >> 20),
                "play fewer loops, or a part of the tune with `--bars`",
            ));
        }
    }
    check_heights(&passes, rate)?;
    let samples = samples(&passes, layers(request), rate);
    let bytes = wav_bytes(&samples, rate, request.format)?;
    if is_pipe {
        streams.stdout.bytes(&bytes)?;
    } else {
        write_file(output, &bytes, request.existing)?;
    }
    let title = title_or_untitled(&control.tune.title);
    writeln!(
        streams.stderr,
        "wrote {title} at {:.0} {} a minute: {:.1} s, {} Hz, {} bits, mono",
        control.beats_a_minute(),
        control.beats_in_words(),
        samples.len() as f64 / f64::from(rate.hertz()),
        rate.hertz(),
        request.format.bits(),
    )?;
    Ok(())
}

fn seconds(passes: &[Arc<PlayThrough>]) -> f64 {
    passes.iter().map(|pass| pass.performance.seconds()).sum()
}

/// Notes too high for the rate would silently be missing.
fn check_heights(passes: &[Arc<PlayThrough>], rate: SampleRate) -> Result<(), Failure> {
    let highest = passes
        .iter()
        .map(|pass| pass.performance.highest_fundamental());
    let highest = highest.fold(0.0, f64::max);
    if highest <= rate.highest_fundamental() {
        return Ok(());
    }
    Err(Failure::could_not(
        format!(
            "a note of {highest:.0} Hz is too high for {} samples a second",
            rate.hertz()
        ),
        format!(
            "ask for more, such as `--rate {}`",
            4 * (highest / 1_000.0).ceil() as u32 * 1_000
        ),
    ))
}

/// Which layers sound: melody, chords, click.
pub fn layers(request: &PlayRequest) -> [bool; 3] {
    [request.melody, request.chords, request.click.is_some()]
}

/// Passes one after another, with these layers: melody, chords, click.
pub fn samples(passes: &[Arc<PlayThrough>], layers: [bool; 3], rate: SampleRate) -> Vec<f32> {
    let mut renderer = Renderer::new(rate);
    for (layer, sounds) in [Layer::Melody, Layer::Chords, Layer::Click]
        .into_iter()
        .zip(layers)
    {
        if !sounds {
            renderer.silence(layer);
        }
    }
    for pass in passes {
        renderer.then(pass.performance.clone());
    }
    let most = rate.sample_at(seconds(passes) + LONGEST_END) as usize;
    let mut samples = vec![0.0; most];
    let mut rendered = 0;
    // Strings may ring for a moment after the last bar.
    for piece in samples.chunks_mut(4_096) {
        renderer.render(piece);
        rendered += piece.len();
        if renderer.is_silent() {
            break;
        }
    }
    let tail = rate.sample_at(Performance::TAIL) as usize;
    samples.truncate(rendered + tail);
    samples
}

/// The most seconds after the last bar until the last string is damped.
const LONGEST_END: f64 = 0.5;
