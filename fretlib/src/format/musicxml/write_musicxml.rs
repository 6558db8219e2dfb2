//! Writing MusicXML: a staff and, when the places are known, a tablature staff under it.

mod above;
mod attributes;
mod chord_under;
mod form_marks;
mod note;
mod played_out;
mod tags;
#[cfg(test)]
mod tests;

use std::convert::Infallible;

use num_integer::Integer;

pub use self::chord_under::{ChordUnder, NoteUnder};

use self::chord_under::LowerVoice;
use self::note::BarSymbols;
use self::played_out::PlayedOut;
use self::tags::Tags;
use crate::melody::{Melody, Quarters};
use crate::neck::{Finger, Instrument, Place};
use crate::notation::accidental::Accidentals;
use crate::notation::multi_bar_rest::multi_bar_rests;
use crate::notation::rhythm::{WrittenBar, write_down_cut_at};

/// Where one note is played.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Fingered {
    /// The string and the fret.
    pub place: Place,
    /// The finger; none on an open string.
    pub finger: Option<Finger>,
}

/// Writes a melody as a score of one part for an instrument.
///
/// `places` has an entry for every note, `None` for a note without a place; when it is empty, there is no tablature.
/// The notes are at their written pitch, with `<transpose>` for an instrument that sounds elsewhere; the tuning of the
/// tablature is given at sounding pitch. Note values, ties, tuplets, beams and accidentals are those of the page from
/// `neckline sheet`. Phrases are not written. An order of parts has no place in the standard: such a tune is played out.
///
/// Source: MusicXML Version 4.0, W3C Music Notation Community Group, June 2021.
pub fn write(melody: &Melody, instrument: &Instrument, places: &[Option<Fingered>]) -> String {
    whole(|piece| write_in_pieces(melody, instrument, places, piece))
}

/// Like [`write()`], handed on a measure at a time: the score of a long tune takes hundreds of bytes a note.
///
/// # Errors
///
/// What `piece` gives; nothing is handed on after that.
pub fn write_in_pieces<E>(
    melody: &Melody,
    instrument: &Instrument,
    places: &[Option<Fingered>],
    piece: impl FnMut(&str) -> Result<(), E>,
) -> Result<(), E> {
    match PlayedOut::new(melody, places, &[]) {
        Some(out) => write_voices(&out.melody, instrument, &out.places, None, piece),
        None => write_voices(melody, instrument, places, None, piece),
    }
}

/// Writes a melody and the chords under it as two voices on one staff, stems up and down, and a tablature staff under
/// it with the fingers of both.
///
/// `places` are those of the melody, as for [`write()`]; the chords under it come in order and do not overlap.
pub fn write_over(
    melody: &Melody,
    instrument: &Instrument,
    places: &[Option<Fingered>],
    under: &[ChordUnder],
) -> String {
    let out = PlayedOut::new(melody, places, under);
    let (melody, places, under) = match &out {
        Some(out) => (&out.melody, &out.places[..], &out.under[..]),
        None => (melody, places, under),
    };
    let voice = LowerVoice::new(melody, under, &cuts(melody));
    whole(|piece| write_voices(melody, instrument, places, voice.as_ref(), piece))
}

/// All pieces as one text.
fn whole(
    write: impl FnOnce(&mut dyn FnMut(&str) -> Result<(), Infallible>) -> Result<(), Infallible>,
) -> String {
    let mut text = String::new();
    let Ok(()) = write(&mut |piece| {
        text.push_str(piece);
        Ok(())
    });
    text
}

fn write_voices<E>(
    melody: &Melody,
    instrument: &Instrument,
    places: &[Option<Fingered>],
    lower: Option<&LowerVoice>,
    piece: impl FnMut(&str) -> Result<(), E>,
) -> Result<(), E> {
    let bars = write_down_cut_at(melody, &cuts(melody));
    let lower_bars = lower.map_or(&[][..], LowerVoice::bars);
    let mut score = ScoreWriter {
        lower,
        xml: Tags::new(),
        melody,
        instrument,
        places,
        divisions: divisions(bars.iter().chain(lower_bars), melody),
        accidentals: Accidentals::new(0),
        parts_of_bars: 0,
        long_rests: Vec::new(),
    };
    score.write(&bars, piece)
}

/// Times at which something is written between notes, other than chord symbols, which can have an offset.
fn cuts(melody: &Melody) -> Vec<Quarters> {
    let keys = melody.keys().iter().map(|(onset, _)| onset);
    let meters = melody.meters().iter().map(|(onset, _)| onset);
    let tempos = melody.tempos().iter().map(|(onset, _)| onset);
    let sections = melody.sections().iter().map(|(onset, _)| onset);
    let form = melody.form().signs().iter().map(|(onset, _)| *onset);
    let mut cuts: Vec<Quarters> = keys
        .chain(meters)
        .chain(tempos)
        .chain(sections)
        .chain(form)
        .collect();
    cuts.sort_unstable();
    cuts
}

/// Divisions of a quarter note that hold every time exactly.
fn divisions<'b>(bars: impl Iterator<Item = &'b WrittenBar>, melody: &Melody) -> i64 {
    // Above this, on a grid finer than any music, times are rounded.
    const MOST: i64 = 1_000_000;
    let symbols = bars.flat_map(|bar| {
        let onsets = bar.symbols.iter().map(|symbol| bar.onset + symbol.onset);
        onsets.chain([bar.onset + bar.length])
    });
    let chords = melody.chords().iter().map(|(onset, _)| onset);
    symbols
        .chain(chords)
        .try_fold(1, |all: i64, time| {
            Some(all.lcm(&time.denom())).filter(|all| *all <= MOST)
        })
        .unwrap_or(MOST)
}

