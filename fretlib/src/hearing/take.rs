//! A take of a melody, judged.

use super::alignment::{Match, TimedMatch, route, timed};
use super::expected::{Expected, expected};
use super::listener::Heard;
use super::local_tempo::{TempoPoint, median, seconds_a_quarter, when};
use super::notes_under::NotesUnder;
use super::second_look::{self, MissedNote};
use super::strike::{Sounded, Strike};
use super::struck_note::{StruckNote, as_note, struck};
use super::tempo_curve::{Prediction, TempoCurve};
use crate::melody::{Melody, Note, Quarters, Swing};

/// The verdict on a note of the melody.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum NoteVerdict {
    /// The note at its time.
    Right,
    /// Another note in its place; another octave is another note.
    Wrong,
    /// No strike was heard.
    Missing,
    /// The note, too soon.
    Early,
    /// The note, too late.
    Late,
}

/// A note of the melody as it was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JudgedNote {
    /// Which note of the melody, counted from 0.
    pub index: usize,
    /// The time it was played: 1, or more where a strain is repeated or the player came back to it.
    pub time: u32,
    /// The verdict.
    pub verdict: NoteVerdict,
    /// False when the verdict is uncertain; then it never counts against the player.
    pub sure: bool,
    /// When it was expected by the tempo around it, in seconds.
    pub expected: f64,
    /// What was heard in its place, unless it is missing.
    pub heard: Option<StruckNote>,
    /// Silence before the next note, in seconds, where the two are written joined.
    pub break_after: f64,
}

impl JudgedNote {
    /// How much later than expected it was, in seconds; negative when earlier.
    pub fn offset(&self) -> Option<f64> {
        Some(self.heard?.onset - self.expected)
    }

    /// True for a certain fault.
    pub fn is_sure_fault(&self) -> bool {
        self.sure && self.verdict != NoteVerdict::Right
    }
}

/// One time through part of the tune.
#[derive(Clone, Debug, PartialEq)]
pub struct HeardPass {
    /// Its notes, in playing order.
    pub notes: Vec<JudgedNote>,
    /// Quarter notes a minute; `None` with a single note.
    pub tempo: Option<f64>,
    /// The numbers of the first and the last bar.
    pub bars: (u32, u32),
    /// When notes were certainly added in it, in seconds.
    pub sure_extras: Vec<f64>,
}

impl HeardPass {
    /// Its bars as players name them: `5`, `1-8`.
    pub fn bars_in_words(&self) -> String {
        match self.bars {
            (first, last) if first == last => first.to_string(),
            (first, last) => format!("{first}-{last}"),
        }
    }

    /// True when there is no certain fault in it.
    pub fn is_right(&self) -> bool {
        self.sure_extras.is_empty() && !self.notes.iter().any(JudgedNote::is_sure_fault)
    }
}

/// A recording compared with a melody.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// The passes, in the order in which they were played.
    pub passes: Vec<HeardPass>,
    /// Notes that match nothing in the melody.
    pub extra: Vec<StruckNote>,
    /// Semitones from the written to the sounding notes: −12 for a guitar that plays what is written.
    pub shift: i32,
    /// Quarter notes a minute over all; `None` with less than two notes.
    pub tempo: Option<f64>,
    /// How pairs of eighths were divided, where the tune does not say how and they were not played evenly.
    ///
    /// It moves the times that are expected, so it is not judged.
    pub swing: Option<Swing>,
    /// The share of written and struck notes that agree, from 0 to 1; below [`Take::FITS`] it is another tune.
    pub fit: f64,
}

/// The largest table of the alignment; a longer recording is judged up to there.
const MOST_CELLS: usize = 60_000_000;

/// A note is late or early from this many seconds on, or from this share of the note before, but never below the least.
const OFF_TIME: f64 = 0.09;
const OFF_SHARE: f64 = 0.25;
const LEAST_OFF: f64 = 0.04;

/// Notes on each side that give the tempo, in each round of the alignment.
const SIDES: [usize; 3] = [16, 10, 7];

/// A verdict on time is certain from this far beyond the limit.
const SURELY_OFF: f64 = 1.1;

