//! A tune made ready to be set on paper.

use std::collections::BTreeMap;

use fretlib::arranging::LowerChord;
use fretlib::fingering::{FingeredNote, Fingering, FingeringSearch, Player};
use fretlib::mapping::{NeckMap, OpenStrings, Placement, Preference};
use fretlib::melody::{AnalysedNote, Melody};
use fretlib::neck::{Hand, Instrument, Place, Position};
use fretlib::practice::{CAUTIONS, PlacementKey, PracticeMaterial};
use fretlib::sheet::{Excerpt, Exercises, Part, Sheet, TabPlace, TakeOnPaper, TuneOnNeck};
use fretlib::theory::Octave;

use super::SheetRequest;
use super::paper_exercises::{quiz_on_paper, warm_up_on_paper};
use crate::commands::arrange::ArrangedTune;
use crate::commands::listen::{JudgedTake, LEGEND};
use crate::failure::Failure;
use crate::input::own_fingering::OwnFingering;
use crate::input::tune::Tune;
use crate::report::count::count;
use crate::request::neck_map;

/// How many necks go on their page: those to practise first.
const NECKS: usize = 4;

/// The most bars on a sheet, some 150 pages, and the most notes, where there are no bars to speak of.
const MOST_BARS: usize = 2000;
const MOST_NOTES_ON_A_SHEET: usize = 20_000;

/// What a sheet needs to know of the player besides what was asked for.
#[derive(Clone, Debug)]
pub struct SheetPlayer {
    /// The hand.
    pub hand: Hand,
    /// Where the player wants open strings, when the settings say so.
    pub open_strings: Option<OpenStrings>,
    /// Which of two placements the player would rather have.
    pub preference: Preference,
    /// How likely each placement is to be played right now, where the history has a say.
    pub recalls: Option<BTreeMap<PlacementKey, f64>>,
}

/// Everything that goes on a sheet.
pub struct PreparedSheet {
    tune: Tune,
    instrument: Instrument,
    notes: Vec<AnalysedNote>,
    places: Vec<Option<TabPlace>>,
    under: Vec<LowerChord>,
    caption: String,
    necks: Vec<Placement>,
    grid: Vec<Placement>,
    order: Vec<usize>,
    warm_up: Vec<Excerpt>,
    quiz: Vec<Excerpt>,
    heard: Option<HeardOnPaper>,
}

/// What was heard of the player: a sign for each note, and sentences.
struct HeardOnPaper {
    signs: Vec<String>,
    sentences: Vec<String>,
}

