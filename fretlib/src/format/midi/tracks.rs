//! Notes per track and channel, and the tempo, meter, key and marker events around them.

use super::text_event::Said;
use midly::{Format, MetaMessage, MidiMessage, Timing, TrackEventKind};

use crate::format::limits::MOST_EVENTS;
use crate::format::{Diagnostic, Location};
use crate::melody::{Melody, Meter, Quarters, Tempo};
use crate::theory::{Key, Mode};

/// Text events that are kept; a song has one for each line.
const MOST_SAID: usize = 1000;
/// General MIDI sounds drums on channel 10, counted from 1.
const DRUMS: u8 = 9;

pub(super) struct MidiFile {
    pub(super) title: String,
    /// Ticks in a quarter note.
    pub(super) division: u64,
    pub(super) is_in_seconds: bool,
    /// Some track has no end.
    pub(super) is_cut: bool,
    pub(super) lines: Vec<ChannelLine>,
    pub(super) tempos: Vec<(u64, Tempo)>,
    pub(super) meters: Vec<(u64, Meter)>,
    pub(super) keys: Vec<(u64, Key)>,
    pub(super) sections: Vec<(u64, String)>,
    pub(super) said: Vec<(u64, Said)>,
    pub(super) lyrics: Vec<(u64, String)>,
}

/// The notes of one channel in one track.
#[derive(Default)]
pub(super) struct ChannelLine {
    pub(super) name: String,
    pub(super) instrument: String,
    /// The General MIDI program, counted from 0, when one is set.
    pub(super) program: Option<u8>,
    /// In order of onset.
    pub(super) notes: Vec<PlayedKey>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PlayedKey {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) key: u8,
}

/// Refuses a header whose frame rate is -128: midly 0.5 negates it as a signed byte, which overflows.
fn check_frame_rate(bytes: &[u8]) -> Result<(), Diagnostic> {
    // Identification, length, format and number of tracks come before the rate.
    const AT: usize = 12;
    let is_refused = |header: &[u8]| header[AT] == 0x80 && header.starts_with(b"MThd");
    match bytes.windows(AT + 1).position(is_refused) {
        Some(at) => Err(fault(at + AT, "no frame rate is 128 a second".into())),
        None => Ok(()),
    }
}

pub(super) fn read_tracks(bytes: &[u8]) -> Result<MidiFile, Diagnostic> {
    check_frame_rate(bytes)?;
    let (header, tracks) = midly::parse(bytes).map_err(|error| fault(0, error.to_string()))?;
    let (division, is_in_seconds) = match header.timing {
        Timing::Metrical(ticks) => (u64::from(ticks.as_int()), false),
        // Without beats a quarter note lasts half a second, as at the default tempo.
        Timing::Timecode(frames, ticks) => {
            (u64::from(frames.as_int()) * u64::from(ticks) / 2, true)
        }
    };
    if division == 0 {
        return Err(fault(12, "a quarter note has no ticks in this file".into()));
    }
    let mut file = MidiFile {
        title: String::new(),
        division,
        is_in_seconds,
        is_cut: false,
        lines: Vec::new(),
        tempos: Vec::new(),
        meters: Vec::new(),
        keys: Vec::new(),
        sections: Vec::new(),
        said: Vec::new(),
        lyrics: Vec::new(),
    };
    let furthest = division.saturating_mul(Melody::LONGEST as u64);
    for (index, track) in tracks.enumerate() {
        let mut events = track.map_err(|error| fault(bytes.len(), error.to_string()))?;
        let is_first = index == 0;
        let is_apart = header.format == Format::Sequential && !is_first;
        let mut reader = TrackReader::new(&mut file, is_first, is_apart);
        let mut is_ended = false;
        loop {
            let unread = events.unread();
            let at = offset_in(bytes, unread);
            // The iterator just stops at an event that it cannot read.
            let event = match events.next() {
                Some(Ok(event)) => event,
                None if is_ended || unread.is_empty() => break,
                Some(Err(_)) | None => {
                    return Err(fault(at, format!("track {} is broken here", index + 1)));
                }
            };
            reader.now += u64::from(event.delta.as_int());
            if reader.now > furthest {
                let problem = format!("the time here is beyond {} quarter notes", Melody::LONGEST);
                return Err(fault(at, problem));
            }
            is_ended |= matches!(event.kind, TrackEventKind::Meta(MetaMessage::EndOfTrack));
            reader.take(event.kind);
        }
        reader.finish();
        file.is_cut |= !is_ended;
    }
    Ok(file)
}

/// The offset of a part of the bytes.
fn offset_in(whole: &[u8], part: &[u8]) -> usize {
    (part.as_ptr() as usize)
        .saturating_sub(whole.as_ptr() as usize)
        .min(whole.len())
}

fn fault(at: usize, problem: String) -> Diagnostic {
    Diagnostic {
        at: Location::Byte(at),
        problem,
        hint: Some(
            "export it as a Standard MIDI File again, or take it from where it came from once more"
                .into(),
        ),
    }
}