/// An added note is reported from this chance on, and is certain from the second one.
const EXTRA: f32 = 0.7;
const SURE_EXTRA: f32 = 0.9;

/// An added note of less flux may be the room or the string itself, unless it is as likely as this.
const EXTRA_FLUX: f32 = 0.025;
const FAINT_EXTRA: f32 = 0.97;

/// Two strikes of one pitch that are nearer than this, in seconds, are one note.
const TWICE: f64 = 0.09;

/// A note without a strike of its own was played after all from this chance on; from the lower one on it is not certain
/// that it is missing. Chosen on takes of our own, where one note in sixteen is left out: a player leaves out fewer, so less
/// than even chances are enough.
const PLAYED_SOFTLY: f32 = 0.3;
const MAYBE_PLAYED: f32 = 0.1;

/// From this chance on a note was played after all, although a doubtful strike of another pitch was found in its place, or
/// one of its own pitch later.
const SURELY_PLAYED: f32 = 0.9;

/// A strike of another pitch is wrong for certain from this chance on, even where the note itself seems to sound.
const SURELY_WRONG: f32 = 0.99;

/// A longer gap than this (seconds) is a stop, after which the tempo is estimated again.
const STOP: f64 = 0.6;

impl Take {
    /// The least agreement of a take of the tune itself.
    pub const FITS: f64 = 0.5;

    /// Compares a recording with a melody in playing order, in any octave, or in another key if no octave fits.
    ///
    /// `None` when no note of it was heard.
    pub fn of(heard: &Heard, melody: &Melody) -> Option<Take> {
        Take::of_arranged(heard, melody, &[])
    }

    /// Compares a recording with a melody that is played over an accompaniment, in written time and pitch.
    ///
    /// What belongs to the accompaniment is never extra, and where it is struck with a note of the melody a wrong or
    /// missing one is not certain.
    ///
    /// `None` when no note of the melody was heard.
    pub fn of_arranged(heard: &Heard, melody: &Melody, under: &[Note]) -> Option<Take> {
        let told = melody.feel();
        let given = told.and_then(Swing::of);
        let take = Take::with_swing(heard, melody, under, given)?;
        let found = match told {
            Some(_) => None,
            None => swing_of(&take, melody),
        };
        match found {
            Some(swing) => Some(Take {
                swing: Some(swing),
                ..Take::with_swing(heard, melody, under, found)?
            }),
            None => Some(take),
        }
    }

    /// Compares as [`Take::of_arranged`], expecting this swing.
    fn with_swing(
        heard: &Heard,
        melody: &Melody,
        under: &[Note],
        swing: Option<Swing>,
    ) -> Option<Take> {
        let notes = expected(melody, swing);
        let (judge, runs) = Judge::new(heard, melody, &notes, under)?;
        Some(judge.take(&runs))
    }

    /// Every note judged, in the order in which it was played.
    pub fn notes(&self) -> impl Iterator<Item = &JudgedNote> {
        self.passes.iter().flat_map(|pass| &pass.notes)
    }

    /// True when this is a take of the tune.
    pub fn fits(&self) -> bool {
        self.fit >= Take::FITS
    }
}

/// A note for which no certain strike was found.
#[derive(Clone, Debug)]
pub struct NotFound {
    /// Which note of the melody, counted from 0.
    pub index: usize,
    /// When it is expected, in seconds.
    pub expected: f64,
    /// What is measured there.
    pub values: [f32; second_look::MEASURED],
}

/// The notes for which no certain strike was found, those left out and those played too softly.
pub fn not_found(heard: &Heard, melody: &Melody) -> Vec<NotFound> {
    let notes = expected(melody, melody.feel().and_then(Swing::of));
    let Some((judge, runs)) = Judge::new(heard, melody, &notes, &[]) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for stretch in judge.stretches(&runs) {
        for (number, note) in notes[stretch.notes.clone()].iter().enumerate() {
            let is_found =
                (stretch.matches.iter()).any(|it| it.note == number && !it.is_doubtful());
            if is_found || !stretch.goes_on_after(number) {
                continue;
            }
            if let Some(missed) = judge.missed(&stretch, number) {
                found.push(NotFound {
                    index: note.index,
                    expected: missed.at,
                    values: second_look::measured(heard, missed),
                });
            }
        }
    }
    found
}