impl PreparedSheet {
    /// A tune on an instrument, with the player's own fingering of it; returns what is to be remarked as well.
    pub fn new(
        tune: Tune,
        instrument: Instrument,
        own: Option<OwnFingering>,
        request: &SheetRequest,
        player: &SheetPlayer,
    ) -> Result<(PreparedSheet, Vec<String>), Failure> {
        refuse_endless(&tune.melody)?;
        let mut remarks = Vec::new();
        let map = neck_map(
            &tune,
            &instrument,
            player.open_strings.unwrap_or_default(),
            player.preference,
        )?;
        let best = request.placement.pick(&map, &instrument)?;
        let is_in_range = |it: &Placement| request.placement.is_in_range(it);
        let mut whole: Vec<&Placement> = map.whole().filter(|it| is_in_range(it)).collect();
        let needs_whole = |part: &Part| matches!(part, Part::Necks | Part::Grid);
        if whole.is_empty() && request.parts.iter().any(needs_whole) {
            remarks.push(
                "no position holds the whole melody, so there are no necks to draw; try `--bars` or `--transpose`"
                    .to_string(),
            );
        }
        if let Some(recalls) = &player.recalls {
            // No recall is above 1, so placements that were never asked sort last.
            let recall = |it: &Placement| recalls.get(&key_of(it)).copied().unwrap_or(2.0);
            whole.sort_by(|one, other| recall(one).total_cmp(&recall(other)));
        }
        // The tablature shows the position the player picked, else the one that needs work most, else the player's fingering.
        let weakest = whole.first().filter(|_| request.from_progress);
        let in_position = match (request.placement.position, weakest) {
            (Some(_), _) => Some(best),
            (None, Some(weakest)) => Some(*weakest),
            (None, None) => None,
        };
        let fretting = Player {
            instrument: &instrument,
            hand: player.hand,
        };
        let along = match in_position {
            Some(_) => None,
            None => match &own {
                Some(own) => Some(along("your fingering", own.octave(), &own.fingering)),
                None => {
                    let mut search = FingeringSearch::new(fretting);
                    search.constraints.positions = request.placement.positions;
                    if let Some(open_strings) = player.open_strings {
                        search.constraints.open_strings = open_strings;
                    }
                    let best_way = search.best(&tune.melody, best.octave);
                    best_way.map(|best_way| along("along the neck", best.octave, &best_way))
                }
            },
        };
        let (places, caption) = along.unwrap_or_else(|| {
            let placement = in_position.unwrap_or(best);
            in_one_position(placement, map.on_open_strings_beside(placement), &tune)
        });
        let necks = match request.from_progress {
            true => whole.iter().copied().take(NECKS).collect(),
            false => necks_to_practise(&map, best, is_in_range),
        };
        let (mut warm_up, mut quiz) = (Vec::new(), Vec::new());
        let exercises = [Part::WarmUp, Part::Quiz];
        if exercises.iter().any(|part| request.parts.contains(part)) {
            let material = material(&map, best, &tune, &instrument);
            if request.parts.contains(&Part::WarmUp) {
                warm_up = warm_up_on_paper(&material, fretting);
                if warm_up.is_empty() {
                    remarks.push(
                        "nothing of the tune lies within comfortable reach in one position, so there is no warm-up"
                            .to_string(),
                    );
                }
            }
            if request.parts.contains(&Part::Quiz) {
                quiz = quiz_on_paper(&material, request.seed);
            }
        }
        let prepared = PreparedSheet {
            notes: tune.melody.analyse(tune.key),
            order: order(request, &tune)?,
            necks: necks.into_iter().cloned().collect(),
            grid: whole.into_iter().cloned().collect(),
            places,
            under: Vec::new(),
            caption,
            warm_up,
            quiz,
            heard: None,
            tune,
            instrument,
        };
        Ok((prepared, remarks))
    }

    /// The same tune as it is arranged: its melody where the arrangement plays it, and what lies under it.
    #[must_use]
    pub fn arranged(mut self, arranged: ArrangedTune) -> PreparedSheet {
        let notes = arranged.arrangement.notes.iter();
        let places = notes.map(|note| {
            let position = note.position.and_then(|fret| Position::new(fret).ok());
            Some(TabPlace {
                place: note.melody.place,
                finger: note.melody.finger,
                position: position.unwrap_or(Position::FIRST),
            })
        });
        self.places = places.collect();
        self.under = arranged.arrangement.lower_voice(&arranged.melody);
        let octave = arranged.octave().in_words();
        self.caption = format!("arranged {octave}, fingers from the lowest note up");
        self.notes = arranged.melody.analyse(self.tune.key);
        self.tune.melody = arranged.melody;
        self
    }

    /// The same with what was heard in a recording of it.
    #[must_use]
    pub fn with_take(mut self, take: &JudgedTake) -> PreparedSheet {
        let places: Vec<Option<Place>> =
            self.places.iter().map(|it| it.map(|it| it.place)).collect();
        self.heard = Some(HeardOnPaper {
            signs: take.signs().into_iter().map(|(sign, _)| sign).collect(),
            sentences: [take.played(), take.sentences(&places)].concat(),
        });
        self
    }

    /// The title of the tune.
    pub fn title(&self) -> &str {
        self.tune.melody.title()
    }

