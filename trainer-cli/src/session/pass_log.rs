//! Passes through a tune, kept in the history: what `play` asks about, and what is heard.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};
use std::ops::Range;
use std::path::PathBuf;

use fretlib::hearing::{HeardPass, PlayedStretch};
use fretlib::neck::Position;
use fretlib::practice::{
    Grade, Interleaving, Item, Kind, Memory, MemoryModel, Moment, PlacementKey, SessionAim,
};
use fretlib::theory::Octave;

use super::summary::{day_in_words, phrases_in_words};
use super::{PracticeTune, bars_in_words};
use crate::failure::Failure;
use crate::history::{History, JudgedBy, PlayedPass, Practised, Review, SessionEntry};
use crate::report::wrap::wrap;
use crate::request::{PartRequest, SessionRequest, TuneOnInstrument};
use crate::terminal::{Clock, Streams};

/// Keeps the passes through one tune on an instrument.
///
/// A pass counts for the phrases it covers whole; these are those of the whole tune, whichever bars are played.
#[derive(Debug)]
pub struct PassLog {
    tune: PracticeTune,
    // The note of the whole tune that each note played is.
    notes: Vec<usize>,
    // Where the player says the hand stands.
    position: Option<Position>,
    folder: PathBuf,
    clock: Clock,
    session: SessionEntry,
    history: Option<Opened>,
    // The phrases that passes were kept of.
    phrases: BTreeSet<u32>,
    // How the last pass through each phrase went that was heard, and where it is remembered.
    heard: BTreeMap<(PlacementKey, u32), Went>,
    // How many passes could not be kept, and why.
    lost: Option<(usize, Failure)>,
}

/// The history with what is remembered of the tune.
#[derive(Debug)]
struct Opened {
    history: History,
    model: MemoryModel,
    memories: BTreeMap<Item, Memory>,
}

/// How a pass through a phrase went.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Went {
    /// Right and at tempo.
    Right,
    /// Right and slower.
    UnderTempo,
    /// With a fault.
    NotYet,
}

impl Went {
    fn in_words(self) -> &'static str {
        match self {
            Went::Right => "right",
            Went::UnderTempo => "right but under tempo",
            Went::NotYet => "not yet",
        }
    }
}

impl PassLog {
    /// A log for a tune; nothing is written before the first pass. None where the tune cannot be opened again, as from
    /// standard input.
    ///
    /// What is heard is remembered where the player says the hand stands, in `position`, else where the tune is practised:
    /// along the fingering that is kept with it, or at its best placement.
    pub fn open(
        request: &TuneOnInstrument,
        position: Option<Position>,
        settings: Option<PathBuf>,
        folder: PathBuf,
        clock: Clock,
    ) -> Result<Option<PassLog>, Failure> {
        if request.tune.source.as_deref() == Some("-") {
            return Ok(None);
        }
        // What there is to be said of the tune has been said when it was opened to be played.
        let mut quiet = Streams::captured(io::empty(), io::sink(), io::sink());
        let whole = TuneOnInstrument {
            tune: request.tune.whole(),
            instrument: request.instrument.clone(),
        };
        let part = PartRequest {
            as_fingered: position.is_none(),
            settings,
            ..PartRequest::default()
        };
        let tune = PracticeTune::open(&whole, &part, &mut quiet)?;
        let melody = tune.material.melody();
        let stretches = request.tune.bars.as_ref().map(|it| it.stretches(melody));
        let is_played = |note: &usize| {
            let onset = melody.notes()[*note].onset;
            let all = stretches.as_ref();
            all.is_none_or(|all| all.iter().any(|it| it.contains(&onset)))
        };
        let notes = (0..melody.notes().len()).filter(is_played).collect();
        Ok(Some(PassLog {
            notes,
            tune,
            position,
            session: SessionEntry {
                key: rand::random(),
                at: clock.now(),
                request: only_played(),
            },
            folder,
            clock,
            history: None,
            phrases: BTreeSet::new(),
            heard: BTreeMap::new(),
            lost: None,
        }))
    }

    /// Semitones from the written to the sounding pitch of the instrument.
    pub fn sounding(&self) -> i8 {
        self.tune.material.instrument().sounding().semitones()
    }

    /// Keeps what is heard of one recording, which this number stands for. False when it has been kept before.
    ///
    /// # Errors
    ///
    /// When the history cannot be read.
    pub fn begin_take(&mut self, number: u64) -> Result<bool, Failure> {
        self.session.key = number.cast_signed();
        let known = match History::open_to_read(&self.folder)? {
            Some(history) => history.has_session(self.session.key, self.tune.entry.id)?,
            None => false,
        };
        Ok(!known)
    }