/// Beats from which a swing is estimated, at least, and the least share of the first eighth; chosen on takes of our own.
const SWUNG_BEATS: usize = 8;
const LEAST_SWING: f64 = 0.56;

/// How pairs of eighths are divided in a take, from the beats in which both and the next beat were heard.
///
/// The share is the median. `None` where it is nearly even, differs much from beat to beat, or rests on few beats.
fn swing_of(take: &Take, melody: &Melody) -> Option<Swing> {
    let mut written = vec![None; melody.notes().len()];
    for note in expected(melody, None) {
        written[note.index].get_or_insert((note.within_quarter, note.onset));
    }
    let half = Quarters::new(1, 2);
    let mut shares = Vec::new();
    for pass in &take.passes {
        for three in pass.notes.windows(3) {
            let first = three[0].index;
            let [Some(beat), Some(off), Some(next)] =
                [0, 1, 2].map(|k| written.get(first + k).copied().flatten())
            else {
                continue;
            };
            let is_pair = beat.0.is_zero()
                && off.0 == half
                && next.0.is_zero()
                && (three[1].index, three[2].index) == (first + 1, first + 2)
                && (off.1 - beat.1 - 0.5).abs() < 1e-6
                && (next.1 - off.1 - 0.5).abs() < 1e-6;
            let onset = |k: usize| Some(three[k].heard?.onset);
            if let (true, Some(beat), Some(off), Some(next)) =
                (is_pair, onset(0), onset(1), onset(2))
            {
                shares.push((off - beat) / (next - beat).max(1e-3));
            }
        }
    }
    if shares.len() < SWUNG_BEATS {
        return None;
    }
    shares.sort_by(f64::total_cmp);
    let at = |part: usize| shares[shares.len() * part / 4];
    let (share, spread) = (at(2), at(3) - at(1));
    if share < LEAST_SWING || spread > 0.12 {
        return None;
    }
    Swing::EIGHTHS
        .with_share((100.0 * share).round() as u8)
        .ok()
}

/// Semitones from written to sounding pitch: a whole number of octaves unless another key fits far better.
fn best_shift(sounded: &[(&Strike, Sounded)], notes: &[Expected]) -> Option<i32> {
    if sounded.is_empty() {
        return None;
    }
    // The first few hundred notes are enough.
    let few = &sounded[..sounded.len().min(300)];
    let notes = &notes[..notes.len().min(2000)];
    let all = few.len() as f32;
    let cost = |shift: i32| (route(few, notes, shift, None).0, shift);
    let best = |shifts: &mut dyn Iterator<Item = i32>| {
        shifts
            .map(cost)
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.abs().cmp(&b.1.abs())))
    };
    let octave = best(&mut [-12, 0, -24, 12, -36, 24].into_iter())?;
    if octave.0 < 0.35 * all {
        return Some(octave.1);
    }
    let other = best(&mut (-30..=18))?;
    Some(if other.0 < 0.6 * octave.0 {
        other.1
    } else {
        octave.1
    })
}

struct Judge<'a> {
    heard: &'a Heard,
    melody: &'a Melody,
    notes: &'a [Expected],
    sounded: Vec<Sounded>,
    under: NotesUnder,
    shift: i32,
}

/// A part played without a jump, with the strikes of its notes.
struct PlayedRun {
    // The range of expected notes.
    notes: std::ops::Range<usize>,
    matches: Vec<TimedMatch>,
    times: Vec<Prediction>,
    tempo: Option<f64>,
    // How much softer than the middle one the softest tenth of its notes are, in dB below zero.
    softest_db: f32,
}

impl PlayedRun {
    /// Whether a later note was heard. If the player stops in the middle of a bar, nothing after that is certain.
    fn goes_on_after(&self, number: usize) -> bool {
        self.matches.last().is_some_and(|it| it.note > number)
    }

