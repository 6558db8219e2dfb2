//! `neckline set`: the tunes to be ready on a day.

use std::io::Write;

use fretlib::theory::PitchClass;
use jiff::civil::{Date, DateTime};

use crate::failure::Failure;
use crate::practice_sets::{PracticeSet, PracticeSets, SetTune, ShortName};
use crate::report::count::count;
use crate::report::heading::title_or_untitled;
use crate::request::{HistoryFolder, InstrumentRequest, TuneOnInstrument, TuneRequest};
use crate::terminal::clock::day_number;
use crate::terminal::{Clock, Streams};

/// What to do with the sets.
#[derive(Debug)]
pub struct SetRequest {
    /// Which set; without it all are listed.
    pub name: Option<ShortName>,
    /// The day it is played.
    pub by: Option<Date>,
    /// Tunes to add, built-in or files.
    pub add: Vec<String>,
    /// Tunes to take away.
    pub drop: Vec<String>,
    /// Take the set away.
    pub delete: bool,
    /// The tonic to move the added tunes to.
    pub to_key: Option<PitchClass>,
    /// The instrument of the added tunes.
    pub instrument: InstrumentRequest,
    /// The time to take for the present.
    pub now: Option<DateTime>,
    /// Where the sets are.
    pub folder: HistoryFolder,
}

/// Changes a set and shows it, or lists all.
pub fn run(request: &SetRequest, streams: &mut Streams) -> Result<(), Failure> {
    let today = Clock::from_option(request.now)?.now().day;
    let mut sets = PracticeSets::open(&request.folder.path()?)?;
    let Some(name) = &request.name else {
        return list(&sets, today, streams);
    };
    if request.delete {
        sets.expect(name)?;
        sets.remove(name);
        sets.save()?;
        writeln!(
            streams.stdout,
            "{name} is taken away; its answers stay in the history"
        )?;
        return Ok(());
    }
    if let Some(by) = request.by.filter(|by| day_number(*by) < today) {
        return Err(Failure::usage(
            format!("{by} is past"),
            "give the day the set is played, today or later",
        ));
    }
    let is_changed = request.by.is_some() || !request.add.is_empty() || !request.drop.is_empty();
    let mut set = match sets.named(name) {
        Some(set) => set.clone(),
        None if !request.add.is_empty() => PracticeSet {
            name: name.clone(),
            by: None,
            tunes: Vec::new(),
        },
        None => return sets.expect(name).map(|_| ()),
    };
    set.by = request.by.or(set.by);
    for tune in &request.drop {
        drop_tune(&mut set, tune)?;
    }
    for tune in &request.add {
        add_tune(&mut set, tune, request, streams)?;
    }
    if is_changed {
        sets.put(set.clone())?;
        sets.save()?;
    }
    show(&set, today, streams)
}

fn list(sets: &PracticeSets, today: i32, streams: &mut Streams) -> Result<(), Failure> {
    if sets.all().is_empty() {
        writeln!(
            streams.stdout,
            "no sets yet: `neckline set sunday --by DATE TUNE…` makes one"
        )?;
    }
    for set in sets.all() {
        let tunes = count(set.tunes.len(), "tune");
        writeln!(streams.stdout, "{}, {tunes}{}", set.name, when(set, today))?;
    }
    Ok(())
}

fn show(set: &PracticeSet, today: i32, streams: &mut Streams) -> Result<(), Failure> {
    writeln!(streams.stdout, "{}{}", set.name, when(set, today))?;
    for (number, tune) in (1..).zip(&set.tunes) {
        writeln!(streams.stdout, "{number:>3}  {}", title_and_key(tune))?;
    }
    Ok(())
}

/// `Pedalo Blues, in A`: the key is named when the tune is moved.
pub fn title_and_key(tune: &SetTune) -> String {
    let title = title_or_untitled(&tune.title);
    match &tune.request.tune.to_key {
        Some(tonic) => format!("{title}, in {tonic}"),
        None => title.to_string(),
    }
}

/// `, by 2026-11-29, in 4 days`.
pub fn when(set: &PracticeSet, today: i32) -> String {
    let Some(by) = set.by else {
        return String::new();
    };
    let days = match day_number(by) - today {
        0 => "today".into(),
        1 => "tomorrow".into(),
        days @ 2.. => format!("in {days} days"),
        _ => "it is over".into(),
    };
    format!(", by {by}, {days}")
}

fn add_tune(
    set: &mut PracticeSet,
    source: &str,
    request: &SetRequest,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if source == "-" {
        return Err(Failure::usage(
            "a set cannot keep standard input",
            "save the tune to a file and add that",
        ));
    }
    let tune = TuneRequest {
        source: Some(source.to_string()),
        to_key: request.to_key,
        ..TuneRequest::default()
    };
    let opened = tune.open(streams)?;
    request.instrument.open()?;
    let tune = SetTune {
        title: opened.melody.title().to_string(),
        request: TuneOnInstrument {
            tune: tune.from_anywhere(),
            instrument: request.instrument.clone(),
        },
    };
    // A tune that is already in the set is moved to another key in its place.
    match set
        .tunes
        .iter_mut()
        .find(|it| it.request.tune.source == tune.request.tune.source)
    {
        Some(place) => *place = tune,
        None => set.tunes.push(tune),
    }
    Ok(())
}

/// Removes a tune, named as it was added or by its title.
fn drop_tune(set: &mut PracticeSet, named: &str) -> Result<(), Failure> {
    let tune = TuneRequest {
        source: Some(named.to_string()),
        ..TuneRequest::default()
    };
    let source = tune.from_anywhere().source;
    let before = set.tunes.len();
    set.tunes
        .retain(|it| it.request.tune.source != source && it.title != named);
    if set.tunes.len() == before {
        return Err(Failure::could_not(
            format!("`{named}` is not in the set"),
            format!("`neckline set {}` shows what is", set.name),
        ));
    }
    Ok(())
}