struct TrackReader<'f> {
    file: &'f mut MidiFile,
    is_first: bool,
    /// In format 2, tempo, meter and key hold only for their own track; those of the first track are kept.
    is_apart: bool,
    now: u64,
    name: String,
    instrument: String,
    /// The lines that have notes, each with its number.
    channels: Vec<(u8, Channel)>,
}

struct Channel {
    program: Option<u8>,
    /// The onset of each of the 128 keys that sounds.
    sounding: Vec<Option<u64>>,
    notes: Vec<PlayedKey>,
}

impl<'f> TrackReader<'f> {
    fn new(file: &'f mut MidiFile, is_first: bool, is_apart: bool) -> Self {
        TrackReader {
            file,
            is_first,
            is_apart,
            now: 0,
            name: String::new(),
            instrument: String::new(),
            channels: Vec::new(),
        }
    }

    fn take(&mut self, event: TrackEventKind) {
        match event {
            TrackEventKind::Midi { channel, message } => {
                let now = self.now;
                let channel = self.channel(channel.as_int());
                match message {
                    MidiMessage::NoteOn { key, vel } if vel > 0 => {
                        channel.strike(key.as_int(), now)
                    }
                    MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                        channel.stop(key.as_int(), now)
                    }
                    MidiMessage::ProgramChange { program } => {
                        channel.program.get_or_insert(program.as_int());
                    }
                    _ => {}
                }
            }
            TrackEventKind::Meta(meta) => self.take_meta(meta),
            TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
        }
    }

    fn channel(&mut self, number: u8) -> &mut Channel {
        let index = match self.channels.iter().position(|(it, _)| *it == number) {
            Some(index) => index,
            None => {
                let channel = Channel {
                    program: None,
                    sounding: vec![None; 128],
                    notes: Vec::new(),
                };
                self.channels.push((number, channel));
                self.channels.len() - 1
            }
        };
        &mut self.channels[index].1
    }

    fn take_meta(&mut self, meta: MetaMessage) {
        let now = self.now;
        match meta {
            MetaMessage::TrackName(name) if self.name.is_empty() => self.name = text(name),
            MetaMessage::InstrumentName(name) if self.instrument.is_empty() => {
                self.instrument = text(name)
            }
            _ if self.is_apart => {}
            MetaMessage::Tempo(microseconds) => self
                .file
                .tempos
                .extend(tempo(microseconds.as_int()).map(|tempo| (now, tempo))),
            MetaMessage::TimeSignature(count, power, ..) => {
                let meter = 1u8
                    .checked_shl(power.into())
                    .and_then(|unit| Meter::new(count, unit).ok());
                self.file.meters.extend(meter.map(|meter| (now, meter)));
            }
            MetaMessage::KeySignature(fifths, is_minor) => {
                let mode = if is_minor { Mode::Minor } else { Mode::Major };
                self.file
                    .keys
                    .extend(Key::from_signature(fifths, mode).ok().map(|key| (now, key)));
            }
            MetaMessage::Text(bytes) if self.file.said.len() < MOST_SAID => {
                let said = Said::read(&text(bytes));
                self.file.said.extend(said.map(|said| (now, said)));
            }
            MetaMessage::Lyric(bytes) if self.file.lyrics.len() < MOST_EVENTS => {
                self.file.lyrics.push((now, text(bytes)));
            }
            MetaMessage::Marker(name) => self.file.sections.push((now, text(name))),
            _ => {}
        }
    }

    fn finish(mut self) {
        // The name of the first track is that of the tune; other tracks have their own.
        if self.is_first {
            self.file.title.clone_from(&self.name);
        }
        self.channels.sort_by_key(|(number, _)| *number);
        for (number, mut channel) in self.channels {
            for key in 0..128 {
                channel.stop(key, self.now);
            }
            if number != DRUMS && !channel.notes.is_empty() {
                channel
                    .notes
                    .sort_by_key(|note| (note.start, std::cmp::Reverse(note.key)));
                self.file.lines.push(ChannelLine {
                    name: self.name.clone(),
                    instrument: self.instrument.clone(),
                    program: channel.program,
                    notes: channel.notes,
                });
            }
        }
    }
}

impl Channel {
    fn strike(&mut self, key: u8, now: u64) {
        self.stop(key, now);
        self.sounding[usize::from(key)] = Some(now);
    }

    fn stop(&mut self, key: u8, now: u64) {
        if let Some(start) = self.sounding[usize::from(key)].take()
            && now > start
        {
            self.notes.push(PlayedKey {
                start,
                end: now,
                key,
            });
        }
    }
}

/// Rounded to hundredths of a quarter note a minute: microseconds cannot hold most whole tempos exactly.
fn tempo(microseconds: u32) -> Option<Tempo> {
    let microseconds = i64::from(microseconds);
    let hundredths = (6_000_000_000 + microseconds / 2).checked_div(microseconds)?;
    Tempo::new(Quarters::ONE, Quarters::new(hundredths, 100)).ok()
}

/// Names in MIDI files have no declared encoding: UTF-8 where it is, else Latin-1.
fn text(bytes: &[u8]) -> String {
    const LONGEST: usize = 1000;
    let bytes = &bytes[..bytes.len().min(LONGEST)];
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|byte| char::from(*byte)).collect(),
    }
}