    /// Leaves out the bars at either end in which nothing was played.
    ///
    /// Outside `run`, the matches of the first alignment, only certain and timely notes count: after the end of a take there
    /// are clicks and echoes, not music.
    fn trim(
        &mut self,
        notes: &[Expected],
        run: std::ops::RangeInclusive<usize>,
        strikes: &[Strike],
    ) {
        let times = &self.times;
        self.matches.retain(|it| {
            let off = (strikes[it.strike].at() - times[it.note].time).abs();
            run.contains(&it.note) || (it.in_tune && it.chance >= 0.5 && off < OFF_TIME)
        });
        let (Some(first), Some(last)) = (self.matches.first(), self.matches.last()) else {
            return;
        };
        let (mut from, mut to) = (first.note, last.note);
        while !notes[from].opens_bar && from > 0 {
            from -= 1;
        }
        while notes.get(to + 1).is_some_and(|it| !it.opens_bar) {
            to += 1;
        }
        self.notes = self.notes.start + from..self.notes.start + to + 1;
        self.times = self.times[from..=to].to_vec();
        self.matches.retain(|it| (from..=to).contains(&it.note));
        self.matches.iter_mut().for_each(|it| it.note -= from);
    }
}

impl<'a> Judge<'a> {
    /// The judge of a recording, and the runs of matches found by the tempo of the whole; `None` when nothing was heard.
    fn new(
        heard: &'a Heard,
        melody: &'a Melody,
        notes: &'a [Expected],
        under: &[Note],
    ) -> Option<(Judge<'a>, Vec<Vec<Match>>)> {
        let found = struck(&heard.strikes);
        let found = &found[..found.len().min(MOST_CELLS / (notes.len() + 1))];
        let sounded: Vec<(&Strike, Sounded)> = found
            .iter()
            .map(|&(strike, sounded)| (&heard.strikes[strike], sounded))
            .collect();
        let shift = best_shift(&sounded, notes)?;
        let judge = Judge {
            heard,
            melody,
            notes,
            sounded: heard.strikes.iter().map(Strike::sounded).collect(),
            under: NotesUnder::new(melody, under, shift),
            shift,
        };
        let runs = |seconds_a_quarter| -> Vec<Vec<Match>> {
            let (_, runs) = route(&sounded, notes, shift, seconds_a_quarter);
            let of_heard = |(strike, note): Match| (found[strike].0, note);
            let runs = runs.into_iter();
            runs.map(|run| run.into_iter().map(of_heard).collect())
                .collect()
        };
        let matches = runs(None).into_iter().flatten();
        let points: Vec<TempoPoint> = matches
            .map(|(strike, note)| judge.point(strike, note))
            .collect();
        let runs = runs(seconds_a_quarter(&points));
        Some((judge, runs))
    }

    fn stretches(&self, runs: &[Vec<Match>]) -> Vec<PlayedRun> {
        let mut stretches: Vec<PlayedRun> = Vec::new();
        for (number, run) in runs.iter().enumerate() {
            // The strikes between the last one of the run before and the first one of the run after.
            let first = number
                .checked_sub(1)
                .and_then(|before| runs[before].last())
                .map_or(0, |&(strike, _)| strike + 1);
            let last = runs
                .get(number + 1)
                .and_then(|after| after.first())
                .map_or(self.heard.strikes.len(), |&(strike, _)| strike);
            stretches.push(self.stretch(run, first..last));
        }
        stretches
    }

