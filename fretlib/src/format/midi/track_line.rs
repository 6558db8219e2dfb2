//! The line of a MIDI file that becomes the melody.

use num_integer::Integer;

use super::MidiOptions;
use super::quantise::{Clock, Fractions, TickGrid};
use super::spelled::spelled_notes;
use super::text_event::Said;
use super::tracks::{ChannelLine, MidiFile, PlayedKey};
use crate::format::Diagnostic;
use crate::format::lead_line::{Lead, LeadName, PartCandidate, PartWords, Timed, choose, top_line};
use crate::format::limits::HINT_ABOUT_BARS;
use crate::melody::{
    Draft, KeyProfile, Melody, MelodyError, Meter, Note, Quarters, Syllable, Tempo, Timeline,
    estimate_keys,
};
use crate::neck::Instrument;
use crate::theory::{Interval, Key, Mode};

pub(super) fn melody(
    file: &MidiFile,
    options: &MidiOptions,
    warnings: &mut Vec<String>,
) -> Result<Melody, Diagnostic> {
    let line = choose_line(file, options, warnings)?;
    let shift = octave_shift(line, options, warnings);
    let grid = match options.grid {
        Some(step) if step.is_positive() && step.denom() <= 1000 && step.numer() <= 1000 => {
            TickGrid::Nearest(step)
        }
        Some(step) => {
            return Err(Diagnostic::of_file(
                format!("the grid must be a positive note value, not {step}"),
                "give a note value such as 1/16",
            ));
        }
        None => {
            let onsets: Vec<u64> = line.notes.iter().map(|note| note.start).collect();
            TickGrid::of(&onsets, file.division)
        }
    };
    if let (TickGrid::Nearest(step), None) = (grid, options.grid) {
        warnings.push(format!(
            "notes go to the nearest 1/{} of a quarter note; `--grid` takes another grid",
            step.denom()
        ));
    }
    if file.is_cut {
        warnings.push("a track has no end: the file may have been cut short".into());
    }
    if file.is_in_seconds {
        warnings.push(
            "the file counts in seconds, not in beats: a quarter note is taken as half a second"
                .into(),
        );
    }
    let clock = Clock::new(grid, file.division);
    let spans = on_grid(line, &clock, warnings);
    let mut fractions = Fractions::of(clock.parts());
    let mut spelled = |keys: &Timeline<Key>| {
        spelled_notes(&spans, &mut fractions, shift, keys).ok_or_else(|| {
            Diagnostic::of_file(
                format!("moved by {shift} octaves, some notes leave the range of MIDI"),
                "try another `--octave-shift`",
            )
        })
    };
    let onset = |ticks: u64| grid.time(ticks, file.division);
    let declared = timeline(&file.keys, onset);
    let c_major = Key::from_signature(0, Mode::Major)
        .map_err(|error| Diagnostic::of_file(error.to_string(), ""))?;
    let (meters, pickup) = with_pickup(&timeline(&file.meters, onset));
    let by_declared = match declared.is_empty() {
        true => spelled(&Timeline::constant(c_major))?,
        false => spelled(&declared)?,
    };
    let mut draft = Draft {
        title: file.title.clone(),
        meters,
        tempos: timeline(&tempos(file), onset),
        sections: timeline(&file.sections, onset),
        notes: by_declared,
        ..Draft::default()
    };
    draft.lyrics = lyrics(&file.lyrics, onset);
    for (_, said) in &file.said {
        match said {
            Said::Composer(name) => draft.composer = Some(name.clone()),
            Said::Source(name) => draft.source = Some(name.clone()),
            Said::Transcriber(name) => draft.transcriber = Some(name.clone()),
            Said::Feel(feel) => draft.feel = Some(*feel),
            Said::Tempo(_) => {}
        }
    }
    let length = draft.notes.last().map_or(Quarters::from(0), Note::end);
    draft.bars = bars(&draft.meters, pickup, length)?;
    let checked = |draft: Draft| {
        Melody::new(draft).map_err(|error| {
            Diagnostic::of_file(
                error.to_string(),
                "the times in the file overlap; try `--grid`",
            )
        })
    };
    draft.keys = declared;
    let unspelled = checked(draft)?;
    let better = unspelled.better_key();
    if let Some(key) = unspelled.keys().first() {
        if better.is_none() {
            return Ok(unspelled);
        }
        warnings.push(format!(
            "the file declares {key}, which its notes do not fit; the key is estimated from them"
        ));
    }
    let estimated = || {
        Some(
            estimate_keys(&unspelled, KeyProfile::default())
                .first()?
                .key,
        )
    };
    let found = better.or_else(estimated).unwrap_or(c_major);
    let by_found = spelled(&Timeline::constant(found))?;
    checked(Draft {
        notes: by_found,
        keys: Timeline::default(),
        ..unspelled.into_draft()
    })
}

