//! Bars as columns: what begins at each moment, and its width.

use std::ops::Range;

use super::Tablature;
use crate::melody::{Bar, FormSign, MeasurePart, NoteValue, Quarters};
use crate::neck::Position;
use crate::notation::multi_bar_rest::multi_bar_rests;
use crate::notation::rhythm::write_down;

/// Everything that begins at one moment.
#[derive(Clone, Debug, Default)]
pub(super) struct TabColumn {
    pub(super) onset: Quarters,
    /// The note that sounds from here, and whether it is tied over from the bar before; `None` for a rest or a chord
    /// change alone.
    pub(super) note: Option<(usize, bool)>,
    pub(super) rhythm: String,
    pub(super) chord: Option<String>,
    pub(super) position: Option<Position>,
    pub(super) width: usize,
}

#[derive(Clone, Debug, Default)]
pub(super) struct BarColumns {
    pub(super) number: String,
    pub(super) section: Option<String>,
    pub(super) columns: Vec<TabColumn>,
    /// False when a bar too long for the width is broken here.
    pub(super) ends: bool,
    /// The signs of the form where it begins and where it ends.
    pub(super) opening: Vec<FormSign>,
    pub(super) closing: Vec<FormSign>,
}

impl BarColumns {
    pub(super) fn begins_repeat(&self) -> bool {
        self.opening.contains(&FormSign::RepeatStart)
    }

    pub(super) fn ends_repeat(&self) -> bool {
        let is_end = |sign: &FormSign| matches!(sign, FormSign::RepeatEnd(_));
        self.closing.iter().any(is_end)
    }

    /// Whether the bar line at its end is a double one.
    pub(super) fn ends_double(&self) -> bool {
        self.closing.iter().any(|sign| sign.is_bar_line())
    }

    /// Its number, its section and the words of the form.
    pub(super) fn head(&self) -> String {
        let number = (!self.number.is_empty()).then(|| self.number.clone());
        let words: Vec<String> = number
            .into_iter()
            .chain(self.section.clone())
            .chain(self.words())
            .collect();
        words.join(" ")
    }

    /// The words of the form over it.
    fn words(&self) -> impl Iterator<Item = String> {
        let signs = self.opening.iter().chain(&self.closing);
        signs.filter_map(|sign| sign.in_words())
    }

    /// Widens the last column until the words of the form are not cut short.
    fn make_room_for_words(&mut self) {
        if self.words().next().is_none() {
            return;
        }
        let missing = (self.head().chars().count() + 1).saturating_sub(self.width());
        if let Some(last) = self.columns.last_mut() {
            last.width += missing;
        }
    }

    pub(super) fn width(&self) -> usize {
        self.columns
            .iter()
            .map(|column| column.width)
            .sum::<usize>()
            + 2
    }
}

