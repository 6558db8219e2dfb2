//! The practice history: every answer, kept in one SQLite file.
//!
//! An answer is written, and known to be on disk, before it is acknowledged on screen. The memory of each item is
//! stored beside its reviews, so that a session begins without reading them all. The reviews are authoritative: the
//! memories can be computed from them again.

mod arguments;
mod copies;
mod error;
mod file;
mod fit;
mod recall;
mod record;
mod schema;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use fretlib::neck::Position;
use fretlib::practice::{Grade, Item, Kind, Memory, Moment, PlacementKey, TuneId};
use fretlib::theory::Octave;
use rusqlite::Connection;

use crate::request::TuneOnInstrument;

pub use error::HistoryError;
use file::Identity;
pub use recall::{
    Cell, Day, PassLine, PhraseCell, Progress, RecallGrid, ReviewLine, Slip, SlipBy, TuneProgress,
    count_standing,
};
pub use record::{Practised, Recorded, SessionEntry};

/// One answer, as it is recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct Review {
    /// What was asked for.
    pub item: Item,
    /// The index of the note in the melody.
    pub note: usize,
    /// The question in words.
    pub question: String,
    /// The answer as it was typed.
    pub answer: String,
    /// Whether it was right.
    pub is_right: bool,
    /// The grade for the schedule.
    pub grade: Grade,
    /// How long the player took.
    pub seconds: f64,
    /// When it was given.
    pub at: Moment,
    /// The degree of the note.
    pub degree: String,
    /// The interval to the next note, if there is one.
    pub interval: Option<String>,
    /// The string of the right place, when the question was on the neck.
    pub string: Option<u8>,
}

/// A pass through a tune by the player, as it is recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayedPass {
    /// The phrases it covers whole, counted from 0.
    pub phrases: Vec<u32>,
    /// Its tempo in percent of the tune's own.
    pub percent: u16,
    /// Whether it was right.
    pub is_right: bool,
    /// Who says so.
    pub judged_by: JudgedBy,
    /// When it ended.
    pub at: Moment,
}

/// Who judged a pass.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum JudgedBy {
    /// The player, by a key.
    Player,
    /// The program, by what it heard.
    Hearing,
}

impl JudgedBy {
    /// The word in files.
    pub const fn name(self) -> &'static str {
        match self {
            JudgedBy::Player => "player",
            JudgedBy::Hearing => "hearing",
        }
    }
}

/// A tune on an instrument, as the history knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct TuneEntry {
    /// Its content.
    pub id: TuneId,
    /// Its title.
    pub title: String,
    /// The request that last opened tune and instrument; `None` when it is unknown.
    pub request: Option<TuneOnInstrument>,
}

impl TuneEntry {
    /// The arguments that open it again, as typed; `None` when they are unknown.
    pub fn as_typed(&self) -> Vec<String> {
        let request = self.request.as_ref();
        request.map(TuneOnInstrument::as_typed).unwrap_or_default()
    }
}

/// The history, open.
#[derive(Debug)]
pub struct History {
    connection: Connection,
    path: PathBuf,
    // The identity of the file, in case another one takes its place.
    identity: Identity,
}

/// The number of a tune on an instrument in the file.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct TuneOnInstrumentId(i64);

/// A tune on an instrument with what is remembered of its items.
#[derive(Clone, Debug, PartialEq)]
pub struct RememberedTune {
    /// Its number in the file.
    pub known_as: TuneOnInstrumentId,
    /// The tune.
    pub entry: TuneEntry,
    /// Its items, in the order in which they were first asked.
    pub memories: Vec<(Item, Memory)>,
}

impl History {
    /// The name of the file in the data folder.
    pub const FILE: &'static str = "history.sqlite";

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether answers can be written to it: it may have been opened to read only, or as a copy in memory.
    pub fn can_be_written(&self) -> bool {
        let is_file = self.connection.path().is_some_and(|path| !path.is_empty());
        is_file && self.connection.is_readonly(rusqlite::MAIN_DB) == Ok(false)
    }

