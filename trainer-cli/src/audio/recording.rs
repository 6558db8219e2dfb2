//! Recordings: WAV, AIFF, FLAC, Ogg Vorbis, MP3 and AAC, decoded piece by piece.

use std::io::{self, ErrorKind};
use std::path::Path;

use fretlib::hearing::{Heard, Listener, RecordingRate};
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;

use crate::failure::Failure;
use crate::input::open_file;

/// A recording that was listened to.
pub struct Recording {
    /// What was heard.
    pub heard: Heard,
    /// Its own sample rate.
    pub rate: RecordingRate,
    /// Warnings about it, such as an early end.
    pub remarks: Vec<String>,
}

const READABLE: &str = "readable are WAV, AIFF, FLAC, Ogg Vorbis, MP3 and AAC (also in MP4)";

/// Listens to a file of any length; only the last minute or so of sound is kept.
pub fn listen_to(path: &Path) -> Result<Recording, Failure> {
    let name = path.to_string_lossy().into_owned();
    let unreadable = |error: &io::Error| {
        Failure::usage(
            format!("cannot read `{name}`: {error}"),
            "name a recording of your playing",
        )
    };
    let file = open_file(path).map_err(|error| unreadable(&error))?;
    let mut hint = Hint::new();
    if let Some(ending) = path.extension().and_then(|it| it.to_str()) {
        hint.with_extension(ending);
    }
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut format = symphonia::default::get_probe()
        .probe(&hint, stream, Default::default(), Default::default())
        .map_err(|_| Failure::usage(format!("`{name}` is not a readable recording"), READABLE))?;
    decode(format.as_mut(), &name)
}

fn decode(format: &mut dyn FormatReader, name: &str) -> Result<Recording, Failure> {
    let silent = || Failure::usage(format!("there is no sound in `{name}`"), READABLE);
    let track = format.default_track(TrackType::Audio).ok_or_else(silent)?;
    let parameters = track
        .codec_params
        .as_ref()
        .and_then(|it| it.audio())
        .ok_or_else(silent)?;
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(parameters, &AudioDecoderOptions::default())
        .map_err(|_| {
            Failure::usage(
                format!("the sound in `{name}` is coded in a way that cannot be read"),
                READABLE,
            )
        })?;
    let id = track.id;
    let mut listening: Option<(RecordingRate, Listener)> = None;
    let mut samples: Vec<f32> = Vec::new();
    let mut mono: Vec<f32> = Vec::new();
    let mut damaged = 0usize;
    let mut is_cut = false;
    loop {
        let packet = match format.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => break,
            // A truncated file ends in the middle of a packet.
            Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                is_cut = true;
                break;
            }
            Err(_) => {
                is_cut = true;
                break;
            }
        };
        if packet.track_id != id {
            continue;
        }
        let Ok(buffer) = decoder.decode(&packet) else {
            damaged += 1;
            continue;
        };
        let channels = buffer.spec().channels().count().max(1);
        let rate = rate_of(buffer.spec().rate(), name)?;
        buffer.copy_to_vec_interleaved(&mut samples);
        mono.clear();
        mono.extend(
            samples
                .chunks(channels)
                .map(|frame| frame.iter().sum::<f32>() / channels as f32),
        );
        let (first_rate, listener) = listening.get_or_insert_with(|| (rate, Listener::new(rate)));
        if rate != *first_rate {
            return Err(Failure::usage(
                format!("the sample rate of `{name}` changes in the middle"),
                "save it again with one sample rate",
            ));
        }
        listener.push(&mono);
    }
    let (rate, listener) = listening.ok_or_else(silent)?;
    let heard = listener.finish();
    let mut remarks = Vec::new();
    if is_cut {
        remarks.push(format!(
            "{name} is cut off after {:.1} seconds",
            heard.seconds()
        ));
    }
    if damaged > 0 {
        remarks.push(format!(
            "{name} is damaged in {damaged} places; they were left out"
        ));
    }
    if heard.clipped() > 0.001 {
        remarks.push(format!(
            "{name} is clipped ({:.1} % of it is at full scale): record a little more quietly",
            100.0 * heard.clipped()
        ));
    }
    Ok(Recording {
        heard,
        rate,
        remarks,
    })
}

fn rate_of(hertz: u32, name: &str) -> Result<RecordingRate, Failure> {
    RecordingRate::new(hertz).map_err(|error| {
        Failure::usage(
            format!("`{name}`: {error}"),
            "save it again with 44100 or 48000 samples a second",
        )
    })
}
