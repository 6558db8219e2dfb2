//! The one line of a score that becomes the melody.

use super::Options;
use super::part::{Part, Written};
use super::score::Score;
use crate::format::Fault;
use crate::format::left_out::LeftOut;
use crate::melody::{Draft, Melody, Note, Quarters, Timeline};
use crate::theory::{Interval, Key, Mode};

/// The part that is asked for, else the one most like a lead line: one that is named so, then one that is sung, then one
/// with chord symbols over it, then one of mostly single notes, then the highest, then the first.
///
/// Chosen by ear; what was chosen is said when there was a choice.
pub(super) fn choose_part<'s>(
    score: &'s Score,
    options: &Options,
    remarks: &mut Vec<String>,
) -> Result<&'s Part, Fault> {
    let playable: Vec<(usize, &Part)> = score
        .parts
        .iter()
        .enumerate()
        .filter(|(_, part)| !part.notes.is_empty())
        .collect();
    if let Some(wanted) = &options.part {
        let named = score
            .parts
            .iter()
            .find(|part| part.name.eq_ignore_ascii_case(wanted) || part.id == *wanted);
        let numbered = || {
            score
                .parts
                .get(wanted.parse::<usize>().ok()?.checked_sub(1)?)
        };
        return named.or_else(numbered).ok_or_else(|| {
            Fault::of_file(
                format!("there is no part `{wanted}` in it"),
                format!("the parts are {}", list_parts(score)),
            )
        });
    }
    let busiest = playable
        .iter()
        .map(|(_, part)| part.onsets())
        .max()
        .unwrap_or(0);
    let (index, part) = playable
        .iter()
        .max_by_key(|(index, part)| (part.lead_score(busiest), std::cmp::Reverse(*index)))
        .ok_or_else(|| {
            Fault::of_file(
                "there is no note in it",
                "a score of rests or of percussion has no melody",
            )
        })?;
    if playable.len() > 1 {
        remarks.push(format!(
            "part {} of {}{} is read, being most like a lead line; `--part` takes another: {}",
            index + 1,
            score.parts.len(),
            named(&part.name),
            list_parts(score),
        ));
    }
    Ok(part)
}

fn named(name: &str) -> String {
    if name.is_empty() {
        String::new()
    } else {
        format!(" ({})", crate::one_line::one_line(name))
    }
}

fn list_parts(score: &Score) -> String {
    const MOST: usize = 12;
    let mut parts: Vec<String> = (1..)
        .zip(&score.parts)
        .take(MOST)
        .map(|(number, part)| format!("{number}{}", named(&part.name)))
        .collect();
    if score.parts.len() > MOST {
        parts.push("…".into());
    }
    parts.join(", ")
}

impl Part {
    /// How many notes or chords begin, one line's worth of them being counted once.
    fn onsets(&self) -> usize {
        let changes = self
            .notes
            .windows(2)
            .filter(|pair| pair[0].onset != pair[1].onset)
            .count();
        changes + usize::from(!self.notes.is_empty())
    }

    fn lead_score(&self, busiest: usize) -> (bool, bool, bool, bool, bool, bool, u64) {
        let name = self.name.to_lowercase();
        let is_named_so = [
            "melod", "lead", "voice", "vocal", "voc", "solo", "sopran", "tune",
        ]
        .iter()
        .any(|word| name.contains(word));
        let onsets = self.onsets();
        let pitch_sum: u64 = self
            .notes
            .iter()
            .map(|note| u64::from(note.pitch.midi()))
            .sum();
        (
            onsets * 8 >= busiest,
            self.tablature_staves != [1],
            is_named_so,
            self.lyrics * 2 >= self.notes.len(),
            !self.harmonies.is_empty(),
            onsets * 10 >= self.notes.len() * 9,
            pitch_sum / self.notes.len().max(1) as u64,
        )
    }

