//! `neckline today`: a plan for the available minutes, over a set or all tunes practised.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::io::{self, Write};
use std::ops::RangeInclusive;
use std::time::Duration;

use fretlib::practice::{
    Item, Kind, Memory, MemoryModel, Moment, PlacementKey, PracticeMaterial, SessionAim, Standing,
    TuneId,
};
use jiff::civil::Date;
use rayon::prelude::*;

use crate::commands::drill::by_playing::AnsweredBy;
use crate::commands::listen::{self, ListenRequest, LiveRequest};
use crate::commands::{drill, set};
use crate::failure::Failure;
use crate::history::{History, RememberedTune, TuneOnInstrumentId};
use crate::practice_sets::{PracticeSet, PracticeSets, ShortName};
use crate::report::heading::title_or_untitled;
use crate::report::left_out::{Absence, LeftOut};
use crate::report::shell_words::shell_lines;
use crate::report::wrap::wrap;
use crate::request::{
    ByEar, HistoryFolder, InstrumentRequest, PartRequest, SessionRequest, TuneOnInstrument,
    TuneRequest,
};
use crate::session::{
    Known, Need, PracticeTune, Readiness, Session, Share, bars_in_words, divide, phrases_in_words,
    placement_in_words,
};
use crate::terminal::clock::day_number;
use crate::terminal::{Clock, Streams};

/// What to plan, and how long.
#[derive(Clone, Debug)]
pub struct TodayRequest {
    /// How long to practise.
    pub minutes: u32,
    /// The set to practise for; `None` for the one that is played next.
    pub set: Option<ShortName>,
    /// Only print the plan.
    pub list: bool,
    /// Draw the neck for a left-handed player.
    pub left_handed: bool,
    /// What is asked, how much and in which order.
    pub session: SessionRequest,
    /// Whether it is asked by ear.
    pub by_ear: ByEar,
    /// How answers are given.
    pub answered_by: AnsweredBy,
    /// Where the history is.
    pub folder: HistoryFolder,
}

/// A tune of the plan.
struct PlannedTune {
    tune: PracticeTune,
    // The items to ask, fading ones first, with the memory of each.
    fading: Vec<(Item, Option<Memory>)>,
    untouched: Vec<(Item, Option<Memory>)>,
    need: Need,
    // How many items are untouched in all, including those that wait for others.
    untouched_in_all: usize,
    /// What was played, was heard, and is to be played again, in the order of the tune.
    again: Vec<PlayedAgain>,
    /// Whether the player has let the program hear this tune.
    is_heard: bool,
    /// The phrase to play: the one held at the slowest tempo, of equals the one known least.
    to_play: u32,
    /// The tempo at which it is held, in percent of the tune's own; `None` when it was never played.
    held: Option<u16>,
}

/// Phrases that follow each other, to be played again where they were heard.
#[derive(Clone, Debug, PartialEq)]
struct PlayedAgain {
    phrases: RangeInclusive<u32>,
    at: PlacementKey,
    /// How long one pass takes at the tune's own tempo, in seconds.
    seconds: f64,
}

