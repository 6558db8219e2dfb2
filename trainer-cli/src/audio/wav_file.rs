//! Samples as the bytes of a WAV file.

use std::io::Cursor;

use fretlib::sound::SampleRate;
use hound::{WavSpec, WavWriter};

use crate::failure::Failure;

/// How a sample is written.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SampleFormat {
    /// A whole number of 16 bits.
    Int16,
    /// A whole number of 24 bits.
    Int24,
    /// A floating-point number of 32 bits.
    Float32,
}

impl SampleFormat {
    /// The bits of a sample.
    pub const fn bits(self) -> u16 {
        match self {
            SampleFormat::Int16 => 16,
            SampleFormat::Int24 => 24,
            SampleFormat::Float32 => 32,
        }
    }
}

/// A mono WAV file of samples between −1 and 1, rounded to the nearest step.
pub fn wav_bytes(
    samples: &[f32],
    rate: SampleRate,
    format: SampleFormat,
) -> Result<Vec<u8>, Failure> {
    let spec = WavSpec {
        channels: 1,
        sample_rate: rate.hertz(),
        bits_per_sample: format.bits(),
        sample_format: match format {
            SampleFormat::Float32 => hound::SampleFormat::Float,
            SampleFormat::Int16 | SampleFormat::Int24 => hound::SampleFormat::Int,
        },
    };
    let bytes = samples.len() * usize::from(format.bits() / 8);
    let mut file = Cursor::new(Vec::with_capacity(bytes + 128));
    write(samples, spec, format, &mut file).map_err(|error| {
        Failure::could_not(
            format!("the sound cannot be written: {error}"),
            "play a part of the tune with `--bars`, or fewer loops",
        )
    })?;
    Ok(file.into_inner())
}

fn write(
    samples: &[f32],
    spec: WavSpec,
    format: SampleFormat,
    file: &mut Cursor<Vec<u8>>,
) -> hound::Result<()> {
    let mut writer = WavWriter::new(file, spec)?;
    let scaled = |sample: f32, most: f32| (sample * most).round().clamp(-most, most);
    match format {
        SampleFormat::Int16 => {
            // In pieces, since the fast 16-bit writer takes only as much as fits its buffer.
            for piece in samples.chunks(1 << 16) {
                let mut fast = writer.get_i16_writer(piece.len() as u32);
                for sample in piece {
                    fast.write_sample(scaled(*sample, 32_767.0) as i16);
                }
                fast.flush()?;
            }
        }
        SampleFormat::Int24 => {
            for sample in samples {
                writer.write_sample(scaled(*sample, 8_388_607.0) as i32)?;
            }
        }
        SampleFormat::Float32 => {
            for sample in samples {
                writer.write_sample(*sample)?;
            }
        }
    }
    writer.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_format_is_read_back() {
        let samples: Vec<f32> = (0..1_000).map(|index| (index as f32 * 0.1).sin()).collect();
        for (format, step) in [
            (SampleFormat::Int16, 1.0 / 32_767.0),
            (SampleFormat::Int24, 1.0 / 8_388_607.0),
            (SampleFormat::Float32, 0.0),
        ] {
            let bytes = wav_bytes(&samples, SampleRate::CD, format).unwrap();
            let mut reader = hound::WavReader::new(Cursor::new(bytes)).unwrap();
            assert_eq!(reader.spec().sample_rate, 44_100);
            assert_eq!(reader.spec().channels, 1);
            let read: Vec<f32> = match format {
                SampleFormat::Float32 => reader.samples::<f32>().map(Result::unwrap).collect(),
                _ => reader
                    .samples::<i32>()
                    .map(|sample| sample.unwrap() as f32 * step)
                    .collect(),
            };
            assert_eq!(read.len(), samples.len());
            for (read, sample) in read.iter().zip(&samples) {
                assert!((read - sample).abs() <= step, "{format:?}: {read} {sample}");
            }
        }
    }
}
