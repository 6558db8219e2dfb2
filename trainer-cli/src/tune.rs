//! From options to a tune: find it, read it, put it where the player wants it.

use std::fs::File;
use std::io::{self, Read, Write};

use fretlib::format::{
    Format, LARGEST_FILE, ReadError, Reading, abc, detect, midi, musicxml, tune_ron,
};
use fretlib::melody::{KeyProfile, Melody, estimate_keys};
use fretlib::theory::{Interval, Key, Mode, PitchClass};

use crate::args::TuneArgs;
use crate::failure::Failure;
use crate::instrument::nearest;
use crate::streams::Streams;
use crate::tunes::{BUILT_IN, BuiltIn};

/// Where a tune's key comes from.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum KeySource {
    /// The source says so.
    Declared,
    /// The player says so.
    Option,
    /// It was found from the notes.
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

/// A tune as a command works on it.
#[derive(Clone, Debug)]
pub struct Tune {
    /// The melody, moved and cut as asked.
    pub melody: Melody,
    /// The key it begins in.
    pub key: Key,
    /// Where the key comes from.
    pub key_source: KeySource,
}

/// Finds and reads the tune, and says on standard error what the reader remarked.
pub fn tune(args: &TuneArgs, streams: &mut Streams) -> Result<Tune, Failure> {
    let name = args.tune.as_deref().unwrap_or(BUILT_IN[0].name);
    let melody = match built_in(name) {
        Some(built_in) => built_in.melody().clone(),
        None => {
            let reading = read(name, args, streams)?;
            for remark in &reading.warnings {
                writeln!(streams.stderr, "note: {name}: {remark}")?;
            }
            reading.melody
        }
    };
    settled(melody, args)
}

/// A melody in its key, moved and cut as asked.
pub fn settled(melody: Melody, args: &TuneArgs) -> Result<Tune, Failure> {
    let (melody, key, key_source) = settle_key(melody, args.key.as_deref())?;
    let (melody, key) = moved(melody, key, args)?;
    let melody = match &args.bars {
        None => melody,
        Some(bars) => melody
            .excerpt(*bars.start()..bars.end().saturating_add(1))
            .ok_or_else(|| {
                let numbers = || melody.bars().iter().map(|bar| bar.number);
                let (first, last) = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
                Failure::usage(
                    format!("no note begins in bars {}-{}", bars.start(), bars.end()),
                    format!("the tune has bars {first} to {last}"),
                )
            })?,
    };
    let key = melody.keys().first().copied().unwrap_or(key);
    Ok(Tune {
        melody,
        key,
        key_source,
    })
}

/// The built-in tune of this name.
pub fn built_in(name: &str) -> Option<&'static BuiltIn> {
    BUILT_IN
        .iter()
        .find(|it| it.name.eq_ignore_ascii_case(name))
}

/// The bytes of a file or, for `-`, of standard input.
pub fn bytes_of(name: &str, streams: &mut Streams) -> Result<Vec<u8>, Failure> {
    if name != "-" {
        return read_file(name);
    }
    if streams.stdin_is_terminal {
        writeln!(
            streams.stderr,
            "reading a tune from the keyboard; end it with Ctrl-D"
        )?;
    }
    limited(&mut streams.stdin, "standard input")
}

/// The bytes of a file.
pub fn read_file(name: &str) -> Result<Vec<u8>, Failure> {
    let failed = |error: io::Error| {
        let hint = match error.kind() {
            io::ErrorKind::NotFound => {
                let names = BUILT_IN.iter().map(|it| it.name);
                nearest(name, names).map(|near| format!("did you mean the built-in tune `{near}`?"))
            }
            _ => None,
        };
        Failure::Usage {
            problem: format!("cannot read `{}`: {}", printable(name), reason(&error)),
            hint: hint.or_else(|| {
                Some("name a file, a built-in tune (`neckline tunes` lists them) or `-`".into())
            }),
        }
    };
    let mut file = File::open(name).map_err(failed)?;
    if file.metadata().map_err(failed)?.is_dir() {
        return Err(failed(io::ErrorKind::IsADirectory.into()));
    }
    limited(&mut file, name)
}