/// Makes the plan, prints it and drills it.
pub fn run(request: &TodayRequest, streams: &mut Streams) -> Result<(), Failure> {
    let mut wanted = request.session.clone();
    // The plan alone needs no microphone.
    let answered_by = match request.list {
        true => AnsweredBy::Typing,
        false => request.answered_by,
    };
    let playing = drill::by_playing::settle(&mut wanted, answered_by, streams)?;
    let news = drill::by_ear::settle(&mut wanted, request.by_ear, streams)?;
    let request = &TodayRequest {
        session: wanted,
        ..request.clone()
    };
    let clock = Clock::from_option(request.session.now)?;
    let now = clock.now();
    let folder = request.folder.path()?;
    let sets = PracticeSets::open(&folder)?;
    let set = match &request.set {
        Some(name) => Some(sets.expect(name)?),
        None => sets.next(now.day),
    };
    let history = History::open_to_read(&folder)?;
    let times = Times::of(history.as_ref())?;
    let Gathered { tunes, others } = gather(history.as_ref(), set, now, &times, request, streams)?;
    if tunes.is_empty() {
        return Err(Failure::could_not(
            "no tune has been practised yet",
            "begin with `neckline drill TUNE`",
        ));
    }
    let asked_today = match &history {
        Some(history) => history.first_asked_on(now.day)?,
        None => 0,
    };
    let left = request.session.untouched.saturating_sub(asked_today);
    let needs: Vec<Need> = tunes.iter().map(|it| it.need.clone()).collect();
    let shares = divide(&needs, request.minutes, left);
    let mut plan = Plan {
        tunes: &tunes,
        shares: &shares,
        others,
        set,
        are_times_known: times.are_known,
        minutes: request.minutes,
        left_handed: request.left_handed,
    };
    plan.say(now.day, streams)?;
    let knowing: u32 = shares.iter().map(|share| share.knowing).sum();
    let count: usize = shares.iter().map(|it| it.fading + it.untouched).sum();
    // With a microphone open anyway, what fades in the hands is heard at once.
    let to_hear = match (request.list, answered_by) {
        (false, AnsweredBy::Playing) => plan.to_hear(request),
        _ => Vec::new(),
    };
    if request.list || count == 0 {
        streams.microphone.close();
        return hear(&to_hear, streams);
    }
    let mut of_today = request.session.clone();
    // A seed fixes the choice among fading items, not which items fade.
    of_today.is_random = false;
    let mut items = Vec::new();
    for (planned, share) in tunes.iter().zip(&shares) {
        items.extend_from_slice(&planned.fading[..share.fading]);
        items.extend_from_slice(&planned.untouched[..share.untouched]);
    }
    of_today.untouched = shares.iter().map(|share| share.untouched).sum::<usize>() + asked_today;
    let to_play = match to_hear.is_empty() {
        true => plan.to_play(streams.width),
        false => plan.to_climb(streams.width),
    };
    let tunes: Vec<PracticeTune> = tunes.into_iter().map(|planned| planned.tune).collect();
    let session = Session::open_planned(tunes, items, &of_today, (&request.folder, history), now)?;
    let look = drill::SessionLook {
        left_handed: request.left_handed,
        // Missed items come back; even a player who misses everything is done after a while.
        most: Some(request.session.questions.unwrap_or(3 * count as u32)),
        longest: Some(Duration::from_secs(60 * u64::from(knowing.max(1)))),
    };
    drill::play(
        session,
        &clock,
        look,
        request.session.plain,
        (news, playing),
        streams,
    )?;
    hear(&to_hear, streams)?;
    if !to_play.is_empty() {
        writeln!(streams.stdout, "\nnow play")?;
        for line in to_play {
            writeln!(streams.stdout, "{line}")?;
        }
    }
    Ok(())
}

/// Listens to what is to be played again, one after the other.
fn hear(requests: &[ListenRequest], streams: &mut Streams) -> Result<(), Failure> {
    for request in requests {
        writeln!(streams.stdout)?;
        listen::run(request, streams)?;
    }
    Ok(())
}

/// The time of an answer, from this player's own answers.
struct Times {
    usual: BTreeMap<Kind, f64>,
    are_known: bool,
}

impl Times {
    /// The time of an answer before anything is known of the player. Chosen by ear.
    const USUAL: f64 = 8.0;
    /// Time between an answer and the next question: reading one and the other. Chosen by ear.
    const BETWEEN: f64 = 4.0;
    /// The extra time of an untouched item, for learning its phrase. Chosen by ear.
    const LEARNING: f64 = 10.0;

