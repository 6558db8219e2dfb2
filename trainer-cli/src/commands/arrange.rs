//! `neckline arrange`: what sounds under a melody.

mod arranged_tune;
mod arrangement_file;
mod arrangement_json;
mod arrangement_page;
mod arrangement_sound;
mod audition;
mod cautions;
mod editor;
mod hard_moments;
mod later_time;
mod other_voicings;
mod voicing_card;

use std::io::Write;
use std::path::{Path, PathBuf};

use fretlib::arranging::{
    Arrangement, ArrangementChoice, Arranger, ArrangingError, ArrangingSettings, Chosen, Density,
    Lattice, OctaveFit, Shape, Style, Texture, Unfit, VoicingFilter, VoicingWeights, chords_by_key,
    octave_fits, transposition_fits,
};
use fretlib::format::arrangement_ron::SavedArrangement;
use fretlib::melody::{Melody, Quarters};
use fretlib::neck::{Fret, Hand, Instrument, Position};
use fretlib::theory::Octave;

use self::arrangement_file::ArrangementFile;
use self::later_time::{LaterTime, later_times};
use crate::failure::Failure;
use crate::input::tune::Tune;
use crate::kept_file::KeptFile;
use crate::output::Existing;
use crate::report::heading::title_or_untitled;
use crate::report::json::write_json;
use crate::request::{AskedTempo, HandRequest, InstrumentRequest, TuneRequest, asked_tempo};
use crate::screen;
use crate::terminal::{Streams, colour};

pub use arranged_tune::{ArrangedTune, AsArranged};
pub use audition::Audition;
pub use cautions::{BARRE_TOO_LONG, THUMB, WIDE_GRIP, barre_since};
pub use editor::{ArrangementEditor, Decision};
pub use voicing_card::hand_sign;

/// What to arrange, and how.
#[derive(Debug)]
pub struct ArrangeRequest {
    /// The style.
    pub style: Option<Style>,
    /// Whether the thumb may come over the neck for the lowest string.
    pub thumb: bool,
    /// How many notes get a voicing.
    pub density: Option<Density>,
    /// How melody and voicings part.
    pub texture: Option<Texture>,
    /// The time of a repeat for which something is chosen; each when it is left open.
    pub time: Option<u32>,
    /// The octave to play in.
    pub octave: Option<Octave>,
    /// Quarter notes a minute.
    pub tempo: Option<AskedTempo>,
    /// Numbers of notes to leave bare.
    pub bare: Vec<usize>,
    /// Shapes for notes, by their numbers.
    pub shapes: Vec<(usize, Shape)>,
    /// The file of the choices, if not the one beside the tune.
    pub choices: Option<PathBuf>,
    /// Keep the choices in that file.
    pub save: bool,
    /// Choose on a full screen instead of printing.
    pub edit: bool,
    /// Find chords by the key where the tune has none.
    pub chords_by_key: bool,
    /// Show this many arrangements.
    pub best: u8,
    /// Show what each note costs.
    pub why: bool,
    /// Show the possible voicings for one note, by its number, instead of the page.
    pub note: Option<usize>,
    /// The filters for them.
    pub filters: Vec<VoicingFilter>,
    /// Print one JSON object instead of a page.
    pub json: bool,
    /// The file to write instead of printing: MusicXML, MIDI or sound.
    pub output: Option<PathBuf>,
    /// What to do when the file exists.
    pub existing: Existing,
    /// Decibels from the melody down to the voicings.
    pub contrast: f64,
    /// Whose hand it is.
    pub hand: HandRequest,
    /// Which tune.
    pub tune: TuneRequest,
    /// Which instrument.
    pub instrument: InstrumentRequest,
}

/// A tune and its arrangements.
struct Arranged<'a> {
    tune: &'a Tune,
    lattice: &'a Lattice<'a>,
    arrangements: Vec<Arrangement>,
    /// Where choices are for one time of a repeat: what sounds the later times.
    later_times: Vec<LaterTime>,
}

