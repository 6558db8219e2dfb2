//! The practice history: every answer, kept in one SQLite file.
//!
//! An answer is written, and known to be on disk, before it is acknowledged on screen. The memory of each item stands
//! beside its reviews, so that a session begins without reading them all; the reviews are what counts, and the memories
//! can be worked out from them again.

mod arguments;
mod copies;
mod error;
mod file;
mod fit;
mod recall;
mod schema;
#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};

use fretlib::neck::{Instrument, Position};
use fretlib::practice::{Grade, Item, Kind, Memory, MemoryModel, Moment, Spot, TuneId};
use fretlib::theory::Octave;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use crate::request::TuneOnInstrument;

pub use error::HistoryError;
pub use recall::{Cell, Day, Progress, ReviewLine, Slip, SlipBy, TuneProgress, WeakCell};

/// One answer, as it is recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct Review {
    /// What was asked for.
    pub item: Item,
    /// Which note of the melody, counted from 0.
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
    /// The interval that leads on from the note, if there is one.
    pub interval: Option<String>,
    /// The string of the right place, when the question was on the neck.
    pub string: Option<u8>,
}

/// A tune on an instrument, as the history knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct TuneEntry {
    /// Its content.
    pub id: TuneId,
    /// Its title.
    pub title: String,
    /// What opened tune and instrument last; `None` when that cannot be made out.
    pub request: Option<TuneOnInstrument>,
}

impl TuneEntry {
    /// What opens it again as it would be typed; nothing when that cannot be made out.
    pub fn as_typed(&self) -> Vec<String> {
        let request = self.request.as_ref();
        request.map(TuneOnInstrument::as_typed).unwrap_or_default()
    }
}

/// An answer that was kept, to be taken back if it was a slip of the key.
#[derive(Clone, Copy, Debug)]
pub struct Recorded {
    review: i64,
    item: i64,
    before: Option<Memory>,
    /// The memory of the item now.
    pub memory: Memory,
}

/// The history, open.
#[derive(Debug)]
pub struct History {
    connection: Connection,
    path: PathBuf,
}

/// The number by which the file knows a tune on an instrument.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct TuneOnInstrumentId(i64);