    fn take(&self, runs: &[Vec<Match>]) -> Take {
        let stretches = self.stretches(runs);
        let mut times = vec![0u32; self.melody.notes().len()];
        let taken: Vec<usize> = stretches
            .iter()
            .flat_map(|it| it.matches.iter().map(|it| it.strike))
            .collect();
        let mut onsets: Vec<f64> = taken
            .iter()
            .map(|&it| self.heard.strikes[it].at())
            .collect();
        let added = self.added(&taken, &stretches);
        onsets.extend(
            added
                .iter()
                .map(|(strike, _)| self.heard.strikes[*strike].at()),
        );
        onsets.sort_by(f64::total_cmp);
        let next_onset = |at: f64| {
            let after = onsets.partition_point(|it| *it <= at + 1e-9);
            onsets.get(after).copied().unwrap_or(self.heard.seconds())
        };
        let passes: Vec<HeardPass> = stretches
            .iter()
            .map(|stretch| self.judge(stretch, &mut times, &added, &next_onset))
            .collect();
        let extra: Vec<StruckNote> = added
            .iter()
            .filter_map(|&(strike, sounded)| {
                let strike = &self.heard.strikes[strike];
                as_note(
                    strike,
                    sounded.pitch,
                    self.heard.tuning,
                    next_onset(strike.at()),
                )
            })
            .collect();
        let judged = passes.iter().map(|pass| pass.notes.len()).sum::<usize>();
        let agree = passes
            .iter()
            .flat_map(|pass| &pass.notes)
            .filter(|note| !matches!(note.verdict, NoteVerdict::Wrong | NoteVerdict::Missing))
            .count();
        let mut tempos: Vec<f64> = stretches
            .iter()
            .filter_map(|it| Some(vec![it.tempo?; it.notes.len()]))
            .flatten()
            .collect();
        Take {
            extra,
            shift: self.shift,
            tempo: median(&mut tempos),
            swing: None,
            fit: agree as f64 / (judged + added.len()).max(1) as f64,
            passes,
        }
    }

    /// Aligns a run of matches more closely: with every strike, including soft ones, and the expected time of each
    /// note.
    fn stretch(&self, run: &[Match], strikes: std::ops::Range<usize>) -> PlayedRun {
        let mut first = run.first().map_or(0, |&(_, note)| note);
        let mut last = run.last().map_or(0, |&(_, note)| note);
        // Whole bars, and one more at either end for notes that were too soft to match before.
        for _ in 0..2 {
            first = first.saturating_sub(1);
            while first > 0 && !self.notes[first].opens_bar {
                first -= 1;
            }
            last = (last + 1).min(self.notes.len() - 1);
            while self.notes.get(last + 1).is_some_and(|it| !it.opens_bar) {
                last += 1;
            }
        }
        let notes = &self.notes[first..=last];
        let pitches: Vec<i32> = notes.iter().map(|it| it.pitch + self.shift).collect();
        let under: Vec<&[i32]> = notes
            .iter()
            .map(|it| self.under.struck_with(it.index))
            .collect();
        let mut points: Vec<TempoPoint> = run
            .iter()
            .map(|&(strike, note)| self.point(strike, note))
            .collect();
        let mut stretch = PlayedRun {
            notes: first..last + 1,
            matches: Vec::new(),
            times: Vec::new(),
            tempo: None,
            softest_db: 0.0,
        };
        // From coarse to fine: a few wrongly matched notes must not bend the tempo.
        for side in SIDES {
            let times = times_by_line(&points, notes, side);
            let (Some(start), Some(end)) = (times.first(), times.last()) else {
                break;
            };
            let within: Vec<usize> = strikes
                .clone()
                .filter(|&it| (start - 1.5..end + 1.5).contains(&self.heard.strikes[it].at()))
                .collect();
            let asked: Vec<(&Strike, Sounded)> = within
                .iter()
                .map(|&it| (&self.heard.strikes[it], self.sounded[it]))
                .collect();
            let found = timed(&asked, &pitches, &under, &times);
            stretch.matches = found
                .into_iter()
                .map(|it| TimedMatch {
                    strike: within[it.strike],
                    ..it
                })
                .collect();
            points = stretch
                .matches
                .iter()
                .map(|it| self.point(it.strike, first + it.note))
                .collect();
        }
        stretch.times = times_by_curve(&points, notes);
        let played =
            run.first().map_or(0, |it| it.1 - first)..=run.last().map_or(0, |it| it.1 - first);
        stretch.trim(notes, played, &self.heard.strikes);
        stretch.tempo = seconds_a_quarter(&points).map(|it| 60.0 / it);
        stretch.softest_db = self.softest_db(&stretch.matches);
        stretch
    }

