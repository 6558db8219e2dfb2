//! The one line of a score that becomes the melody.

use std::collections::HashSet;

use super::MusicXmlOptions;
use super::part::{ScorePart, WrittenNote};
use super::score::Score;
use crate::format::Diagnostic;
use crate::format::form_words::left_out_of_form;
use crate::format::lead_line::{Lead, LeadName, PartCandidate, PartWords, Timed, choose, top_line};
use crate::format::limits::HINT_ABOUT_BARS;
use crate::melody::{Draft, Melody, MelodyError, Note, Quarters, Timeline};
use crate::theory::{Interval, Key, Mode, Pitch};

const PARTS: PartWords = PartWords {
    noun: "part",
    option: "--part",
    hint_without_notes: "a score of rests or of percussion has no melody",
};

pub(super) fn choose_part<'s>(
    score: &'s Score,
    options: &MusicXmlOptions,
    warnings: &mut Vec<String>,
) -> Result<&'s ScorePart, Diagnostic> {
    let playable = || {
        (1..)
            .zip(&score.parts)
            .filter(|(_, part)| !part.notes.is_empty())
    };
    let busiest = playable().map(|(_, part)| part.onsets()).max().unwrap_or(0);
    let candidates: Vec<PartCandidate> = playable()
        .map(|(number, part)| PartCandidate {
            number,
            name: &part.name,
            id: &part.id,
            lead: part.lead(busiest),
        })
        .collect();
    let chosen = choose(&candidates, options.part.as_deref(), PARTS, warnings)?;
    Ok(&score.parts[chosen.number - 1])
}

impl ScorePart {
    /// How many notes or chords begin; notes of one chord count once.
    fn onsets(&self) -> usize {
        let changes = self
            .notes
            .windows(2)
            .filter(|pair| pair[0].onset != pair[1].onset)
            .count();
        changes + usize::from(!self.notes.is_empty())
    }

    fn lead(&self, busiest: usize) -> Lead {
        let onsets = self.onsets();
        let pitch_sum: u64 = self
            .notes
            .iter()
            .map(|note| u64::from(note.pitch.midi().get()))
            .sum();
        Lead {
            is_busy: onsets * 8 >= busiest,
            may_lead: self.tablature_staves != [1],
            name: LeadName::of(&self.name),
            is_sung: self.sung * 2 >= self.notes.len(),
            has_chord_symbols: !self.harmonies.is_empty(),
            is_single: onsets * 10 >= self.notes.len() * 9,
            height: pitch_sum / self.notes.len().max(1) as u64,
        }
    }

    /// The voice that was named, else the highest of those with at least half as many notes as the busiest.
    fn choose_voice(
        &self,
        options: &MusicXmlOptions,
        notes: &[WrittenNote],
        warnings: &mut Vec<String>,
    ) -> Result<u16, Diagnostic> {
        let mut tally = vec![(0u64, 0u64); self.voices.len()];
        for note in notes {
            let (count, sum) = &mut tally[usize::from(note.voice)];
            *count += 1;
            *sum += u64::from(note.pitch.midi().get());
        }
        let used: Vec<usize> = (0..tally.len())
            .filter(|index| tally[*index].0 > 0)
            .collect();
        let names = || {
            used.iter()
                .map(|index| self.voices[*index].as_str())
                .collect::<Vec<_>>()
                .join(", ")
        };
        if let Some(wanted) = &options.voice {
            let found = used.iter().find(|index| self.voices[**index] == *wanted);
            return found.map(|index| *index as u16).ok_or_else(|| {
                Diagnostic::of_file(
                    format!("there is no voice `{wanted}` in this part"),
                    format!("its voices are {}", names()),
                )
            });
        }
        let busiest = tally.iter().map(|(count, _)| *count).max().unwrap_or(0);
        let voice = used
            .iter()
            .filter(|index| tally[**index].0 * 2 >= busiest)
            .max_by_key(|index| {
                (
                    tally[**index].1 * 100 / tally[**index].0,
                    std::cmp::Reverse(**index),
                )
            })
            .copied()
            .unwrap_or(0);
        if used.len() > 1 {
            warnings.push(format!(
                "voice {} is read, the highest of those that are busy; `--voice` takes another: {}",
                self.voices[voice],
                names()
            ));
        }
        Ok(voice as u16)
    }

