//! From a request to a tune: find it, read it, cut and move it.

use std::io::Write;
use std::path::Path;

use fretlib::format::{Format, Reading, abc, detect, midi, musicxml, tune_ron};
use fretlib::melody::{BarChoice, KeyProfile, Melody, estimate_keys};
use fretlib::theory::{Interval, Key, Mode, PitchClass};

use super::built_in_tunes::{BUILT_IN, built_in};
use super::bytes_of;
use crate::failure::Failure;
use crate::kept_file::is_kept_file;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// The origin of a tune's key.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum KeySource {
    /// Declared in the source.
    Declared,
    /// Given by the player.
    Option,
    /// Estimated from the notes.
    Estimated,
}

impl KeySource {
    /// The word used on screens and in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            KeySource::Declared => "declared",
            KeySource::Option => "option",
            KeySource::Estimated => "estimated",
        }
    }
}

/// A tune, prepared for a command.
#[derive(Clone, Debug)]
pub struct Tune {
    /// The melody, cut and moved as requested.
    pub melody: Melody,
    /// The key it begins in.
    pub key: Key,
    /// Where the key comes from.
    pub key_source: KeySource,
}

impl TuneRequest {
    /// Finds and reads the tune, and prints the reader's warnings on standard error.
    pub fn open(&self, streams: &mut Streams) -> Result<Tune, Failure> {
        let name = self.source.as_deref().unwrap_or(BUILT_IN[0].name);
        let melody = match built_in(name) {
            Some(built_in) => built_in.melody().clone(),
            None => {
                let reading = read_bytes(name, bytes_of(name, streams)?, self)?;
                for remark in &reading.warnings {
                    writeln!(streams.stderr, "note: {name}: {remark}")?;
                }
                reading.melody
            }
        };
        settled(melody, self)
    }
}

/// A melody in its key, cut and moved as requested.
pub fn settled(melody: Melody, request: &TuneRequest) -> Result<Tune, Failure> {
    let (melody, key, key_source) = settle_key(melody, request.key.as_deref())?;
    let (melody, key) = moved(melody, key, request)?;
    let melody = match &request.bars {
        None => melody,
        Some(bars) => melody
            .only(&bars.stretches(&melody))
            .ok_or_else(|| no_such_bars(&melody, bars))?,
    };
    let key = melody.keys().first().copied().unwrap_or(key);
    Ok(Tune {
        melody,
        key,
        key_source,
    })
}

/// The message about bars, sections or endings that the tune does not have.
fn no_such_bars(melody: &Melody, bars: &BarChoice) -> Failure {
    let numbers = || melody.bars().iter().map(|bar| bar.number);
    let (first, last) = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
    let has = format!("the tune has bars {first} to {last}");
    let names: Vec<&str> = melody
        .sections()
        .iter()
        .map(|(_, name)| name.as_str())
        .collect();
    match bars {
        BarChoice::Numbers(numbers) => Failure::usage(
            format!(
                "no note begins in bars {}-{}",
                numbers.start(),
                numbers.end()
            ),
            has,
        ),
        BarChoice::Section(name) if names.is_empty() => Failure::usage(
            format!("no section is called `{name}`"),
            format!("{has} and no sections"),
        ),
        BarChoice::Section(name) => Failure::usage(
            format!("no section is called `{name}`"),
            format!("{has}, and the sections {}", names.join(", ")),
        ),
        BarChoice::Ending(_) => Failure::usage(format!("there is no {bars}"), has),
    }
}

