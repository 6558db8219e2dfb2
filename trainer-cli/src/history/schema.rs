//! The tables of the history, and how older ones become the current ones.

use rusqlite::{Connection, Transaction};
use serde::Serialize;

use super::{HistoryError, arguments};

/// The application id of the SQLite file: "neck" in ASCII.
pub(super) const APPLICATION: i64 = 0x6e65_636b;

type Migration = fn(&Transaction) -> Result<(), HistoryError>;

/// The migration to each version from the one before; the first makes version 1 from an empty file.
const MIGRATIONS: [Migration; 5] = [
    make_tables,
    store_requests,
    store_last_right,
    make_passes,
    make_counts,
];

/// The version this program writes.
pub(super) const CURRENT: i64 = MIGRATIONS.len() as i64;

// Kinds, degrees and intervals are stored as the words of screens and files, so that the file can be read without the
// program. A shelf is a tune on an instrument, with the arguments that opened them last, one a line. An item without a
// placement has position and octave 0.
const VERSION_1: &str = "
    CREATE TABLE tune (
        id INTEGER PRIMARY KEY,
        content BLOB NOT NULL UNIQUE CHECK (length(content) = 16),
        title TEXT NOT NULL
    ) STRICT;
    CREATE TABLE instrument (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        strings TEXT NOT NULL,
        frets INTEGER NOT NULL,
        capo INTEGER NOT NULL,
        UNIQUE (strings, frets, capo)
    ) STRICT;
    CREATE TABLE shelf (
        id INTEGER PRIMARY KEY,
        tune INTEGER NOT NULL REFERENCES tune,
        instrument INTEGER NOT NULL REFERENCES instrument,
        arguments TEXT NOT NULL,
        UNIQUE (tune, instrument)
    ) STRICT;
    CREATE TABLE item (
        id INTEGER PRIMARY KEY,
        shelf INTEGER NOT NULL REFERENCES shelf,
        phrase INTEGER NOT NULL,
        kind TEXT NOT NULL,
        position INTEGER NOT NULL,
        octave INTEGER NOT NULL,
        stability REAL NOT NULL,
        difficulty REAL NOT NULL,
        last_at INTEGER NOT NULL,
        last_day INTEGER NOT NULL,
        UNIQUE (shelf, phrase, kind, position, octave)
    ) STRICT;
    CREATE TABLE review (
        id INTEGER PRIMARY KEY,
        item INTEGER NOT NULL REFERENCES item ON DELETE CASCADE,
        at INTEGER NOT NULL,
        day INTEGER NOT NULL,
        note INTEGER NOT NULL,
        question TEXT NOT NULL,
        answer TEXT NOT NULL,
        is_right INTEGER NOT NULL CHECK (is_right IN (0, 1)),
        grade INTEGER NOT NULL CHECK (grade BETWEEN 1 AND 3),
        milliseconds INTEGER NOT NULL,
        degree TEXT NOT NULL,
        interval TEXT,
        string INTEGER
    ) STRICT;
    CREATE INDEX review_of_item ON review (item, day, is_right, milliseconds);
    CREATE INDEX slips ON review (at) WHERE is_right = 0;
    CREATE TABLE fit (
        id INTEGER PRIMARY KEY,
        at INTEGER NOT NULL,
        reviews INTEGER NOT NULL,
        parameters TEXT NOT NULL
    ) STRICT;
";

// The request that opens a tune is stored in JSON, so that options can change their names; it is null when unknown. A
// session is the request it began with; its key is unique, also across files.
const VERSION_2: &str = "
    ALTER TABLE shelf RENAME TO tune_on_instrument;
    ALTER TABLE item RENAME COLUMN shelf TO tune_on_instrument;
    ALTER TABLE tune_on_instrument ADD COLUMN request TEXT;
    CREATE TABLE session (
        id INTEGER PRIMARY KEY,
        key INTEGER NOT NULL UNIQUE,
        at INTEGER NOT NULL,
        request TEXT NOT NULL
    ) STRICT;
    ALTER TABLE review ADD COLUMN session INTEGER REFERENCES session;
";