    fn of(history: Option<&History>) -> Result<Times, Failure> {
        let mut times = Times {
            usual: BTreeMap::new(),
            are_known: false,
        };
        let Some(history) = history else {
            return Ok(times);
        };
        let of_all = history.usual_seconds_of_all()?;
        times.are_known = of_all.is_some();
        let usual = history.usual_seconds()?;
        for kind in Kind::ASKED {
            let usual = usual.get(&kind).copied().or(of_all);
            times.usual.insert(kind, usual.unwrap_or(Times::USUAL));
        }
        Ok(times)
    }

    fn of_item(&self, item: &Item) -> f64 {
        self.usual.get(&item.kind).copied().unwrap_or(Times::USUAL) + Times::BETWEEN
    }
}

/// The material of the day's plan.
struct Gathered {
    tunes: Vec<PlannedTune>,
    /// Titles of tunes practised that are not in the set, with how much fades in each.
    others: Vec<(String, usize)>,
}

/// Opens the tunes of the set, or all of the history; a tune that is gone or has changed is left out with a note.
fn gather(
    history: Option<&History>,
    set: Option<&PracticeSet>,
    now: Moment,
    times: &Times,
    request: &TodayRequest,
    streams: &mut Streams,
) -> Result<Gathered, Failure> {
    let practised = match history {
        Some(history) => history.remembered_tunes()?,
        None => Vec::new(),
    };
    let model = match history {
        Some(history) => history.model()?,
        None => MemoryModel::default(),
    };
    let mut opened: Vec<PracticeTune> = Vec::new();
    let mut left_out = LeftOut::default();
    for tune in set.map_or(&[][..], |set| &set.tunes) {
        let part = PartRequest {
            as_fingered: true,
            ..PartRequest::default()
        };
        let opening = PracticeTune::open(&tune.request, &part, streams);
        match opening {
            Ok(tune) => opened.push(tune),
            Err(failure) => left_out.cannot_be_opened(&tune.title, &failure),
        }
    }
    let mut others: Vec<(String, usize)> = Vec::new();
    let mut known: Vec<Known> = vec![Known::default(); opened.len()];
    // A session has one instrument for each tune: the one it was last practised on.
    let mut to_open: Vec<Vec<RememberedTune>> = Vec::new();
    let mut place_of: HashMap<TuneId, usize> = HashMap::new();
    for practised in practised {
        let id = practised.entry.id;
        if let Some(index) = opened.iter().position(|tune| tune.entry.id == id) {
            if let (Some(history), true) = (history, known[index].is_empty()) {
                let memories = practised.memories.into_iter().collect();
                known[index] = Known::with(history, practised.known_as, memories)?;
            }
        } else if set.is_some() {
            let fades = |(_, memory): &&(Item, Memory)| {
                stands(&model, Some(memory), now) == Standing::Fades
            };
            let count = practised.memories.iter().filter(fades).count();
            others.push((practised.entry.title, count));
        } else {
            let place = *place_of.entry(id).or_insert(to_open.len());
            match to_open.get_mut(place) {
                Some(instruments) => instruments.push(practised),
                None => to_open.push(vec![practised]),
            }
        }
    }
    for (tune, known_as, memories) in reopened(to_open, &mut left_out, streams)? {
        opened.push(tune);
        if let Some(history) = history {
            known.push(Known::with(history, known_as, memories)?);
        }
    }
    left_out.say(streams)?;
    let by = set
        .and_then(|set| set.by)
        .map_or(now, |by| noon_of(by, now));
    let planned = opened
        .into_par_iter()
        .zip(&known)
        .map(|(tune, known)| planned(tune, known, &model, (now, by), times, request));
    Ok(Gathered {
        tunes: planned.collect(),
        others,
    })
}

fn stands(model: &MemoryModel, memory: Option<&Memory>, now: Moment) -> Standing {
    model.standing(memory, now, SessionAim::default().retention)
}