/// Prints the page or the JSON.
pub fn run(request: &ArrangeRequest, streams: &mut Streams) -> Result<(), Failure> {
    if request.edit && !(streams.stdin_is_terminal && streams.stdout_is_terminal) {
        return Err(Failure::usage(
            "choosing on a full screen needs a terminal",
            "without one, `--note 13` shows what there is and `--choose 13=SHAPE --save` keeps it",
        ));
    }
    let instrument = request.instrument.open()?;
    let mut tune = request.tune.open(streams)?;
    let hand = request.hand.open(streams)?;
    check_instrument(&instrument, hand)?;
    check_notes(request, &tune.melody)?;
    let mut file = choice_file(request.choices.as_deref(), &request.tune, streams)?;
    if request.save && request.tune.bars.is_some() {
        return Err(Failure::usage(
            "choices are kept for a whole tune, not for a part of it",
            "leave `--bars` out",
        ));
    }
    if tune
        .melody
        .chords()
        .iter()
        .all(|(_, chord)| chord.is_none())
    {
        tune = with_chords(tune, request, streams)?;
    }
    let saved = file
        .as_ref()
        .map(|file| file.kept.clone())
        .unwrap_or_default();
    let arranger = Arranger {
        instrument: &instrument,
        hand,
        style: (request.style.or(saved.style).unwrap_or_default())
            .with_thumb(request.thumb || saved.thumb),
    };
    let tempo = asked_tempo(request.tempo, &tune.melody)?;
    let density = request.density.or(saved.density).unwrap_or_default();
    let settings = ArrangingSettings {
        density,
        texture: request.texture.or(saved.texture).unwrap_or_default(),
        octave: match request.octave.or(saved.octave) {
            Some(octave) => octave,
            None => octave(&arranger, &tune.melody, density, streams)?,
        },
        tempo,
        weights: VoicingWeights::default(),
    };
    let lattice = Lattice::new(arranger, &tune.melody, settings).map_err(could_not)?;
    let in_file = saved.choices.clone();
    let choices = with_new_choices(saved.choices, request, &lattice)?;
    if request.edit {
        let mut editor = ArrangementEditor::new(&lattice, choices, in_file);
        return edit(&mut editor, &mut file, &tune, request, streams);
    }
    let (arrangements, unfit) = lattice.solve_around(request.best.into(), &choices);
    tell_unfit(&choices, &unfit, streams)?;
    let later_times = later_times(&lattice, &choices);
    if request.save {
        save(&mut file, &lattice, choices, &tune, streams)?;
    }
    let arranged = Arranged {
        tune: &tune,
        arrangements,
        later_times,
        lattice: &lattice,
    };
    if let Some(path) = &request.output {
        let file = ArrangementFile {
            path,
            existing: request.existing,
            contrast: request.contrast,
            tempo,
        };
        file.write(&arranged)?;
        writeln!(streams.stderr, "wrote {}", path.display())?;
        return Ok(());
    }
    if request.json {
        return write_json(
            streams,
            &arrangement_json::ArrangementDocument::new(&arranged),
        );
    }
    if let Some(number) = request.note {
        let ways = other_voicings::OtherVoicings {
            arranged: &arranged,
            number,
            filters: &request.filters,
            ascii: streams.ascii,
            width: streams.width,
            left_handed: request.instrument.left_handed,
        };
        colour::write(streams, &ways.draw()?)?;
        return Ok(());
    }
    let page = arrangement_page::ArrangementPage {
        arranged: &arranged,
        why: request.why,
        ascii: streams.ascii,
        width: streams.width,
        left_handed: request.instrument.left_handed,
    };
    colour::write(streams, &page.draw())?;
    Ok(())
}

/// Says which choices do not fit, and why.
fn tell_unfit(
    choices: &[ArrangementChoice],
    unfit: &[(usize, Unfit)],
    streams: &mut Streams,
) -> Result<(), Failure> {
    for (index, why) in unfit {
        let choice = &choices[*index];
        writeln!(
            streams.stderr,
            "note: the choice for note {} ({}) does not fit: {why}; the others hold",
            choice.note, choice.chosen
        )?;
    }
    Ok(())
}

/// The choices of the file and the command line; the latter replace older ones for the same note.
fn with_new_choices(
    mut choices: Vec<ArrangementChoice>,
    request: &ArrangeRequest,
    lattice: &Lattice,
) -> Result<Vec<ArrangementChoice>, Failure> {
    let bare = request.bare.iter().map(|number| (*number, Chosen::Bare));
    let shapes = request.shapes.iter().map(|(number, shape)| {
        let shape = shape.clone();
        (
            *number,
            Chosen::Voicing {
                shape,
                fingers: None,
            },
        )
    });
    for (number, chosen) in bare.chain(shapes) {
        let note = lattice.melody().notes()[number - 1];
        let is_bare = chosen == Chosen::Bare;
        let moment = lattice
            .moments()
            .iter()
            .find(|moment| moment.note == number - 1);
        let choice = ArrangementChoice {
            note: number,
            at: moment
                .filter(|_| !is_bare)
                .map_or(Quarters::ZERO, |moment| moment.at),
            pitch: Some(note.pitch),
            chord: moment.map(|moment| moment.chord),
            time: request.time,
            chosen,
            remark: None,
        };
        if let Err(why) = lattice.moment_of(&choice) {
            return Err(Failure::could_not(
                format!("note {number} cannot have {}: {why}", choice.chosen),
                "frets go from the lowest string to the highest, the melody's own among them; `neckline arrange` shows \
                 what fits",
            ));
        }
        choices.retain(|older| {
            older.note != number
                || older.time != request.time
                || (!is_bare && older.chosen != Chosen::Bare && older.at != choice.at)
        });
        choices.push(choice);
    }
    Ok(choices)
}