    /// The interval from the pitch in the file to the pitch a guitarist reads.
    ///
    /// A part that sounds an octave lower than written is already right; any other is brought to concert pitch. A
    /// guitar or bass under an octave clef without `<transpose>` is at its sounding pitch, an octave too low.
    fn to_guitar(&self, warnings: &mut Vec<String>) -> Timeline<Interval> {
        let octave_down = -Interval::OCTAVE;
        let mut shifts = Timeline::default();
        let is_guitar = self
            .program
            .is_some_and(|program| (25..=40).contains(&program));
        if self.transpositions.is_empty() && self.has_octave_clef && is_guitar {
            shifts.set(Quarters::from(0), Interval::OCTAVE);
            warnings.push("the part is written at sounding pitch under an octave clef; read an octave up, as a guitarist reads".into());
        }
        for (onset, interval) in in_order(&self.transpositions) {
            let is_written_for_guitar = *interval == octave_down || *interval == Interval::UNISON;
            shifts.set(
                onset,
                if is_written_for_guitar {
                    Interval::UNISON
                } else {
                    *interval
                },
            );
            if !is_written_for_guitar && onset == Quarters::from(0) {
                warnings.push(format!("the part is for a transposing instrument: it is brought to concert pitch ({interval})"));
            }
        }
        shifts
    }
}

fn in_order<T>(changes: &[(Quarters, T)]) -> Vec<(Quarters, &T)> {
    let mut sorted: Vec<(Quarters, &T)> = changes
        .iter()
        .map(|(onset, value)| (*onset, value))
        .collect();
    sorted.sort_by_key(|(onset, _)| *onset);
    sorted
}

/// Makes the melody from the chosen voice of a part.
pub(super) fn draft(
    score: &Score,
    part: &ScorePart,
    options: &MusicXmlOptions,
    warnings: &mut Vec<String>,
) -> Result<Melody, Diagnostic> {
    let on_tablature = |note: &WrittenNote| part.tablature_staves.contains(&note.staff);
    let mut notes: Vec<WrittenNote> = part
        .notes
        .iter()
        .filter(|note| !on_tablature(note))
        .copied()
        .collect();
    if notes.is_empty() {
        notes.clone_from(&part.notes);
    }
    if notes.is_empty() {
        return Err(Diagnostic::of_file(
            "there is no note in this part",
            "`--part` takes another",
        ));
    }
    let voice = part.choose_voice(options, &notes, warnings)?;
    notes.retain(|note| note.voice == voice);
    let shifts = part.to_guitar(warnings);
    let in_voice = part
        .tuplets
        .iter()
        .filter(|it| it.0 == voice)
        .map(|it| it.1);
    let sung = part.lyrics.iter().filter(|it| it.0 == voice);
    let sung = sung.map(|it| it.1.clone());
    let mut draft = Draft {
        title: score.title.clone(),
        composer: score.composer.clone(),
        source: score.source.clone(),
        transcriber: score.transcriber.clone(),
        notes: single_line(notes, &shifts, warnings)?,
        bars: part.bars.clone(),
        line_breaks: part.line_breaks.clone(),
        tuplets: in_voice.collect(),
        lyrics: sung.collect(),
        words: score.words.clone(),
        now: part.length(),
        ..Draft::default()
    };
    // Some programs write directions for the whole score only into its first part.
    let first_with = |has: fn(&ScorePart) -> bool| {
        if has(part) {
            Some(part)
        } else {
            score.parts.iter().find(|it| has(it))
        }
    };
    if let Some(source) = first_with(|part| !part.meters.is_empty()) {
        in_order(&source.meters)
            .into_iter()
            .for_each(|(onset, meter)| draft.meters.set(onset, *meter));
    }
    if let Some(source) = first_with(|part| !part.tempos.is_empty()) {
        in_order(&source.tempos)
            .into_iter()
            .for_each(|(onset, tempo)| draft.tempos.set(onset, *tempo));
    }
    draft.feel = first_with(|part| part.feel.is_some()).and_then(|source| source.feel);
    if let Some(source) = first_with(|part| !part.sections.is_empty()) {
        in_order(&source.sections)
            .into_iter()
            .for_each(|(onset, name)| draft.sections.set(onset, name.clone()));
    }
    if let Some(source) = first_with(|part| !part.form.is_empty()) {
        draft.form = source.form.clone();
    }
    let form_errors = draft.settle_form();
    set_keys(part, &shifts, &mut draft, warnings);
    if let Some(source) = first_with(|part| !part.harmonies.is_empty()) {
        let chord_shifts = if std::ptr::eq(source, part) {
            shifts
        } else {
            source.to_guitar(&mut Vec::new())
        };
        set_chords(source, &chord_shifts, &mut draft, warnings);
    }
    if part.quarter_tones > 0 {
        warnings.push(format!(
            "{} accidentals finer than a semitone, which no fret can give, go to the semitone nearer the natural note",
            part.quarter_tones
        ));
    }
    if part.graces > 0 {
        warnings.push(format!("{} grace notes are left out", part.graces));
    }
    let melody = Melody::new(draft).map_err(|error| {
        let hint = match error {
            MelodyError::TooManyBars => HINT_ABOUT_BARS,
            _ => "correct the durations in that part of the score",
        };
        Diagnostic::of_file(error.to_string(), hint)
    })?;
    warnings.extend(left_out_of_form(&melody, &form_errors));
    if let (Some(key), Some(better)) = (melody.keys().first(), melody.better_key()) {
        warnings.push(format!(
            "the score declares {key}, which its notes do not fit: they suggest {better}; `--key` sets it"
        ));
    }
    Ok(melody)
}