// Whether the last answer to an item was right: a missed item is not known, whatever its stability.
const VERSION_3: &str = "
    ALTER TABLE item ADD COLUMN last_right INTEGER NOT NULL DEFAULT 1 CHECK (last_right IN (0, 1));
    UPDATE item SET last_right = coalesce(
        (SELECT is_right FROM review WHERE review.item = item.id ORDER BY review.id DESC LIMIT 1), 1);
";

// A pass through a phrase of a tune at a tempo, in percent of the tune's own, judged by the player or by what was heard.
const VERSION_4: &str = "
    CREATE TABLE pass (
        id INTEGER PRIMARY KEY,
        tune_on_instrument INTEGER NOT NULL REFERENCES tune_on_instrument,
        phrase INTEGER NOT NULL,
        percent INTEGER NOT NULL CHECK (percent BETWEEN 1 AND 1000),
        is_right INTEGER NOT NULL CHECK (is_right IN (0, 1)),
        judged_by TEXT NOT NULL,
        at INTEGER NOT NULL,
        day INTEGER NOT NULL
    ) STRICT;
    CREATE INDEX pass_of_tune ON pass (tune_on_instrument, phrase, id);
";

// What is counted of the answers, so that progress need not read them all: how often each item was asked and answered
// right and the median time (of an even number the longer one of the two in the middle), and the same two counts for
// each day.
const VERSION_5: &str = "
    ALTER TABLE item ADD COLUMN asked INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE item ADD COLUMN answered_right INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE item ADD COLUMN median_milliseconds INTEGER NOT NULL DEFAULT 0;
    CREATE TABLE day (
        day INTEGER PRIMARY KEY,
        asked INTEGER NOT NULL,
        answered_right INTEGER NOT NULL
    ) STRICT;
";

/// Has the answers of each item counted by a trigger; a condition can follow.
const COUNT_ITEM: &str = "UPDATE item SET asked = -1";

const COUNT_DAYS: &str = "
    DELETE FROM day;
    INSERT INTO day SELECT day, count(*), sum(is_right) FROM review GROUP BY day;";

// These statements do the same whatever is to happen on conflicts: that is for the statement to say by which a trigger
// fires.
const ADD_TO_DAY: &str = "
    INSERT INTO day SELECT NEW.day, 0, 0 WHERE NOT EXISTS (SELECT 1 FROM day WHERE day = NEW.day);
    UPDATE day SET asked = asked + 1, answered_right = answered_right + NEW.is_right WHERE day = NEW.day;";

const TAKE_FROM_DAY: &str = "
    UPDATE day SET asked = asked - 1, answered_right = answered_right - OLD.is_right WHERE day = OLD.day;
    DELETE FROM day WHERE day = OLD.day AND asked < 1;";

fn make_tables(transaction: &Transaction) -> Result<(), HistoryError> {
    Ok(transaction.execute_batch(VERSION_1)?)
}

fn store_requests(transaction: &Transaction) -> Result<(), HistoryError> {
    transaction.execute_batch(VERSION_2)?;
    let mut statement = transaction.prepare("SELECT id, arguments FROM tune_on_instrument")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let rows: Vec<(i64, String)> = rows.collect::<Result<_, _>>()?;
    for (id, lines) in rows {
        let request = arguments::read(&lines).as_ref().map(request_to_json);
        let sql = "UPDATE tune_on_instrument SET request = ?2 WHERE id = ?1";
        transaction.execute(sql, rusqlite::params![id, request])?;
    }
    Ok(transaction.execute_batch("ALTER TABLE tune_on_instrument DROP COLUMN arguments")?)
}

fn store_last_right(transaction: &Transaction) -> Result<(), HistoryError> {
    Ok(transaction.execute_batch(VERSION_3)?)
}

fn make_passes(transaction: &Transaction) -> Result<(), HistoryError> {
    Ok(transaction.execute_batch(VERSION_4)?)
}

fn make_counts(transaction: &Transaction) -> Result<(), HistoryError> {
    transaction.execute_batch(VERSION_5)?;
    count_answers(transaction)
}

/// Counts all answers anew, with triggers of its own: another tool may have dropped some.
pub(super) fn count_answers(connection: &Connection) -> Result<(), HistoryError> {
    drop_triggers(connection)?;
    make_triggers(connection)?;
    Ok(connection.execute_batch(&format!("{COUNT_ITEM}; {COUNT_DAYS}"))?)
}