struct ScoreWriter<'m> {
    xml: Tags,
    melody: &'m Melody,
    instrument: &'m Instrument,
    places: &'m [Option<Fingered>],
    lower: Option<&'m LowerVoice>,
    divisions: i64,
    accidentals: Accidentals,
    /// How many of the measures so far continue a bar.
    parts_of_bars: u32,
    /// The rests of several bars: when each begins, and of how many.
    long_rests: Vec<(Quarters, usize)>,
}

const STAFF: &str = "1";
const TABLATURE: &str = "2";

impl ScoreWriter<'_> {
    fn has_tablature(&self) -> bool {
        !self.places.is_empty()
    }

    fn ticks(&self, time: Quarters) -> i64 {
        (time * Quarters::from(self.divisions)).round().to_integer()
    }

    fn write<E>(
        &mut self,
        bars: &[WrittenBar],
        mut piece: impl FnMut(&str) -> Result<(), E>,
    ) -> Result<(), E> {
        self.xml.open("score-partwise", &[("version", "4.0")]);
        self.xml.open("work", &[]);
        self.xml.text("work-title", self.melody.title());
        self.xml.close("work");
        self.xml.open("identification", &[]);
        if let Some(composer) = self.melody.composer() {
            self.xml
                .text_with("creator", &[("type", "composer")], composer);
        }
        self.xml.open("encoding", &[]);
        if let Some(transcriber) = self.melody.transcriber() {
            self.xml.text("encoder", transcriber);
        }
        self.xml.text("software", "neckline");
        self.xml.close("encoding");
        if let Some(source) = self.melody.source() {
            self.xml.text("source", source);
        }
        self.xml.close("identification");
        self.write_words();
        self.write_part_list();
        self.xml.open("part", &[("id", "P1")]);
        let under = self.lower.map_or(&[][..], LowerVoice::bars);
        self.long_rests = multi_bar_rests(self.melody, bars, under)
            .into_iter()
            .map(|run| (bars[run.start].onset, run.len()))
            .collect();
        for (index, bar) in bars.iter().enumerate() {
            self.write_measure(bar, index == 0, index + 1 == bars.len());
            piece(&self.xml.take())?;
        }
        self.xml.close("part");
        self.xml.close("score-partwise");
        piece(&self.xml.take())
    }

    /// The words after the tune, a credit of a kind that the standard leaves open.
    fn write_words(&mut self) {
        let melody = self.melody;
        if melody.words().is_empty() {
            return;
        }
        self.xml.open("credit", &[("page", "1")]);
        self.xml.text("credit-type", "lyrics");
        for line in melody.words() {
            self.xml.text("credit-words", line);
        }
        self.xml.close("credit");
    }

    fn write_part_list(&mut self) {
        self.xml.open("part-list", &[]);
        self.xml.open("score-part", &[("id", "P1")]);
        self.xml.text("part-name", self.instrument.name());
        self.xml.open("score-instrument", &[("id", "P1-I1")]);
        self.xml.text("instrument-name", self.instrument.name());
        self.xml.close("score-instrument");
        self.xml.open("midi-instrument", &[("id", "P1-I1")]);
        self.xml.number("midi-channel", 1);
        let program = u16::from(self.instrument.build().program) + 1;
        self.xml.number("midi-program", program);
        self.xml.close("midi-instrument");
        self.xml.close("score-part");
        self.xml.close("part-list");
    }

    fn write_measure(&mut self, bar: &WrittenBar, is_first: bool, is_last: bool) {
        let at = self.melody.bar_at(bar.onset);
        // A measure that continues a bar has no number of its own.
        let continues = at.continues() || at.onset != bar.onset;
        let is_implicit = at.number == 0 || continues;
        let number = match continues {
            true => {
                self.parts_of_bars += 1;
                format!("X{}", self.parts_of_bars)
            }
            false => at.number.to_string(),
        };
        let attributes = [("number", number.as_str()), ("implicit", "yes")];
        let kept = if is_implicit { 2 } else { 1 };
        self.xml.open("measure", &attributes[..kept]);
        if self.melody.line_breaks().binary_search(&bar.onset).is_ok() {
            self.xml.empty("print", &[("new-system", "yes")]);
        }
        self.write_left_bar_line(bar.onset);
        if is_first {
            self.write_first_attributes();
        }
        self.write_long_rest(bar.onset);
        let signature = self.melody.keys().at(bar.onset);
        self.accidentals
            .bar(signature.map_or(0, |key| key.signature()));
        let marked = BarSymbols::new(bar);
        for symbol in 0..bar.symbols.len() {
            let onset = bar.onset + bar.symbols[symbol].onset;
            self.write_changes(onset);
            self.write_signs(onset);
            self.write_chords(onset, onset + bar.symbols[symbol].duration);
            self.write_symbol(&marked, symbol, STAFF);
        }
        let lower = self.lower.and_then(|lower| lower.bar_at(bar.onset));
        if let Some(lower) = lower {
            self.back_to(bar);
            self.write_lower_bar(lower, STAFF);
        }
        if self.has_tablature() && !bar.symbols.is_empty() {
            self.back_to(bar);
            for symbol in 0..bar.symbols.len() {
                self.write_symbol(&marked, symbol, TABLATURE);
            }
            if let Some(lower) = lower {
                self.back_to(bar);
                self.write_lower_bar(lower, TABLATURE);
            }
        }
        self.write_jumps(bar.onset + bar.length);
        self.write_right_bar_line(bar, is_last);
        self.xml.close("measure");
    }

    /// Goes back to the beginning of a bar.
    fn back_to(&mut self, bar: &WrittenBar) {
        self.xml.open("backup", &[]);
        let length = self.ticks(bar.onset + bar.length) - self.ticks(bar.onset);
        self.xml.number("duration", length);
        self.xml.close("backup");
    }
}