/// What `read` makes of the text of a file, with the same limits.
pub fn read_text<T>(name: &str, read: impl Fn(&str) -> Result<T, ReadError>) -> Result<T, Failure> {
    let bytes = read_file(name)?;
    let source = String::from_utf8_lossy(&bytes);
    read(&source).map_err(|unreadable| Failure::Unreadable {
        name: name.into(),
        source_bytes: source.as_bytes().to_vec(),
        unreadable,
    })
}

fn limited(from: &mut dyn Read, name: &str) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let failed = |error: io::Error| {
        Failure::usage(
            format!("cannot read `{}`: {}", printable(name), reason(&error)),
            "check the file and try again",
        )
    };
    from.take(LARGEST_FILE as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() > LARGEST_FILE {
        return Err(Failure::usage(
            format!("`{}` is larger than 64 MiB", printable(name)),
            "a tune of 100,000 notes takes about 1 MiB; split the file",
        ));
    }
    Ok(bytes)
}

/// What went wrong, without the number of the operating system's error.
fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".into(),
        io::ErrorKind::PermissionDenied => "permission denied".into(),
        io::ErrorKind::IsADirectory => "it is a folder".into(),
        _ => error.to_string(),
    }
}

/// A name from the command line, safe to print.
/// A name without control characters, fit for a terminal.
pub fn printable(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).collect()
}

fn read(name: &str, args: &TuneArgs, streams: &mut Streams) -> Result<Reading, Failure> {
    let source_bytes = bytes_of(name, streams)?;
    read_bytes(name, source_bytes, args)
}

/// Reads a tune in whatever format it is.
pub fn read_bytes(name: &str, source_bytes: Vec<u8>, args: &TuneArgs) -> Result<Reading, Failure> {
    if source_bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(Failure::usage(
            format!("`{}` is empty", printable(name)),
            "give a tune in RON or ABC; `neckline tunes --show` prints one to start from",
        ));
    }
    let Some(format) = detect(&source_bytes) else {
        return Err(Failure::usage(
            format!("`{}` is in no format that can be read", printable(name)),
            "readable are the project's RON tunes, which begin with `(title:`, ABC, which begins with `X:`, MusicXML (also \
             compressed) and MIDI files",
        ));
    };
    let voice = args.voice.clone();
    let read = match format {
        Format::TuneRon => tune_ron::read(&source_bytes),
        Format::Abc => {
            let tune = args.number;
            abc::read(&source_bytes, &abc::Options { tune, voice })
        }
        Format::MusicXml | Format::CompressedMusicXml => {
            let part = args.part.clone();
            musicxml::read(&source_bytes, &musicxml::Options { part, voice })
        }
        Format::Midi => {
            let options = midi::Options {
                track: args.track.clone(),
                grid: args.grid,
                octave_shift: args.octave_shift,
            };
            midi::read(&source_bytes, &options)
        }
    };
    // A line can be quoted only out of what is text as it stands.
    let is_text = format != Format::CompressedMusicXml
        && !source_bytes.starts_with(&[0xFE, 0xFF])
        && !source_bytes.starts_with(&[0xFF, 0xFE]);
    read.map_err(|unreadable| Failure::Unreadable {
        name: printable(name),
        source_bytes: if is_text { source_bytes } else { Vec::new() },
        unreadable,
    })
}

/// The key the tune is read in: the player's word, or the source's, or the best guess from the notes.
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
fn moved(melody: Melody, key: Key, args: &TuneArgs) -> Result<(Melody, Key), Failure> {
    let interval = match (args.transpose, args.to_key) {
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
    // A fifth is (4 steps, 7 semitones); octaves bring the sum nearest to where it began.
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
