//! An arrangement as the screen for choosing shows it.

use fretlib::arranging::{
    ArrangedNote, BareReason, Lattice, RankedVoicing, VoicingFilter, VoicingTerm,
};

use super::choose_state::{CandidateList, CandidateView, StopView};
use crate::commands::arrange::{
    ArrangementEditor, BARRE_TOO_LONG, Decision, THUMB, WIDE_GRIP, barre_since,
};

/// The most voicings that are listed: the cheapest ones.
const LISTED: usize = 200;

/// The arrangement stop by stop, and whether it differs from the file.
pub fn view(editor: &ArrangementEditor) -> (Vec<StopView>, bool) {
    let mut bar = None;
    let mut chord = None;
    let stops = (0..editor.stops().len()).map(|stop| {
        let mut view = stop_view(editor, stop);
        let melody = editor.lattice().melody();
        let at = editor.stops()[stop];
        let onset = melody.notes()[at.note].onset + at.at;
        let here = melody.bar_at(melody.notes()[at.note].onset).number;
        view.begins_bar = bar.replace(here) != Some(here);
        let sounding = melody.chords().at(onset).copied().flatten();
        if sounding != chord {
            view.chord = Some(sounding.map_or("N.C.".into(), |chord| chord.to_string()));
        }
        chord = sounding;
        view
    });
    (stops.collect(), editor.is_changed())
}

fn stop_view(editor: &ArrangementEditor, stop: usize) -> StopView {
    let lattice = editor.lattice();
    let melody = lattice.melody();
    let at = editor.stops()[stop];
    let note = editor.note(stop);
    let mut figures = vec![None; lattice.arranger().instrument.strings().len()];
    if at.at.is_zero() {
        figures[note.melody.place.string.index()] = Some(note.melody.place.fret.to_string());
    }
    let under = editor.under(stop);
    for (under, held) in under
        .iter()
        .flat_map(|it| it.voicing.under().iter().zip(&it.staging.held))
    {
        let fret = under.at.place.fret;
        // Tablature puts what goes on in brackets.
        let figure = if *held {
            format!("({fret})")
        } else {
            fret.to_string()
        };
        figures[under.at.place.string.index()] = Some(figure);
    }
    let decision = editor.decision(stop);
    let is_out_of_reach = note.bare == Some(BareReason::OutOfReach);
    StopView {
        bar: melody
            .bar_at(melody.notes()[at.note].onset)
            .number
            .to_string(),
        figures,
        name: if at.at.is_zero() {
            note.pitch.class().to_string()
        } else {
            String::new()
        },
        mark: match decision {
            Decision::Pinned => Some('p'),
            Decision::Bare => Some('b'),
            Decision::Unfit => Some('!'),
            Decision::Open => is_out_of_reach.then_some('!'),
        },
        words: words(editor, stop, note, decision),
        caution: caution(editor, stop),
        ..StopView::default()
    }
}

fn words(
    editor: &ArrangementEditor,
    stop: usize,
    note: &ArrangedNote,
    decision: Decision,
) -> String {
    let lattice = editor.lattice();
    let melody = lattice.melody();
    let at = editor.stops()[stop];
    let onset = melody.notes()[at.note].onset;
    let mut words = format!("bar {}, note {}", melody.bar_at(onset).number, at.note + 1);
    if !at.at.is_zero() {
        words.push_str(&format!("+{}", at.at));
    }
    words.push_str(&format!(": {}", note.pitch));
    if let Some(chord) = melody.chords().at(onset + at.at).copied().flatten() {
        let degree = chord.degree(note.pitch.class());
        words.push_str(&format!(", {degree} of {chord}"));
    }
    let shape = editor
        .struck(stop)
        .map(|it| it.voicing.shape(lattice.arranger().instrument).to_string());
    let what = match (decision, shape, note.bare) {
        (Decision::Pinned, Some(shape), _) => format!("pinned {shape}"),
        (_, Some(shape), _) => shape,
        (Decision::Bare, None, _) => "left bare".into(),
        (_, None, Some(BareReason::Passing) | None) => "passes, bare".into(),
        (_, None, Some(reason)) => reason.name().into(),
    };
    format!("{words}   {what}")
}

fn caution(editor: &ArrangementEditor, stop: usize) -> Option<String> {
    let lattice = editor.lattice();
    if let Some(why) = editor.unfit(stop) {
        return Some(format!("what was chosen does not fit: {why}"));
    }
    let it = editor.struck(stop)?;
    let note = editor.stops()[stop].note;
    if is_wide(lattice, it.moment, &it.voicing) {
        return Some(WIDE_GRIP.into());
    }
    if it.voicing.has_thumb() {
        return Some(THUMB.into());
    }
    if barre_since(lattice.melody(), editor.arrangement(), note).is_some() {
        return Some(BARRE_TOO_LONG.into());
    }
    let pitch = editor.note(stop).pitch;
    let fights = lattice.roles(it.moment).fight(pitch)?;
    Some(format!(
        "the {fights} fights the chord: write {}sus4 over it, or leave it bare with b",
        it.chord.root()
    ))
}

fn is_wide(lattice: &Lattice, moment: usize, voicing: &fretlib::arranging::Voicing) -> bool {
    lattice.amounts(moment, voicing)[VoicingTerm::Stretch as usize] > 0.0
}

/// The voicings at a stop, as the filters allow.
pub fn candidates(
    editor: &mut ArrangementEditor,
    stop: usize,
    filters: &[VoicingFilter],
) -> CandidateList {
    let ranked = editor.ranked(stop, filters);
    let lattice = editor.lattice();
    let at = editor.stops()[stop];
    let why_none = match (at.moment, filters.is_empty()) {
        (None, _) => "nothing is asked for here".into(),
        (Some(_), true) => "no voicing within reach".into(),
        (Some(_), false) => {
            let words: Vec<String> = filters.iter().map(ToString::to_string).collect();
            format!("none is like `{}`", words.join(", "))
        }
    };
    let present = editor.struck(stop).map(|it| it.voicing.clone());
    let shown = ranked
        .iter()
        .take(LISTED)
        .filter_map(|it| Some(candidate(editor, stop, at.moment?, it, present.as_ref())));
    CandidateList {
        total: ranked.len(),
        shown: shown.collect(),
        why_none: match lattice.moments().is_empty() {
            true => "the tune has no chords here".into(),
            false => why_none,
        },
    }
}

fn candidate(
    editor: &ArrangementEditor,
    stop: usize,
    moment: usize,
    it: &RankedVoicing,
    present: Option<&fretlib::arranging::Voicing>,
) -> CandidateView {
    let lattice = editor.lattice();
    let instrument = lattice.arranger().instrument;
    let chord = lattice.moments()[moment].chord;
    let melody = chord.degree(editor.note(stop).pitch.class());
    let degrees = it
        .voicing
        .under()
        .iter()
        .map(|note| note.degree.to_string());
    let degrees: Vec<String> = degrees.chain([melody.to_string()]).collect();
    let shape = it.voicing.shape(instrument);
    CandidateView {
        is_present: present.is_some_and(|present| present.shape(instrument) == shape),
        shape: shape.to_string(),
        degrees: degrees.join(" "),
        more: it.more,
        is_wide: is_wide(lattice, moment, it.voicing),
        voicing: it.voicing.clone(),
    }
}