impl Tablature<'_> {
    /// The bars with their columns; several silent ones are one rest, unless only some of them are `shown`, by number.
    pub(super) fn bars(&self, shown: impl Fn(u32) -> bool) -> Vec<BarColumns> {
        let mut bars = self.single_bars();
        let written = write_down(self.melody);
        let is_shown = |bar: &usize| shown(self.melody.bar_at(written[*bar].onset).number);
        let rests = multi_bar_rests(self.melody, &written, &[]).into_iter();
        let rests = rests.flat_map(|rest| {
            let silent: Vec<usize> = rest.collect();
            let runs = silent.chunk_by(|one, other| is_shown(one) == is_shown(other));
            let runs = runs.map(|run| run[0]..run[0] + run.len());
            runs.filter(|run| run.len() > 1).collect::<Vec<_>>()
        });
        let rests: Vec<Range<usize>> = rests.collect();
        for rest in rests.into_iter().rev() {
            let last = bars[rest.end - 1].clone();
            let first = &mut bars[rest.start];
            first.number = format!("{}-{}", first.number, last.number);
            first.ends = last.ends;
            first.closing = last.closing;
            for column in &mut first.columns {
                column.rhythm = format!("rest of {} bars", rest.len());
                column.width = column.width.max(column.rhythm.len() + 1);
            }
            bars.drain(rest.start + 1..rest.end);
        }
        bars
    }

    fn single_bars(&self) -> Vec<BarColumns> {
        let mut bars = Vec::new();
        for (index, measure) in self.melody.measures_cut_at_signs(&[]).iter().enumerate() {
            let mut columns: Vec<TabColumn> =
                measure.parts.iter().map(|part| self.column(part)).collect();
            let Bar { onset, end, .. } = measure.bar;
            self.add_chords(onset, end, index == 0, &mut columns);
            self.space(&mut columns);
            let mut bar = BarColumns {
                number: match measure.bar.continues() && !measure.bar.is_extra {
                    true => String::new(),
                    false => measure.bar.to_string(),
                },
                section: self.section_at(onset),
                columns,
                ends: end == self.melody.bar_at(onset).end,
                opening: self.signs_at(onset, false),
                closing: self.signs_at(end, true),
            };
            bar.make_room_for_words();
            bars.push(bar);
        }
        bars
    }

    fn signs_at(&self, at: Quarters, ends: bool) -> Vec<FormSign> {
        let here = self.melody.form().at(at).iter().map(|(_, sign)| *sign);
        here.filter(|sign| sign.ends() == ends || sign.is_bar_line() && ends)
            .filter(|sign| *sign != FormSign::RepeatStart || !ends)
            .collect()
    }

    /// A note tied over the bar line comes first, then each note and rest.
    fn column(&self, part: &MeasurePart) -> TabColumn {
        let value = NoteValue::write_duration(part.duration());
        let column = TabColumn {
            onset: part.onset,
            ..TabColumn::default()
        };
        match part.note {
            Some(note) => TabColumn {
                note: Some((note, part.tied_back)),
                rhythm: value,
                position: self.notes[note].position.filter(|_| !part.tied_back),
                ..column
            },
            None => TabColumn {
                rhythm: format!("r{value}"),
                ..column
            },
        }
    }

    fn section_at(&self, onset: Quarters) -> Option<String> {
        let mut sections = self.melody.sections().iter();
        sections
            .find(|(at, _)| *at == onset)
            .map(|(_, name)| name.clone())
    }

    /// Chords that begin in a bar; one that begins while a note sounds gets a column of its own.
    fn add_chords(
        &self,
        start: Quarters,
        end: Quarters,
        first: bool,
        columns: &mut Vec<TabColumn>,
    ) {
        let chords = self.melody.chords();
        let begins = |at: &Quarters| *at >= start && *at < end;
        for (onset, chord) in chords
            .iter()
            .filter(|(at, _)| begins(at) || (first && *at < start))
        {
            let symbol = chord.map_or("N.C.".into(), |chord| chord.to_string());
            match columns.iter().position(|column| column.onset >= onset) {
                Some(index) if columns[index].onset == onset => columns[index].chord = Some(symbol),
                found => {
                    let column = TabColumn {
                        onset,
                        chord: Some(symbol),
                        ..TabColumn::default()
                    };
                    columns.insert(found.unwrap_or(columns.len()), column);
                }
            }
        }
    }

    /// Sets the width of each column: enough for its text, a little more for longer notes, and enough for chord
    /// symbols.
    fn space(&self, columns: &mut [TabColumn]) {
        for column in columns.iter_mut() {
            let mut widest = column.rhythm.len();
            if let Some((note, tied)) = column.note {
                let it = &self.notes[note];
                widest = widest
                    .max(self.fret_text(note, tied).len())
                    .max(self.label(note, tied).len());
                let chord_tone = it.chord_tone.map_or(0, |tone| tone.to_string().len());
                widest = widest.max(chord_tone);
                widest = widest.max(it.position.map_or(0, |it| it.to_string().len()));
            }
            let long = match column.rhythm.chars().next() {
                Some('w') => 4,
                Some('h') => 3,
                Some('q') => 2,
                _ => 1,
            };
            column.width = widest.max(1) + long;
        }
        let chords: Vec<usize> = (0..columns.len())
            .filter(|index| columns[*index].chord.is_some())
            .collect();
        for (nth, &index) in chords.iter().enumerate() {
            let until = chords.get(nth + 1).copied().unwrap_or(columns.len());
            let room: usize = columns[index..until]
                .iter()
                .map(|column| column.width)
                .sum();
            let needed = columns[index]
                .chord
                .as_ref()
                .map_or(0, |symbol| symbol.chars().count() + 1);
            columns[until - 1].width += needed.saturating_sub(room);
        }
    }
}

/// A bar in pieces that fit `room`; most bars are one piece.
pub(super) fn broken(measure: BarColumns, room: usize) -> Vec<BarColumns> {
    if measure.width() <= room {
        return vec![measure];
    }
    let ends = measure.ends;
    let mut pieces: Vec<BarColumns> = Vec::new();
    let mut piece = BarColumns {
        columns: Vec::new(),
        ..measure.clone()
    };
    for column in measure.columns {
        if piece.width() + column.width > room && !piece.columns.is_empty() {
            piece.ends = false;
            let closing = std::mem::take(&mut piece.closing);
            let next = BarColumns {
                number: piece.number.clone(),
                section: None,
                columns: Vec::new(),
                ends,
                opening: Vec::new(),
                closing,
            };
            pieces.push(std::mem::replace(&mut piece, next));
        }
        piece.columns.push(column);
    }
    pieces.push(piece);
    pieces
}