const TRACKS: PartWords = PartWords {
    noun: "track",
    option: "--track",
    hint_without_notes: "drums (channel 10) are not read as notes",
};

fn choose_line<'f>(
    file: &'f MidiFile,
    options: &MidiOptions,
    warnings: &mut Vec<String>,
) -> Result<&'f ChannelLine, Diagnostic> {
    let busiest = file
        .lines
        .iter()
        .map(|line| line.notes.len())
        .max()
        .unwrap_or(0);
    let candidates: Vec<PartCandidate> = (1..)
        .zip(&file.lines)
        .map(|(number, line)| PartCandidate {
            number,
            name: &line.name,
            id: "",
            lead: line.lead(busiest),
        })
        .collect();
    let chosen = choose(&candidates, options.track.as_deref(), TRACKS, warnings)?;
    Ok(&file.lines[chosen.number - 1])
}

impl ChannelLine {
    fn lead(&self, busiest: usize) -> Lead {
        let is_bass = self
            .program
            .is_some_and(|program| (32..40).contains(&program));
        // A note that overlaps the next by less than a third of its length is legato, not a chord.
        let overlaps = self
            .notes
            .windows(2)
            .filter(|pair| pair[0].end > pair[1].start + (pair[0].end - pair[0].start) / 3)
            .count();
        let sum: u64 = self.notes.iter().map(|note| u64::from(note.key)).sum();
        Lead {
            is_busy: self.notes.len() * 8 >= busiest,
            may_lead: !is_bass,
            name: LeadName::of(&self.name),
            is_single: overlaps * 10 <= self.notes.len(),
            height: sum / self.notes.len().max(1) as u64,
            ..Lead::default()
        }
    }
}

/// The notes on the grid, one after the other.
fn on_grid(
    line: &ChannelLine,
    clock: &Clock,
    warnings: &mut Vec<String>,
) -> Vec<Timed<u64, PlayedKey>> {
    let notes = line.notes.iter().map(|note| {
        let onset = clock.onset(note.start);
        let end = Some(clock.end(note.end))
            .filter(|end| *end > onset)
            .unwrap_or(onset + clock.step());
        Timed {
            onset,
            end,
            height: note.key,
            note: *note,
        }
    });
    top_line(notes, |last, next| last.end > next.start, warnings)
}

fn octave_shift(line: &ChannelLine, options: &MidiOptions, warnings: &mut Vec<String>) -> i8 {
    if let Some(shift) = options.octave_shift {
        return shift.clamp(-10, 10);
    }
    let known = Some(line.instrument.as_str())
        .filter(|name| !name.is_empty())
        .and_then(Instrument::built_in);
    let sounds_lower = match (known, line.program) {
        (Some(instrument), _) => instrument.sounding() == -Interval::OCTAVE,
        (None, Some(program)) => (24..40).contains(&program),
        (None, None) => false,
    };
    if sounds_lower {
        warnings.push("guitar or bass program: read an octave up, as written (`--octave-shift 0` keeps the numbers)".into());
    }
    i8::from(sounds_lower)
}

fn timeline<T: Clone>(changes: &[(u64, T)], onset: impl Fn(u64) -> Quarters) -> Timeline<T> {
    let mut sorted: Vec<&(u64, T)> = changes.iter().collect();
    sorted.sort_by_key(|(ticks, _)| *ticks);
    let mut line = Timeline::default();
    sorted
        .into_iter()
        .for_each(|(ticks, value)| line.set(onset(*ticks), value.clone()));
    line
}

