//! The findings about a take, one sentence each.

use std::collections::BTreeMap;

use fretlib::hearing::{JudgedNote, NoteVerdict, Take};
use fretlib::melody::{Melody, Quarters};
use fretlib::neck::Place;
use fretlib::practice::AT_TEMPO;
use fretlib::theory::Pitch;

/// A note this much later than expected is a hesitation, in seconds; chosen by ear.
const HESITATION: f64 = 0.25;

/// The least silence between joined notes that is reported, in seconds; chosen by ear.
const BREAK: f64 = 0.06;

/// The least difference in level from the neighbours that is reported, in dB; chosen by ear.
const UNEVEN: f32 = 9.0;

/// The least deviation of a bar's tempo that is reported.
const DRIFT: f64 = 0.07;

/// How many findings of a kind are listed one by one.
const TOLD: usize = 6;

/// The sentences, the most serious first.
pub fn findings(take: &Take, melody: &Melody, places: &[Option<Place>]) -> Vec<String> {
    let sure: Vec<&JudgedNote> = take.notes().filter(|note| note.sure).collect();
    let find = Findings {
        take,
        melody,
        places,
        sure,
    };
    let mut told = Vec::new();
    told.extend(find.beginning());
    told.extend(find.wrong());
    told.extend(find.missing());
    told.extend(find.extra());
    told.extend(find.off_time());
    told.extend(find.hesitations());
    told.extend(find.drift());
    told.extend(find.swing());
    told.extend(find.breaks());
    told.extend(find.levels());
    let doubtful = take
        .notes()
        .filter(|note| !note.sure && note.verdict != NoteVerdict::Right)
        .count();
    if doubtful > 0 {
        told.push(match doubtful {
            1 => "Not sure about 1 note: it is marked `?` and does not count.".into(),
            _ => format!("Not sure about {doubtful} notes: they are marked `?` and do not count."),
        });
    }
    told.push(find.to_practise());
    told
}

struct Findings<'a> {
    take: &'a Take,
    melody: &'a Melody,
    places: &'a [Option<Place>],
    sure: Vec<&'a JudgedNote>,
}