/// One note after the other, ties joined, at the pitch a guitarist reads.
fn single_line(
    mut written: Vec<WrittenNote>,
    shifts: &Timeline<Interval>,
    warnings: &mut Vec<String>,
) -> Result<Vec<Note>, Diagnostic> {
    written.sort_by_key(|note| (note.onset, std::cmp::Reverse(note.pitch.midi())));
    let stops: HashSet<(Quarters, Pitch)> = written
        .iter()
        .filter(|note| note.is_tied)
        .map(|note| (note.onset, note.pitch))
        .collect();
    let mut open_ties = 0;
    let timed = written.into_iter().map(|note| Timed {
        onset: note.onset,
        end: note.onset + note.duration,
        height: note.pitch.midi().get(),
        note,
    });
    let mut notes: Vec<Note> = Vec::new();
    let mut before: Option<WrittenNote> = None;
    for Timed {
        onset, end, note, ..
    } in top_line(timed, |_, _| true, warnings)
    {
        let tie_end = note.onset + note.duration;
        open_ties += usize::from(note.ties_on && !stops.contains(&(tie_end, note.pitch)));
        if let (Some(last), Some(tied)) = (notes.last_mut(), before)
            && tied.ties_on
            && note.is_tied
            && tied.pitch == note.pitch
            && last.end() == onset
        {
            last.duration = end - last.onset;
            before = Some(note);
            continue;
        }
        let pitch = match shifts.at(onset) {
            Some(shift) => note.pitch.transpose(*shift).map_err(|error| {
                Diagnostic::of_file(
                    error.to_string(),
                    "the part's <transpose> leads off the scale of pitches",
                )
            })?,
            None => note.pitch,
        };
        before = Some(note);
        notes.push(Note {
            pitch,
            onset,
            duration: end - onset,
        });
    }
    if open_ties > 0 {
        warnings.push(format!(
            "{open_ties} ties lead to no note of their pitch and are left out"
        ));
    }
    Ok(notes)
}

fn set_keys(
    part: &ScorePart,
    shifts: &Timeline<Interval>,
    draft: &mut Draft,
    warnings: &mut Vec<String>,
) {
    let last = draft.notes.last().map(|note| note.pitch.class());
    let mut is_guessed = false;
    for (onset, signature) in in_order(&part.keys) {
        let written = |mode| Key::from_signature(signature.fifths, mode);
        let moved = |key: Key| {
            key.transpose(*shifts.at(onset).unwrap_or(&Interval::UNISON))
                .ok()
        };
        let key = match signature.mode {
            Some(mode) => written(mode).ok().and_then(moved),
            None => {
                is_guessed = true;
                let minor = written(Mode::Minor).ok().and_then(moved);
                minor
                    .filter(|key| Some(key.tonic()) == last)
                    .or_else(|| written(Mode::Major).ok().and_then(moved))
            }
        };
        if let Some(key) = key {
            draft.keys.set(onset, key);
        }
    }
    if is_guessed && let Some(key) = draft.keys.first() {
        warnings.push(format!(
            "the key signature does not tell major from minor; the last note suggests {key}"
        ));
    }
}

fn set_chords(
    part: &ScorePart,
    shifts: &Timeline<Interval>,
    draft: &mut Draft,
    warnings: &mut Vec<String>,
) {
    let mut unread = 0;
    for (onset, harmony) in in_order(&part.harmonies) {
        let shift = *shifts.at(onset).unwrap_or(&Interval::UNISON);
        let chord = harmony
            .chord()
            .and_then(|chord| chord.map(|chord| chord.transpose(shift)).transpose().ok());
        match chord {
            Some(chord) => draft.chords.set(onset, chord),
            None => unread += 1,
        }
    }
    if unread > 0 {
        warnings.push(format!(
            "{unread} chord symbols of an unknown kind are left out"
        ));
    }
}