impl History {
    /// The name of the file in the data folder.
    pub const FILE: &'static str = "history.sqlite";

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Puts a tune and an instrument on record, or brings the tune's title and request up to date.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn tune_on_instrument(
        &mut self,
        tune: &TuneEntry,
        instrument: &Instrument,
    ) -> Result<TuneOnInstrumentId, HistoryError> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let tune_number: i64 = transaction.query_row(
            "INSERT INTO tune (content, title) VALUES (?1, ?2)
             ON CONFLICT (content) DO UPDATE SET title = ?2 RETURNING id",
            params![tune.id.to_bytes(), tune.title],
            |row| row.get(0),
        )?;
        let strings: Vec<String> = instrument
            .strings()
            .iter()
            .map(ToString::to_string)
            .collect();
        let instrument_number: i64 = transaction.query_row(
            "INSERT INTO instrument (name, strings, frets, capo) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (strings, frets, capo) DO UPDATE SET name = ?1 RETURNING id",
            params![
                instrument.name(),
                strings.join(" "),
                instrument.frets(),
                instrument.capo()
            ],
            |row| row.get(0),
        )?;
        let request = tune.request.as_ref().map(schema::request_to_json);
        let id = transaction.query_row(
            "INSERT INTO tune_on_instrument (tune, instrument, request) VALUES (?1, ?2, ?3)
             ON CONFLICT (tune, instrument) DO UPDATE SET request = ?3 RETURNING id",
            params![tune_number, instrument_number, request],
            |row| row.get(0),
        )?;
        transaction.commit()?;
        Ok(TuneOnInstrumentId(id))
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
            "SELECT phrase, kind, position, octave, stability, difficulty, last_at, last_day
             FROM item WHERE tune_on_instrument = ?1",
        )?;
        let mut rows = statement.query([known_as.0])?;
        let mut memories = Vec::new();
        while let Some(row) = rows.next()? {
            let item = Item {
                tune,
                phrase: row.get(0)?,
                kind: kind_from(row.get_ref(1)?.as_str().unwrap_or_default())?,
                spot: spot_from(row.get(2)?, row.get(3)?),
            };
            memories.push((item, memory_from(row, 4)?));
        }
        Ok(memories)
    }

    /// The median time in seconds of the player's last right answers to a kind of question; `None` when there are fewer
    /// than five.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn usual_seconds(&self, kind: Kind) -> Result<Option<f64>, HistoryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT milliseconds FROM review JOIN item ON item.id = review.item
             WHERE review.id > (SELECT max(id) FROM review) - 2000 AND kind = ?1 AND is_right
             ORDER BY review.id DESC LIMIT 50",
        )?;
        let times = statement.query_map([kind.name()], |row| row.get(0))?;
        Ok(median_seconds(times.collect::<Result<_, _>>()?))
    }

    /// The median time in seconds of the player's last answers; `None` when there are fewer than five.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn usual_seconds_of_all(&self) -> Result<Option<f64>, HistoryError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT milliseconds FROM review ORDER BY id DESC LIMIT 200")?;
        let times = statement.query_map([], |row| row.get(0))?;
        Ok(median_seconds(times.collect::<Result<_, _>>()?))
    }

    /// Keeps an answer: it is on disk when this returns.
    ///
    /// The item's memory is worked out from the one in the file, which another program may have changed meanwhile.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is.
    pub fn record(
        &mut self,
        known_as: TuneOnInstrumentId,
        review: &Review,
        model: &MemoryModel,
    ) -> Result<Recorded, HistoryError> {
        let (position, octave) = spot_numbers(review.item.spot);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let kind = review.item.kind.name();
        let key = params![known_as.0, review.item.phrase, kind, position, octave];
        let before = transaction
            .prepare_cached(
                "SELECT stability, difficulty, last_at, last_day FROM item
                 WHERE tune_on_instrument = ?1 AND phrase = ?2 AND kind = ?3 AND position = ?4 AND octave = ?5",
            )?
            .query_row(key, |row| memory_from(row, 0))
            .optional()?;
        let memory = model.review(before, review.grade, review.at);
        let item: i64 = transaction
            .prepare_cached(
                "INSERT INTO item (tune_on_instrument, phrase, kind, position, octave, stability, difficulty, last_at, last_day)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
                 ON CONFLICT DO UPDATE SET stability = ?6, difficulty = ?7, last_at = ?8, last_day = ?9 RETURNING id",
            )?
            .query_row(
                params![
                    known_as.0,
                    review.item.phrase,
                    kind,
                    position,
                    octave,
                    memory.stability,
                    memory.difficulty,
                    memory.last.seconds,
                    memory.last.day
                ],
                |row| row.get(0),
            )?;
        transaction
            .prepare_cached(
                "INSERT INTO review (item, at, day, note, question, answer, is_right, grade, milliseconds, degree, interval, string)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
            )?
            .execute(params![
                item,
                review.at.seconds,
                review.at.day,
                review.note,
                review.question,
                review.answer,
                review.is_right,
                review.grade.number(),
                (review.seconds * 1000.0) as i64,
                review.degree,
                review.interval,
                review.string
            ])?;
        let id = transaction.last_insert_rowid();
        transaction.commit()?;
        Ok(Recorded {
            review: id,
            item,
            before,
            memory,
        })
    }

    /// Takes back an answer given by a slip of the key, and the item's memory with it.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is.
    pub fn take_back(&mut self, recorded: &Recorded) -> Result<(), HistoryError> {
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction.execute("DELETE FROM review WHERE id = ?1", [recorded.review])?;
        match recorded.before {
            Some(before) => transaction.execute(
                "UPDATE item SET stability = ?2, difficulty = ?3, last_at = ?4, last_day = ?5 WHERE id = ?1",
                params![
                    recorded.item,
                    before.stability,
                    before.difficulty,
                    before.last.seconds,
                    before.last.day
                ],
            )?,
            None => transaction.execute("DELETE FROM item WHERE id = ?1", [recorded.item])?,
        };
        Ok(transaction.commit()?)
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
        let mut statement = self.connection.prepare(
            "SELECT it.id, content, title, request FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune
             ORDER BY (SELECT max(last_at) FROM item WHERE tune_on_instrument = it.id) DESC, it.id",
        )?;
        let tunes = statement.query_map([], |row| {
            Ok((TuneOnInstrumentId(row.get(0)?), entry_from(row, 1)?))
        })?;
        Ok(tunes.collect::<Result<_, _>>()?)
    }
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
    name.parse()
        .map_err(|error: fretlib::ParseError| HistoryError::Damaged(error.to_string()))
}

fn spot_numbers(spot: Option<Spot>) -> (u8, i8) {
    spot.map_or((0, 0), |spot| (spot.position.get(), spot.octave.get()))
}

fn spot_from(position: u8, octave: i8) -> Option<Spot> {
    Some(Spot {
        position: Position::new(position).ok()?,
        octave: Octave::new(octave).ok()?,
    })
}