/// Whether the answers that are counted are as many as there are: a tool can replace an answer and not fire a trigger.
pub(super) fn are_answers_counted(connection: &Connection) -> Result<bool, HistoryError> {
    let sql = "SELECT (SELECT count(*) FROM review) = (SELECT coalesce(sum(asked), 0) FROM day)";
    Ok(connection.query_row(sql, [], |row| row.get(0))?)
}

/// Makes the triggers that keep the counts up to date, whichever program writes.
pub(super) fn make_triggers(connection: &Connection) -> Result<(), HistoryError> {
    Ok(connection.execute_batch(&format!(
        "CREATE TRIGGER item_counted AFTER UPDATE OF asked ON item WHEN NEW.asked < 0 BEGIN
            UPDATE item SET
                asked = (SELECT count(*) FROM review WHERE item = NEW.id),
                answered_right = (SELECT count(*) FROM review WHERE item = NEW.id AND is_right),
                median_milliseconds = coalesce((
                    SELECT milliseconds FROM review WHERE item = NEW.id ORDER BY milliseconds
                    LIMIT 1 OFFSET (SELECT count(*) / 2 FROM review WHERE item = NEW.id)
                ), 0)
            WHERE id = NEW.id;
         END;
         CREATE TRIGGER answer_added AFTER INSERT ON review BEGIN
            {COUNT_ITEM} WHERE id = NEW.item; {ADD_TO_DAY}
         END;
         CREATE TRIGGER answer_removed AFTER DELETE ON review BEGIN
            {COUNT_ITEM} WHERE id = OLD.item; {TAKE_FROM_DAY}
         END;
         CREATE TRIGGER answer_changed AFTER UPDATE OF item, day, is_right, milliseconds ON review BEGIN
            {COUNT_ITEM} WHERE id IN (OLD.item, NEW.item); {TAKE_FROM_DAY} {ADD_TO_DAY}
         END;
         CREATE TRIGGER item_added AFTER INSERT ON item BEGIN
            {COUNT_ITEM} WHERE id = NEW.id;
         END;"
    ))?)
}

/// Removes the triggers, for a change that brings the counts along.
pub(super) fn drop_triggers(connection: &Connection) -> Result<(), HistoryError> {
    Ok(connection.execute_batch(
        "DROP TRIGGER IF EXISTS item_counted; DROP TRIGGER IF EXISTS answer_added; DROP TRIGGER IF EXISTS answer_removed;
         DROP TRIGGER IF EXISTS answer_changed; DROP TRIGGER IF EXISTS item_added;",
    )?)
}

/// A request as stored in the history.
pub(super) fn request_to_json(request: &impl Serialize) -> String {
    serde_json::to_string(request).expect("a request has text keys and no value that can fail")
}

/// The tables, each after the ones it refers to.
pub(super) const TABLES: [&str; 9] = [
    "tune",
    "instrument",
    "tune_on_instrument",
    "session",
    "item",
    "review",
    "pass",
    "day",
    "fit",
];

/// Brings a new or an older history up to the current version, in one step or not at all.
pub(super) fn migrate(connection: &mut Connection) -> Result<(), HistoryError> {
    // If two programs start on a new file at once, the second one waits here and finds the work done.
    let transaction =
        connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let version = version(&transaction)?;
    for migration in MIGRATIONS.iter().skip(version as usize) {
        migration(&transaction)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION)?;
    transaction.pragma_update(None, "user_version", CURRENT)?;
    Ok(transaction.commit()?)
}

/// The version of a history, 0 when the file is empty.
///
/// # Errors
///
/// When the file belongs to another program or to a newer version of this one.
pub(super) fn version(connection: &Connection) -> Result<i64, HistoryError> {
    let pragma = |name: &str| -> rusqlite::Result<i64> {
        connection.pragma_query_value(None, name, |row| row.get(0))
    };
    let tables: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    let (application, version) = (pragma("application_id")?, pragma("user_version")?);
    if tables == 0 && application == 0 && version == 0 {
        return Ok(0);
    }
    if application != APPLICATION {
        return Err(HistoryError::Foreign);
    }
    if version > CURRENT {
        return Err(HistoryError::Newer { version });
    }
    if version < 1 {
        return Err(HistoryError::Foreign);
    }
    Ok(version)
}
