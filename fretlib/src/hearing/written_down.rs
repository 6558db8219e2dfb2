//! From struck notes to a tune on paper: tempo, note values, meter and key.

use super::local_tempo::median;
use super::struck_note::StruckNote;
use crate::melody::{
    Draft, KeyProfile, Melody, MelodyError, Meter, Quarters, Tempo, estimate_keys,
};

/// Usual times from note to note, in twelfths of a quarter note, with their weights; chosen by ear.
const VALUES: [(i64, f64); 11] = [
    (12, 1.0),
    (6, 0.9),
    (24, 0.7),
    (18, 0.6),
    (3, 0.5),
    (9, 0.45),
    (36, 0.4),
    (48, 0.4),
    (4, 0.3),
    (8, 0.3),
    (30, 0.1),
];

/// Twelfths to a quarter note: sixteenths and triplets are whole.
const GRID: i64 = 12;

/// The tolerance of a time, as a share of its value: a deviation of half of this still fits well.
const LOOSE: f64 = 0.12;

/// How fast the tempo follows the player, from one note to the next.
const FOLLOW: f64 = 0.2;

/// The least share of the time to the next note for which a note is written as filling it.
const JOINED: f64 = 0.6;

impl StruckNote {
    /// Writes notes down as a tune: it estimates and follows the tempo, rounds times to sixteenths and triplets, and
    /// estimates a meter of 4/4 or 3/4 and a key. Notes are written an octave above their sound, as a guitar is read.
    ///
    /// # Errors
    ///
    /// When there is no note, or the notes are too many or too far apart for a melody.
    pub fn written_down(notes: &[StruckNote]) -> Result<Melody, MelodyError> {
        let waits: Vec<f64> = notes
            .windows(2)
            .map(|pair| pair[1].onset - pair[0].onset)
            .collect();
        let (steps, quarter) = followed(&waits, first_quarter(&waits));
        let mut onsets = vec![0i64];
        for step in &steps {
            onsets.push(onsets[onsets.len() - 1] + step);
        }
        let lengths: Vec<i64> = notes
            .iter()
            .enumerate()
            .map(|(k, note)| {
                let sounding =
                    ((note.end - note.onset) / quarter * GRID as f64 / 3.0).round() as i64 * 3;
                match steps.get(k) {
                    Some(&step) if sounding as f64 >= JOINED * step as f64 => step,
                    Some(&step) => sounding.clamp(step.min(3), step),
                    None => sounding.clamp(3, 4 * GRID),
                }
            })
            .collect();
        let (beats, pickup) = meter(&onsets, &lengths);
        let mut draft = Draft::default();
        if let Ok(meter) = Meter::new(beats as u8, 4) {
            draft.meters.set(Quarters::ZERO, Some(meter));
        }
        let per_minute = Quarters::from((60.0 / quarter).round() as i64);
        if let Ok(tempo) = Tempo::new(Quarters::ONE, per_minute) {
            draft.tempos.set(Quarters::ZERO, tempo);
        }
        // With a pickup, the bar lines are set explicitly.
        let end = onsets
            .last()
            .zip(lengths.last())
            .map_or(0, |(onset, length)| onset + length);
        let bar = beats * GRID;
        let first = if pickup == 0 { 0 } else { pickup - bar };
        draft.bars = (0..)
            .map(|k| first + k * bar)
            .take_while(|at| *at < end)
            .map(|at| Quarters::new(at.max(0), GRID))
            .collect();
        for (k, note) in notes.iter().enumerate() {
            let onset = Quarters::new(onsets[k], GRID);
            if onset > draft.now {
                draft.rest(onset - draft.now)?;
            }
            let written = note.pitch.transpose(12).unwrap_or(note.pitch);
            draft.note(
                crate::theory::Pitch::from_midi(written),
                Quarters::new(lengths[k], GRID),
            )?;
        }
        let melody = Melody::new(draft)?;
        let Some(key) = estimate_keys(&melody, KeyProfile::default())
            .first()
            .map(|it| it.key)
        else {
            return Ok(melody);
        };
        let mut draft = melody.into_draft();
        for note in &mut draft.notes {
            note.pitch = key.spell(note.pitch.midi());
        }
        draft.keys.set(Quarters::ZERO, key);
        Melody::new(draft)
    }
}

/// The length of a quarter note in seconds that makes the times from note to note most usual, at a tempo near 100.
fn first_quarter(waits: &[f64]) -> f64 {
    let score = |quarter: f64| {
        let usual = (-((quarter / 0.6).ln() / 0.5).powi(2) / 2.0).exp();
        let fit: f64 = waits.iter().map(|wait| nearest(wait / quarter).1).sum();
        usual * fit
    };
    // From 50 to 200 quarter notes a minute, in steps of one in a hundred.
    (0..140)
        .map(|k| 0.3 * 1.01f64.powi(k))
        .max_by(|a, b| score(*a).total_cmp(&score(*b)))
        .unwrap_or(0.6)
}