/// The moment of the day on which the set is played.
pub fn noon_of(by: Date, now: Moment) -> Moment {
    let days = (day_number(by) - now.day).max(0);
    Moment {
        seconds: now.seconds + i64::from(days) * 86_400,
        day: now.day + days,
    }
}

/// A tune that was opened, its number in the history, and what is remembered of its items.
type Reopened = (PracticeTune, TuneOnInstrumentId, BTreeMap<Item, Memory>);

/// Opens tunes on all cores, each on the first of its instruments on which it can be opened; one that can be opened on none
/// is left out.
fn reopened(
    tunes: Vec<Vec<RememberedTune>>,
    left_out: &mut LeftOut,
    streams: &mut Streams,
) -> Result<Vec<Reopened>, Failure> {
    let settings = streams.settings.clone();
    let open = |instruments: Vec<RememberedTune>| {
        let mut said = Vec::new();
        let mut quiet = Streams::captured(io::empty(), io::sink(), &mut said);
        quiet.settings.clone_from(&settings);
        let mut opened: Option<Result<Reopened, (String, Absence)>> = None;
        for tune in instruments {
            let entry = tune.entry;
            let absence = match PracticeTune::reopen(&entry, &mut quiet) {
                Ok(practice) if practice.entry.id == entry.id => {
                    let memories = tune.memories.into_iter().collect();
                    opened = Some(Ok((practice, tune.known_as, memories)));
                    break;
                }
                Ok(_) => Absence::Changed,
                Err(failure) => Absence::CannotBeOpened(failure.to_string()),
            };
            opened.get_or_insert(Err((entry.title, absence)));
        }
        drop(quiet);
        (opened, said)
    };
    let all: Vec<_> = tunes.into_par_iter().map(open).collect();
    let mut opened = Vec::new();
    for (tune, said) in all {
        streams.stderr.write_all(&said)?;
        match tune {
            Some(Ok(tune)) => opened.push(tune),
            Some(Err(absent)) => left_out.push(absent),
            None => {}
        }
    }
    Ok(opened)
}

/// The needs of a tune: its fading and untouched items, and how far it is from ready on the day it is played.
fn planned(
    mut tune: PracticeTune,
    known: &Known,
    model: &MemoryModel,
    (now, by): (Moment, Moment),
    times: &Times,
    request: &TodayRequest,
) -> PlannedTune {
    // Items at placements that are no longer practised fade like the rest.
    let met = known.memories.keys().filter_map(|item| item.placement);
    tune.material.add_placements(met);
    let items = Item::all(&tune.material, tune.entry.id, &request.session.kinds);
    let retention = SessionAim::default().retention;
    let mut fading = Vec::new();
    let mut untouched = Vec::new();
    let readiness = Readiness::of(&tune.material, &items, known, model, by);
    let to_play = readiness.to_play();
    let held = known.tempos.get(&to_play.phrase).copied();
    let known = &known.memories;
    let met: HashSet<(u32, Kind)> = known.keys().map(|it| (it.phrase, it.kind)).collect();
    let is_whole = tune.material.is_fingered();
    let mut waiting: Vec<(u32, Kind)> = Vec::new();
    let untouched_in_all = items
        .iter()
        .filter(|item| !known.contains_key(item))
        .count();
    for item in &items {
        let memory = known.get(item).copied();
        match stands(model, memory.as_ref(), now) {
            Standing::Holds => {}
            Standing::Fades => fading.push((*item, memory)),
            // A phrase is met at its first placement; the others wait until it has been answered there. Along a fingering they
            // are parts of it, and it is met whole.
            Standing::Untouched if is_whole || met.contains(&(item.phrase, item.kind)) => {
                untouched.push((*item, None))
            }
            Standing::Untouched if waiting.contains(&(item.phrase, item.kind)) => {}
            Standing::Untouched => {
                waiting.push((item.phrase, item.kind));
                untouched.push((*item, None));
            }
        }
    }
    // Items that began to fade last gain most; long faded ones are as good as untouched and can wait.
    fading.sort_by_cached_key(|(_, memory)| {
        std::cmp::Reverse(memory.map(|memory| model.fades_at(&memory, retention)))
    });
    let seconds = |item: &(Item, Option<Memory>)| times.of_item(&item.0);
    let played = known.iter().filter(|(item, _)| item.kind == Kind::Play);
    let fades =
        |(_, memory): &(&Item, &Memory)| stands(model, Some(memory), now) == Standing::Fades;
    let again = played.clone().filter(fades).map(|(item, _)| item);
    let again = played_again(&tune.material, again);
    PlannedTune {
        need: Need {
            fading: fading.iter().map(seconds).collect(),
            untouched: untouched
                .iter()
                .map(|it| seconds(it) + Times::LEARNING)
                .collect(),
            distance: 1.0 - readiness.ready(),
        },
        again,
        is_heard: played.count() > 0,
        to_play: to_play.phrase,
        held,
        untouched_in_all,
        tune,
        fading,
        untouched,
    }
}

