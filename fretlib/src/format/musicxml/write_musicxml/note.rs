//! Notes and rests as they are printed.

use std::ops::Range;

use super::{Fingered, STAFF, ScoreWriter, TABLATURE};
use crate::melody::{NoteValue, Quarters};
use crate::neck::StringNumber;
use crate::notation::beam::{Level, beams, level};
use crate::notation::rhythm::{Symbol, Written, WrittenBar};
use crate::theory::Pitch;

/// A bar with the beams and tuplets of its symbols.
pub(super) struct BarSymbols<'b> {
    written: &'b WrittenBar,
    /// The beams of every symbol, from the first level down: `begin`, `continue`, `end` or a hook.
    beams: Vec<Vec<&'static str>>,
    /// The first and last symbol of every tuplet; `None` when a symbol in it has no note value.
    tuplets: Vec<Option<(usize, usize)>>,
}

impl<'b> BarSymbols<'b> {
    pub(super) fn new(written: &'b WrittenBar) -> BarSymbols<'b> {
        let symbols = &written.symbols;
        let mut of_symbols = vec![Vec::new(); symbols.len()];
        let have_values = |run: &Range<usize>| {
            let notes = &symbols[run.clone()];
            notes.iter().all(|symbol| has_value(symbol, written))
        };
        for run in beams(written).into_iter().filter(have_values) {
            let notes = &symbols[run.clone()];
            let deepest = notes.iter().map(|note| note.value.flags()).max();
            for count in 1..=deepest.unwrap_or(0) {
                let levels = level(notes, count);
                let of = |at: usize| {
                    levels
                        .iter()
                        .find(|(it, _)| *it == at)
                        .map(|(_, level)| *level)
                };
                for at in 0..notes.len() {
                    let is_joined_back = at > 0 && of(at - 1) == Some(Level::Joined);
                    let beam = match (of(at), is_joined_back) {
                        (Some(Level::Joined), false) => "begin",
                        (Some(Level::Joined), true) => "continue",
                        (_, true) => "end",
                        (Some(Level::StubBack), false) => "backward hook",
                        (Some(Level::StubOn), false) => "forward hook",
                        (None, false) => continue,
                    };
                    of_symbols[run.start + at].push(beam);
                }
            }
        }
        let mut tuplets: Vec<Option<(usize, usize)>> = vec![None; written.tuplets.len()];
        for (at, symbol) in symbols.iter().enumerate() {
            if let Some(tuplet) = symbol.tuplet {
                let (first, _) = tuplets[tuplet].unwrap_or((at, at));
                tuplets[tuplet] = Some((first, at));
            }
        }
        for tuplet in &mut tuplets {
            *tuplet = tuplet.filter(|(first, last)| have_values(&(*first..last + 1)));
        }
        BarSymbols {
            written,
            beams: of_symbols,
            tuplets,
        }
    }
}

/// How many notes in the time of how many.
fn ratio(symbol: &Written, bar: &WrittenBar) -> Quarters {
    symbol.tuplet.map_or(Quarters::from(1), |tuplet| {
        Quarters::new(bar.tuplets[tuplet].count, bar.tuplets[tuplet].time_of)
    })
}

/// Whether a symbol lasts as long as its note value; times off the grid do not.
pub(super) fn has_value(symbol: &Written, bar: &WrittenBar) -> bool {
    symbol.value.duration() == symbol.duration * ratio(symbol, bar)
}

impl ScoreWriter<'_> {
    pub(super) fn write_symbol(&mut self, bar: &BarSymbols<'_>, index: usize, staff: &str) {
        let symbol = &bar.written.symbols[index];
        let is_hidden = staff == TABLATURE && !matches!(symbol.symbol, Symbol::Note { .. });
        let hidden = [("print-object", "no")];
        self.xml.open("note", if is_hidden { &hidden } else { &[] });
        let mut accidental = None;
        let (mut is_tied, mut ties_on) = (false, false);
        match symbol.symbol {
            Symbol::Note {
                index,
                tied_back,
                tied_on,
            } => {
                let pitch = self.melody.notes()[index].pitch;
                self.write_pitch(pitch);
                if staff == STAFF {
                    accidental = self.accidentals.before(pitch, tied_back);
                }
                (is_tied, ties_on) = (tied_back, tied_on);
            }
            Symbol::Rest => self.xml.empty("rest", &[]),
            Symbol::BarRest => self.xml.empty("rest", &[("measure", "yes")]),
        }
        let onset = bar.written.onset + symbol.onset;
        let duration = self.ticks(onset + symbol.duration) - self.ticks(onset);
        self.xml.number("duration", duration);
        for (is_there, end) in [(is_tied, "stop"), (ties_on, "start")] {
            if is_there {
                self.xml.empty("tie", &[("type", end)]);
            }
        }
        self.xml
            .text("voice", if staff == STAFF { "1" } else { "5" });
        let has_value = has_value(symbol, bar.written);
        if has_value {
            self.xml.text("type", type_name(symbol.value));
            for _ in 0..symbol.value.dots() {
                self.xml.empty("dot", &[]);
            }
        }
        if let Some(name) = accidental.and_then(accidental_name) {
            self.xml.text("accidental", name);
        }
        if has_value {
            self.write_time_modification(symbol, bar.written);
        }
        if staff == TABLATURE {
            // The staff above shows the rhythm.
            self.xml.text("stem", "none");
        } else if self.lower.is_some() && matches!(symbol.symbol, Symbol::Note { .. }) {
            self.xml.text("stem", "up");
        }
        if self.has_tablature() {
            self.xml.text("staff", staff);
        }
        if staff == STAFF {
            self.write_beams(bar, index);
        }
        self.write_notations(bar, index, staff);
        if staff == STAFF && matches!(symbol.symbol, Symbol::Note { .. }) && !is_tied {
            self.write_lyrics(onset);
        }
        self.xml.close("note");
    }