/// The most likely value of a time in quarter notes, in twelfths, and how well it fits.
fn nearest(quarters: f64) -> (i64, f64) {
    let fits = VALUES.iter().map(|&(value, usual)| {
        let off = (quarters * GRID as f64 / value as f64).max(1e-6).ln() / LOOSE;
        (value, usual * (-off * off / 2.0).exp())
    });
    let best = fits.max_by(|a, b| a.1.total_cmp(&b.1));
    match best {
        Some((value, fit)) if fit > 1e-3 => (value, fit),
        // A long or unusual time: the nearest sixteenth.
        _ => (((quarters * 4.0).round() as i64).clamp(1, 4_000) * 3, 0.0),
    }
}

/// The times from note to note in twelfths, with the tempo following the player; and the median quarter in seconds.
fn followed(waits: &[f64], first: f64) -> (Vec<i64>, f64) {
    let mut quarter = first;
    let mut quarters = Vec::with_capacity(waits.len());
    let steps = waits
        .iter()
        .map(|wait| {
            let (step, fit) = nearest(wait / quarter);
            if fit > 0.2 {
                quarter += FOLLOW * (wait * GRID as f64 / step as f64 - quarter);
            }
            quarters.push(quarter);
            step
        })
        .collect();
    (steps, median(&mut quarters).unwrap_or(first))
}

/// Beats to a bar, 4 or 3, and the length of the pickup in twelfths: where long notes begin bars.
fn meter(onsets: &[i64], lengths: &[i64]) -> (i64, i64) {
    let weight = |beats: i64, pickup: i64| {
        let bar = beats * GRID;
        let starts = onsets
            .iter()
            .zip(lengths)
            .filter(|(onset, _)| (*onset - pickup).rem_euclid(bar) == 0);
        let sum: i64 = starts.map(|(_, length)| (*length).min(2 * GRID)).sum();
        let bars = onsets.last().map_or(1, |last| last / bar + 1);
        sum as f64 / bars as f64
    };
    let mut best = (4, 0, weight(4, 0) * 1.2);
    for beats in [4, 3] {
        for pickup in (0..beats * GRID).step_by(GRID as usize / 2) {
            // By default a tune begins on its first beat, in four.
            let kept = if beats == 3 { 0.9 } else { 1.0 };
            let found = kept * weight(beats, pickup) * if pickup == 0 { 1.2 } else { 1.0 };
            if found > best.2 {
                best = (beats, pickup, found);
            }
        }
    }
    (best.0, best.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::MidiNumber;

    fn notes(played: &[(f64, u8)], swing: f64) -> Vec<StruckNote> {
        let mut now = 0.3;
        played
            .iter()
            .enumerate()
            .map(|(k, &(quarters, midi))| {
                let onset = now;
                now += quarters * 0.5 * (1.0 + swing * (k as f64 * 0.7).sin());
                StruckNote {
                    onset,
                    end: now - 0.02,
                    pitch: MidiNumber::new(midi).unwrap(),
                    cents: 0.0,
                    level_db: -20.0,
                }
            })
            .collect()
    }

    #[test]
    fn note_values_key_and_tempo_are_found() {
        let played = [
            (1.0, 52),
            (0.5, 55),
            (0.5, 57),
            (1.0, 59),
            (1.0, 62),
            (1.5, 59),
            (0.5, 57),
            (2.0, 55),
            (1.0, 52),
            (0.5, 55),
            (0.5, 57),
            (1.0, 55),
            (1.0, 50),
            (4.0, 52),
        ];
        for swing in [0.0, 0.04] {
            let melody = StruckNote::written_down(&notes(&played, swing)).unwrap();
            let found: Vec<f64> = melody
                .notes()
                .windows(2)
                .map(|it| (it[1].onset - it[0].onset).to_f64())
                .collect();
            let expected: Vec<f64> = played[..13].iter().map(|it| it.0).collect();
            assert_eq!(found, expected, "{swing}");
            assert_eq!(melody.notes()[0].pitch.to_string(), "E4");
            assert_eq!(
                melody.keys().first().map(ToString::to_string).as_deref(),
                Some("E minor")
            );
            let tempo = melody
                .tempos()
                .first()
                .unwrap()
                .quarters_per_minute()
                .to_f64();
            assert!((tempo - 120.0).abs() < 8.0, "{tempo}");
            assert_eq!(
                melody.meters().first().copied().flatten(),
                Some(Meter::COMMON)
            );
        }
        assert!(StruckNote::written_down(&[]).is_err());
        assert_eq!(
            StruckNote::written_down(&notes(&[(1.0, 60)], 0.0))
                .unwrap()
                .notes()
                .len(),
            1
        );
    }
}