    /// What is remembered of the items of a tune on an instrument.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn memories(
        &self,
        known_as: TuneOnInstrumentId,
        tune: TuneId,
    ) -> Result<Vec<(Item, Memory)>, HistoryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT phrase, kind, position, octave, stability, difficulty, last_at, last_day, last_right
             FROM item WHERE tune_on_instrument = ?1",
        )?;
        let mut rows = statement.query([known_as.0])?;
        let mut memories = Vec::new();
        while let Some(row) = rows.next()? {
            memories.push((item_from(row, tune)?, memory_from(row, 4)?));
        }
        Ok(memories)
    }

    /// Each tune on each instrument with what is remembered of its items, the one practised last first.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn remembered_tunes(&self) -> Result<Vec<RememberedTune>, HistoryError> {
        let mut tunes: Vec<RememberedTune> = self
            .tunes_in("it.id")?
            .into_iter()
            .map(|(known_as, entry)| RememberedTune {
                known_as,
                entry,
                memories: Vec::new(),
            })
            .collect();
        // One walk over all items takes a third of the time of a search for those of each tune.
        let mut statement = self.connection.prepare(
            "SELECT phrase, kind, position, octave, stability, difficulty, last_at, last_day, last_right, tune_on_instrument
             FROM item NOT INDEXED",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let known_as = TuneOnInstrumentId(row.get(9)?);
            let index = place_among(&tunes, known_as.0, |it| it.known_as.0);
            if let Ok(index) = index {
                let tune = &mut tunes[index];
                let item = item_from(row, tune.entry.id)?;
                tune.memories.push((item, memory_from(row, 4)?));
            }
        }
        let practised = |it: &RememberedTune| {
            let moments = it.memories.iter().map(|(_, memory)| memory.last.seconds);
            std::cmp::Reverse(moments.max())
        };
        tunes.sort_by_cached_key(practised);
        Ok(tunes)
    }

    /// The median time in seconds of the player's last right answers to each kind of question; kinds with fewer than five
    /// are left out.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn usual_seconds(&self) -> Result<BTreeMap<Kind, f64>, HistoryError> {
        const OF_A_KIND: usize = 50;
        let mut statement = self.connection.prepare_cached(
            "SELECT kind, milliseconds FROM review JOIN item ON item.id = review.item
             WHERE review.id > (SELECT max(id) FROM review) - 2000 AND is_right
             ORDER BY review.id DESC",
        )?;
        let mut rows = statement.query([])?;
        let mut times: BTreeMap<Kind, Vec<i64>> = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let kind = kind_from(row.get_ref(0)?.as_str().unwrap_or_default())?;
            let times = times.entry(kind).or_default();
            if times.len() < OF_A_KIND {
                times.push(row.get(1)?);
            }
        }
        let usual = times.into_iter();
        Ok(usual
            .filter_map(|(kind, times)| Some((kind, median_seconds(times)?)))
            .collect())
    }

    /// The median time in seconds of the player's last answers to questions; `None` when there are fewer than five.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn usual_seconds_of_all(&self) -> Result<Option<f64>, HistoryError> {
        let mut statement = self
            .connection
            .prepare_cached(
                "SELECT milliseconds FROM review JOIN item ON item.id = review.item WHERE kind <> 'play'
                 ORDER BY review.id DESC LIMIT 200",
            )?;
        let times = statement.query_map([], |row| row.get(0))?;
        Ok(median_seconds(times.collect::<Result<_, _>>()?))
    }

    /// How many items were asked for the first time on a day; what is played is not asked.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn first_asked_on(&self, day: i32) -> Result<usize, HistoryError> {
        // The answers of one day are among the last few thousand; an index would lead through those of all days.
        let sql = "SELECT count(DISTINCT item) FROM review AS today NOT INDEXED
             WHERE day = ?1 AND id > (SELECT max(id) FROM review) - 5000
             AND NOT EXISTS (SELECT 1 FROM review WHERE item = today.item AND day < ?1)
             AND EXISTS (SELECT 1 FROM item WHERE id = today.item AND kind <> 'play')";
        let count: i64 = self.connection.query_row(sql, [day], |row| row.get(0))?;
        Ok(count.unsigned_abs() as usize)
    }

    /// How many answers there are.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn count(&self) -> Result<u64, HistoryError> {
        let sql = "SELECT count(*) FROM review";
        Ok(self.connection.query_row(sql, [], |row| row.get(0))?)
    }

    /// The tunes on record on each instrument, the one practised last first.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn tunes(&self) -> Result<Vec<(TuneOnInstrumentId, TuneEntry)>, HistoryError> {
        self.tunes_in(
            "(SELECT max(last_at) FROM item WHERE tune_on_instrument = it.id) DESC, it.id",
        )
    }

    /// The tunes on record on each instrument, in an order that SQL can say.
    fn tunes_in(&self, order: &str) -> Result<Vec<(TuneOnInstrumentId, TuneEntry)>, HistoryError> {
        let mut statement = self.connection.prepare(&format!(
            "SELECT it.id, content, title, request FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune
             ORDER BY {order}"
        ))?;
        let tunes = statement.query_map([], |row| {
            Ok((TuneOnInstrumentId(row.get(0)?), entry_from(row, 1)?))
        })?;
        Ok(tunes.collect::<Result<_, _>>()?)
    }
}