    /// How far the level of the softest tenth lies below that of the middle note, in dB; 0 where there are few.
    fn softest_db(&self, matches: &[TimedMatch]) -> f32 {
        let mut levels: Vec<f32> = matches
            .iter()
            .filter(|it| it.in_tune)
            .map(|it| self.heard.strikes[it.strike].candidate.level_db)
            .collect();
        levels.sort_by(f32::total_cmp);
        match levels.get(levels.len() / 2) {
            Some(middle) => levels[levels.len() / 10] - middle,
            None => 0.0,
        }
    }

    fn point(&self, strike: usize, note: usize) -> TempoPoint {
        TempoPoint {
            at: self.notes[note].onset,
            heard: self.heard.strikes[strike].at(),
        }
    }

    /// Strikes that belong neither to the melody nor to what lies under it.
    fn added(&self, taken: &[usize], stretches: &[PlayedRun]) -> Vec<(usize, Sounded)> {
        (0..self.heard.strikes.len())
            .filter(|strike| !taken.contains(strike))
            .map(|strike| (strike, self.sounded[strike]))
            .filter(|(strike, sounded)| {
                let is_faint = self.heard.strikes[*strike].candidate.flux < EXTRA_FLUX;
                sounded.chance >= if is_faint { FAINT_EXTRA } else { EXTRA }
            })
            .filter(|(strike, sounded)| !self.is_twice(*strike, sounded.pitch, taken))
            .filter(|(strike, sounded)| !self.is_under(*strike, sounded.pitch, stretches))
            .filter(|(strike, sounded)| {
                let at = self.heard.strikes[*strike].at();
                second_look::sounds_after(self.heard, sounded.pitch.into(), at)
            })
            .collect()
    }

    /// Whether a strike is the same note as one that was taken: nobody strikes a string twice so fast by mistake.
    fn is_twice(&self, strike: usize, pitch: u8, taken: &[usize]) -> bool {
        let at = self.heard.strikes[strike].at();
        taken.iter().any(|&other| {
            (self.heard.strikes[other].at() - at).abs() < TWICE
                && self.sounded[other].pitch == pitch
        })
    }

    /// Whether a strike is part of the accompaniment.
    fn is_under(&self, strike: usize, pitch: u8, stretches: &[PlayedRun]) -> bool {
        let at = self.heard.strikes[strike].at();
        stretches.iter().any(|stretch| {
            let quarter = stretch.tempo.map_or(0.5, |tempo| 60.0 / tempo);
            let notes = &self.notes[stretch.notes.clone()];
            let mut timed = notes.iter().zip(&stretch.times);
            timed.any(|(note, expected)| {
                let after = (at - expected.time) / quarter;
                self.under.has(note.index, pitch.into(), after, quarter)
            })
        })
    }

    fn judge(
        &self,
        stretch: &PlayedRun,
        times: &mut [u32],
        added: &[(usize, Sounded)],
        next_onset: &dyn Fn(f64) -> f64,
    ) -> HeardPass {
        let mut notes = Vec::with_capacity(stretch.notes.len());
        for (number, note) in self.notes[stretch.notes.clone()].iter().enumerate() {
            times[note.index] += 1;
            let found = stretch.matches.iter().find(|it| it.note == number);
            let mut judged = JudgedNote {
                index: note.index,
                time: times[note.index],
                verdict: NoteVerdict::Missing,
                sure: false,
                expected: stretch.times[number].time,
                heard: None,
                break_after: 0.0,
            };
            let looked_again = match found {
                Some(found) if !self.is_doubtful(found) => None,
                _ => self.look_again(stretch, number),
            };
            let by_strike = found.filter(|found| {
                let looked_again = looked_again.as_ref();
                looked_again.is_none_or(|(_, chance)| !overrules(*chance, found))
            });
            match (by_strike, looked_again) {
                (Some(found), _) => self.judge_strike(&mut judged, found, stretch, next_onset),
                (None, Some((missed, chance))) => {
                    judged.sure = chance < MAYBE_PLAYED && stretch.goes_on_after(number);
                    if chance >= PLAYED_SOFTLY {
                        self.take_as_played(&mut judged, missed, next_onset);
                    }
                }
                // It is missing, or cannot be told from what is struck with it.
                (None, None) => {}
            }
            notes.push(judged);
        }
        let bars = self.melody.bars();
        let span = &self.notes[stretch.notes.clone()];
        let number = |it: Option<&Expected>| it.map_or(0, |it| bars[it.bar].number);
        let heard: Vec<f64> = notes
            .iter()
            .filter_map(|it| Some(it.heard?.onset))
            .collect();
        let (from, to) = (heard.first().copied(), heard.last().copied());
        let added = added.iter().filter(|(_, it)| it.chance >= SURE_EXTRA);
        let sure_extras = added
            .map(|(strike, _)| self.heard.strikes[*strike].at())
            .filter(|at| Some(*at) > from && Some(*at) < to)
            .collect();
        HeardPass {
            notes,
            tempo: stretch.tempo,
            bars: (number(span.first()), number(span.last())),
            sure_extras,
        }
    }