impl Findings<'_> {
    fn bar(&self, note: &JudgedNote) -> u32 {
        self.melody
            .bar_at(self.melody.notes()[note.index].onset)
            .number
    }

    fn pitch(&self, note: &JudgedNote) -> String {
        self.melody.notes()[note.index].pitch.to_string()
    }

    /// `bar 3 beat 2&`: a bar may have the same note twice.
    fn place(&self, note: &JudgedNote) -> String {
        let beat = self.melody.beat_at(self.melody.notes()[note.index].onset);
        format!("bar {} beat {beat}", beat.bar)
    }

    /// `bar 3 beat 2&, E4`, at most a few of them.
    fn list(&self, notes: &[&JudgedNote], say: impl Fn(&JudgedNote) -> String) -> String {
        let words = notes
            .iter()
            .map(|note| format!("{}, {}", self.place(note), say(note)));
        few(words.collect())
    }

    fn of(&self, verdict: NoteVerdict) -> Vec<&JudgedNote> {
        self.sure
            .iter()
            .copied()
            .filter(|note| note.verdict == verdict)
            .collect()
    }

    fn wrong(&self) -> Option<String> {
        let wrong = self.of(NoteVerdict::Wrong);
        let say = |note: &JudgedNote| {
            let heard = note
                .heard
                .and_then(|heard| heard.pitch.transpose(-(self.take.shift as i16)).ok())
                .map_or_else(String::new, |midi| Pitch::from_midi(midi).to_string());
            let place = self.places.get(note.index).copied().flatten();
            let place = place.map_or_else(String::new, |it| {
                format!(" (string {}, fret {})", it.string, it.fret)
            });
            format!("{heard} for {}{place}", self.pitch(note))
        };
        (!wrong.is_empty()).then(|| format!("Wrong: {}.", self.list(&wrong, say)))
    }

    fn missing(&self) -> Option<String> {
        let missing = self.of(NoteVerdict::Missing);
        let say = |note: &JudgedNote| self.pitch(note);
        (!missing.is_empty()).then(|| format!("Missing: {}.", self.list(&missing, say)))
    }

    fn extra(&self) -> Option<String> {
        let extra = &self.take.extra;
        if extra.is_empty() {
            return None;
        }
        let words = extra.iter().filter_map(|added| {
            let written = added.pitch.transpose(-(self.take.shift as i16)).ok()?;
            let name = Pitch::from_midi(written);
            // Where it stands in the tune says more than its time in the recording.
            let before = |note: &&JudgedNote| {
                note.heard.map_or(note.expected, |heard| heard.onset) <= added.onset
            };
            Some(match self.take.notes().filter(before).last() {
                Some(note) => format!("{name} after {} in {}", self.pitch(note), self.place(note)),
                None => format!("{name} at {:.1} s", added.onset),
            })
        });
        Some(format!("Extra notes: {}.", few(words.collect())))
    }

    fn off_time(&self) -> Option<String> {
        let off: Vec<&JudgedNote> = self
            .sure
            .iter()
            .copied()
            .filter(|note| matches!(note.verdict, NoteVerdict::Early | NoteVerdict::Late))
            .filter(|note| note.offset().is_some_and(|it| it < HESITATION))
            .collect();
        let say = |note: &JudgedNote| {
            let offset = 1000.0 * note.offset().unwrap_or(0.0);
            let word = if offset > 0.0 { "late" } else { "early" };
            format!("{} {:.0} ms {word}", self.pitch(note), offset.abs())
        };
        (!off.is_empty()).then(|| format!("Off time: {}.", self.list(&off, say)))
    }

    fn hesitations(&self) -> Option<String> {
        let waited: Vec<&JudgedNote> = self
            .of(NoteVerdict::Late)
            .into_iter()
            .filter(|note| note.offset().is_some_and(|it| it >= HESITATION))
            .collect();
        let say = |note: &JudgedNote| {
            format!(
                "before {} ({:.1} s)",
                self.pitch(note),
                note.offset().unwrap_or(0.0)
            )
        };
        (!waited.is_empty()).then(|| format!("Hesitations: {}.", self.list(&waited, say)))
    }

    /// Bars whose tempo is not that of the take.
    fn drift(&self) -> Option<String> {
        let usual = self.take.tempo?;
        let mut bars: Vec<(u32, f64)> = Vec::new();
        for pass in &self.take.passes {
            let starts: Vec<&JudgedNote> = pass
                .notes
                .iter()
                .enumerate()
                .filter(|(k, note)| *k == 0 || self.bar(&pass.notes[k - 1]) != self.bar(note))
                .map(|(_, note)| note)
                .collect();
            for pair in starts.windows(2) {
                let written = |note: &JudgedNote| self.melody.notes()[note.index].onset.to_f64();
                let quarters = written(pair[1]) - written(pair[0]);
                let seconds = pair[1].expected - pair[0].expected;
                if quarters > 0.0 && seconds > 0.0 {
                    bars.push((self.bar(pair[0]), 60.0 * quarters / seconds));
                }
            }
        }
        let off: Vec<String> = bars
            .iter()
            .filter(|(_, tempo)| (tempo / usual - 1.0).abs() > DRIFT)
            .map(|(bar, tempo)| format!("bar {bar} at {tempo:.0}"))
            .collect();
        (!off.is_empty()).then(|| {
            format!(
                "The tempo drifts from {usual:.0} quarter notes a minute: {}.",
                few(off)
            )
        })
    }

    /// Where the player began, unless it was at the beginning.
    fn beginning(&self) -> Option<String> {
        let bar = self.take.passes.first()?.bars.0;
        let first = self.melody.bars().first()?.number;
        (bar > first.max(1)).then(|| format!("You began at bar {bar}."))
    }

    /// A swing that the tune does not ask for.
    fn swing(&self) -> Option<String> {
        let share = 100.0 * self.take.swing?.share();
        Some(format!(
            "You swing the eighths, {share:.0} to {:.0}; the tune names no feel, so this is not judged.",
            100.0 - share
        ))
    }

    fn breaks(&self) -> Option<String> {
        let broken: Vec<&JudgedNote> = self
            .sure
            .iter()
            .copied()
            .filter(|note| note.break_after > BREAK)
            .collect();
        let say = |note: &JudgedNote| {
            format!(
                "after {} ({:.0} ms of silence)",
                self.pitch(note),
                1000.0 * note.break_after
            )
        };
        (!broken.is_empty()).then(|| {
            format!(
                "Breaks where the line should join: {}.",
                self.list(&broken, say)
            )
        })
    }

    /// Notes far louder or softer than the four around them.
    fn levels(&self) -> Option<String> {
        let levels: Vec<(&JudgedNote, f32)> = self
            .sure
            .iter()
            .filter_map(|note| Some((*note, note.heard?.level_db)))
            .collect();
        let uneven: Vec<(&JudgedNote, f32)> = levels
            .iter()
            .enumerate()
            .filter_map(|(k, (note, level))| {
                let from = k.saturating_sub(2);
                let mut near: Vec<f32> = levels[from..(k + 3).min(levels.len())]
                    .iter()
                    .map(|it| it.1)
                    .collect();
                near.sort_by(f32::total_cmp);
                let off = level - near.get(near.len() / 2)?;
                (off.abs() > UNEVEN).then_some((*note, off))
            })
            .collect();
        let words: Vec<String> = uneven
            .iter()
            .map(|(note, off)| {
                let word = if *off > 0.0 { "sticks out" } else { "vanishes" };
                let pitch = self.pitch(note);
                format!("{}, {pitch} {word} ({off:+.0} dB)", self.place(note))
            })
            .collect();
        (!words.is_empty()).then(|| format!("Level: {}.", few(words)))
    }

    /// The bars with the most certain faults.
    fn to_practise(&self) -> String {
        let mut faults: BTreeMap<u32, usize> = BTreeMap::new();
        for note in self.sure.iter().filter(|note| note.is_sure_fault()) {
            *faults.entry(self.bar(note)).or_default() += 1;
        }
        let mut bars: Vec<(u32, usize)> = faults.into_iter().collect();
        bars.sort_by_key(|(bar, faults)| (std::cmp::Reverse(*faults), *bar));
        bars.truncate(3);
        match bars.as_slice() {
            [] if self.is_at_tempo() => "Nothing to mend, and at the tune's tempo.".into(),
            [] => "Nothing to mend: play it a little faster next time.".into(),
            [(bar, _)] => format!("Practise next: bar {bar}."),
            [rest @ .., (last, _)] => {
                let names: Vec<String> = rest.iter().map(|(bar, _)| bar.to_string()).collect();
                format!("Practise next: bars {} and {last}.", names.join(", "))
            }
        }
    }

    /// Whether it was played as fast as the tune says, where it says so.
    fn is_at_tempo(&self) -> bool {
        let own = self.melody.tempos().first();
        let own = own.map(|tempo| 60.0 / tempo.seconds(Quarters::ONE));
        let played = own.zip(self.take.tempo);
        played.is_some_and(|(own, played)| played >= own * (1.0 - AT_TEMPO))
    }
}

/// The first few, and how many more there are.
fn few(mut words: Vec<String>) -> String {
    let more = words.len().saturating_sub(TOLD);
    words.truncate(TOLD);
    if more > 0 {
        words.push(format!("{more} more"));
    }
    words.join("; ")
}
