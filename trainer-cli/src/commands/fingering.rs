//! `neckline fingering`: the best way along the neck.

mod fingering_editor;
mod fingering_json;
mod fingering_page;
mod tempo;

use std::io::Write;
use std::ops::{Range, RangeInclusive};

use fretlib::fingering::{
    BarsHome, Constraints, Fingering, FingeringSearch, Home, KeptFingering, NoFingering, Objective,
    Pin, Player, Region, Shift, TimedMelody,
};
use fretlib::format::fingering_ron::MOST_NOTES;
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::Tempo;
use fretlib::neck::{Hand, Instrument, Place, Position, PositionSet, StringNumber};
use fretlib::theory::Octave;

pub use fingering_editor::{Decisions, FingeringEditor, PlaceChoice};

use crate::failure::Failure;
use crate::input::own_fingering::OwnFingering;
use crate::input::tune::Tune;
use crate::kept_file::KeptFile;
use crate::report::heading::title_or_untitled;
use crate::report::json::write_json;
use crate::request::{AskedTempo, HandRequest, InstrumentRequest, TuneRequest, asked_tempo};
use crate::screen::{self, TuneHead};
use crate::terminal::{Streams, colour};

/// What to find, and how.
#[derive(Debug)]
pub struct FingeringRequest {
    /// The octave to play in, such as +1.
    pub octave: Option<Octave>,
    /// Quarter notes a minute.
    pub tempo: Option<AskedTempo>,
    /// Only these positions, such as 5-9 or V,X.
    pub positions: Option<PositionSet>,
    /// Only these strings, such as 1-3.
    pub strings: Option<RangeInclusive<u8>>,
    /// One string alone.
    pub string: Option<u8>,
    /// The position to start in.
    pub start: Option<Position>,
    /// The position to end in.
    pub end: Option<Position>,
    /// No open strings.
    pub no_open: bool,
    /// How many times the hand may move at most.
    pub max_shifts: Option<u8>,
    /// Notes to play at a place, by index.
    pub pin: Vec<(usize, Pin)>,
    /// Where the hand is at home.
    pub home: Vec<BarsHome>,
    /// Find it anew, whatever is kept with the tune.
    pub anew: bool,
    /// Keep the best one with the tune.
    pub save: bool,
    /// Pin notes on a full screen.
    pub edit: bool,
    /// Show this many fingerings that differ in where the notes lie.
    pub best: u8,
    /// Make the hardest single moment as easy as it can be, then the whole.
    pub ease_hardest: bool,
    /// Show what makes each bar hard.
    pub why: bool,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// Whose hand.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// A fingering and the search that found it.
struct Found {
    fingering: Fingering,
    /// Its region, when it is one of several.
    region: Option<Region>,
    homes: Vec<(Range<usize>, Home)>,
}

impl Found {
    /// The region to name: the one it was searched in, if that is where it lies. A pin, a start, a few positions or high notes may
    /// keep it elsewhere.
    fn region_it_lies_in(&self) -> Option<Region> {
        let mut positions: Vec<u8> = (self.fingering.notes.iter())
            .map(|note| note.position.get())
            .collect();
        positions.sort_unstable();
        let middle = *positions.get(positions.len() / 2)?;
        let is_open = self.fingering.notes.iter().any(|it| it.finger.is_none());
        self.region.filter(|region| match region {
            // Named for its open strings.
            Region::Low => middle <= 3 && is_open,
            Region::Second => middle <= 4,
            Region::Middle => (3..=7).contains(&middle),
            Region::High => middle >= 5,
        })
    }
}

/// A tune and the fingerings found for it.
struct FingeredTune {
    tune: Tune,
    instrument: Instrument,
    hand: Hand,
    octave: Octave,
    /// The tempo: the one requested, or the tune's own.
    asked_tempo: Option<Tempo>,
    line: TimedMelody,
    constraints: Constraints,
    found: Vec<Found>,
    /// The file the fingering was kept in, when nothing else was asked for.
    kept_in: Option<String>,
    /// The best fingering at the tune's own tempo, when another was requested.
    at_own_tempo: Option<(TimedMelody, Found)>,
}

impl FingeredTune {
    /// The prefix of a shift's line: bar, note, from, to.
    fn moment(&self, shift: &Shift) -> String {
        let note = self.tune.melody.notes()[shift.index];
        let bar = self.tune.melody.bar_at(note.onset).number;
        format!(
            "  bar {bar:<3} note {:<4} {:<13}",
            shift.index + 1,
            format!("{} to {}", shift.from, shift.to)
        )
    }

