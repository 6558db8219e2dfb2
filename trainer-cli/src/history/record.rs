//! Recording answers and taking them back.

use fretlib::neck::Instrument;
use fretlib::practice::{Item, Memory, MemoryModel, Moment, TuneId};
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::{
    History, HistoryError, PlayedPass, Review, TuneEntry, TuneOnInstrumentId, memory_from,
    placement_numbers, schema,
};
use crate::request::SessionRequest;

/// What an answer belongs to. Its numbers are looked up in the file each time, since another file may have taken its
/// place.
#[derive(Clone, Copy, Debug)]
pub struct Practised<'a> {
    /// The tune.
    pub tune: &'a TuneEntry,
    /// The instrument.
    pub instrument: &'a Instrument,
    /// The session.
    pub session: &'a SessionEntry,
}

/// A session, as the history knows it.
#[derive(Clone, Debug)]
pub struct SessionEntry {
    /// A number unique to this session.
    pub key: i64,
    /// When it began.
    pub at: Moment,
    /// What was asked for.
    pub request: SessionRequest,
}

/// A recorded answer, which can be taken back if it was a typing mistake.
#[derive(Clone, Copy, Debug)]
pub struct Recorded {
    review: i64,
    session: i64,
    item: Item,
    at: Moment,
    /// The memory of the item now.
    pub memory: Memory,
}

impl History {
    /// Registers a tune on an instrument, or updates its title and request.
    ///
    /// What is up to date is not written again, which would wait for the disk.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn tune_on_instrument(
        &mut self,
        tune: &TuneEntry,
        instrument: &Instrument,
    ) -> Result<TuneOnInstrumentId, HistoryError> {
        if !self.is_replaced()
            && let Some(known) = up_to_date(&self.connection, tune, instrument)?
        {
            return Ok(known);
        }
        self.write(|transaction| put_on_record(transaction, tune, instrument))
    }

    /// Records an answer: it is on disk when this returns.
    ///
    /// The item's new memory follows from the one in the file, which another program may have changed meanwhile.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is changed.
    pub fn record(
        &mut self,
        practised: Practised,
        review: &Review,
        model: &MemoryModel,
    ) -> Result<Recorded, HistoryError> {
        self.write(|transaction| record(transaction, practised, review, model))
    }

    /// Records answers that came at once, in one transaction; the session is registered even without any.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is changed.
    pub fn record_all(
        &mut self,
        practised: Practised,
        reviews: &[Review],
        model: &MemoryModel,
    ) -> Result<(), HistoryError> {
        self.write(|transaction| {
            session_number(transaction, practised.session)?;
            for review in reviews {
                record(transaction, practised, review, model)?;
            }
            Ok(())
        })
    }

    /// Whether a session with this key is on record, with the tune.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn has_session(&self, key: i64, tune: TuneId) -> Result<bool, HistoryError> {
        let sql = "SELECT EXISTS (SELECT 1 FROM session WHERE key = ?1)
             AND EXISTS (SELECT 1 FROM tune WHERE content = ?2)";
        let values = params![key, tune.to_bytes()];
        Ok(self.connection.query_row(sql, values, |row| row.get(0))?)
    }

    /// Records a pass through some phrases of a tune: it is on disk when this returns. One that covers no phrase whole leaves
    /// no trace.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is changed.
    pub fn record_pass(
        &mut self,
        tune: &TuneEntry,
        instrument: &Instrument,
        pass: &PlayedPass,
    ) -> Result<(), HistoryError> {
        if pass.phrases.is_empty() {
            return Ok(());
        }
        self.write(|transaction| {
            let TuneOnInstrumentId(known_as) = known_as(transaction, tune, instrument)?;
            for phrase in &pass.phrases {
                transaction
                    .prepare_cached(
                        "INSERT INTO pass (tune_on_instrument, phrase, percent, is_right, judged_by, at, day)
                         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                    )?
                    .execute(params![
                        known_as,
                        phrase,
                        pass.percent,
                        pass.is_right,
                        pass.judged_by.name(),
                        pass.at.seconds,
                        pass.at.day
                    ])?;
            }
            Ok(())
        })
    }

    /// Takes back an answer typed by mistake. The memory of its item is computed again from the remaining answers,
    /// possibly of other sessions; an item without answers is untouched again.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is changed.
    pub fn take_back(
        &mut self,
        recorded: &Recorded,
        model: &MemoryModel,
    ) -> Result<(), HistoryError> {
        self.write(|transaction| take_back(transaction, recorded, model))
    }

    /// Removes everything about a tune; returns the number of its answers.
    ///
    /// # Errors
    ///
    /// When the file cannot be written; then nothing is changed.
    pub fn wipe(&mut self, tune: TuneId) -> Result<usize, HistoryError> {
        let content = tune.to_bytes();
        self.write(|transaction| {
            let of_tune = "SELECT it.id FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune WHERE content = ?1";
            let items = format!("SELECT id FROM item WHERE tune_on_instrument IN ({of_tune})");
            let run = |sql: String| transaction.execute(&sql, [content]);
            let answers = run(format!("DELETE FROM review WHERE item IN ({items})"))?;
            run(format!("DELETE FROM pass WHERE tune_on_instrument IN ({of_tune})"))?;
            run(format!("DELETE FROM item WHERE tune_on_instrument IN ({of_tune})"))?;
            run(format!("DELETE FROM tune_on_instrument WHERE id IN ({of_tune})"))?;
            run("DELETE FROM tune WHERE content = ?1".into())?;
            Ok(answers)
        })
    }

    /// Changes the file in one transaction. If another file took its place, that one is opened and changed instead.
    fn write<T>(
        &mut self,
        change: impl Fn(&Transaction) -> Result<T, HistoryError>,
    ) -> Result<T, HistoryError> {
        // It may happen once while a player moves files; three times is an error.
        for _ in 0..3 {
            if self.is_replaced() {
                let folder = self.path.parent().unwrap_or(&self.path).to_owned();
                *self = History::open(&folder)?;
            }
            let transaction =
                Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
            if self.is_replaced() {
                continue;
            }
            let changed = change(&transaction)?;
            transaction.commit()?;
            if !self.is_replaced() {
                return Ok(changed);
            }
        }
        Err(HistoryError::Replaced)
    }
}

