//! Writing a MIDI file.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};
use num_integer::Integer;

use super::text_event::Said;
use crate::error::OutOfRange;
use crate::melody::{Melody, Meter, Note, Quarters};
use crate::neck::Instrument;
use crate::theory::{Key, Mode};

/// The default number of ticks in a quarter note: enough for sixteenths, quintuplets and triplets.
const DIVISION: i64 = 480;
const VELOCITY: u8 = 80;

/// Writes a melody as it sounds on an instrument, with its program: [`super::read`] finds the written pitches again.
///
/// A MIDI file of format 1: a track of tempos, meters, keys and section names (as markers), and one of notes; composer, source,
/// transcriber, feel and tempos in other values than quarter
/// notes are text events such as `Composer: …`. It has no
/// place for chord symbols, phrases, bars against the meter, the spelling of chromatic notes, and modes
/// other than major and minor. Times finer than 1/32767 of a quarter note are rounded.
///
/// # Errors
///
/// When a note would sound below or above the range of MIDI numbers.
pub fn write(melody: &Melody, instrument: &Instrument) -> Result<Vec<u8>, OutOfRange> {
    write_over(melody, instrument, &[])
}

/// Writes a melody and the notes under it, each with how many decibels it is softer; these get a track of their own.
///
/// A velocity means 40·log10(velocity/127) decibels. Source: the recommendation of General MIDI 2, from memory.
///
/// # Errors
///
/// As for [`write()`].
pub fn write_over(
    melody: &Melody,
    instrument: &Instrument,
    under: &[(Note, f64)],
) -> Result<Vec<u8>, OutOfRange> {
    let division = division(melody, under);
    let ticks = |time: Quarters| (time * Quarters::from(division)).round().to_integer();
    let title = melody.title().as_bytes();
    let mut conductor = vec![(0, meta(MetaMessage::TrackName(title)))];
    conductor.extend(meters(melody).into_iter().map(|(onset, meter)| {
        let clocks = ticks_of_beat(meter);
        let power = meter.unit().trailing_zeros() as u8;
        (
            ticks(onset),
            meta(MetaMessage::TimeSignature(meter.count(), power, clocks, 8)),
        )
    }));
    conductor.extend(melody.keys().iter().map(|(onset, key)| {
        (
            ticks(onset),
            meta(MetaMessage::KeySignature(
                key.signature(),
                sounds_minor(*key),
            )),
        )
    }));
    conductor.extend(melody.tempos().iter().map(|(onset, tempo)| {
        let microseconds = (Quarters::from(60_000_000) / tempo.quarters_per_minute())
            .round()
            .to_integer();
        // At least a quarter note a minute and at most a thousand: 60,000 to 60,000,000, of which 24 bits hold 16,777,215.
        let microseconds = u24::from(microseconds.clamp(1, 0xFF_FFFF) as u32);
        (ticks(onset), meta(MetaMessage::Tempo(microseconds)))
    }));
    let said = said(melody);
    let texts = said.iter().map(|(onset, text)| {
        let text = MetaMessage::Text(text.as_bytes());
        (ticks(*onset), meta(text))
    });
    conductor.extend(texts);
    conductor.extend(
        melody
            .sections()
            .iter()
            .map(|(onset, name)| (ticks(onset), meta(MetaMessage::Marker(name.as_bytes())))),
    );
    let sung: Vec<(Quarters, String)> = first_verse(melody).collect();
    let name = instrument.name().as_bytes();
    let program = u7::try_from(instrument.build().program).unwrap_or_default();
    let line = |notes: &mut dyn Iterator<Item = (Note, u8)>| {
        let mut line = vec![
            (0, meta(MetaMessage::TrackName(name))),
            (0, meta(MetaMessage::InstrumentName(name))),
            (0, midi(MidiMessage::ProgramChange { program })),
        ];
        for (note, velocity) in notes {
            let key = u7::from(note.pitch.transpose(instrument.sounding())?.midi().get());
            let (vel, off) = (u7::from(velocity), u7::from(0));
            line.push((ticks(note.onset), midi(MidiMessage::NoteOn { key, vel })));
            line.push((
                ticks(note.end()),
                midi(MidiMessage::NoteOff { key, vel: off }),
            ));
        }
        Ok::<_, OutOfRange>(line)
    };
    let softer = |decibels: f64| {
        let velocity = f64::from(VELOCITY) * 10f64.powf(-decibels.max(0.0) / 40.0);
        (velocity.round() as u8).clamp(1, 127)
    };
    let mut melody_line = line(&mut melody.notes().iter().map(|note| (*note, VELOCITY)))?;
    melody_line.extend(sung.iter().map(|(onset, text)| {
        let text = MetaMessage::Lyric(text.as_bytes());
        (ticks(*onset), meta(text))
    }));
    let under_line = line(&mut under.iter().map(|(note, by)| (*note, softer(*by))))?;
    let mut file = Smf::new(Header::new(
        Format::Parallel,
        Timing::Metrical(u15::from(division as u16)),
    ));
    file.tracks = vec![
        track(conductor, ticks(melody.length())),
        track(melody_line, ticks(melody.length())),
    ];
    if !under.is_empty() {
        file.tracks.push(track(under_line, ticks(melody.length())));
    }
    let mut bytes = Vec::new();
    // Writing to memory fails only for tracks beyond 4 GB.
    file.write(&mut bytes).ok();
    Ok(bytes)
}