/// Where a number stands in an ascending list, or where it would: looked for first where it stands if none before it is
/// missing.
fn place_among<T>(list: &[T], number: i64, number_of: impl Fn(&T) -> i64) -> Result<usize, usize> {
    let first = list.first().map_or(number, &number_of);
    let expected = usize::try_from(number.saturating_sub(first)).unwrap_or(0);
    match list.get(expected) {
        Some(found) if number_of(found) == number => Ok(expected),
        _ => list.binary_search_by_key(&number, number_of),
    }
}

/// The item in the first four columns: phrase, kind, position, octave.
fn item_from(row: &rusqlite::Row, tune: TuneId) -> Result<Item, HistoryError> {
    Ok(Item {
        tune,
        phrase: row.get(0)?,
        kind: kind_from(row.get_ref(1)?.as_str().unwrap_or_default())?,
        placement: placement_from(row.get(2)?, row.get(3)?),
    })
}

/// The median of some times in milliseconds; `None` when there are fewer than five.
fn median_seconds(mut milliseconds: Vec<i64>) -> Option<f64> {
    milliseconds.sort_unstable();
    let middle = milliseconds.len() / 2;
    (milliseconds.len() >= 5).then(|| milliseconds[middle] as f64 / 1000.0)
}

fn memory_from(row: &rusqlite::Row, first: usize) -> rusqlite::Result<Memory> {
    Ok(Memory {
        stability: row.get(first)?,
        difficulty: row.get(first + 1)?,
        last: Moment {
            seconds: row.get(first + 2)?,
            day: row.get(first + 3)?,
        },
        is_right: row.get(first + 4)?,
    })
}

/// Content, title and request in three columns.
fn entry_from(row: &rusqlite::Row, first: usize) -> rusqlite::Result<TuneEntry> {
    let request: Option<String> = row.get(first + 2)?;
    Ok(TuneEntry {
        id: TuneId::from_bytes(row.get(first)?),
        title: row.get(first + 1)?,
        request: request.and_then(|json| serde_json::from_str(&json).ok()),
    })
}

fn kind_from(name: &str) -> Result<Kind, HistoryError> {
    let known = Kind::ALL.into_iter().find(|kind| kind.name() == name);
    known.ok_or_else(|| HistoryError::Damaged(format!("`{name}` is not a kind of question")))
}

fn placement_numbers(placement: Option<PlacementKey>) -> (u8, i8) {
    placement.map_or((0, 0), |placement| {
        (placement.position.get(), placement.octave.get())
    })
}

fn placement_from(position: u8, octave: i8) -> Option<PlacementKey> {
    Some(PlacementKey {
        position: Position::new(position).ok()?,
        octave: Octave::new(octave).ok()?,
    })
}