    /// Keeps a pass through some notes of the melody that is played, counted from 0, at a tempo in percent of its own.
    ///
    /// When this returns it is on disk, or [`PassLog::end`] will say that it is not.
    pub fn record(
        &mut self,
        played: &BTreeSet<usize>,
        percent: u16,
        is_right: bool,
        judged_by: JudgedBy,
    ) {
        let played: BTreeSet<usize> = played
            .iter()
            .filter_map(|note| self.notes.get(*note).copied())
            .collect();
        let phrases = (0u32..).zip(self.tune.material.phrases());
        let covered = phrases.filter(|(_, notes)| (*notes).clone().all(|it| played.contains(&it)));
        let pass = PlayedPass {
            phrases: covered.map(|(number, _)| number).collect(),
            percent,
            is_right,
            judged_by,
            at: self.clock.now(),
        };
        match self.write(&pass) {
            Ok(()) => self.phrases.extend(pass.phrases),
            Err(failure) => {
                let before = self.lost.take().map_or(0, |(count, _)| count);
                self.lost = Some((before + 1, failure));
            }
        }
    }

    /// Remembers the phrases that a pass went through whole, as it was heard: at a tempo in percent of the tune's own, so many
    /// semitones from its written pitch on an instrument that sounds as written.
    ///
    /// What was played in another key is not remembered, nor a phrase that does not lie whole where the hand stands.
    pub fn remember(&mut self, pass: &HeardPass, percent: u16, semitones: i32) {
        let octaves = i8::try_from(semitones / 12).ok().map(Octave::new);
        let (Some(Ok(octave)), 0) = (octaves, semitones % 12) else {
            return;
        };
        if let Err(failure) = self.try_to_remember(pass, percent, octave) {
            self.lost.get_or_insert((1, failure));
        }
    }

    fn try_to_remember(
        &mut self,
        pass: &HeardPass,
        percent: u16,
        octave: Octave,
    ) -> Result<(), Failure> {
        let mut times: Vec<(Item, PlayedStretch)> = Vec::new();
        for (phrase, notes) in (0u32..).zip(self.tune.material.phrases()) {
            let played = self.as_played(notes).unwrap_or(0..0);
            let through = pass.times_through(&played);
            if through.is_empty() {
                continue;
            }
            let Some(placement) = self.spot(phrase, octave) else {
                continue;
            };
            let item = Item {
                tune: self.tune.entry.id,
                phrase,
                kind: Kind::Play,
                placement: Some(placement),
            };
            times.extend(through.into_iter().map(|time| (item, time)));
        }
        if times.is_empty() {
            return Ok(());
        }
        self.opened()?;
        let Some(opened) = &mut self.history else {
            return Ok(());
        };
        let mut reviews = Vec::new();
        for (item, time) in times {
            let now = self.clock.now();
            let is_right = time.first_fault.is_none();
            let before = opened.memories.get(&item).copied();
            let grade = Grade::of_pass(is_right, percent, before.as_ref(), now.day);
            let went = match (is_right, grade) {
                (true, Some(Grade::Right)) => Some(Went::Right),
                (true, _) => Some(Went::UnderTempo),
                (false, Some(_)) => Some(Went::NotYet),
                (false, None) => None,
            };
            let spot = item.placement.map(|it| (it, item.phrase));
            self.heard.extend(spot.zip(went));
            let Some(grade) = grade else { continue };
            let after = opened.model.review(before, grade, now);
            opened.memories.insert(item, after);
            reviews.push(review(
                &self.tune,
                &self.notes,
                (item, time),
                percent,
                grade,
                now,
            ));
        }
        let practised = Practised {
            tune: &self.tune.entry,
            instrument: self.tune.material.instrument(),
            session: &self.session,
        };
        Ok(opened
            .history
            .record_all(practised, &reviews, &opened.model)?)
    }

    /// A stretch of the whole tune in the melody that is played; `None` when not all of it is.
    fn as_played(&self, notes: &Range<usize>) -> Option<Range<usize>> {
        let first = self.notes.iter().position(|note| *note == notes.start)?;
        let played = self.notes.get(first..first + notes.len())?;
        let is_all = played.iter().copied().eq(notes.clone());
        is_all.then(|| first..first + notes.len())
    }

    /// Where a phrase is remembered.
    fn spot(&self, phrase: u32, octave: Octave) -> Option<PlacementKey> {
        let material = &self.tune.material;
        match self.position {
            None => material.played_at(phrase as usize, octave),
            Some(position) => {
                let first = material.phrases().get(phrase as usize)?.start;
                let asked = PlacementKey { position, octave };
                let lies = material.can_ask(Kind::Play, first, Some(asked));
                lies.then_some(asked)
            }
        }
    }