    /// Whether a strike that was taken for a note is hardly one, or one of another pitch that may be something else.
    fn is_doubtful(&self, found: &TimedMatch) -> bool {
        match found.in_tune {
            true => found.is_doubtful(),
            false => self.sounded[found.strike].chance < SURELY_PLAYED,
        }
    }

    /// A second look at a note for which no certain strike was found, and the chance that it was played; `None` where that
    /// cannot be told.
    fn look_again(&self, stretch: &PlayedRun, number: usize) -> Option<(MissedNote, f32)> {
        let missed = self.missed(stretch, number)?;
        Some((missed, second_look::chance(self.heard, missed)))
    }

    /// Whether the second look finds a note, whatever strike was taken for it.
    fn surely_sounds(&self, stretch: &PlayedRun, number: usize) -> bool {
        let looked_again = self.look_again(stretch, number);
        looked_again.is_some_and(|(_, chance)| chance >= SURELY_PLAYED)
    }

    /// A note for which no certain strike was found, unless the recording ends or something is struck with it.
    fn missed(&self, stretch: &PlayedRun, number: usize) -> Option<MissedNote> {
        let notes = &self.notes[stretch.notes.clone()];
        let at = stretch.times[number].time;
        let has_ended = at + second_look::LOOKS_AHEAD > self.heard.seconds();
        if has_ended || !self.under.struck_with(notes[number].index).is_empty() {
            return None;
        }
        let before = number.checked_sub(1);
        Some(MissedNote {
            pitch: notes[number].pitch + self.shift,
            at,
            since: before.map_or(f64::INFINITY, |it| at - stretch.times[it].time),
            until: (stretch.times.get(number + 1)).map_or(f64::INFINITY, |it| it.time - at),
            is_repeated: before.is_some_and(|it| notes[it].pitch == notes[number].pitch),
            softest_db: stretch.softest_db,
        })
    }

    /// Judges a note right that the second look has found.
    fn take_as_played(
        &self,
        judged: &mut JudgedNote,
        missed: MissedNote,
        next_onset: &dyn Fn(f64) -> f64,
    ) {
        judged.verdict = NoteVerdict::Right;
        judged.heard = second_look::as_note(self.heard, missed, next_onset(missed.at));
    }