/// Reads a tune in whatever format it is.
pub fn read_bytes(
    name: &str,
    source_bytes: Vec<u8>,
    request: &TuneRequest,
) -> Result<Reading, Failure> {
    if source_bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Failure::usage(
            format!("`{}` is empty", name),
            "give a tune in RON or ABC; `neckline tunes --show` prints one to start from",
        ));
    }
    if is_kept_file(Path::new(name)) {
        return Err(Failure::usage(
            format!("`{name}` is kept beside a tune and is not one itself"),
            "name the tune; what is kept beside it is used by itself",
        ));
    }
    let Some(format) = detect(&source_bytes) else {
        return Err(Failure::usage(
            format!("`{}` is in no format that can be read", name),
            "readable are the project's RON tunes, which begin with `(title:`, ABC, which has a `K:` line after `X:` or \
             `T:`, MusicXML (also compressed) and MIDI files",
        ));
    };
    let voice = request.voice.clone();
    let read = match format {
        Format::TuneRon => tune_ron::read(&source_bytes),
        Format::Abc => {
            let tune = request.number;
            abc::read(&source_bytes, &abc::AbcOptions { tune, voice })
        }
        Format::MusicXml | Format::CompressedMusicXml => {
            let part = request.part.clone();
            musicxml::read(&source_bytes, &musicxml::MusicXmlOptions { part, voice })
        }
        Format::Midi => {
            let options = midi::MidiOptions {
                track: request.track.clone(),
                grid: request.grid,
                octave_shift: request.octave_shift,
            };
            midi::read(&source_bytes, &options)
        }
    };
    // Only plain text has lines to quote.
    let is_text = format != Format::CompressedMusicXml
        && !source_bytes.starts_with(&[0xFE, 0xFF])
        && !source_bytes.starts_with(&[0xFF, 0xFE]);
    read.map_err(|unreadable| Failure::Unreadable {
        name: name.to_owned(),
        source_bytes: if is_text { source_bytes } else { Vec::new() },
        unreadable,
    })
}

/// The key of the tune: the player's, or the declared one, or the best estimate from the notes.
fn settle_key(melody: Melody, asked: Option<&str>) -> Result<(Melody, Key, KeySource), Failure> {
    let declared = melody.keys().first().copied();
    Ok(match (asked, declared) {
        (Some("estimate"), _) | (None, None) => {
            let key = estimate_keys(&melody, KeyProfile::default())[0].key;
            (melody.with_key(key), key, KeySource::Estimated)
        }
        (Some(text), _) => {
            let key: Key = text.parse().map_err(|error| {
                Failure::usage(
                    format!("`--key {text}` cannot be read: {error}"),
                    "write a key such as `--key \"E minor\"`, or `--key estimate`",
                )
            })?;
            (melody.with_key(key), key, KeySource::Option)
        }
        (None, Some(key)) => (melody, key, KeySource::Declared),
    })
}

/// The tune and its key moved by `--transpose` or `--to-key`.
fn moved(melody: Melody, key: Key, request: &TuneRequest) -> Result<(Melody, Key), Failure> {
    let interval = match (request.transpose, request.to_key) {
        (Some(interval), _) => interval,
        (None, Some(tonic)) => nearest_interval(key, tonic)?,
        (None, None) => return Ok((melody, key)),
    };
    let failed = |error: fretlib::OutOfRange| {
        Failure::could_not(
            format!("the tune cannot be moved by {interval}: {error}"),
            "choose an interval with another spelling, such as +m2 for +A1, or another octave",
        )
    };
    Ok((
        melody.transposed(interval).map_err(failed)?,
        key.transpose(interval).map_err(failed)?,
    ))
}

/// The shortest way from a key's tonic to another: at most a tritone up or a fourth down.
fn nearest_interval(key: Key, tonic: PitchClass) -> Result<Interval, Failure> {
    let target = Key::new(tonic, key.mode()).map_err(|error| {
        Failure::usage(
            format!("there is no key {tonic} {}: {error}", key.mode().name()),
            match key.mode() {
                Mode::Minor => "minor keys go from Ab minor to A# minor",
                _ => "keys have at most seven sharps or flats",
            },
        )
    })?;
    let fifths = i16::from(target.tonic().fifths() - key.tonic().fifths());
    // A fifth is (4 steps, 7 semitones); octaves bring the result nearest to the start.
    let octaves = (7 * fifths + 5).div_euclid(12);
    Interval::new(4 * fifths - 7 * octaves, 7 * fifths - 12 * octaves)
        .map_err(|error| Failure::could_not(error.to_string(), "choose a nearer key"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_reached_the_nearest_way() {
        let cases = [
            ("G major", "Ab", "+m2"),
            ("G major", "G", "P1"),
            ("C major", "F", "+P4"),
            ("C major", "G", "-P4"),
            ("C major", "F#", "+A4"),
            ("E minor", "D", "-M2"),
            ("C major", "B", "-m2"),
        ];
        for (from, to, expected) in cases {
            let interval = nearest_interval(from.parse().unwrap(), to.parse().unwrap()).unwrap();
            assert_eq!(interval.to_string(), expected, "{from} to {to}");
        }
        assert!(nearest_interval("C minor".parse().unwrap(), "Db".parse().unwrap()).is_err());
    }
}