    /// The syllables of a note, one for each verse.
    fn write_lyrics(&mut self, onset: Quarters) {
        let lyrics = self.melody.lyrics();
        let first = lyrics.partition_point(|it| it.onset < onset);
        let here = lyrics[first..].iter().take_while(|it| it.onset == onset);
        for it in here {
            let before = lyrics[..first].iter().rev();
            let goes_on = before
                .into_iter()
                .find(|before| before.verse == it.verse)
                .is_some_and(|before| before.joins);
            let syllabic = match (goes_on, it.joins) {
                (false, false) => "single",
                (false, true) => "begin",
                (true, true) => "middle",
                (true, false) => "end",
            };
            self.xml.open("lyric", &[("number", &it.verse.to_string())]);
            self.xml.text("syllabic", syllabic);
            self.xml.text("text", &it.text);
            self.xml.close("lyric");
        }
    }

    pub(super) fn write_pitch(&mut self, pitch: Pitch) {
        self.xml.open("pitch", &[]);
        self.xml.text("step", &pitch.letter().to_string());
        if pitch.alteration() != 0 {
            self.xml.number("alter", pitch.alteration());
        }
        self.xml.number("octave", pitch.octave().max(0));
        self.xml.close("pitch");
    }

    pub(super) fn write_time_modification(&mut self, symbol: &Written, bar: &WrittenBar) {
        let Some(tuplet) = symbol.tuplet.map(|tuplet| bar.tuplets[tuplet]) else {
            return;
        };
        self.xml.open("time-modification", &[]);
        self.xml.number("actual-notes", tuplet.count);
        self.xml.number("normal-notes", tuplet.time_of);
        if let Some(unit) = tuplet.unit().filter(|unit| *unit != symbol.value) {
            self.xml.text("normal-type", type_name(unit));
        }
        self.xml.close("time-modification");
    }

    fn write_notations(&mut self, bar: &BarSymbols<'_>, index: usize, staff: &str) {
        let symbol = &bar.written.symbols[index];
        let (note, is_tied, ties_on) = match symbol.symbol {
            Symbol::Note {
                index,
                tied_back,
                tied_on,
            } => (Some(index), tied_back, tied_on),
            Symbol::Rest | Symbol::BarRest => (None, false, false),
        };
        let tuplet = symbol.tuplet.and_then(|tuplet| bar.tuplets[tuplet]);
        let begins = tuplet.is_some_and(|(first, _)| first == index);
        let ends = tuplet.is_some_and(|(_, last)| last == index);
        let fingered = note
            .filter(|_| staff == TABLATURE)
            .and_then(|note| *self.places.get(note)?);
        if !(is_tied || ties_on || begins || ends || fingered.is_some()) {
            return;
        }
        self.xml.open("notations", &[]);
        for (is_there, end) in [(is_tied, "stop"), (ties_on, "start")] {
            if is_there {
                self.xml.empty("tied", &[("type", end)]);
            }
        }
        let hidden = [("bracket", "no"), ("show-number", "none")];
        for (is_there, end) in [(begins, "start"), (ends, "stop")] {
            if is_there {
                let attributes = [&[("type", end)][..], &hidden].concat();
                let is_hidden = end == "start" && staff == TABLATURE;
                let kept = if is_hidden { 3 } else { 1 };
                self.xml.empty("tuplet", &attributes[..kept]);
            }
        }
        if let Some(fingered) = fingered {
            self.write_technical(fingered, is_tied);
        }
        self.xml.close("notations");
    }

    pub(super) fn write_beams(&mut self, bar: &BarSymbols<'_>, index: usize) {
        for (number, beam) in (1..).zip(&bar.beams[index]) {
            let number: usize = number;
            self.xml
                .text_with("beam", &[("number", &number.to_string())], beam);
        }
    }

    /// Writes the place of a note; a tied note already has its finger.
    pub(super) fn write_technical(&mut self, fingered: Fingered, is_tied: bool) {
        self.xml.open("technical", &[]);
        if let Some(finger) = fingered.finger.filter(|_| !is_tied) {
            self.xml.number("fingering", finger);
        }
        let place = fingered.place;
        self.xml.number("string", StringNumber::get(place.string));
        self.xml.number("fret", place.fret);
        self.xml.close("technical");
    }
}

/// The name of a note value in the standard.
pub(super) fn type_name(value: NoteValue) -> &'static str {
    match value.power() {
        ..=-1 => "breve",
        0 => "whole",
        1 => "half",
        2 => "quarter",
        3 => "eighth",
        4 => "16th",
        5 => "32nd",
        6.. => "64th",
    }
}

/// The name of an accidental in the standard; four flats or sharps have none.
pub(super) fn accidental_name(alteration: i8) -> Option<&'static str> {
    Some(match alteration {
        -3 => "triple-flat",
        -2 => "flat-flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2 => "double-sharp",
        3 => "triple-sharp",
        _ => return None,
    })
}