    fn tempo(&self) -> Tempo {
        self.asked_tempo.unwrap_or(self.tune.melody.first_tempo())
    }

    fn player(&self) -> Player<'_> {
        Player {
            instrument: &self.instrument,
            hand: self.hand,
        }
    }

    /// A search with the same costs as the one that found this.
    fn search(&self, found: &Found) -> FingeringSearch<'_> {
        FingeringSearch {
            constraints: self.constraints.clone(),
            homes: found.homes.clone(),
            ..FingeringSearch::new(self.player())
        }
    }
}

impl FingeringRequest {
    /// Whether something is asked that a kept fingering does not answer.
    fn asks_anew(&self) -> bool {
        self.tempo.is_some()
            || self.positions.is_some()
            || self.strings.is_some()
            || self.string.is_some()
            || self.start.is_some()
            || self.end.is_some()
            || self.no_open
            || self.max_shifts.is_some()
            || !self.pin.is_empty()
            || !self.home.is_empty()
            || self.best > 1
            || self.ease_hardest
    }

    /// Whether a search is bound by what was kept: by pins, a home or constraints.
    fn is_held_by(&self, own: &OwnFingering) -> bool {
        let kept = &own.file.kept;
        let homes_hold = self.home.is_empty() && !kept.homes.is_empty();
        homes_hold || !own.pins.is_empty() || kept.constraints() != Constraints::default()
    }

    /// The fingering kept with the tune, unless all is to be found anew or at another octave.
    fn own(
        &self,
        tune: &Tune,
        player: Player,
        streams: &mut Streams,
    ) -> Result<Option<OwnFingering>, Failure> {
        if self.anew {
            return Ok(None);
        }
        let own = self.tune.own_fingering(tune, player, streams)?;
        Ok(own.filter(|own| self.octave.is_none_or(|octave| octave == own.octave())))
    }

    /// The file to keep the fingering in; `None` for a tune on standard input.
    ///
    /// What is kept there for another octave or instrument is not written over unless the player begins anew.
    fn file(
        &self,
        own: Option<&OwnFingering>,
        streams: &Streams,
    ) -> Result<Option<KeptFile<KeptFingering>>, Failure> {
        if let Some(own) = own {
            return Ok(Some(own.file.clone()));
        }
        let file: Option<KeptFile<KeptFingering>> =
            KeptFile::beside(&self.tune, streams.settings_folder())?;
        match file {
            Some(file) if !self.anew && !file.kept.notes.is_empty() => Err(Failure::could_not(
                format!(
                    "`{}` is for another octave or instrument; nothing was written",
                    file.path().display()
                ),
                "`--anew` begins a new one in its place; copy the file first if you want to keep it",
            )),
            file => Ok(file),
        }
    }
}

