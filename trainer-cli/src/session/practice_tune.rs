//! A tune in a practice session: its material, and its entry in the history.

use std::io::Write;

use fretlib::fingering::Player;
use fretlib::mapping::{NeckMap, Placement};
use fretlib::melody::Melody;
use fretlib::neck::Hand;
use fretlib::practice::{ArrangedStep, PlacementKey, PracticeMaterial, StruckVoicing, TuneId};
use fretlib::theory::Octave;

use crate::commands::arrange::{ArrangedTune, AsArranged};
use crate::failure::Failure;
use crate::history::TuneEntry;
use crate::input::settings::settings;
use crate::request::{HandRequest, PartRequest, TuneOnInstrument};
use crate::terminal::Streams;

/// A tune that is practised in a session.
#[derive(Debug)]
pub struct PracticeTune {
    /// The material to ask about.
    pub material: PracticeMaterial,
    /// Its entry in the history.
    pub entry: TuneEntry,
    /// The octave at which the tune is also whole in position I on open strings, although nothing is asked there.
    pub on_open_strings: Option<Octave>,
}

impl PracticeTune {
    /// A material, with the identity of its whole tune and the request that opens it.
    pub fn new(
        material: PracticeMaterial,
        whole: &Melody,
        request: Option<TuneOnInstrument>,
    ) -> PracticeTune {
        let entry = TuneEntry {
            id: TuneId::of(whole),
            title: whole.title().to_string(),
            request,
        };
        PracticeTune {
            material,
            entry,
            on_open_strings: None,
        }
    }

    /// Opens the tune with its whole placements, or with all placements if none is whole.
    pub fn open(
        request: &TuneOnInstrument,
        part: &PartRequest,
        streams: &mut Streams,
    ) -> Result<PracticeTune, Failure> {
        let instrument = request.instrument.open()?;
        // Phrases and memories are those of the whole tune, whichever bars are asked about.
        let whole = request.tune.whole().open(streams)?;
        let played = match &request.tune.bars {
            None => whole.melody.clone(),
            Some(_) => request.tune.open(streams)?.melody,
        };
        let settings = settings(part.settings.as_deref(), streams)?;
        let asks_own = part.as_fingered && part.positions.is_none() && !part.all_positions;
        let own = match asks_own {
            true => {
                let player = Player {
                    instrument: &instrument,
                    hand: settings.hand.unwrap_or(Hand::MEDIUM),
                };
                let tune = request.tune.whole();
                tune.own_fingering(&whole, player, streams)?
            }
            false => None,
        };
        let open_strings = part.open_strings.or(settings.open_strings);
        let open_strings = open_strings.unwrap_or_default();
        let (placements, on_open_strings) = match own {
            Some(_) => Default::default(),
            None => {
                let map = NeckMap::new(&played, &instrument, open_strings)
                    .preferring(settings.preference);
                placements(&map, played.title(), part, streams)?
            }
        };
        let phrases = whole.melody.phrases();
        let material = PracticeMaterial::new(
            whole.melody.clone(),
            whole.key,
            &phrases,
            instrument,
            placements,
        )
        .with_open_strings(open_strings);
        let material = match &own {
            Some(own) => material.along(own.octave(), &own.fingering),
            None => material,
        };
        let stretches = request
            .tune
            .bars
            .as_ref()
            .map(|bars| bars.stretches(&whole.melody));
        let wanted: Vec<usize> = (0..material.notes().len())
            .filter(|note| {
                let onset = material.notes()[*note].note.onset;
                stretches
                    .as_ref()
                    .is_none_or(|all| all.iter().any(|it| it.contains(&onset)))
            })
            .filter(|note| {
                let phrase = material.phrase_of(*note) as u32 + 1;
                part.phrases
                    .as_ref()
                    .is_none_or(|phrases| phrases.contains(&phrase))
            })
            .collect();
        let count = material.phrases().len();
        let range = wanted.first().zip(wanted.last());
        let arranged = part.arranged.or_as_kept(&request.tune.whole(), streams);
        let hand = HandRequest {
            hand: None,
            settings: part.settings.clone(),
        };
        let hand = hand.open(streams)?;
        let arranged = arranged.arrange(
            &whole,
            &request.tune.whole(),
            material.instrument(),
            hand,
            streams,
        );
        // What is kept beside the tune and cannot be used keeps nobody from practising the melody.
        let arranged = match (arranged, &part.arranged) {
            (Ok(arranged), _) => arranged,
            (Err(failure), AsArranged::No) => {
                writeln!(
                    streams.stderr,
                    "note: nothing is asked about the arrangement: {failure}"
                )?;
                None
            }
            (Err(failure), _) => return Err(failure),
        };
        let material = match arranged {
            Some(arranged) => material.arranged(steps(&arranged)),
            None => material,
        };
        let material = range
            .and_then(|(first, last)| material.only(*first..*last + 1))
            .ok_or_else(|| {
                Failure::usage(
                    "no note is left to ask about",
                    format!("the tune has phrases 1 to {count}; `neckline map` shows its bars"),
                )
            })?;
        let request = TuneOnInstrument {
            tune: request.tune.whole().from_anywhere(),
            instrument: request.instrument.clone(),
        };
        Ok(PracticeTune {
            on_open_strings,
            ..PracticeTune::new(material, &whole.melody, Some(request))
        })
    }

