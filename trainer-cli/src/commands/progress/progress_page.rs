//! The progress as a page: tables of the neck, weak phrases, frequent slips, and the days.

use std::collections::BTreeMap;

use fretlib::practice::Standing;
use fretlib::text::{Role, StyledLine, StyledText};
use rayon::prelude::*;

use super::coverage::Coverage;
use super::progress_json::by_name;
use super::progress_neck::{FULL, Neck, shade};
use crate::history::{PhraseCell, Progress, RecallGrid, TuneProgress, count_standing};
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::report::shell_words::shell_lines;
use crate::report::wrap::wrap;
use crate::terminal::clock::date_of;

pub struct ProgressPage<'a> {
    pub progress: &'a Progress,
    /// The coverage of each tune; `None` when it is unknown.
    pub coverages: &'a [Option<Coverage>],
    pub ascii: bool,
    pub width: usize,
}

/// How many weak cells, slips and days are shown.
const WEAKEST: usize = 5;
const SLIPS: usize = 6;
const DAYS: usize = 14;

impl ProgressPage<'_> {
    pub fn draw(&self) -> StyledText {
        let mut text = StyledText::default();
        let tunes: Vec<(&TuneProgress, Option<&Coverage>)> = self.tunes().collect();
        let drawn: Vec<(RecallGrid, StyledText)> = tunes
            .into_par_iter()
            .map(|(tune, coverage)| {
                let unknown = BTreeMap::new();
                let grid = tune.grid(coverage.map_or(&unknown, |it| &it.cells));
                let text = self.tune(tune, coverage, &grid);
                (grid, text)
            })
            .collect();
        let mut grids = Vec::new();
        for (grid, tune) in drawn {
            text.append(tune);
            grids.push(grid);
        }
        self.legend(&mut text);
        self.weakest(&mut text, &grids);
        self.slips(&mut text);
        self.days(&mut text);
        text
    }

    fn tunes(&self) -> impl Iterator<Item = (&TuneProgress, Option<&Coverage>)> {
        let coverages = self.coverages.iter().map(Option::as_ref);
        self.progress.tunes.iter().zip(coverages)
    }

    /// A tune and an empty line after it.
    fn tune(
        &self,
        tune: &TuneProgress,
        coverage: Option<&Coverage>,
        grid: &RecallGrid,
    ) -> StyledText {
        let mut text = StyledText::default();
        let asked: u32 = tune.asked().map(|cell| cell.asked).sum();
        let title = title_or_untitled(&tune.tune.title);
        let answers = count(asked as usize, "answer");
        let heading = format!("{title} · {} · {answers}", tune.instrument);
        line(&mut text, &heading, Role::Heading);
        let mut standing = format!(
            "{} hold, {} to play again today",
            count_standing(tune.asked(), Standing::Holds),
            count_standing(tune.asked(), Standing::Fades)
        );
        if let Some(coverage) = coverage {
            // Placements that are no longer practised are left out.
            let met = tune.asked().count();
            let all = coverage.items().max(met);
            standing.push_str(&format!(", {} untouched", all - met));
        }
        indented(&mut text, &standing, self.width, Role::Plain);
        let hands = tune.hands();
        if !hands.is_empty() {
            indented(&mut text, &in_hand(tune, coverage), self.width, Role::Plain);
        }
        Neck::new(grid, &hands, coverage, self.ascii, self.width).draw(&mut text);
        self.tempos(&mut text, tune, coverage);
        line(&mut text, "", Role::Plain);
        text
    }

    /// The tempo at which the phrases are held that were played.
    fn tempos(&self, text: &mut StyledText, tune: &TuneProgress, coverage: Option<&Coverage>) {
        if tune.tempos.is_empty() {
            return;
        }
        let held: Vec<String> = tune
            .tempos
            .iter()
            .map(|(phrase, percent)| {
                let bars = phrase_in_words(coverage, *phrase);
                match percent {
                    0 => format!("{bars} not yet"),
                    percent => format!("{bars} at {percent}%"),
                }
            })
            .collect();
        let held = format!("held in tempo: {}", held.join(", "));
        indented(text, &held, self.width, Role::Plain);
    }

    fn legend(&self, text: &mut StyledText) {
        let shade = |recall| shade(recall, self.ascii);
        let legend = format!(
            "columns are positions; of all that can be asked there {} 9 in 10 would be right now, {} 7 in 10, {} half, \
             {} fewer,{} untouched, blank where the phrase does not lie",
            shade(Some(1.0)),
            shade(Some(0.8)),
            shade(Some(0.6)),
            shade(Some(0.0)),
            shade(None),
        );
        for part in wrap(&legend, self.width) {
            line(text, &part, Role::Faint);
        }
    }

    fn weakest(&self, text: &mut StyledText, grids: &[RecallGrid]) {
        let mut weakest: Vec<WeakPhrase> = Vec::new();
        for ((tune, coverage), grid) in self.tunes().zip(grids) {
            let hands = tune.hands();
            let known = grid.iter().map(|known| (known, false));
            let all = known.chain(hands.iter().map(|it| (it, true)));
            for ((cell, recall), is_played) in all.filter(|((_, recall), _)| **recall < FULL) {
                // Of equals the first.
                let at = weakest.partition_point(|other| other.recall.total_cmp(recall).is_le());
                weakest.insert(
                    at,
                    WeakPhrase {
                        tune,
                        coverage,
                        cell: *cell,
                        recall: *recall,
                        is_played,
                    },
                );
                weakest.truncate(WEAKEST);
            }
        }
        if weakest.is_empty() {
            return;
        }
        line(text, "", Role::Plain);
        line(text, "weakest now", Role::Heading);
        for weak in weakest {
            let (phrase, placement) = weak.cell;
            let place = match placement {
                Some(placement) if weak.is_played => format!("played in {}", placement.in_words()),
                Some(placement) => placement.in_words(),
                None => "the tune alone".into(),
            };
            let in_words = phrase_in_words(weak.coverage, phrase);
            let title = title_or_untitled(&weak.tune.tune.title);
            let what = format!(
                "  {:>3.0} %  {title}, {in_words}, {place}",
                100.0 * weak.recall
            );
            for (index, part) in wrap(&what, self.width.saturating_sub(9)).iter().enumerate() {
                let indent = if index == 0 { "" } else { "         " };
                line(text, &format!("{indent}{part}"), Role::Plain);
            }
            for part in shell_lines(&command(&weak), self.width, 9) {
                line(text, &part, Role::Faint);
            }
        }
    }

    fn slips(&self, text: &mut StyledText) {
        if self.progress.slips.is_empty() {
            return;
        }
        line(text, "", Role::Plain);
        line(text, "what keeps slipping", Role::Heading);
        for slip in self.progress.slips.iter().take(SLIPS) {
            let what = format!(
                "  {:<8} {:<4} wrong {} of {}",
                by_name(slip.by),
                slip.what,
                slip.wrong,
                slip.asked
            );
            line(text, &what, Role::Plain);
        }
    }

    fn days(&self, text: &mut StyledText) {
        if self.progress.days.is_empty() {
            return;
        }
        line(text, "", Role::Plain);
        line(text, "answers by day", Role::Heading);
        let days = &self.progress.days;
        let last = &days[days.len().saturating_sub(DAYS)..];
        let most = last.iter().map(|day| day.asked).max().unwrap_or(1).max(1);
        let room = self.width.saturating_sub(34).clamp(10, 60) as u32;
        for day in last {
            let (full, part) = if self.ascii {
                ("#", "-")
            } else {
                ("█", "░")
            };
            let length = (day.asked * room).div_ceil(most) as usize;
            let right = (day.right * room / most) as usize;
            let bar = full.repeat(right.min(length)) + &part.repeat(length.saturating_sub(right));
            let what = format!(
                "  {} {:>5}, {:>5} right  {bar}",
                date_of(day.day),
                day.asked,
                day.right
            );
            line(text, &what, Role::Plain);
        }
    }
}

