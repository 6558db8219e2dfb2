//! `neckline arrange`: what sounds under a melody.

mod arrangement_json;
mod arrangement_page;
mod hard_moments;
mod voicing_card;

use std::io::Write;

use fretlib::arranging::{
    Arrangement, Arranger, ArrangingError, ArrangingSettings, Density, Lattice, Style,
    VoicingWeights, chords_by_key, octave_fits,
};
use fretlib::melody::{Melody, Tempo};
use fretlib::neck::{Hand, Instrument};
use fretlib::theory::Octave;

use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::report::json::write_json;
use crate::request::{HandRequest, InstrumentRequest, TuneRequest};
use crate::terminal::{Streams, colour};

/// What to arrange, and how.
#[derive(Debug)]
pub struct ArrangeRequest {
    /// How it is plucked and what may sound.
    pub style: Style,
    /// How many notes get a voicing.
    pub density: Density,
    /// The octave to play in.
    pub octave: Option<Octave>,
    /// Quarter notes a minute.
    pub tempo: Option<Tempo>,
    /// Numbers of notes to leave bare.
    pub bare: Vec<usize>,
    /// Find chords by the key where the tune has none.
    pub chords_by_key: bool,
    /// Show this many arrangements.
    pub best: u8,
    /// Show what each note costs.
    pub why: bool,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// Whose hand it is.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// A tune and what was found to lie under it.
struct Arranged<'a> {
    tune: &'a Tune,
    lattice: &'a Lattice<'a>,
    arrangements: Vec<Arrangement>,
}

/// Prints the page or the JSON.
pub fn run(request: &ArrangeRequest, streams: &mut Streams) -> Result<(), Failure> {
    let instrument = request.instrument.open()?;
    let mut tune = request.tune.open(streams)?;
    let hand = request.hand.open(streams)?;
    check_instrument(&instrument, hand)?;
    check_bare(request, &tune.melody)?;
    if tune
        .melody
        .chords()
        .iter()
        .all(|(_, chord)| chord.is_none())
    {
        tune = with_chords(tune, request, streams)?;
    }
    let arranger = Arranger {
        instrument: &instrument,
        hand,
        style: request.style,
    };
    let settings = ArrangingSettings {
        density: request.density,
        octave: match request.octave {
            Some(octave) => octave,
            None => octave(&arranger, &tune.melody, request, streams)?,
        },
        tempo: request.tempo,
        weights: VoicingWeights::default(),
    };
    let lattice = Lattice::new(arranger, &tune.melody, settings).map_err(could_not)?;
    let bare: Vec<usize> = request.bare.iter().map(|number| number - 1).collect();
    let arranged = Arranged {
        tune: &tune,
        arrangements: lattice.solve_where(
            request.best.into(),
            |_, _| true,
            |note| bare.contains(&note),
        ),
        lattice: &lattice,
    };
    if request.json {
        return write_json(streams, &arrangement_json::Document::new(&arranged));
    }
    let page = arrangement_page::Page {
        arranged: &arranged,
        why: request.why,
        ascii: streams.ascii,
        width: streams.width,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

fn check_instrument(instrument: &Instrument, hand: Hand) -> Result<(), Failure> {
    if instrument.strings().len() < 2 {
        return Err(Failure::could_not(
            format!(
                "the {} has one string: nothing sounds under a melody on it",
                instrument.name()
            ),
            "take an instrument of two strings or more; `neckline instruments` lists the built-in ones",
        ));
    }
    let fret = instrument.scale_length()
        * (1.0 - 2f64.powf(-1.0 / 12.0))
        * 2f64.powf(-f64::from(instrument.capo()) / 12.0);
    let reach = hand
        .reach(fretlib::neck::Finger::First, fretlib::neck::Finger::Fourth)
        .1;
    if reach < fret {
        return Err(Failure::could_not(
            format!(
                "a hand that reaches {reach:.0} mm cannot stop two frets of the {} at once",
                instrument.name()
            ),
            "check the measures of `--hand` or of your settings: millimetres between the first and the fourth finger",
        ));
    }
    Ok(())
}

fn check_bare(request: &ArrangeRequest, melody: &Melody) -> Result<(), Failure> {
    let count = melody.notes().len();
    match request
        .bare
        .iter()
        .find(|number| !(1..=count).contains(*number))
    {
        Some(number) => Err(Failure::usage(
            format!("there is no note {number} to leave bare"),
            format!("the tune has notes 1 to {count}"),
        )),
        None => Ok(()),
    }
}

/// The tune with chords found by its key, where the player wants that.
fn with_chords(
    tune: Tune,
    request: &ArrangeRequest,
    streams: &mut Streams,
) -> Result<Tune, Failure> {
    if !request.chords_by_key {
        return Err(Failure::could_not(
            "the tune has no chords to arrange",
            "write chords over it, or let its key stand in for them: `--chords-by-key --style bass` puts a bass of I, IV \
             and V under it",
        ));
    }
    let mut draft = tune.melody.clone().into_draft();
    draft.chords = chords_by_key(&tune.melody, tune.key);
    let melody = Melody::new(draft)
        .map_err(|error| Failure::could_not(error.to_string(), "write chords over the tune"))?;
    writeln!(
        streams.stderr,
        "note: the tune has no chords; I, IV and V of {} stand in for them, an estimate from the melody",
        tune.key
    )?;
    Ok(Tune { melody, ..tune })
}

/// The octave with room under the melody; says so where it is not the written one.
fn octave(
    arranger: &Arranger,
    melody: &Melody,
    request: &ArrangeRequest,
    streams: &mut Streams,
) -> Result<Octave, Failure> {
    let fits = octave_fits(arranger, melody, request.density);
    let Some(best) = fits.first() else {
        return Ok(Octave::WRITTEN);
    };
    let written = fits.iter().find(|fit| fit.octave == Octave::WRITTEN);
    if best.octave != Octave::WRITTEN {
        match written {
            Some(written) => writeln!(
                streams.stderr,
                "note: arranged {}: {} of {} voicings are within reach there, {} as written; `--octave 0` keeps \
                 it as written",
                best.octave.in_words(),
                best.suited,
                best.asked,
                written.suited
            )?,
            None => writeln!(
                streams.stderr,
                "note: arranged {}: as written it is not on the neck",
                best.octave.in_words()
            )?,
        }
    }
    if 5 * best.suited < 4 * best.asked {
        writeln!(
            streams.stderr,
            "note: {} of {} voicings cannot be as full as the style wants them; a higher key may leave more room, as in `--transpose +m3`",
            best.asked - best.suited,
            best.asked
        )?;
    }
    Ok(best.octave)
}

fn could_not(error: ArrangingError) -> Failure {
    let hint = match error {
        ArrangingError::OctaveTooFar { .. } => "take an octave nearer to the written one",
        _ => "try another `--octave`, `--transpose` or `--instrument`",
    };
    Failure::could_not(error.to_string(), hint)
}