fn put_on_record(
    transaction: &Transaction,
    tune: &TuneEntry,
    instrument: &Instrument,
) -> Result<TuneOnInstrumentId, HistoryError> {
    let tune_number: i64 = transaction.query_row(
        "INSERT INTO tune (content, title) VALUES (?1, ?2)
         ON CONFLICT (content) DO UPDATE SET title = ?2 RETURNING id",
        params![tune.id.to_bytes(), tune.title],
        |row| row.get(0),
    )?;
    let instrument_number: i64 = transaction.query_row(
        "INSERT INTO instrument (name, strings, frets, capo) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (strings, frets, capo) DO UPDATE SET name = ?1 RETURNING id",
        params![
            instrument.name(),
            strings_of(instrument),
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
    Ok(TuneOnInstrumentId(id))
}

/// The number of a tune on an instrument that is on record with this title, name and request.
fn up_to_date(
    connection: &Connection,
    tune: &TuneEntry,
    instrument: &Instrument,
) -> Result<Option<TuneOnInstrumentId>, HistoryError> {
    let request = tune.request.as_ref().map(schema::request_to_json);
    let known = connection
        .prepare_cached(
            "SELECT it.id FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune
             JOIN instrument ON instrument.id = it.instrument
             WHERE content = ?1 AND strings = ?2 AND frets = ?3 AND capo = ?4 AND title = ?5 AND name = ?6 AND request IS ?7",
        )?
        .query_row(
            params![
                tune.id.to_bytes(),
                strings_of(instrument),
                instrument.frets(),
                instrument.capo(),
                tune.title,
                instrument.name(),
                request
            ],
            |row| row.get(0),
        )
        .optional()?;
    Ok(known.map(TuneOnInstrumentId))
}

/// The number of a tune on an instrument, which is registered if it is new.
fn known_as(
    transaction: &Transaction,
    tune: &TuneEntry,
    instrument: &Instrument,
) -> Result<TuneOnInstrumentId, HistoryError> {
    let known = transaction
        .prepare_cached(
            "SELECT it.id FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune
             JOIN instrument ON instrument.id = it.instrument
             WHERE content = ?1 AND strings = ?2 AND frets = ?3 AND capo = ?4",
        )?
        .query_row(
            params![
                tune.id.to_bytes(),
                strings_of(instrument),
                instrument.frets(),
                instrument.capo()
            ],
            |row| row.get(0),
        )
        .optional()?;
    match known {
        Some(id) => Ok(TuneOnInstrumentId(id)),
        None => put_on_record(transaction, tune, instrument),
    }
}

fn strings_of(instrument: &Instrument) -> String {
    let strings = instrument.strings().iter().map(ToString::to_string);
    strings.collect::<Vec<_>>().join(" ")
}

/// The number of a session, which is registered with its first answer.
fn session_number(transaction: &Transaction, session: &SessionEntry) -> rusqlite::Result<i64> {
    let number = |sql: &str, values: &[&dyn rusqlite::ToSql]| {
        transaction
            .prepare_cached(sql)?
            .query_row(values, |row| row.get(0))
    };
    let known = number("SELECT id FROM session WHERE key = ?1", &[&session.key]).optional()?;
    match known {
        Some(id) => Ok(id),
        None => number(
            "INSERT INTO session (key, at, request) VALUES (?1, ?2, ?3) RETURNING id",
            &[
                &session.key,
                &session.at.seconds,
                &schema::request_to_json(&session.request),
            ],
        ),
    }
}

fn record(
    transaction: &Transaction,
    practised: Practised,
    review: &Review,
    model: &MemoryModel,
) -> Result<Recorded, HistoryError> {
    let TuneOnInstrumentId(known_as) = known_as(transaction, practised.tune, practised.instrument)?;
    let session = session_number(transaction, practised.session)?;
    let (position, octave) = placement_numbers(review.item.placement);
    let kind = review.item.kind.name();
    let before = transaction
        .prepare_cached(
            "SELECT stability, difficulty, last_at, last_day, last_right FROM item
             WHERE tune_on_instrument = ?1 AND phrase = ?2 AND kind = ?3 AND position = ?4 AND octave = ?5",
        )?
        .query_row(
            params![known_as, review.item.phrase, kind, position, octave],
            |row| memory_from(row, 0),
        )
        .optional()?;
    let memory = model.review(before, review.grade, review.at);
    let item: i64 = transaction
        .prepare_cached(
            "INSERT INTO item
             (tune_on_instrument, phrase, kind, position, octave, stability, difficulty, last_at, last_day, last_right)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)
             ON CONFLICT DO UPDATE SET stability = ?6, difficulty = ?7, last_at = ?8, last_day = ?9, last_right = ?10
             RETURNING id",
        )?
        .query_row(
            params![
                known_as,
                review.item.phrase,
                kind,
                position,
                octave,
                memory.stability,
                memory.difficulty,
                memory.last.seconds,
                memory.last.day,
                memory.is_right
            ],
            |row| row.get(0),
        )?;
    transaction
        .prepare_cached(
            "INSERT INTO review
             (item, at, day, note, question, answer, is_right, grade, milliseconds, degree, interval, string, session)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
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
            review.string,
            session
        ])?;
    Ok(Recorded {
        review: transaction.last_insert_rowid(),
        session: practised.session.key,
        item: review.item,
        at: review.at,
        memory,
    })
}