/// How many phrases the hands hold.
fn in_hand(tune: &TuneProgress, coverage: Option<&Coverage>) -> String {
    let mut words = format!(
        "in the hands: {} hold, {} to play again today",
        count_standing(tune.played(), Standing::Holds),
        count_standing(tune.played(), Standing::Fades)
    );
    if let Some(coverage) = coverage {
        let untouched = coverage.played.len().saturating_sub(tune.played().count());
        words.push_str(&format!(", {untouched} not heard yet"));
    }
    words
}

/// The bars of a phrase, or its number where the tune is not there to be counted.
fn phrase_in_words(coverage: Option<&Coverage>, phrase: u32) -> String {
    let bars = coverage.and_then(|it| it.bars.get(phrase as usize));
    bars.cloned()
        .unwrap_or_else(|| format!("phrase {}", phrase + 1))
}

/// A phrase that is weak, asked or played at a placement.
struct WeakPhrase<'a> {
    tune: &'a TuneProgress,
    coverage: Option<&'a Coverage>,
    cell: PhraseCell,
    recall: f64,
    is_played: bool,
}

impl WeakPhrase<'_> {
    /// Whether the player's own fingering passes here.
    fn is_along_own_fingering(&self) -> bool {
        let own = self.coverage.filter(|it| it.is_fingered);
        own.is_some_and(|own| self.is_played || own.cells.contains_key(&self.cell))
    }
}

/// The command that drills a weak phrase, or listens to it.
fn command(weak: &WeakPhrase) -> Vec<String> {
    let (phrase, placement) = weak.cell;
    let tune = weak.tune;
    let bars = weak.coverage.and_then(|it| it.bars.get(phrase as usize));
    let command = if weak.is_played { "listen" } else { "drill" };
    let mut words = vec!["neckline".to_string(), command.to_string()];
    words.extend(tune.tune.as_typed());
    match bars.and_then(|bars| bars.split_once(' ')) {
        Some((_, bars)) => words.push(format!("--bars={bars}")),
        None if weak.is_played => {}
        None => words.push(format!("--phrases={}", phrase + 1)),
    }
    match placement {
        // A fingering of their own shows where the hand stands, and named positions would leave it.
        Some(_) if weak.is_along_own_fingering() => {}
        Some(placement) if weak.is_played => {
            words.push(format!("--position={}", placement.position));
        }
        Some(placement) => words.push(format!("--positions={}", placement.position)),
        None => {
            // By ear only who was asked by ear.
            let is_heard = tune.cells.iter().any(|it| it.item.kind.is_by_ear());
            let by_ear = if is_heard { ",by-ear" } else { "" };
            words.push(format!("--kinds=degree,interval,scale{by_ear}"));
        }
    }
    words
}

/// Adds words in one role, indented by two columns and wrapped.
pub(super) fn indented(text: &mut StyledText, words: &str, width: usize, role: Role) {
    for part in wrap(words, width.saturating_sub(2)) {
        line(text, &format!("  {part}"), role);
    }
}

/// Adds a line in one role.
pub(super) fn line(text: &mut StyledText, words: &str, role: Role) {
    let mut line = StyledLine::default();
    line.push(words, role);
    text.push(line);
}
