//! The memory model fitted to the player.

use fretlib::practice::{Grade, MemoryModel, Moment};
use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::{History, HistoryError};

/// The number of an item, and its answers in order.
type ItemHistory = (i64, Vec<(Grade, Moment)>);

/// The most answers that parameters are fitted to.
const FITTED: usize = 20_000;

impl History {
    /// The memory model with the parameters fitted last, or the usual one.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn model(&self) -> Result<MemoryModel, HistoryError> {
        let sql = "SELECT parameters FROM fit ORDER BY id DESC LIMIT 1";
        let text: Option<String> = self
            .connection
            .query_row(sql, [], |row| row.get(0))
            .optional()?;
        let parameters: Vec<f32> = text
            .iter()
            .flat_map(|text| text.split(' '))
            .filter_map(|number| number.parse().ok())
            .collect();
        Ok(MemoryModel::new(&parameters).unwrap_or_default())
    }

    /// Fits the memory model to the player's reviews when there are at least half as many again as at the last fit, and
    /// computes every memory again. True when it was done.
    ///
    /// # Errors
    ///
    /// When the file cannot be read or written; then nothing is changed.
    pub fn refit(&mut self, now: Moment) -> Result<bool, HistoryError> {
        let last = "SELECT coalesce((SELECT reviews FROM fit ORDER BY id DESC LIMIT 1), 0)";
        let fitted: u64 = self.connection.query_row(last, [], |row| row.get(0))?;
        let count = self.count()?;
        if count < MemoryModel::REFIT_AFTER as u64 || count < fitted + fitted / 2 {
            return Ok(false);
        }
        let histories = histories_in(&self.connection)?;
        // The latest answers say most about the player now; more of them would only take time.
        let mut recent: Vec<&ItemHistory> = histories.iter().collect();
        recent.sort_by_key(|(_, reviews)| std::cmp::Reverse(reviews.last().map(|(_, at)| *at)));
        let mut room = FITTED;
        recent.retain(|(_, reviews)| {
            let fits = room >= reviews.len();
            room = room.saturating_sub(reviews.len());
            fits
        });
        let grades: Vec<Vec<(Grade, i32)>> = recent
            .iter()
            .map(|(_, reviews)| reviews.iter().map(|(grade, at)| (*grade, at.day)).collect())
            .collect();
        let Some(model) = MemoryModel::refit(&grades) else {
            return Ok(false);
        };
        let parameters: Vec<String> = model.parameters().iter().map(ToString::to_string).collect();
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction.execute(
            "INSERT INTO fit (at, reviews, parameters) VALUES (?1, ?2, ?3)",
            params![now.seconds, count, parameters.join(" ")],
        )?;
        // Other programs may have written meanwhile, so the memories are computed from the current reviews.
        for (item, reviews) in &histories_in(&transaction)? {
            let memory = reviews.iter().fold(None, |memory, (grade, at)| {
                Some(model.review(memory, *grade, *at))
            });
            if let Some(memory) = memory {
                transaction
                    .prepare_cached(
                        "UPDATE item SET stability = ?2, difficulty = ?3 WHERE id = ?1",
                    )?
                    .execute(params![item, memory.stability, memory.difficulty])?;
            }
        }
        transaction.commit()?;
        Ok(true)
    }
}

/// The grades of every item in order.
fn histories_in(connection: &Connection) -> Result<Vec<ItemHistory>, HistoryError> {
    let mut statement = connection
        .prepare("SELECT item, grade, at, day, is_right FROM review ORDER BY item, id")?;
    let mut rows = statement.query([])?;
    let mut histories: Vec<ItemHistory> = Vec::new();
    while let Some(row) = rows.next()? {
        let item = row.get(0)?;
        let Some(review) = review_from(row, 1)? else {
            continue;
        };
        match histories.last_mut() {
            Some((last, reviews)) if *last == item => reviews.push(review),
            _ => histories.push((item, vec![review])),
        }
    }
    Ok(histories)
}

/// The grades of one item in order.
pub(super) fn reviews_of(
    connection: &Connection,
    item: i64,
) -> Result<Vec<(Grade, Moment)>, HistoryError> {
    let mut statement = connection.prepare_cached(
        "SELECT grade, at, day, is_right FROM review WHERE item = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([item])?;
    let mut reviews = Vec::new();
    while let Some(row) = rows.next()? {
        reviews.extend(review_from(row, 0)?);
    }
    Ok(reviews)
}

/// Grade, time, day and whether it was right in four columns; `None` for an unknown grade.
fn review_from(row: &Row, first: usize) -> rusqlite::Result<Option<(Grade, Moment)>> {
    let at = Moment {
        seconds: row.get(first + 1)?,
        day: row.get(first + 2)?,
    };
    let grade = Grade::from_number(row.get(first)?, row.get(first + 3)?);
    Ok(grade.map(|grade| (grade, at)))
}