    fn judge_strike(
        &self,
        judged: &mut JudgedNote,
        found: &TimedMatch,
        stretch: &PlayedRun,
        next_onset: &dyn Fn(f64) -> f64,
    ) {
        let strike = &self.heard.strikes[found.strike];
        let sounded = self.sounded[found.strike];
        let notes = &self.notes[stretch.notes.clone()];
        let pitch = if found.in_tune {
            (notes[found.note].pitch + self.shift).clamp(0, 127) as u8
        } else {
            sounded.pitch
        };
        let next = next_onset(strike.at());
        judged.heard = as_note(strike, pitch, self.heard.tuning, next);
        if let (Some(heard), Some(after)) = (judged.heard, notes.get(found.note + 1)) {
            let this = notes[found.note];
            let joined = (this.onset + this.length - after.onset).abs() < 1e-6
                && stretch.matches.iter().any(|it| it.note == found.note + 1);
            if joined {
                judged.break_after = (next - heard.end).max(0.0);
            }
        }
        if !found.in_tune {
            judged.verdict = NoteVerdict::Wrong;
            judged.sure = sounded.chance > 0.6
                && found.chance < 0.1
                && self.under.struck_with(judged.index).is_empty()
                && (sounded.chance >= SURELY_WRONG || !self.surely_sounds(stretch, found.note));
            return;
        }
        let offset = strike.at() - judged.expected;
        let before = match found.note.checked_sub(1) {
            Some(before) => stretch.times[found.note].time - stretch.times[before].time,
            None => f64::INFINITY,
        };
        let limit =
            (OFF_SHARE * before).clamp(LEAST_OFF, OFF_TIME) + stretch.times[found.note].error;
        judged.verdict = if offset > limit {
            NoteVerdict::Late
        } else if offset < -limit {
            NoteVerdict::Early
        } else {
            NoteVerdict::Right
        };
        judged.sure = match judged.verdict {
            NoteVerdict::Right => !found.is_doubtful(),
            _ => !found.is_doubtful() && offset.abs() > SURELY_OFF * limit,
        };
        // A soft note in time may have been passed over for a later sound.
        if judged.verdict == NoteVerdict::Late
            && let Some((missed, chance)) = self.look_again(stretch, found.note)
        {
            judged.sure &= chance < PLAYED_SOFTLY;
            if chance >= SURELY_PLAYED {
                self.take_as_played(judged, missed, next_onset);
            }
        }
    }
}

/// Whether the second look at a note tells more than the doubtful strike that was taken for it.
fn overrules(chance: f32, found: &TimedMatch) -> bool {
    match found.in_tune {
        true => chance < PLAYED_SOFTLY,
        false => chance >= SURELY_PLAYED,
    }
}

/// When each note is expected, in seconds, by the line through the `side` nearest points on either side.
fn times_by_line(points: &[TempoPoint], notes: &[Expected], side: usize) -> Vec<f64> {
    times(points, notes, |part, usual| {
        move |at| when(part, at, usual, side)
    })
}

/// When each note is expected by the curve through all points.
fn times_by_curve(points: &[TempoPoint], notes: &[Expected]) -> Vec<Prediction> {
    times(points, notes, |part, usual| {
        let curve = TempoCurve::new(part, usual, SIDES[2]);
        move |at| curve.when(at)
    })
}

/// When each note is expected, by what `predictor` makes of the points around it and the usual seconds a quarter note.
///
/// A long stop separates the points: after it the tempo is estimated again. The note right after a stop is measured by
/// the tempo before it.
fn times<'a, T: Default, P: Fn(f64) -> Option<T>>(
    points: &'a [TempoPoint],
    notes: &[Expected],
    predictor: impl Fn(&'a [TempoPoint], f64) -> P,
) -> Vec<T> {
    let usual = seconds_a_quarter(points).unwrap_or(0.5);
    let mut parts: Vec<&[TempoPoint]> = Vec::new();
    let mut start = 0;
    for k in 1..points.len() {
        let waited = |a: usize, b: usize| {
            points[b].heard - points[a].heard - usual * (points[b].at - points[a].at)
        };
        let long = STOP.max(1.2 * usual);
        let goes_on = (k..points.len())
            .take(3)
            .all(|it| waited(k - 1, it) > 0.7 * long);
        if waited(k - 1, k) > long && goes_on {
            parts.push(&points[start..k]);
            start = k;
        }
    }
    parts.push(&points[start..]);
    let predictors: Vec<P> = parts.iter().map(|part| predictor(part, usual)).collect();
    notes
        .iter()
        .map(|note| {
            // The part that holds the note; a note right at the start of a part belongs to the part before.
            let part = parts
                .iter()
                .rposition(|part| part.first().is_some_and(|it| it.at < note.onset - 1e-6))
                .unwrap_or(0);
            predictors[part](note.onset).unwrap_or_default()
        })
        .collect()
}

#[cfg(test)]
mod tests;