/// The file of the choices: the one named, or the one beside the tune; `None` for a tune that lies in no file.
///
/// The notes of a part of a tune have other numbers: for them there is none, and that is said.
fn choice_file(
    named: Option<&Path>,
    tune: &TuneRequest,
    streams: &mut Streams,
) -> Result<Option<KeptFile<SavedArrangement>>, Failure> {
    let file = match named {
        Some(path) => Some(KeptFile::open(path.to_owned())?),
        None => KeptFile::beside(tune, streams.settings_folder())?,
    };
    if tune.bars.is_none() {
        return Ok(file);
    }
    if let Some(file) = file.filter(KeptFile::is_there) {
        writeln!(
            streams.stderr,
            "note: what is kept in `{}` is for the whole tune and left out here",
            file.path().display()
        )?;
    }
    Ok(None)
}

/// Lets the player choose on a full screen.
fn edit(
    editor: &mut ArrangementEditor,
    file: &mut Option<KeptFile<SavedArrangement>>,
    tune: &Tune,
    request: &ArrangeRequest,
    streams: &mut Streams,
) -> Result<(), Failure> {
    streams.stdout.flush()?;
    streams.stderr.flush()?;
    let look = screen::Look {
        color: streams.color,
        ascii: streams.ascii,
        left_handed: request.instrument.left_handed,
    };
    let lattice = editor.lattice();
    let head = screen::TuneHead {
        title: tune.melody.title().to_owned(),
        facts: arrangement_page::facts(tune, lattice),
        instrument: lattice.arranger().instrument.clone(),
    };
    let mut keep = file.as_mut().map(|file| {
        |editor: &ArrangementEditor| {
            keep(file, lattice, editor.choices().to_vec(), tune)?;
            Ok(format!("saved in {}", file.path().display()))
        }
    });
    let save = keep.as_mut().map(|keep| keep as screen::KeepChoices);
    screen::choose(editor, head, look, request.contrast, save)
}

fn save(
    file: &mut Option<KeptFile<SavedArrangement>>,
    lattice: &Lattice,
    choices: Vec<ArrangementChoice>,
    tune: &Tune,
    streams: &mut Streams,
) -> Result<(), Failure> {
    let Some(file) = file else {
        return Err(Failure::usage(
            "this tune lies in no file, so there is no place beside it for the choices",
            "name a file with `--choices FILE`",
        ));
    };
    keep(file, lattice, choices, tune)?;
    writeln!(
        streams.stderr,
        "note: the choices are kept in `{}`",
        file.path().display()
    )?;
    Ok(())
}

/// Writes choices to their file.
fn keep(
    file: &mut KeptFile<SavedArrangement>,
    lattice: &Lattice,
    mut choices: Vec<ArrangementChoice>,
    tune: &Tune,
) -> Result<(), Failure> {
    choices.sort_by_key(|choice| (choice.note, choice.at, choice.time));
    file.kept = SavedArrangement {
        octave: Some(lattice.settings().octave),
        style: Some(lattice.arranger().style.with_thumb(false)),
        thumb: lattice.arranger().style.has_thumb(),
        density: Some(lattice.settings().density),
        texture: Some(lattice.settings().texture).filter(|it| *it != Texture::default()),
        choices,
    };
    file.save(title_or_untitled(tune.melody.title()))
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
    let first = Position::FIRST.fret(fretlib::neck::Finger::First);
    let fret = instrument.millimetres_at(first) - instrument.millimetres_at(Fret::OPEN);
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

fn check_notes(request: &ArrangeRequest, melody: &Melody) -> Result<(), Failure> {
    let count = melody.notes().len();
    if let Some(number) = request.note.filter(|number| !(1..=count).contains(number)) {
        return Err(Failure::usage(
            format!("there is no note {number} to look at"),
            format!("the tune has notes 1 to {count}"),
        ));
    }
    if let Some((number, _)) = request
        .shapes
        .iter()
        .find(|(number, _)| !(1..=count).contains(number))
    {
        return Err(Failure::usage(
            format!("there is no note {number} to choose for"),
            format!("the tune has notes 1 to {count}"),
        ));
    }
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

/// The tune with chords by its key, if the player wants that.
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

/// The octave with room under the melody, with a note if it is not the written one.
fn octave(
    arranger: &Arranger,
    melody: &Melody,
    density: Density,
    streams: &mut Streams,
) -> Result<Octave, Failure> {
    let fits = octave_fits(arranger, melody, density);
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
            "note: {} of {} voicings cannot be as full as the style wants them{}",
            best.asked - best.suited,
            best.asked,
            other_key(arranger, melody, density, best)
        )?;
    }
    Ok(best.octave)
}

/// The key with more room under the melody, when there is one.
fn other_key(arranger: &Arranger, melody: &Melody, density: Density, best: &OctaveFit) -> String {
    let fits = transposition_fits(arranger, melody, density, best.octave);
    let better = fits.first().filter(|fit| fit.suited > best.suited);
    better.map_or(String::new(), |fit| {
        let interval = fit.interval;
        format!(
            "; `--transpose {interval}` leaves room for {} of them",
            fit.suited
        )
    })
}

fn could_not(error: ArrangingError) -> Failure {
    let hint = match error {
        ArrangingError::OctaveTooFar { .. } => "take an octave nearer to the written one",
        _ => "try another `--octave`, `--transpose` or `--instrument`",
    };
    Failure::could_not(error.to_string(), hint)
}