    /// Opens a tune of the history on its instrument again.
    pub fn reopen(entry: &TuneEntry, streams: &mut Streams) -> Result<PracticeTune, Failure> {
        let request = entry.request.as_ref();
        let request = request
            .filter(|request| request.tune.source.as_deref() != Some("-"))
            .ok_or_else(|| {
                Failure::could_not(
                    "it can no longer be opened",
                    "drill it once from its file to put it on record again",
                )
            })?;
        let part = PartRequest {
            as_fingered: true,
            ..PartRequest::default()
        };
        PracticeTune::open(request, &part, streams)
    }
}

/// How an arrangement plays each note.
fn steps(arranged: &ArrangedTune) -> Vec<ArrangedStep> {
    let mut is_first = true;
    let notes = arranged.arrangement.notes.iter();
    let steps = notes.map(|note| {
        let place = note.melody.place;
        let struck = note.under.iter().find(|it| !it.is_only_held());
        // What enters later under a held note is a question of its own, which is not asked.
        let struck = struck.filter(|it| it.at.is_zero());
        let voicing = struck.map(|it| StruckVoicing {
            chord: it.chord,
            melody: (note.pitch, place),
            places: it
                .voicing
                .under()
                .iter()
                .map(|under| (under.at.place, under.degree))
                .collect(),
            left_out: it.voicing.omitted().to_vec(),
            stays: (!std::mem::take(&mut is_first)).then(|| it.staging.anchors.clone()),
        });
        ArrangedStep {
            pitch: note.pitch,
            place,
            voicing,
        }
    });
    steps.collect()
}

/// The placements where the melody is asked, the easiest first: the best one and the closed ones that hold it whole.
///
/// With positions named or all asked for, every placement that holds it whole; when none does, all that hold some of it.
/// Also gives the octave of position I on open strings, if it holds the melody whole but is not among them.
fn placements(
    map: &NeckMap,
    title: &str,
    part: &PartRequest,
    streams: &mut Streams,
) -> Result<(Vec<PlacementKey>, Option<Octave>), Failure> {
    let is_asked = |it: &&Placement| {
        let positions = part.positions;
        positions.is_none_or(|positions| positions.contains(it.position))
    };
    let mut placements: Vec<&Placement> = map.ranked();
    placements.retain(is_asked);
    let Some(best) = placements.first().copied() else {
        return Err(Failure::could_not(
            "the tune is nowhere on the neck in those positions",
            "`neckline map` shows where it lies, and what would help",
        ));
    };
    let is_chosen = part.positions.is_some() || part.all_positions;
    if best.is_whole() {
        placements
            .retain(|it| it.is_whole() && (is_chosen || it.is_closed() || std::ptr::eq(*it, best)));
    } else {
        let tune = match title {
            "" => "the tune".to_owned(),
            title => format!("“{title}”"),
        };
        writeln!(
            streams.stderr,
            "note: no position there holds the whole of {tune}; questions are about the notes that each one holds"
        )?;
    }
    let on_open_strings = map
        .on_open_strings_beside(best)
        .filter(|it| best.is_whole() && !is_chosen && !placements.contains(it))
        .map(|it| it.octave);
    let placements = placements.iter().map(|it| PlacementKey {
        position: it.position,
        octave: it.octave,
    });
    Ok((placements.collect(), on_open_strings))
}
