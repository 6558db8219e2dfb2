//! The memory model fitted to the player.

use fretlib::practice::{Grade, Memory, MemoryModel, Moment};
use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::{History, HistoryError};

/// An item as it was found, and how it was answered each time.
struct ItemHistory {
    id: i64,
    stability: f64,
    last_at: i64,
    reviews: Vec<(Grade, Moment)>,
}

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

    /// Whether the model is to be fitted: there are half as many answers again as at the last fit.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn is_fit_due(&self) -> Result<bool, HistoryError> {
        let last = "SELECT coalesce((SELECT reviews FROM fit ORDER BY id DESC LIMIT 1), 0)";
        let fitted: u64 = self.connection.query_row(last, [], |row| row.get(0))?;
        let count = self.count()?;
        Ok(count >= MemoryModel::REFIT_AFTER as u64 && count >= fitted + fitted / 2)
    }

    /// Fits the memory model to the player's answers and works out every memory anew. Returns how many answers those
    /// were; `None` when nothing can be learned from them.
    ///
    /// It takes seconds, in which others may write: the file is theirs until all is worked out, and what they change
    /// meanwhile is worked out again.
    ///
    /// # Errors
    ///
    /// When the file cannot be read or written; then nothing is changed.
    pub fn refit(&mut self, now: Moment) -> Result<Option<usize>, HistoryError> {
        let items = items_in(&self.connection)?;
        let count = items.iter().map(|it| it.reviews.len()).sum();
        // Those asked last say most about the player now; more than enough of them would only take time.
        let mut recent: Vec<&ItemHistory> = items.iter().collect();
        recent.sort_by_key(|it| std::cmp::Reverse(it.reviews.last().map(|(_, at)| *at)));
        let mut room = FITTED;
        recent.retain(|it| {
            let fits = room >= it.reviews.len();
            room = room.saturating_sub(it.reviews.len());
            fits
        });
        let days = |(grade, at): &(Grade, Moment)| (*grade, at.day);
        let grades: Vec<Vec<(Grade, i32)>> = recent
            .iter()
            .map(|it| it.reviews.iter().map(days).collect())
            .collect();
        let Some(model) = MemoryModel::refit(&grades) else {
            return Ok(None);
        };
        let memories: Vec<Option<Memory>> = items
            .iter()
            .map(|it| remembered(&model, &it.reviews))
            .collect();
        let parameters: Vec<String> = model.parameters().iter().map(ToString::to_string).collect();
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction.execute(
            "INSERT INTO fit (at, reviews, parameters) VALUES (?1, ?2, ?3)",
            params![now.seconds, count, parameters.join(" ")],
        )?;
        let mut changed = items_above(&transaction, items.last().map_or(0, |it| it.id))?;
        for (item, memory) in items.iter().zip(memories) {
            let Some(memory) = memory else { continue };
            let same = transaction
                .prepare_cached(
                    "UPDATE item SET stability = ?2, difficulty = ?3
                     WHERE id = ?1 AND stability = ?4 AND last_at = ?5",
                )?
                .execute(params![
                    item.id,
                    memory.stability,
                    memory.difficulty,
                    item.stability,
                    item.last_at
                ])?;
            if same == 0 {
                changed.push(item.id);
            }
        }
        for item in changed {
            if let Some(memory) = remembered(&model, &reviews_of(&transaction, item)?) {
                transaction
                    .prepare_cached(
                        "UPDATE item SET stability = ?2, difficulty = ?3 WHERE id = ?1",
                    )?
                    .execute(params![item, memory.stability, memory.difficulty])?;
            }
        }
        transaction.commit()?;
        Ok(Some(count))
    }
}

/// What is remembered after these answers.
fn remembered(model: &MemoryModel, reviews: &[(Grade, Moment)]) -> Option<Memory> {
    reviews.iter().fold(None, |memory, (grade, at)| {
        Some(model.review(memory, *grade, *at))
    })
}

/// Every item that was asked, in the order of its number.
fn items_in(connection: &Connection) -> Result<Vec<ItemHistory>, HistoryError> {
    let mut statement = connection.prepare(
        "SELECT item.id, stability, last_at, grade, at, day, is_right
         FROM review JOIN item ON item.id = review.item ORDER BY review.item, review.id",
    )?;
    let mut rows = statement.query([])?;
    let mut items: Vec<ItemHistory> = Vec::new();
    while let Some(row) = rows.next()? {
        let id = row.get(0)?;
        let Some(review) = review_from(row, 3)? else {
            continue;
        };
        match items.last_mut() {
            Some(last) if last.id == id => last.reviews.push(review),
            _ => items.push(ItemHistory {
                id,
                stability: row.get(1)?,
                last_at: row.get(2)?,
                reviews: vec![review],
            }),
        }
    }
    Ok(items)
}

/// The numbers of the items above one.
fn items_above(connection: &Connection, last: i64) -> Result<Vec<i64>, HistoryError> {
    let mut statement = connection.prepare("SELECT id FROM item WHERE id > ?1")?;
    let numbers = statement.query_map([last], |row| row.get(0))?;
    Ok(numbers.collect::<Result<_, _>>()?)
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
