//! A set on one page: how near each tune is to ready on the day it is played.

use std::collections::BTreeMap;
use std::io::Write;

use fretlib::practice::{Item, Kind, MemoryModel, Moment, SessionAim, Standing};

use crate::commands::set::{title_and_key, when};
use crate::commands::today::noon_of;
use crate::failure::Failure;
use crate::history::History;
use crate::practice_sets::PracticeSet;
use crate::report::left_out::LeftOut;
use crate::report::wrap::wrap;
use crate::request::PartRequest;
use crate::session::{Known, PracticeTune, Readiness, bars_in_words};
use crate::terminal::Streams;

/// Prints the tunes in the order of the set, each with what is known, how fast it is held, and where it is weakest.
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
    writeln!(
        streams.stdout,
        "  ready  known  tempo   hold  fade  untouched"
    )?;
    let mut sum = 0.0;
    let mut count = 0;
    let mut left_out = LeftOut::default();
    for (number, tune) in (1..).zip(&set.tunes) {
        let title = title_and_key(tune);
        let mut opened = match PracticeTune::open(&tune.request, &PartRequest::default(), streams) {
            Ok(opened) => opened,
            Err(failure) => {
                left_out.cannot_be_opened(&title, &failure);
                continue;
            }
        };
        let known = known(&opened, history)?;
        let met = known.memories.keys().filter_map(|item| item.placement);
        opened.material.add_placements(met);
        let met = known.memories.keys().map(|item| item.kind);
        // What the hands hold is in the tempo.
        let kinds = Kind::counted(met.filter(|kind| *kind != Kind::Play));
        let items = Item::all(&opened.material, opened.entry.id, &kinds);
        let readiness = Readiness::of(&opened.material, &items, &known, &model, by);
        let standings = standings(&items, &known, &model, now);
        sum += readiness.ready();
        count += 1;
        for line in wrap(&format!("{number}. {title}"), streams.width) {
            writeln!(streams.stdout, "{line}")?;
        }
        writeln!(
            streams.stdout,
            "  {:>3.0} %  {:>3.0} %  {:>3.0} %  {:>5} {:>5}  {:>9}",
            100.0 * readiness.ready(),
            100.0 * readiness.recall,
            100.0 * readiness.tempo,
            standings[&Standing::Holds],
            standings[&Standing::Fades],
            standings[&Standing::Untouched],
        )?;
        let weakest = readiness.weakest();
        let bars = bars_in_words(&opened.material, weakest.phrase);
        let held = match weakest.held {
            0 => "not played at any tempo yet".to_string(),
            held => format!("held at {held}%"),
        };
        let line = format!(
            "weakest: {bars}, {:.0} % known, {held}",
            100.0 * weakest.recall
        );
        for part in wrap(&line, streams.width.saturating_sub(2)) {
            writeln!(streams.stdout, "  {part}")?;
        }
    }
    left_out.say(streams)?;
    let all = 100.0 * sum / f64::from(count.max(1));
    writeln!(streams.stdout, "  {all:>3.0} %  the whole set\n")?;
    let day = if set.by.is_some() {
        "on the day"
    } else {
        "now"
    };
    let legend = format!(
        "known: how much would be right {day} without more practice; tempo: how fast its phrases are held, by right passes on \
         the ladder of `neckline play`; ready: both, with equal weight"
    );
    for line in wrap(&legend, streams.width) {
        writeln!(streams.stdout, "{line}")?;
    }
    Ok(())
}

fn known(tune: &PracticeTune, history: Option<&History>) -> Result<Known, Failure> {
    let Some(history) = history else {
        return Ok(Known::default());
    };
    let tunes = history.tunes()?;
    let found = tunes.iter().find(|(_, entry)| entry.id == tune.entry.id);
    Ok(match found {
        Some((id, entry)) => Known::of(history, *id, entry)?,
        None => Known::default(),
    })
}

/// How many items hold, fade and are untouched.
fn standings(
    items: &[Item],
    known: &Known,
    model: &MemoryModel,
    now: Moment,
) -> BTreeMap<Standing, usize> {
    let retention = SessionAim::default().retention;
    let all = [Standing::Holds, Standing::Fades, Standing::Untouched];
    let mut counts: BTreeMap<Standing, usize> = all.map(|it| (it, 0)).into();
    for item in items {
        let standing = model.standing(known.memories.get(item), now, retention);
        *counts.entry(standing).or_default() += 1;
    }
    counts
}