/// Prints the page or the JSON.
pub fn run(request: &FingeringRequest, streams: &mut Streams) -> Result<(), Failure> {
    refuse_to_keep_a_part(request)?;
    let instrument = request.instrument.open()?;
    let tune = request.tune.open(streams)?;
    let hand = request.hand.open(streams)?;
    let player = Player {
        instrument: &instrument,
        hand,
    };
    let own = request.own(&tune, player, streams)?;
    if let Some(own) = &own
        && request.asks_anew()
        && request.is_held_by(own)
    {
        writeln!(
            streams.stderr,
            "note: what you asked for in `{}` holds here too; `--anew` leaves it out",
            own.file.path().display()
        )?;
    }
    let open_strings = request.hand.open_strings(streams)?;
    let along_the_neck = open_strings.unwrap_or(OpenStrings::Anywhere);
    let constraints = constraints(request, &tune, &instrument, own.as_ref(), along_the_neck)?;
    let octave = match (request.octave, &own) {
        (Some(octave), _) => octave,
        (None, Some(own)) => own.octave(),
        (None, None) => NeckMap::new(&tune.melody, &instrument, open_strings.unwrap_or_default())
            .preferring(request.hand.preference(streams)?)
            .best()
            .map_or(Octave::WRITTEN, |best| best.octave),
    };
    let line = |tempo| {
        TimedMelody::new(&tune.melody, octave, tempo).ok_or_else(|| {
            Failure::could_not(
                format!("at octave {octave} the tune leaves the range of pitches"),
                "take an octave nearer to the written one",
            )
        })
    };
    let bars_homes = match &own {
        Some(own) if request.home.is_empty() => &own.file.kept.homes,
        _ => &request.home,
    };
    let search = FingeringSearch {
        constraints,
        objective: if request.ease_hardest {
            Objective::MinimizeMax
        } else {
            Objective::MinimizeSum
        },
        count: request.best.into(),
        homes: match request.home.is_empty() {
            true => own
                .as_ref()
                .map_or(Vec::new(), |own| own.file.kept.homes_in(&tune.melody)),
            false => homes(request, &tune)?,
        },
        ..FingeringSearch::new(player)
    };
    let run = |line: &TimedMelody, count| {
        find(
            &FingeringSearch {
                count,
                ..search.clone()
            },
            line,
        )
        .map_err(|stuck| could_not(&stuck, &tune, &instrument, (line, octave)))
    };
    let asked_tempo = asked_tempo(request.tempo, &tune.melody)?;
    let asked = line(asked_tempo)?;
    refuse_wrong_pins(request, &asked, &instrument)?;
    let as_kept = own.as_ref().filter(|_| !request.asks_anew());
    let found = match as_kept {
        Some(own) => vec![Found {
            fingering: own.fingering.clone(),
            region: None,
            homes: search.homes.clone(),
        }],
        None => run(&asked, search.count)?,
    };
    if request.edit {
        let begun = Decisions {
            pins: search.constraints.pins.clone(),
            homes: bars_homes.clone(),
        };
        let file = request.file(own.as_ref(), streams)?;
        let begun = (begun, found[0].fingering.clone());
        return edit(request, &search, &tune, octave, begun, file, streams);
    }
    if request.save {
        let kept = KeptFingering {
            octave: Some(octave),
            homes: bars_homes.clone(),
            ..KeptFingering::of(&tune.melody, &found[0].fingering, &search.constraints.pins)
                .asked_by(&search.constraints)
        };
        let file = request.file(own.as_ref(), streams)?;
        save(file, kept, title_or_untitled(tune.melody.title()), streams)?;
    }
    let at_own_tempo = match asked_tempo {
        Some(_) => {
            let own = line(None)?;
            run(&own, 1)?.pop().map(|best| (own, best))
        }
        None => None,
    };
    let fingered = FingeredTune {
        constraints: search.constraints.clone(),
        hand,
        instrument: instrument.clone(),
        octave,
        asked_tempo,
        line: asked,
        found,
        kept_in: as_kept.map(|own| own.file.path().display().to_string()),
        at_own_tempo,
        tune,
    };
    if request.json {
        return write_json(
            streams,
            &fingering_json::FingeringDocument::new(&fingered.found),
        );
    }
    let page = fingering_page::FingeringPage {
        fingered: &fingered,
        why: request.why,
        ascii: streams.ascii,
        width: streams.width,
        is_terminal: streams.stdout_is_terminal,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

/// What is kept belongs to the tune in its file: the whole of it, in its key.
fn refuse_to_keep_a_part(request: &FingeringRequest) -> Result<(), Failure> {
    let keeps = request.save || request.edit;
    if keeps && request.tune.bars.is_some() {
        return Err(Failure::usage(
            "a fingering is kept of the whole tune",
            "leave `--bars` out; `--home V@5-8` and `--pin` say what some bars are to be like",
        ));
    }
    if keeps && request.tune.is_moved() {
        return Err(Failure::usage(
            "a fingering is kept of the tune in its own key",
            "write the tune in the other key first, as in `neckline convert tune.abc tune-in-g.abc --to-key G`",
        ));
    }
    Ok(())
}

/// Lets the player pin notes on a full screen.
fn edit(
    request: &FingeringRequest,
    search: &FingeringSearch,
    tune: &Tune,
    octave: Octave,
    begun: (Decisions, Fingering),
    mut file: Option<KeptFile<KeptFingering>>,
    streams: &mut Streams,
) -> Result<(), Failure> {
    if !streams.stdin_is_terminal || !streams.stdout_is_terminal {
        return Err(Failure::usage(
            "pinning on a full screen needs a terminal",
            "without one, `--pin 12=3/7 --save` pins a note and keeps it",
        ));
    }
    streams.stdout.flush()?;
    streams.stderr.flush()?;
    let is_new = !file.as_ref().is_some_and(KeptFile::is_there);
    let editor = FingeringEditor::new(search.clone(), &tune.melody, octave, begun, is_new);
    let Some(mut editor) = editor else {
        return Ok(());
    };
    let look = screen::Look {
        color: streams.color,
        ascii: streams.ascii,
        left_handed: request.instrument.left_handed,
    };
    let head = TuneHead {
        title: tune.melody.title().to_owned(),
        facts: format!("{}, {}", tune.key, search.player.instrument.name()),
        instrument: search.player.instrument.clone(),
    };
    let title = title_or_untitled(tune.melody.title());
    let mut is_told = false;
    let mut keep = file.as_mut().map(|file| {
        |editor: &FingeringEditor| {
            if file.has_changed()? {
                // The decisions made here would be lost if it could not be written at all.
                if !std::mem::replace(&mut is_told, true) {
                    return Err(Failure::could_not(
                        "the file was changed meanwhile; s again writes over it",
                        "look at it first, or leave without saving",
                    ));
                }
                file.read_again()?;
            }
            is_told = false;
            file.kept = editor.kept().asked_by(&search.constraints);
            file.save(title)?;
            Ok(format!("saved in {}", file.path().display()))
        }
    });
    let save = keep.as_mut().map(|keep| keep as screen::KeepFingering);
    screen::pin_down(&mut editor, head, look, save)
}

/// Writes the file beside the tune.
fn save(
    file: Option<KeptFile<KeptFingering>>,
    kept: KeptFingering,
    title: &str,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let Some(mut file) = file else {
        return Err(Failure::usage(
            "this tune lies in no file, so there is no place beside it for the fingering",
            "write the tune to a file first",
        ));
    };
    if kept.notes.len() > MOST_NOTES {
        return Err(Failure::could_not(
            format!("no more than {MOST_NOTES} notes are kept"),
            "keep the fingering of a shorter tune",
        ));
    }
    file.kept = kept;
    file.save(title)?;
    writeln!(
        streams.stderr,
        "note: the fingering is kept in `{}`",
        file.path().display()
    )?;
    Ok(())
}

/// The best fingerings: one in each region unless the player set a home, then the next cheapest. A single one lies in the
/// usual region of the melody.
fn find(search: &FingeringSearch, line: &TimedMelody) -> Result<Vec<Found>, NoFingering> {
    let mut found: Vec<Found> = Vec::new();
    if search.homes.is_empty() && search.count > 1 {
        let regions = search.run_in_regions(line)?.into_iter();
        found.extend(regions.map(|(region, fingering)| Found {
            fingering,
            region: Some(region),
            homes: search.in_region(region, line).homes,
        }));
    }
    if search.count == 1 && search.objective == Objective::MinimizeSum {
        let (usual, region) = search.in_usual_region(line);
        found.push(Found {
            fingering: usual.run_with_few_shifts(line)?,
            region: (region != Region::Low).then_some(region),
            homes: usual.homes,
        });
    }
    if found.len() < search.count {
        for fingering in search.run(line)? {
            if found.len() < search.count
                && !found
                    .iter()
                    .any(|it| it.fingering.has_places_of(&fingering))
            {
                found.push(Found {
                    fingering,
                    region: None,
                    homes: search.homes.clone(),
                });
            }
        }
    }
    Ok(found)
}

/// The homes asked for, by notes.
fn homes(request: &FingeringRequest, tune: &Tune) -> Result<Vec<(Range<usize>, Home)>, Failure> {
    let home = |it: &BarsHome| {
        let range = it.notes(&tune.melody).ok_or_else(|| {
            Failure::usage(
                format!("the tune has no notes in the bars that `--home {it}` names"),
                "give bars of the tune, such as `--home V@1-8`",
            )
        })?;
        Ok((range, Home::at(it.position)))
    };
    request.home.iter().map(home).collect()
}

fn constraints(
    request: &FingeringRequest,
    tune: &Tune,
    instrument: &Instrument,
    own: Option<&OwnFingering>,
    open_strings: OpenStrings,
) -> Result<Constraints, Failure> {
    let notes = tune.melody.notes().len();
    let count = instrument.strings().len() as u8;
    let strings = request.string.map(|it| it..=it).or(request.strings.clone());
    if let Some(strings) = &strings
        && *strings.end() > count
    {
        return Err(Failure::usage(
            format!("there is no string {}", strings.end()),
            format!("the {} has strings 1 to {count}", instrument.name()),
        ));
    }
    for (index, Pin { place, .. }) in &request.pin {
        if *index >= notes {
            return Err(Failure::usage(
                format!("there is no note {} to pin", index + 1),
                format!("the tune has notes 1 to {notes}"),
            ));
        }
        if instrument.midi_at(*place).is_none() {
            return Err(Failure::usage(
                format!(
                    "string {}, fret {} is not on the {}",
                    place.string,
                    place.fret,
                    instrument.name()
                ),
                format!(
                    "it has strings 1 to {count} and frets 0 to {}",
                    instrument.highest_fret()
                ),
            ));
        }
    }
    let kept = own
        .map(|own| own.file.kept.constraints())
        .unwrap_or_default();
    let mut pins = own.map(|own| own.pins.clone()).unwrap_or_default();
    pins.extend(request.pin.iter().copied());
    Ok(Constraints {
        positions: request.positions.or(kept.positions),
        strings: strings
            .map(|range| {
                range
                    .filter_map(|number| StringNumber::new(number).ok())
                    .collect()
            })
            .or(kept.strings),
        start: request.start.or(kept.start),
        end: request.end.or(kept.end),
        open_strings: match (request.no_open, own) {
            (true, _) => OpenStrings::Nowhere,
            (false, Some(_)) => kept.open_strings,
            (false, None) => open_strings,
        },
        max_shifts: request.max_shifts.or(kept.max_shifts),
        pins,
    })
}

/// Each pin is at a place where its note lies, and each note is pinned once.
fn refuse_wrong_pins(
    request: &FingeringRequest,
    line: &TimedMelody,
    instrument: &Instrument,
) -> Result<(), Failure> {
    for (number, (index, pin)) in request.pin.iter().enumerate() {
        let place = &pin.place;
        let twice = request.pin[..number]
            .iter()
            .find(|(other, earlier)| other == index && earlier != pin);
        if let Some((_, other)) = twice {
            return Err(Failure::usage(
                format!(
                    "note {} is pinned twice, at {} and at {}",
                    index + 1,
                    pin_as_typed(other),
                    pin_as_typed(pin)
                ),
                "give each note one `--pin`",
            ));
        }
        let pitch = line.notes()[*index].pitch;
        if instrument.midi_at(*place) == Some(pitch.midi()) {
            continue;
        }
        let places: Vec<String> = instrument.places_for(pitch.midi()).map(as_typed).collect();
        return Err(Failure::usage(
            format!(
                "note {} is {pitch}, which does not lie at string {}, fret {}",
                index + 1,
                place.string,
                place.fret
            ),
            match places.is_empty() {
                true => format!("{pitch} lies nowhere on the {}", instrument.name()),
                false => format!("{pitch} lies at {}", places.join(", ")),
            },
        ));
    }
    Ok(())
}

/// A pin as it is typed, such as `3/7`, or with a finger `3/7/1`.
fn pin_as_typed(pin: &Pin) -> String {
    match pin.finger {
        Some(finger) => format!("{}/{finger}", as_typed(pin.place)),
        None => as_typed(pin.place),
    }
}

/// A place as `--pin` has it: string and fret, such as `3/7`.
fn as_typed(place: Place) -> String {
    format!("{}/{}", place.string, place.fret)
}

fn could_not(
    stuck: &NoFingering,
    tune: &Tune,
    instrument: &Instrument,
    (line, octave): (&TimedMelody, Octave),
) -> Failure {
    let note = tune.melody.notes()[stuck.index];
    let bar = tune.melody.bar_at(note.onset).number;
    let at = if octave == Octave::WRITTEN {
        String::new()
    } else {
        format!(" at octave {octave}")
    };
    let note = format!("note {} ({} in bar {bar}){at}", stuck.index + 1, note.pitch);
    let played = line.notes()[stuck.index].pitch.midi();
    if instrument.places_for(played).next().is_none() {
        return Failure::could_not(
            format!(
                "{note} is not on the {}, which has frets 0 to {}",
                instrument.name(),
                instrument.highest_fret()
            ),
            "try another `--octave` or instrument, or only some `--bars`; `neckline map` shows where the tune lies",
        );
    }
    let problem = format!("{note} cannot be played with these constraints");
    if stuck.relaxations.is_empty() {
        return Failure::could_not(
            problem,
            "several constraints conflict: relax more than one, or try another `--octave`, `--hand` or instrument",
        );
    }
    let relaxations: Vec<String> = stuck.relaxations.iter().map(ToString::to_string).collect();
    Failure::could_not(problem, relaxations.join(", or "))
}