/// Phrases that fade in the hands, those that follow each other at one placement together.
fn played_again<'a>(
    material: &PracticeMaterial,
    fading: impl Iterator<Item = &'a Item>,
) -> Vec<PlayedAgain> {
    let count = material.phrases().len() as u32;
    let mut spots: Vec<(PlacementKey, u32)> = fading
        .filter(|item| item.phrase < count)
        .filter_map(|item| Some((item.placement?, item.phrase)))
        .collect();
    spots.sort_unstable();
    let runs = spots.chunk_by(|one, other| one.0 == other.0 && one.1 + 1 == other.1);
    runs.map(|run| {
        let (first, last) = (run[0].1, run[run.len() - 1].1);
        PlayedAgain {
            phrases: first..=last,
            at: run[0].0,
            seconds: seconds_of(material, first, last),
        }
    })
    .collect()
}

/// How long phrases take at the tune's own tempo, in seconds.
fn seconds_of(material: &PracticeMaterial, first: u32, last: u32) -> f64 {
    let phrases = material.phrases();
    let notes = material.melody().notes();
    let (Some(first), Some(last)) = (phrases.get(first as usize), phrases.get(last as usize))
    else {
        return 0.0;
    };
    let (from, to) = (&notes[first.start], &notes[last.end - 1]);
    let tempo = material.melody().first_tempo();
    tempo.seconds(to.onset + to.duration - from.onset)
}

/// Where a ladder begins: a little below the tempo that is held, and slowly where none is. Chosen by ear.
fn lowest_rung(held: u16) -> u16 {
    const SLOWEST: u16 = 60;
    const FASTEST: u16 = 95;
    const BELOW: u16 = 10;
    held.saturating_sub(BELOW).clamp(SLOWEST, FASTEST)
}

impl PlannedTune {
    /// How often something is played before it is right. Chosen by ear.
    const PASSES: u32 = 3;

    /// What is played again within some minutes, and how many of them each takes.
    fn again_in(&self, minutes: u32) -> Vec<(&PlayedAgain, u32)> {
        let mut left = minutes;
        let mut fitting = Vec::new();
        for again in &self.again {
            let needed = (f64::from(PlannedTune::PASSES) * again.seconds / 60.0)
                .ceil()
                .max(1.0) as u32;
            // What takes longer than there is time is begun.
            let minutes = needed.min(left);
            if minutes > 0 {
                left -= minutes;
                fitting.push((again, minutes));
            }
        }
        fitting
    }
}

/// The plan, to be printed.
struct Plan<'a> {
    tunes: &'a [PlannedTune],
    shares: &'a [Share],
    // Tunes practised that are not in the set, with how much of each fades.
    others: Vec<(String, usize)>,
    set: Option<&'a PracticeSet>,
    are_times_known: bool,
    minutes: u32,
    left_handed: bool,
}