/// The first verse, a hyphen after a syllable that goes on in the next.
fn first_verse(melody: &Melody) -> impl Iterator<Item = (Quarters, String)> {
    let lyrics = melody.lyrics().iter().filter(|it| it.verse == 1);
    lyrics.map(|it| {
        let end = if it.joins { "-" } else { "" };
        (it.onset, format!("{}{end}", it.text))
    })
}

/// What MIDI has no event for.
fn said(melody: &Melody) -> Vec<(Quarters, String)> {
    let named = |name: Option<&str>, said: fn(String) -> Said| name.map(|it| said(it.to_owned()));
    let credits = [
        named(melody.composer(), Said::Composer),
        named(melody.source(), Said::Source),
        named(melody.transcriber(), Said::Transcriber),
        melody.feel().map(Said::Feel),
    ];
    let at_start = credits.into_iter().flatten();
    let at_start = at_start.map(|said| (Quarters::ZERO, said.write()));
    let tempos = melody.tempos().iter();
    let in_other_values = tempos.filter(|(_, tempo)| tempo.unit() != Quarters::ONE);
    at_start
        .chain(in_other_values.map(|(onset, tempo)| (onset, Said::Tempo(*tempo).write())))
        .collect()
}

/// Ticks in a quarter note that hold every time of the melody exactly, if 15 bits allow.
fn division(melody: &Melody, under: &[(Note, f64)]) -> i64 {
    const MOST: i64 = 32_767;
    let exact_multiple_of = |division: i64| {
        let mut times = melody
            .notes()
            .iter()
            .chain(under.iter().map(|(note, _)| note))
            .flat_map(|note| [note.onset, note.end()]);
        times.try_fold(division, |all, time| {
            Some(all.lcm(&time.denom())).filter(|all| *all <= MOST)
        })
    };
    exact_multiple_of(DIVISION)
        .or_else(|| exact_multiple_of(1))
        .unwrap_or(30_240)
}

/// Time signatures to write; a pickup gets its own short one, as notation programs write it.
fn meters(melody: &Melody) -> Vec<(Quarters, Meter)> {
    let start = Quarters::from(0);
    let mut meters: Vec<(Quarters, Meter)> = melody
        .meters()
        .iter()
        .filter_map(|(onset, meter)| Some((onset, (*meter)?)))
        .collect();
    let [first, second, ..] = melody.bars() else {
        return meters;
    };
    let Some((onset, full)) = meters
        .first()
        .copied()
        .filter(|(onset, _)| *onset == start && first.number == 0)
    else {
        return meters;
    };
    // The beat of the meter, or the shorter value that the pickup is a multiple of.
    let pickup = [4, 8, 16, 32, 64]
        .into_iter()
        .filter(|unit| *unit >= full.unit())
        .find_map(|unit| {
            let count = second.onset * Quarters::new(i64::from(unit), 4);
            Meter::new(
                u8::try_from(count.to_integer())
                    .ok()
                    .filter(|_| count.is_integer())?,
                unit,
            )
            .ok()
        });
    if let Some(pickup) = pickup {
        meters[0] = (second.onset, full);
        meters.insert(0, (onset, pickup));
    }
    meters
}

/// MIDI clocks (24 to a quarter note) in a beat.
fn ticks_of_beat(meter: Meter) -> u8 {
    (meter.beat() * Quarters::from(24))
        .to_integer()
        .clamp(1, 255) as u8
}

/// Whether the third above the tonic is minor: MIDI has only major and minor.
fn sounds_minor(key: Key) -> bool {
    !matches!(key.mode(), Mode::Lydian | Mode::Major | Mode::Mixolydian)
}

fn meta(message: MetaMessage<'_>) -> TrackEventKind<'_> {
    TrackEventKind::Meta(message)
}

fn midi(message: MidiMessage) -> TrackEventKind<'static> {
    TrackEventKind::Midi {
        channel: u4::from(0),
        message,
    }
}

fn track(mut events: Vec<(i64, TrackEventKind<'_>)>, end: i64) -> Track<'_> {
    events.sort_by_key(|(ticks, _)| *ticks);
    events.push((end, meta(MetaMessage::EndOfTrack)));
    let mut now = 0;
    let deltas = events.into_iter().map(|(ticks, kind)| {
        // A rest of more than 2^28 ticks, which is days, is cut to that.
        let delta = u28::from((ticks - now).clamp(0, 0xFFF_FFFF) as u32);
        now = now.max(ticks);
        TrackEvent { delta, kind }
    });
    deltas.collect()
}