    /// The voice that is asked for, else the highest of those with at least half as many notes as the busiest.
    fn choose_voice(
        &self,
        options: &Options,
        notes: &[Written],
        remarks: &mut Vec<String>,
    ) -> Result<u16, Fault> {
        let mut tally = vec![(0u64, 0u64); self.voices.len()];
        for note in notes {
            let (count, sum) = &mut tally[usize::from(note.voice)];
            *count += 1;
            *sum += u64::from(note.pitch.midi());
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
                Fault::of_file(
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
            remarks.push(format!(
                "voice {} is read, the highest of those that are busy; `--voice` takes another: {}",
                self.voices[voice],
                names()
            ));
        }
        Ok(voice as u16)
    }

    /// From what is written in the file to what a guitarist reads.
    ///
    /// A part that sounds an octave lower than written is already written so; any other is brought to concert pitch.
    /// A guitar or bass under an octave clef without `<transpose>` stands at its sounding pitch, an octave too low to read.
    fn to_guitar(&self, remarks: &mut Vec<String>) -> Timeline<Interval> {
        let octave_down = -Interval::OCTAVE;
        let mut shifts = Timeline::default();
        let is_guitar = self
            .program
            .is_some_and(|program| (25..=40).contains(&program));
        if self.transpositions.is_empty() && self.has_octave_clef && is_guitar {
            shifts.set(Quarters::from(0), Interval::OCTAVE);
            remarks.push("the part stands at sounding pitch under an octave clef: it is read an octave higher, as a guitarist reads it".into());
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
                remarks.push(format!("the part is for a transposing instrument: it is brought to concert pitch ({interval})"));
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

/// Makes the melody out of the chosen voice of a part.
pub(super) fn draft(
    score: &Score,
    part: &Part,
    options: &Options,
    remarks: &mut Vec<String>,
) -> Result<Melody, Fault> {
    let on_tablature = |note: &Written| part.tablature_staves.contains(&note.staff);
    let mut notes: Vec<Written> = part
        .notes
        .iter()
        .filter(|note| !on_tablature(note))
        .copied()
        .collect();
    if notes.is_empty() {
        notes.clone_from(&part.notes);
    }
    if notes.is_empty() {
        return Err(Fault::of_file(
            "there is no note in this part",
            "`--part` takes another",
        ));
    }
    let voice = part.choose_voice(options, &notes, remarks)?;
    notes.retain(|note| note.voice == voice);
    let shifts = part.to_guitar(remarks);
    let mut draft = Draft {
        title: score.title.clone(),
        composer: score.composer.clone(),
        notes: single_line(notes, &shifts, remarks)?,
        bars: part.bars.clone(),
        now: part.length(),
        ..Draft::default()
    };
    // Some programs write what holds for the whole score into its first part only.
    let first_with = |has: fn(&Part) -> bool| {
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
    if let Some(source) = first_with(|part| !part.sections.is_empty()) {
        in_order(&source.sections)
            .into_iter()
            .for_each(|(onset, name)| draft.sections.set(onset, name.clone()));
    }
    set_keys(part, &shifts, &mut draft, remarks);
    if let Some(source) = first_with(|part| !part.harmonies.is_empty()) {
        let chord_shifts = if std::ptr::eq(source, part) {
            shifts
        } else {
            source.to_guitar(&mut Vec::new())
        };
        set_chords(source, &chord_shifts, &mut draft, remarks);
    }
    if part.graces > 0 {
        remarks.push(format!("{} grace notes are left out", part.graces));
    }
    Melody::new(draft).map_err(|error| {
        Fault::of_file(
            error.to_string(),
            "correct the durations in that part of the score",
        )
    })
}

/// One note after the other: of notes that begin together the highest, each cut where the next begins, ties joined.
fn single_line(
    mut written: Vec<Written>,
    shifts: &Timeline<Interval>,
    remarks: &mut Vec<String>,
) -> Result<Vec<Note>, Fault> {
    written.sort_by_key(|note| (note.onset, std::cmp::Reverse(note.pitch.midi())));
    let mut left_out = LeftOut::default();
    let mut notes: Vec<Note> = Vec::with_capacity(written.len());
    let mut ties_on = false;
    let mut written_pitch = None;
    let mut last_onset = None;
    for note in written {
        if last_onset == Some(note.onset) {
            left_out.stacked += 1;
            continue;
        }
        last_onset = Some(note.onset);
        if let Some(last) = notes.last_mut() {
            if last.end() > note.onset {
                last.duration = note.onset - last.onset;
                left_out.cut += 1;
            }
            if ties_on
                && note.is_tied
                && written_pitch == Some(note.pitch)
                && last.end() == note.onset
            {
                last.duration = note.onset + note.duration - last.onset;
                ties_on = note.ties_on;
                continue;
            }
        }
        let pitch = match shifts.at(note.onset) {
            Some(shift) => note.pitch.transpose(*shift).map_err(|error| {
                Fault::of_file(
                    error.to_string(),
                    "the part's <transpose> leads off the scale of pitches",
                )
            })?,
            None => note.pitch,
        };
        (ties_on, written_pitch) = (note.ties_on, Some(note.pitch));
        notes.push(Note {
            pitch,
            onset: note.onset,
            duration: note.duration,
        });
    }
    left_out.remark(remarks);
    Ok(notes)
}

fn set_keys(
    part: &Part,
    shifts: &Timeline<Interval>,
    draft: &mut Draft,
    remarks: &mut Vec<String>,
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
        remarks.push(format!("the key signature does not say major or minor; by its last note the tune is taken to begin in {key}"));
    }
}

fn set_chords(
    part: &Part,
    shifts: &Timeline<Interval>,
    draft: &mut Draft,
    remarks: &mut Vec<String>,
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
        remarks.push(format!(
            "{unread} chord symbols are of no known kind and are left out"
        ));
    }
}
