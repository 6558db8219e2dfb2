//! The player's progress from the history: what holds, what fades, and what is often wrong.

use std::collections::BTreeMap;

use fretlib::practice::{
    Item, Kind, MemoryModel, Moment, PlacementKey, SessionAim, Standing, TuneId, tempo_held,
};
use rusqlite::{Transaction, TransactionBehavior, params};

use super::file::copy_in_memory;
use super::{
    History, HistoryError, TuneEntry, TuneOnInstrumentId, entry_from, kind_from, memory_from,
    place_among, placement_from, placement_numbers, schema,
};

/// The progress of a player.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Progress {
    /// How many answers there are.
    pub reviews: u64,
    /// Each tune on each instrument, the one practised last first.
    pub tunes: Vec<TuneProgress>,
    /// Answers by day, in order; days without any are left out.
    pub days: Vec<Day>,
    /// The most frequent slips among the last answers, the worst first.
    pub slips: Vec<Slip>,
}

/// A tune on an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct TuneProgress {
    /// The tune.
    pub tune: TuneEntry,
    /// The name of the instrument.
    pub instrument: String,
    /// Its items, by phrase, kind and placement.
    pub cells: Vec<Cell>,
    /// The tempo at which each phrase that was played is held, in percent of the tune's own.
    pub tempos: BTreeMap<u32, u16>,
}

/// An item and its standing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// The item.
    pub item: Item,
    /// How often it was asked.
    pub asked: u32,
    /// How often the answer was right.
    pub right: u32,
    /// The median time of an answer.
    pub median_seconds: f64,
    /// Days until recall falls to 90 percent, counted from the last answer.
    pub stability: f32,
    /// How likely it is to be answered right now, 0 to 1.
    pub recall: f64,
    /// Whether it holds or fades.
    pub standing: Standing,
}

/// The answers of one day.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Day {
    /// The day, counted from 1970-01-01.
    pub day: i32,
    /// How many questions.
    pub asked: u32,
    /// How many right answers.
    pub right: u32,
}

/// The kind of a slip.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum SlipBy {
    /// The degree of the note.
    Degree,
    /// The interval to the next note.
    Interval,
    /// The string it is on.
    String,
}

/// A frequent wrong answer.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Slip {
    /// Its kind.
    pub by: SlipBy,
    /// The degree, interval or string.
    pub what: String,
    /// How often it was asked.
    pub asked: u32,
    /// How often it was answered wrong.
    pub wrong: u32,
}

/// A phrase, counted from 0, at a placement; `None` for questions about the melody alone.
pub type PhraseCell = (u32, Option<PlacementKey>);

/// The mean recall of the items of each phrase at each placement, 0 to 1.
pub type RecallGrid = BTreeMap<PhraseCell, f64>;

/// How many of some items have a standing.
pub fn count_standing<'a>(cells: impl Iterator<Item = &'a Cell>, standing: Standing) -> usize {
    cells.filter(|cell| cell.standing == standing).count()
}

impl TuneProgress {
    /// What was asked.
    pub fn asked(&self) -> impl Iterator<Item = &Cell> {
        let cells = self.cells.iter();
        cells.filter(|cell| cell.item.kind != Kind::Play)
    }

    /// What was played, as it was heard.
    pub fn played(&self) -> impl Iterator<Item = &Cell> {
        let cells = self.cells.iter();
        cells.filter(|cell| cell.item.kind == Kind::Play)
    }

    /// How likely each phrase that was played is to be played right now at its tempo, by where it was played.
    pub fn hands(&self) -> RecallGrid {
        let cells = self.played();
        cells
            .map(|cell| ((cell.item.phrase, cell.item.placement), cell.recall))
            .collect()
    }

    /// The recall of each phrase at each placement: the mean over all that is asked there, with 0 for untouched items.
    ///
    /// `all` has the numbers of items; where it has none, the mean is over those asked.
    pub fn grid(&self, all: &BTreeMap<PhraseCell, usize>) -> RecallGrid {
        let mut sums: BTreeMap<PhraseCell, (f64, f64)> = BTreeMap::new();
        for cell in self.asked() {
            let (sum, count) = sums
                .entry((cell.item.phrase, cell.item.placement))
                .or_default();
            *sum += cell.recall;
            *count += 1.0;
        }
        let means = sums.into_iter().map(|(key, (sum, asked))| {
            let all = all.get(&key).map_or(0.0, |all| *all as f64);
            (key, sum / asked.max(all))
        });
        means.collect()
    }
}