    fn write(&mut self, pass: &PlayedPass) -> Result<(), Failure> {
        if pass.phrases.is_empty() {
            return Ok(());
        }
        self.opened()?;
        let (Some(opened), tune) = (&mut self.history, &self.tune) else {
            return Ok(());
        };
        let instrument = tune.material.instrument();
        Ok(opened.history.record_pass(&tune.entry, instrument, pass)?)
    }

    /// Opens the history, unless it is open.
    fn opened(&mut self) -> Result<(), Failure> {
        if self.history.is_none() {
            let mut history = History::open(&self.folder)?;
            let tune = &self.tune;
            let known_as = history.tune_on_instrument(&tune.entry, tune.material.instrument())?;
            let memories = history.memories(known_as, tune.entry.id)?;
            self.history = Some(Opened {
                model: history.model()?,
                memories: memories.into_iter().collect(),
                history,
            });
        }
        Ok(())
    }

    /// Says at which tempo each phrase played is held; a failure when passes could not be kept.
    pub fn end(mut self, streams: &mut Streams) -> Result<(), Failure> {
        if let Some(Opened { history, .. }) = &mut self.history {
            let instrument = self.tune.material.instrument();
            let known_as = history.tune_on_instrument(&self.tune.entry, instrument)?;
            let tempos = history.tempos_held(known_as)?;
            let held: Vec<String> = tempos
                .iter()
                .filter(|(phrase, percent)| self.phrases.contains(phrase) && **percent > 0)
                .map(|(phrase, percent)| {
                    let bars = bars_in_words(&self.tune.material, *phrase);
                    format!("{bars} at {percent}%")
                })
                .collect();
            if !held.is_empty() {
                let words = format!("held: {}", held.join(", "));
                for line in wrap(&words, streams.width) {
                    writeln!(streams.stdout, "{line}")?;
                }
            }
        }
        for words in self.remembered_in_words() {
            for line in wrap(&words, streams.width) {
                writeln!(streams.stdout, "{line}")?;
            }
        }
        match self.lost {
            None => Ok(()),
            Some((lost, reason)) => {
                writeln!(
                    streams.stderr,
                    "note: {} could not be kept",
                    match lost {
                        1 => "1 pass".to_string(),
                        lost => format!("{lost} passes"),
                    }
                )?;
                Err(reason)
            }
        }
    }

    /// Where what was heard is remembered, how it went, and when it is to be played again.
    fn remembered_in_words(&self) -> Vec<String> {
        let heard: Vec<(PlacementKey, u32, Went)> = self
            .heard
            .iter()
            .map(|(at, went)| (at.0, at.1, *went))
            .collect();
        let spots = heard.chunk_by(|one, other| one.0 == other.0);
        let lines = spots.map(|spot| {
            let phrases: Vec<String> = spot
                .chunk_by(|one, other| one.1 + 1 == other.1 && one.2 == other.2)
                .map(|run| {
                    let bars = run[0].1..=run[run.len() - 1].1;
                    let bars = phrases_in_words(&self.tune.material, bars);
                    format!("{bars} {}", run[0].2.in_words())
                })
                .collect();
            let at = spot[0].0;
            let again = self.again(spot.iter().map(|(_, phrase, _)| *phrase), at);
            format!(
                "remembered in {}: {}{again}",
                at.in_words(),
                phrases.join(", ")
            )
        });
        lines.collect()
    }

    /// When the first of these phrases is to be played again.
    fn again(&self, phrases: impl Iterator<Item = u32>, at: PlacementKey) -> String {
        let Some(opened) = &self.history else {
            return String::new();
        };
        let memories = phrases.filter_map(|phrase| {
            opened.memories.get(&Item {
                tune: self.tune.entry.id,
                phrase,
                kind: Kind::Play,
                placement: Some(at),
            })
        });
        let retention = SessionAim::default().retention;
        let fades_at = memories.map(|memory| opened.model.fades_at(memory, retention));
        let now = self.clock.now();
        match fades_at.min() {
            Some(at) if at > now.seconds => format!("; play it again {}", day_in_words(at, now)),
            Some(_) => "; play it again today".into(),
            None => String::new(),
        }
    }
}