/// Lyric events as syllables: one that ends in a hyphen goes on in the next; where a file ends its words with spaces, so does
/// one without.
///
/// Source: Lyric and Display Meta Events (RP-017), MIDI Manufacturers Association (from memory).
fn lyrics(events: &[(u64, String)], onset: impl Fn(u64) -> Quarters) -> Vec<Syllable> {
    let ends_words = events.iter().any(|(_, text)| text.ends_with(' '));
    let syllable = |(ticks, text): &(u64, String)| {
        let is_open = ends_words && !text.ends_with(char::is_whitespace);
        let text = text.trim();
        let letters = text.strip_suffix('-').filter(|it| !it.is_empty());
        Syllable {
            onset: onset(*ticks),
            verse: 1,
            joins: letters.is_some() || is_open,
            text: letters.unwrap_or(text).to_owned(),
        }
    };
    events.iter().map(syllable).collect()
}

/// The tempos, in the values that the text beside them counts.
fn tempos(file: &MidiFile) -> Vec<(u64, Tempo)> {
    // Microseconds a quarter note cannot hold every tempo exactly.
    const SAME: f64 = 1e-3;
    let in_text = |ticks: u64, sounding: Tempo| {
        let said = file.said.iter().find_map(|(at, said)| match said {
            Said::Tempo(tempo) if *at == ticks => Some(*tempo),
            _ => None,
        });
        let ratio = |tempo: &Tempo| tempo.seconds(Quarters::ONE) / sounding.seconds(Quarters::ONE);
        said.filter(|tempo| (ratio(tempo) - 1.0).abs() < SAME)
    };
    let tempos = file.tempos.iter();
    tempos
        .map(|(ticks, tempo)| (*ticks, in_text(*ticks, *tempo).unwrap_or(*tempo)))
        .collect()
}

/// The meters of a MIDI file (4/4 unless it has one), and the end of its pickup.
///
/// Programs write a pickup as a first bar with a shorter meter of its own.
fn with_pickup(said: &Timeline<Meter>) -> (Timeline<Option<Meter>>, Option<Quarters>) {
    let start = Quarters::from(0);
    let changes: Vec<(Quarters, Meter)> =
        said.iter().map(|(onset, meter)| (onset, *meter)).collect();
    let pickup = match changes.as_slice() {
        [(from, short), (until, full), ..]
            if *from == start
                && *until == short.bar_length()
                && short.bar_length() < full.bar_length() =>
        {
            Some((*until, *full))
        }
        _ => None,
    };
    let mut meters = Timeline::constant(Some(pickup.map_or(Meter::COMMON, |(_, full)| full)));
    let after = pickup.map_or(start, |(until, _)| until);
    let later = changes
        .into_iter()
        .filter(|(onset, _)| *onset > after || (*onset == start && pickup.is_none()));
    later.for_each(|(onset, meter)| meters.set(onset, Some(meter)));
    (meters, pickup.map(|(until, _)| until))
}

/// Bars by the meters; a change of meter begins one.
fn bars(
    meters: &Timeline<Option<Meter>>,
    pickup: Option<Quarters>,
    length: Quarters,
) -> Result<Vec<Quarters>, Diagnostic> {
    let mut bars: Vec<Quarters> = pickup.map(|_| Quarters::from(0)).into_iter().collect();
    let changes: Vec<(Quarters, Option<Meter>)> = meters
        .iter()
        .map(|(onset, meter)| (onset, *meter))
        .collect();
    for (index, (start, meter)) in changes.iter().enumerate() {
        let start = (*start).max(pickup.unwrap_or(*start));
        let end = changes
            .get(index + 1)
            .map_or(length, |(next, _)| *next)
            .min(length);
        let step = meter.unwrap_or(Meter::COMMON).bar_length();
        let count = ((end - start) / step).ceil().to_integer().max(0) as u64;
        if bars.len() as u64 + count > Melody::MOST_BARS as u64 {
            return Err(Diagnostic::of_file(
                MelodyError::TooManyBars.to_string(),
                HINT_ABOUT_BARS,
            ));
        }
        let parts = start.denom().lcm(&step.denom());
        let in_parts = |time: Quarters| (time.numer() * (parts / time.denom())) as u64;
        let mut fractions = Fractions::of(parts as u64);
        bars.extend((0..count).map(|bar| fractions.get(in_parts(start) + bar * in_parts(step))));
    }
    Ok(bars)
}