/// One answer as a line of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct ReviewLine<'a> {
    /// Seconds since 1970.
    pub at: i64,
    /// The title of the tune.
    pub tune: &'a str,
    /// Which note, counted from 0.
    pub note: u32,
    /// What was asked for.
    pub item: Item,
    /// The question in words.
    pub question: &'a str,
    /// The answer as typed.
    pub answer: &'a str,
    /// Whether it was right.
    pub is_right: bool,
    /// How long it took.
    pub milliseconds: i64,
}

/// A pass through a phrase as a line of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct PassLine {
    /// Seconds since 1970.
    pub at: i64,
    /// The title of the tune.
    pub tune: String,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// The tempo in percent of the tune's own.
    pub percent: u16,
    /// Whether it was right.
    pub is_right: bool,
    /// Who said so: `player` or `hearing`.
    pub judged_by: String,
}

/// Slips are counted over this many answers.
const LAST_ANSWERS: u32 = 2000;
/// Fewer wrong answers than this are not a habit.
const FEWEST_SLIPS: u32 = 3;

impl History {
    /// The progress at a moment, of all tunes or only one.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn progress(
        &self,
        model: &MemoryModel,
        now: Moment,
        only: Option<TuneId>,
    ) -> Result<Progress, HistoryError> {
        if schema::are_answers_counted(&self.connection)? {
            return self.counted_progress(model, now, only);
        }
        if self.can_be_written() && self.count_answers().is_ok() {
            return self.counted_progress(model, now, only);
        }
        // What cannot be written is counted in a copy.
        let connection = copy_in_memory(&self.connection)?;
        schema::count_answers(&connection)?;
        let counted = History {
            connection,
            path: self.path.clone(),
            identity: self.identity,
        };
        counted.counted_progress(model, now, only)
    }

    fn count_answers(&self) -> Result<(), HistoryError> {
        let transaction =
            Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
        schema::count_answers(&transaction)?;
        Ok(transaction.commit()?)
    }

    /// The progress, where what is counted is up to date.
    fn counted_progress(
        &self,
        model: &MemoryModel,
        now: Moment,
        only: Option<TuneId>,
    ) -> Result<Progress, HistoryError> {
        let retention = SessionAim::default().retention;
        let tunes = self.tunes_by_number()?;
        // The last answer and the items of each.
        let mut cells: Vec<(i64, Vec<Cell>)> = vec![(0, Vec::new()); tunes.len()];
        let mut statement = self.connection.prepare(
            "SELECT tune_on_instrument, phrase, kind, position, octave, stability, difficulty, last_at, last_day, last_right,
                    asked, answered_right, median_milliseconds
             FROM item NOT INDEXED",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let known_as = row.get(0)?;
            let Ok(index) = place_among(&tunes, known_as, |(number, ..)| *number) else {
                continue;
            };
            let (_, tune, _) = &tunes[index];
            let memory = memory_from(row, 5)?;
            let (last_at, cells) = &mut cells[index];
            *last_at = memory.last.seconds.max(*last_at);
            cells.push(Cell {
                item: Item {
                    tune: tune.id,
                    phrase: row.get(1)?,
                    kind: kind_from(row.get_ref(2)?.as_str().unwrap_or_default())?,
                    placement: placement_from(row.get(3)?, row.get(4)?),
                },
                asked: row.get(10)?,
                right: row.get(11)?,
                median_seconds: row.get::<_, i64>(12)? as f64 / 1000.0,
                stability: memory.stability,
                recall: model.recall(&memory, now),
                standing: model.standing(Some(&memory), now, retention),
            });
        }
        let mut kinds = Kind::ALL;
        kinds.sort_unstable_by_key(|kind| kind.name());
        let mut tunes_of_cells: Vec<(i64, i64, TuneProgress)> = Vec::new();
        for ((known_as, tune, instrument), (last_at, mut cells)) in tunes.into_iter().zip(cells) {
            if cells.is_empty() {
                continue;
            }
            cells.sort_by_cached_key(|cell| {
                let item = cell.item;
                let kind = kinds.iter().position(|kind| *kind == item.kind);
                (item.phrase, kind, placement_numbers(item.placement))
            });
            let tune = TuneProgress {
                tune,
                instrument,
                cells,
                tempos: self.tempos_held(TuneOnInstrumentId(known_as))?,
            };
            tunes_of_cells.push((known_as, last_at, tune));
        }
        let mut tunes = tunes_of_cells;
        self.add_only_played(&mut tunes)?;
        tunes.retain(|(_, _, tune)| only.is_none_or(|only| tune.tune.id == only));
        tunes.sort_by_key(|(_, last_at, _)| std::cmp::Reverse(*last_at));
        let days = self.days()?;
        Ok(Progress {
            reviews: days.iter().map(|day| u64::from(day.asked)).sum(),
            tunes: tunes.into_iter().map(|(_, _, tune)| tune).collect(),
            days,
            slips: self.slips(only)?,
        })
    }

    /// The tempo at which each phrase that was played is held, in percent of the tune's own.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn tempos_held(
        &self,
        known_as: TuneOnInstrumentId,
    ) -> Result<BTreeMap<u32, u16>, HistoryError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT phrase, percent, is_right FROM pass WHERE tune_on_instrument = ?1 ORDER BY phrase, id",
        )?;
        let mut rows = statement.query([known_as.0])?;
        let mut passes: BTreeMap<u32, Vec<(u16, bool)>> = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let pass = (row.get(1)?, row.get(2)?);
            passes.entry(row.get(0)?).or_default().push(pass);
        }
        let held = passes.into_iter();
        Ok(held
            .map(|(phrase, all)| (phrase, tempo_held(all)))
            .collect())
    }

    /// Adds the tunes that were played but never asked about.
    fn add_only_played(
        &self,
        tunes: &mut Vec<(i64, i64, TuneProgress)>,
    ) -> Result<(), HistoryError> {
        let mut statement = self.connection.prepare(
            "SELECT it.id, tune.content, tune.title, it.request, instrument.name,
                    (SELECT max(at) FROM pass WHERE tune_on_instrument = it.id) AS last_at
             FROM tune_on_instrument AS it JOIN tune ON tune.id = it.tune JOIN instrument ON instrument.id = it.instrument
             WHERE last_at IS NOT NULL",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let known_as: i64 = row.get(0)?;
            let last_at: i64 = row.get(5)?;
            match tunes.iter_mut().find(|(id, ..)| *id == known_as) {
                Some((_, at, _)) => *at = last_at.max(*at),
                None => tunes.push((
                    known_as,
                    last_at,
                    TuneProgress {
                        tune: entry_from(row, 1)?,
                        instrument: row.get(4)?,
                        cells: Vec::new(),
                        tempos: self.tempos_held(TuneOnInstrumentId(known_as))?,
                    },
                )),
            }
        }
        Ok(())
    }

    /// Every pass through a phrase, in order.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub fn passes(&self) -> Result<Vec<PassLine>, HistoryError> {
        let mut statement = self.connection.prepare(
            "SELECT at, title, phrase, percent, is_right, judged_by FROM pass
             JOIN tune_on_instrument AS it ON it.id = pass.tune_on_instrument JOIN tune ON tune.id = it.tune
             ORDER BY pass.id",
        )?;
        let lines = statement.query_map([], |row| {
            Ok(PassLine {
                at: row.get(0)?,
                tune: row.get(1)?,
                phrase: row.get(2)?,
                percent: row.get(3)?,
                is_right: row.get(4)?,
                judged_by: row.get(5)?,
            })
        })?;
        Ok(lines.collect::<Result<_, _>>()?)
    }

    /// Each tune on an instrument in the order of the numbers: number, tune, and the name of the instrument.
    fn tunes_by_number(&self) -> Result<Vec<(i64, TuneEntry, String)>, HistoryError> {
        let mut statement = self.connection.prepare(
            "SELECT it.id, content, title, request, name FROM tune_on_instrument AS it
             JOIN tune ON tune.id = it.tune JOIN instrument ON instrument.id = it.instrument ORDER BY it.id",
        )?;
        let tunes = statement.query_map([], |row| {
            Ok((row.get(0)?, entry_from(row, 1)?, row.get(4)?))
        })?;
        Ok(tunes.collect::<Result<_, _>>()?)
    }

    /// The items in the order of their numbers.
    fn items_by_number(&self) -> Result<Vec<NumberedItem>, HistoryError> {
        let mut statement = self.connection.prepare(
            "SELECT id, tune_on_instrument, phrase, kind, position, octave FROM item ORDER BY id",
        )?;
        let mut rows = statement.query([])?;
        let mut items = Vec::new();
        while let Some(row) = rows.next()? {
            items.push(NumberedItem {
                number: row.get(0)?,
                known_as: row.get(1)?,
                phrase: row.get(2)?,
                kind: kind_from(row.get_ref(3)?.as_str().unwrap_or_default())?,
                placement: placement_from(row.get(4)?, row.get(5)?),
            });
        }
        Ok(items)
    }

    /// The answers by day.
    fn days(&self) -> Result<Vec<Day>, HistoryError> {
        let sql = "SELECT day, asked, answered_right FROM day ORDER BY day";
        let mut statement = self.connection.prepare(sql)?;
        let days = statement.query_map([], |row| {
            Ok(Day {
                day: row.get(0)?,
                asked: row.get(1)?,
                right: row.get(2)?,
            })
        })?;
        Ok(days.collect::<Result<_, _>>()?)
    }

    /// A slip counts only for what was asked: for the degree if a degree was asked.
    fn slips(&self, only: Option<TuneId>) -> Result<Vec<Slip>, HistoryError> {
        let mut statement = self.connection.prepare(
            "SELECT degree, interval, string, is_right, kind FROM review JOIN item ON item.id = review.item
             JOIN tune_on_instrument AS it ON it.id = item.tune_on_instrument JOIN tune ON tune.id = it.tune
             WHERE review.id > (SELECT max(id) FROM review) - ?1 AND (?2 IS NULL OR tune.content = ?2)",
        )?;
        let only = only.map(TuneId::to_bytes);
        let mut rows = statement.query(params![LAST_ANSWERS, only])?;
        let mut counts: BTreeMap<(SlipBy, String), (u32, u32)> = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let string: Option<u8> = row.get(2)?;
            let counted = match kind_from(row.get_ref(4)?.as_str().unwrap_or_default())? {
                Kind::Degree | Kind::Scale | Kind::DegreeByEar | Kind::ScaleByEar => {
                    [Some((SlipBy::Degree, row.get(0)?)), None]
                }
                Kind::Interval | Kind::IntervalByEar => {
                    [Some((SlipBy::Interval, row.get(1)?)), None]
                }
                Kind::Name => [
                    Some((SlipBy::Degree, row.get(0)?)),
                    Some((SlipBy::String, string.map(|string| string.to_string()))),
                ],
                Kind::PhraseByEar | Kind::Under | Kind::Stays | Kind::LeftOut | Kind::Play => {
                    [None, None]
                }
                Kind::Place | Kind::Next | Kind::Octave | Kind::NextByEar | Kind::Line => [
                    Some((SlipBy::String, string.map(|string| string.to_string()))),
                    None,
                ],
            };
            let is_right: bool = row.get(3)?;
            for (by, what) in counted.into_iter().flatten() {
                let Some(what) = what else {
                    continue;
                };
                let (asked, wrong) = counts.entry((by, what)).or_default();
                *asked += 1;
                *wrong += u32::from(!is_right);
            }
        }
        let mut slips: Vec<Slip> = counts
            .into_iter()
            .filter(|(_, (_, wrong))| *wrong >= FEWEST_SLIPS)
            .map(|((by, what), (asked, wrong))| Slip {
                by,
                what,
                asked,
                wrong,
            })
            .collect();
        let share = |slip: &Slip| f64::from(slip.wrong) / f64::from(slip.asked);
        slips.sort_by(|one, other| share(other).total_cmp(&share(one)));
        Ok(slips)
    }

    /// Passes every answer to `write`, in order.
    ///
    /// # Errors
    ///
    /// When the file cannot be read, or what `write` gives.
    pub fn each_review<E: From<HistoryError>>(
        &self,
        mut write: impl FnMut(&ReviewLine) -> Result<(), E>,
    ) -> Result<(), E> {
        let failed = |error: rusqlite::Error| E::from(HistoryError::from(error));
        let items = self.items_by_number()?;
        let tunes = self.tunes_by_number()?;
        let mut statement = self
            .connection
            .prepare(
                "SELECT at, item, note, question, answer, is_right, milliseconds FROM review ORDER BY id",
            )
            .map_err(failed)?;
        let mut rows = statement.query(params![]).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            let line = || -> Result<Option<ReviewLine>, HistoryError> {
                let Ok(item) = place_among(&items, row.get(1)?, |item| item.number) else {
                    return Ok(None);
                };
                let item = &items[item];
                let Ok(tune) = place_among(&tunes, item.known_as, |(number, ..)| *number) else {
                    return Ok(None);
                };
                let (_, tune, _) = &tunes[tune];
                Ok(Some(ReviewLine {
                    at: row.get(0)?,
                    tune: &tune.title,
                    note: row.get(2)?,
                    item: Item {
                        tune: tune.id,
                        phrase: item.phrase,
                        kind: item.kind,
                        placement: item.placement,
                    },
                    question: row.get_ref(3)?.as_str().unwrap_or_default(),
                    answer: row.get_ref(4)?.as_str().unwrap_or_default(),
                    is_right: row.get(5)?,
                    milliseconds: row.get(6)?,
                }))
            };
            if let Some(line) = line()? {
                write(&line)?;
            }
        }
        Ok(())
    }
}

/// An item with its number and that of its tune on an instrument, without the tune's own identity: answers are in no order
/// of items, so that what is small is found sooner.
#[derive(Debug)]
struct NumberedItem {
    number: i64,
    known_as: i64,
    phrase: u32,
    kind: Kind,
    placement: Option<PlacementKey>,
}
