//! Passes through a tune, kept in the history: what `play` asks about, and what is heard.

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::path::PathBuf;

use super::{PracticeTune, bars_in_words};
use crate::failure::Failure;
use crate::history::{History, JudgedBy, PlayedPass};
use crate::report::wrap::wrap;
use crate::request::{PartRequest, TuneOnInstrument};
use crate::terminal::{Clock, Streams};

/// Keeps the passes through one tune on an instrument.
///
/// A pass counts for the phrases it covers whole; these are those of the whole tune, whichever bars are played.
#[derive(Debug)]
pub struct PassLog {
    tune: PracticeTune,
    // The note of the whole tune that each note played is.
    notes: Vec<usize>,
    folder: PathBuf,
    clock: Clock,
    history: Option<History>,
    // The phrases that passes were kept of.
    phrases: BTreeSet<u32>,
    // How many passes could not be kept, and why.
    lost: Option<(usize, Failure)>,
}

impl PassLog {
    /// A log for a tune; nothing is written before the first pass. None where the tune cannot be opened again, as from
    /// standard input.
    pub fn open(
        request: &TuneOnInstrument,
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
        let tune = PracticeTune::open(&whole, &PartRequest::default(), &mut quiet)?;
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
            folder,
            clock,
            history: None,
            phrases: BTreeSet::new(),
            lost: None,
        }))
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

    fn write(&mut self, pass: &PlayedPass) -> Result<(), Failure> {
        if pass.phrases.is_empty() {
            return Ok(());
        }
        let history = match &mut self.history {
            Some(history) => history,
            none => none.insert(History::open(&self.folder)?),
        };
        let instrument = self.tune.material.instrument();
        Ok(history.record_pass(&self.tune.entry, instrument, pass)?)
    }

    /// Says at which tempo each phrase played is held; a failure when passes could not be kept.
    pub fn end(mut self, streams: &mut Streams) -> Result<(), Failure> {
        if let Some(history) = &mut self.history {
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
        let log = PassLog::open(&request, folder.to_owned(), clock);
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