fn take_back(
    transaction: &Transaction,
    recorded: &Recorded,
    model: &MemoryModel,
) -> Result<(), HistoryError> {
    let (position, octave) = placement_numbers(recorded.item.placement);
    // In a replaced file, its number may belong to another answer.
    let item: Option<i64> = transaction
        .query_row(
            "DELETE FROM review WHERE id = ?1 AND at = ?2
             AND session = (SELECT id FROM session WHERE key = ?3)
             AND item IN (SELECT id FROM item WHERE phrase = ?4 AND kind = ?5 AND position = ?6 AND octave = ?7)
             RETURNING item",
            params![
                recorded.review,
                recorded.at.seconds,
                recorded.session,
                recorded.item.phrase,
                recorded.item.kind.name(),
                position,
                octave
            ],
            |row| row.get(0),
        )
        .optional()?;
    let Some(item) = item else {
        return Ok(());
    };
    let memory = super::fit::reviews_of(transaction, item)?
        .into_iter()
        .fold(None, |memory, (grade, at)| {
            Some(model.review(memory, grade, at))
        });
    match memory {
        Some(memory) => transaction.execute(
            "UPDATE item SET stability = ?2, difficulty = ?3, last_at = ?4, last_day = ?5, last_right = ?6
             WHERE id = ?1",
            params![
                item,
                memory.stability,
                memory.difficulty,
                memory.last.seconds,
                memory.last.day,
                memory.is_right
            ],
        )?,
        None => transaction.execute("DELETE FROM item WHERE id = ?1", [item])?,
    };
    Ok(())
}