    /// The sheet, for as long as `then` works on it.
    pub fn with<T>(&self, request: &SheetRequest, then: impl FnOnce(&Sheet<'_>) -> T) -> T {
        let necks: Vec<&Placement> = self.necks.iter().collect();
        let grid: Vec<&Placement> = self.grid.iter().collect();
        then(&Sheet {
            tune: TuneOnNeck {
                melody: &self.tune.melody,
                notes: &self.notes,
                key: self.tune.key,
                instrument: &self.instrument,
                places: &self.places,
                under: &self.under,
            },
            caption: &self.caption,
            necks: &necks,
            order: &self.order,
            grid: &grid,
            exercises: Exercises {
                cautions: &CAUTIONS,
                warm_up: &self.warm_up,
                quiz: &self.quiz,
                quiz_number: Some(request.seed),
            },
            take: self.heard.as_ref().map(|heard| TakeOnPaper {
                signs: &heard.signs,
                legend: LEGEND,
                sentences: &heard.sentences,
            }),
            parts: &request.parts,
            bars_per_line: request.bars_per_line,
            left_handed: request.instrument.left_handed,
            answers: request.answers,
        })
    }
}

fn key_of(placement: &Placement) -> PlacementKey {
    PlacementKey {
        position: placement.position,
        octave: placement.octave,
    }
}

/// What exercises are made of: the tune at the placement picked or the best one, then at the others.
fn material(
    map: &NeckMap,
    best: &Placement,
    tune: &Tune,
    instrument: &Instrument,
) -> PracticeMaterial {
    let whole = map.ranked().into_iter().filter(|it| it.is_whole());
    let others = whole.map(key_of).filter(|it| *it != key_of(best));
    PracticeMaterial::new(
        tune.melody.clone(),
        tune.key,
        &tune.melody.phrases(),
        instrument.clone(),
        std::iter::once(key_of(best)).chain(others).collect(),
    )
}

/// The notes of the phrases whose order is asked for.
fn order(request: &SheetRequest, tune: &Tune) -> Result<Vec<usize>, Failure> {
    let Some(asked) = &request.phrases else {
        return Ok(Vec::new());
    };
    let phrases = tune.melody.phrases();
    let numbered = (1u32..).zip(phrases.iter().cloned());
    let wanted = numbered.filter(|(number, _)| asked.contains(number));
    let notes: Vec<usize> = wanted.flat_map(|(_, notes)| notes).collect();
    if notes.is_empty() {
        return Err(Failure::usage(
            format!("there is no phrase {}", asked.start()),
            format!("the tune has phrases 1 to {}", phrases.len()),
        ));
    }
    Ok(notes)
}

/// Refuses sheets that nobody would print, which would take hours and gigabytes.
fn refuse_endless(melody: &Melody) -> Result<(), Failure> {
    let (bars, notes) = (melody.bars().len(), melody.notes().len());
    let problem = if bars > MOST_BARS {
        format!("the tune has {bars} bars, and a sheet holds at most {MOST_BARS}")
    } else if notes > MOST_NOTES_ON_A_SHEET {
        format!("the tune has {notes} notes, and a sheet holds at most {MOST_NOTES_ON_A_SHEET}")
    } else {
        return Ok(());
    };
    Err(Failure::could_not(
        problem,
        "set a part of it with `--bars`, such as `--bars 1-64`",
    ))
}

/// The placements whose necks are drawn, position I on open strings among them where the tune is whole there.
fn necks_to_practise<'a>(
    map: &'a NeckMap,
    best: &Placement,
    is_in_range: impl Fn(&Placement) -> bool,
) -> Vec<&'a Placement> {
    let mut necks = map.to_practise(NECKS, &is_in_range);
    let on_open_strings = map.on_open_strings_beside(best);
    if let Some(missing) = on_open_strings.filter(|it| is_in_range(it) && !necks.contains(it)) {
        necks.truncate(NECKS - 1);
        necks.push(missing);
    }
    necks
}

/// The tablature of one placement and its caption, which also names position I on open strings.
fn in_one_position(
    placement: &Placement,
    on_open_strings: Option<&Placement>,
    tune: &Tune,
) -> (Vec<Option<TabPlace>>, String) {
    let mut places = vec![None; tune.melody.notes().len()];
    for placed in placement.places() {
        places[placed.note] = Some(TabPlace {
            place: placed.place,
            finger: placed.finger,
            position: placement.position,
        });
    }
    let missing = match placement.missing_count() {
        0 => String::new(),
        1 => "; 1 note is out of reach there".into(),
        missing => format!("; {missing} notes are out of reach there"),
    };
    let also = match on_open_strings {
        Some(_) => "; also whole in I on open strings",
        None => "",
    };
    let octave = placement.octave.in_words();
    let caption = format!("{} position, {octave}{missing}{also}", placement.position);
    (places, caption)
}

/// The tablature of a fingering, and what to call it.
fn along(name: &str, octave: Octave, fingering: &Fingering) -> (Vec<Option<TabPlace>>, String) {
    let place = |note: &FingeredNote| {
        Some(TabPlace {
            place: note.place,
            finger: note.finger,
            position: note.position,
        })
    };
    let shifts = match fingering.shifts().count() {
        0 => format!("all in {}", fingering.notes[0].position),
        some => count(some, "shift"),
    };
    let places = fingering.notes.iter().map(place).collect();
    (places, format!("{name}, {}, {shifts}", octave.in_words()))
}
