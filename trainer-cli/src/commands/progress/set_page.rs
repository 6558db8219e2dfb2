//! A set on one page: how far each tune is from ready on the day it is played.

use std::io::Write;

use fretlib::practice::{Item, Kind, Memory, MemoryModel, Moment, SessionAim, Standing};

use crate::commands::set::when;
use crate::commands::today::noon_of;
use crate::failure::Failure;
use crate::history::History;
use crate::practice_sets::PracticeSet;
use crate::report::heading::title_or_untitled;
use crate::request::PartRequest;
use crate::session::{PracticeTune, bars_in_words};
use crate::terminal::Streams;

/// Prints a line for each tune, in the order of the set.
pub fn print(
    set: &PracticeSet,
    history: Option<&History>,
    now: Moment,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let model = match history {
        Some(history) => history.model()?,
        None => MemoryModel::default(),
    };
    let by = set.by.map_or(now, |by| noon_of(by, now));
    writeln!(streams.stdout, "{}{}\n", set.name, when(set, now.day))?;
    writeln!(streams.stdout, " ready   hold   fade  untouched  tune")?;
    for tune in &set.tunes {
        let title = title_or_untitled(&tune.title).to_string();
        let opened = match PracticeTune::open(&tune.request, &PartRequest::default(), streams) {
            Ok(opened) => opened,
            Err(failure) => {
                writeln!(streams.stderr, "note: {title} is left out: {failure}")?;
                continue;
            }
        };
        let known = known(&opened, history)?;
        let mut opened = opened;
        let met = known.iter().filter_map(|(item, _)| item.placement);
        opened.material.add_placements(met);
        let line = TuneLine::new(&opened, &known, &model, now, by);
        writeln!(
            streams.stdout,
            "{:>4.0} %  {:>5}  {:>5}  {:>9}  {title}, weakest in {}",
            100.0 * line.ready,
            line.counts[0],
            line.counts[1],
            line.counts[2],
            bars_in_words(&opened.material, line.weakest),
        )?;
    }
    writeln!(
        streams.stdout,
        "\nready: how much would be right on the day without more practice"
    )?;
    Ok(())
}

fn known(tune: &PracticeTune, history: Option<&History>) -> Result<Vec<(Item, Memory)>, Failure> {
    let Some(history) = history else {
        return Ok(Vec::new());
    };
    let tunes = history.tunes()?;
    let found = tunes.iter().find(|(_, entry)| entry.id == tune.entry.id);
    Ok(match found {
        Some((id, entry)) => history.memories(*id, entry.id)?,
        None => Vec::new(),
    })
}

struct TuneLine {
    ready: f64,
    /// How many items hold, fade and are untouched.
    counts: [usize; 3],
    weakest: u32,
}

impl TuneLine {
    fn new(
        tune: &PracticeTune,
        known: &[(Item, Memory)],
        model: &MemoryModel,
        now: Moment,
        by: Moment,
    ) -> TuneLine {
        let retention = SessionAim::default().retention;
        let items = Item::all(&tune.material, tune.entry.id, &Kind::ALL);
        let mut counts = [0; 3];
        let phrases = tune.material.phrases().len().max(1);
        let mut by_phrase = vec![(0.0, 0usize); phrases];
        for item in &items {
            let memory = known.iter().find(|(it, _)| it == item).map(|(_, it)| it);
            counts[match model.standing(memory, now, retention) {
                Standing::Holds => 0,
                Standing::Fades => 1,
                Standing::Untouched => 2,
            }] += 1;
            let (sum, count) = &mut by_phrase[item.phrase as usize];
            *sum += memory.map_or(0.0, |memory| model.recall(memory, by));
            *count += 1;
        }
        let mean = |(sum, count): &(f64, usize)| sum / (*count).max(1) as f64;
        let weakest = (0u32..)
            .zip(&by_phrase)
            .filter(|(_, (_, count))| *count > 0)
            .min_by(|(_, one), (_, other)| mean(one).total_cmp(&mean(other)));
        TuneLine {
            ready: by_phrase.iter().map(|it| it.0).sum::<f64>() / items.len().max(1) as f64,
            counts,
            weakest: weakest.map_or(0, |(phrase, _)| phrase),
        }
    }
}