/// `  16 min  Oars in Three: play bars 1-4`, in as many lines as it takes.
fn with_minutes(minutes: u32, what: &str, width: usize) -> Vec<String> {
    const INDENT: usize = 10;
    let minutes = match minutes {
        0 => "< 1".to_string(),
        minutes => minutes.to_string(),
    };
    let mut head = format!("{minutes:>4} min  ");
    let mut lines = Vec::new();
    for line in wrap(what, width.saturating_sub(INDENT)) {
        lines.push(format!("{head}{line}"));
        head = " ".repeat(INDENT);
    }
    lines
}

impl Plan<'_> {
    fn say(&mut self, today: i32, streams: &mut Streams) -> Result<(), Failure> {
        let width = streams.width;
        let out = &mut streams.stdout;
        match self.set {
            Some(set) => writeln!(out, "{}{}", set.name, set::when(set, today))?,
            None => writeln!(out, "all tunes practised")?,
        }
        for (planned, share) in self.tunes.iter().zip(self.shares) {
            let title = title_or_untitled(&planned.tune.entry.title);
            if share.fading + share.untouched > 0 {
                let (fading, untouched) = (share.fading, share.untouched);
                let what = format!("{title}: {fading} to play again, {untouched} untouched");
                for line in with_minutes(share.knowing, &what, width) {
                    writeln!(out, "{line}")?;
                }
            }
        }
        for line in self.to_play(width) {
            writeln!(out, "{line}")?;
        }
        writeln!(out, "{:>4} min  in all", self.minutes)?;
        for line in wrap(&self.left_out(), width) {
            writeln!(out, "{line}")?;
        }
        if !self.are_times_known {
            writeln!(out, "times are guesses until you have answered more")?;
        }
        writeln!(out)?;
        Ok(())
    }

    /// What to play: for each tune what was heard and fades in the hands, then the bars held at the slowest tempo, with the
    /// command that climbs from a little below it.
    fn to_play(&self, width: usize) -> Vec<String> {
        let mut lines = Vec::new();
        for (planned, share) in self.tunes.iter().zip(self.shares) {
            for (again, minutes) in planned.again_in(share.playing) {
                lines.extend(self.play_again(planned, again, minutes, width));
            }
            lines.extend(self.climb(planned, share, width));
        }
        lines
    }

    /// What to play when the rest has been heard.
    fn to_climb(&self, width: usize) -> Vec<String> {
        let tunes = self.tunes.iter().zip(self.shares);
        let lines = tunes.flat_map(|(planned, share)| self.climb(planned, share, width));
        lines.collect()
    }

    /// How to listen to what was heard and fades in the hands.
    fn to_hear(&self, request: &TodayRequest) -> Vec<ListenRequest> {
        let mut requests = Vec::new();
        for (planned, share) in self.tunes.iter().zip(self.shares) {
            let material = &planned.tune.material;
            for (again, _) in planned.again_in(share.playing) {
                let bars = phrases_in_words(material, again.phrases.clone());
                let bars = bars.split_once(' ').and_then(|(_, bars)| bars.parse().ok());
                let (Some(tune), Some(bars)) = (&planned.tune.entry.request, bars) else {
                    continue;
                };
                requests.push(ListenRequest::live(
                    TuneOnInstrument {
                        tune: TuneRequest {
                            bars: Some(bars),
                            ..tune.tune.clone()
                        },
                        instrument: InstrumentRequest {
                            left_handed: request.left_handed,
                            ..tune.instrument.clone()
                        },
                    },
                    // A fingering of their own shows where the hand stands.
                    Some(again.at.position).filter(|_| !material.is_fingered()),
                    LiveRequest {
                        passes: 1,
                        loops: Some(PlannedTune::PASSES),
                        plain: request.session.plain,
                        no_history: request.session.no_history,
                        now: request.session.now,
                        folder: request.folder.clone(),
                        ..LiveRequest::default()
                    },
                ));
            }
        }
        requests
    }

    /// What was heard once and is to be heard again.
    fn play_again(
        &self,
        planned: &PlannedTune,
        again: &PlayedAgain,
        minutes: u32,
        width: usize,
    ) -> Vec<String> {
        let material = &planned.tune.material;
        let bars = phrases_in_words(material, again.phrases.clone());
        let title = title_or_untitled(&planned.tune.entry.title);
        let place = again.at.in_words();
        let what = format!("{title}: play {bars} in {place} again, for the microphone");
        let mut lines = with_minutes(minutes, &what, width);
        let mut words = self.command("listen", planned, &bars);
        // A fingering of their own shows where the hand stands.
        if !material.is_fingered() {
            words.push(format!("--position={}", again.at.position));
        }
        lines.extend(shell_lines(&words, width, 10));
        lines
    }

    /// What to climb a ladder with.
    fn climb(&self, planned: &PlannedTune, share: &Share, width: usize) -> Vec<String> {
        let again = planned.again_in(share.playing);
        let minutes = share.playing - again.iter().map(|(_, minutes)| minutes).sum::<u32>();
        if minutes == 0 {
            return Vec::new();
        }
        let material = &planned.tune.material;
        let bars = bars_in_words(material, planned.to_play);
        let first = material.placements().first();
        let place = first.map(|it| placement_in_words(material, planned.to_play, *it));
        let place = place.map_or(String::new(), |place| format!(" in {place}"));
        let title = title_or_untitled(&planned.tune.entry.title);
        let held = match planned.held {
            None => "not played yet".to_string(),
            Some(0) => "not held yet".to_string(),
            Some(held) => format!("held at {held}%"),
        };
        let what = format!("{title}: play {bars}{place}, {held}");
        let mut lines = with_minutes(minutes, &what, width);
        // Who has let the program listen once need not judge the passes.
        let command = if planned.is_heard { "listen" } else { "play" };
        let mut words = self.command(command, planned, &bars);
        words.push(format!(
            "--ladder={}-100%",
            lowest_rung(planned.held.unwrap_or(0))
        ));
        lines.extend(shell_lines(&words, width, 10));
        lines
    }

    /// A command for some bars of a tune.
    fn command(&self, command: &str, planned: &PlannedTune, bars: &str) -> Vec<String> {
        let mut words: Vec<String> = ["neckline", command].map(String::from).to_vec();
        words.extend(planned.tune.entry.as_typed());
        if self.left_handed {
            words.push("--left-handed".into());
        }
        if let Some((_, bars)) = bars.split_once(' ') {
            words.push(format!("--bars={bars}"));
        }
        words
    }

    fn left_out(&self) -> String {
        let pairs = || self.tunes.iter().zip(self.shares);
        let fading: usize = pairs()
            .map(|(it, share)| it.fading.len() - share.fading)
            .sum();
        let untouched: usize = pairs()
            .map(|(it, share)| it.untouched_in_all - share.untouched)
            .sum();
        let mut words = format!("left out: {fading} to play again, {untouched} untouched");
        let in_hand: usize = pairs()
            .map(|(it, share)| it.again.len() - it.again_in(share.playing).len())
            .sum();
        if in_hand > 0 {
            words.push_str(&format!(", {in_hand} to play for the microphone"));
        }
        for (title, count) in self.others.iter().filter(|(_, count)| *count > 0) {
            let title = title_or_untitled(title);
            words.push_str(&format!("; not in the set: {title}, {count} to play again"));
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_is_wrapped_beside_its_minutes() {
        let what = "Oars in Three: play bars 1-4 in position VII, not played yet";
        assert_eq!(
            with_minutes(6, what, 60),
            [
                "   6 min  Oars in Three: play bars 1-4 in position VII, not",
                "          played yet",
            ]
        );
        assert_eq!(
            with_minutes(0, "Pedalo Blues", 60),
            [" < 1 min  Pedalo Blues"]
        );
    }
}