/// A pass through a phrase as the history keeps it.
fn review(
    tune: &PracticeTune,
    notes: &[usize],
    (item, time): (Item, PlayedStretch),
    percent: u16,
    grade: Grade,
    at: Moment,
) -> Review {
    let material = &tune.material;
    let fault = time.first_fault.and_then(|note| notes.get(note).copied());
    let first = material.phrases()[item.phrase as usize].start;
    let note = fault.unwrap_or(first);
    let (analysed, next) = (material.notes()[note], material.notes().get(note + 1));
    let place = item
        .placement
        .map_or(String::new(), |it| format!(" in {}", it.in_words()));
    let answer = match fault {
        None => format!("right at {percent}%"),
        Some(_) => format!(
            "bar {}, {}, at {percent}%",
            analysed.bar, analysed.note.pitch
        ),
    };
    Review {
        item,
        note,
        question: format!("Play {}{place}", bars_in_words(material, item.phrase)),
        answer,
        is_right: grade.is_right(),
        grade,
        seconds: time.seconds,
        at,
        degree: analysed.degree.to_string(),
        interval: next.and_then(|it| it.interval).map(|it| it.to_string()),
        string: None,
    }
}

/// The request of a session in which nothing is asked.
fn only_played() -> SessionRequest {
    SessionRequest {
        kinds: vec![Kind::Play],
        questions: None,
        is_random: false,
        seed: None,
        mix: Interleaving::default(),
        untouched: 0,
        everywhere: false,
        ask_at_once: false,
        plain: true,
        no_history: false,
        now: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::request::{InstrumentRequest, TuneRequest};
    use std::collections::BTreeMap;

    fn log(folder: &std::path::Path, bars: Option<&str>) -> PassLog {
        let request = TuneOnInstrument {
            tune: TuneRequest {
                source: Some("oars-in-three".into()),
                bars: bars.map(|bars| bars.parse().unwrap()),
                ..TuneRequest::default()
            },
            instrument: InstrumentRequest::default(),
        };
        let clock = Clock::from_option("2026-11-25T12:00".parse().ok()).unwrap();
        let log = PassLog::open(&request, None, None, folder.to_owned(), clock);
        log.unwrap().unwrap()
    }

    fn held(folder: &std::path::Path) -> BTreeMap<u32, u16> {
        let history = History::open_to_read(folder).unwrap().unwrap();
        let tunes = history.tunes().unwrap();
        history.tempos_held(tunes[0].0).unwrap()
    }

    /// Passes through bars, each with its tempo and whether it was right; what is said at the end.
    fn play(folder: &std::path::Path, bars: Option<&str>, passes: &[(u16, bool)]) -> String {
        let mut log = log(folder, bars);
        let all: BTreeSet<usize> = (0..log.notes.len()).collect();
        for (percent, is_right) in passes {
            log.record(&all, *percent, *is_right, JudgedBy::Player);
        }
        let mut said = Vec::new();
        let mut streams = Streams::captured(io::empty(), &mut said, io::sink());
        log.end(&mut streams).unwrap();
        drop(streams);
        String::from_utf8(said).unwrap()
    }

    #[test]
    fn passes_count_for_the_phrases_they_cover_whole() {
        let folder = tempfile::tempdir().unwrap();
        // Bars 5 to 8 are the second phrase of the whole tune.
        let said = play(folder.path(), Some("5-8"), &[(80, true), (80, true)]);
        assert_eq!(said, "held: bars 5-8 at 80%\n");
        assert_eq!(held(folder.path()), BTreeMap::from([(1, 80)]));
        // Half of it is no pass through it, and a pass through all is one through each phrase.
        assert_eq!(
            play(folder.path(), Some("5-6"), &[(100, true), (100, true)]),
            ""
        );
        assert_eq!(held(folder.path()), BTreeMap::from([(1, 80)]));
        play(folder.path(), None, &[(60, true), (65, true), (80, false)]);
        let all = held(folder.path());
        assert_eq!((all.len(), all[&0], all[&1]), (8, 60, 75), "{all:?}");
    }

    #[test]
    fn without_a_verdict_nothing_is_written_and_what_cannot_be_written_is_said() {
        let folder = tempfile::tempdir().unwrap();
        play(folder.path(), None, &[]);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        std::fs::write(folder.path().join(History::FILE), "no history at all").unwrap();
        let mut log = log(folder.path(), Some("1-4"));
        let all: BTreeSet<usize> = (0..log.notes.len()).collect();
        log.record(&all, 100, true, JudgedBy::Hearing);
        let mut said = Vec::new();
        let mut streams = Streams::captured(io::empty(), io::sink(), &mut said);
        let failure = log.end(&mut streams).unwrap_err();
        drop(streams);
        assert_eq!(failure.exit_code(), 1);
        assert!(
            String::from_utf8(said)
                .unwrap()
                .contains("1 pass could not be kept")
        );
        let left = std::fs::read(folder.path().join(History::FILE)).unwrap();
        assert_eq!(left, b"no history at all");
    }
}
