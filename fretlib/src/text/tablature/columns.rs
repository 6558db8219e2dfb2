//! Bars as columns: what begins when, and how much room it takes.

use super::Tablature;
use crate::melody::Quarters;
use crate::neck::Position;
use crate::text::note_value::note_value;

/// Everything that begins at one moment.
#[derive(Clone, Debug, Default)]
pub(super) struct Column {
    onset: Quarters,
    /// The note that sounds from here, and whether it is tied over from the bar before; none for a rest or where only a
    /// chord changes.
    pub(super) note: Option<(usize, bool)>,
    pub(super) rhythm: String,
    pub(super) chord: Option<String>,
    pub(super) position: Option<Position>,
    pub(super) width: usize,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Measure {
    pub(super) number: u32,
    pub(super) section: Option<String>,
    pub(super) columns: Vec<Column>,
    /// False where a bar too long for the width is broken.
    pub(super) ends: bool,
}

impl Measure {
    pub(super) fn width(&self) -> usize {
        self.columns
            .iter()
            .map(|column| column.width)
            .sum::<usize>()
            + 2
    }
}

impl Tablature<'_> {
    /// The bars with everything that begins in them.
    pub(super) fn measures(&self) -> Vec<Measure> {
        let melody = self.melody;
        let bars = melody.bars();
        let mut note = 0;
        let mut measures = Vec::with_capacity(bars.len());
        for (index, bar) in bars.iter().enumerate() {
            let end = bars
                .get(index + 1)
                .map_or(melody.length(), |next| next.onset);
            let mut columns = Vec::new();
            let mut now = bar.onset;
            // What sounds over the bar line comes first, then each note and each silence.
            while now < end {
                let Some(it) = melody.notes().get(note).filter(|it| it.onset < end) else {
                    columns.push(Column {
                        onset: now,
                        rhythm: rest(end - now),
                        ..Column::default()
                    });
                    break;
                };
                if it.onset > now {
                    columns.push(Column {
                        onset: now,
                        rhythm: rest(it.onset - now),
                        ..Column::default()
                    });
                    now = it.onset;
                }
                let until = it.end().min(end);
                columns.push(Column {
                    onset: now,
                    note: Some((note, it.onset < now)),
                    rhythm: note_value(until - now),
                    position: self.notes[note].position.filter(|_| it.onset == now),
                    ..Column::default()
                });
                now = until;
                if it.end() <= end {
                    note += 1;
                }
            }
            self.add_chords(bar.onset, end, index == 0, &mut columns);
            self.space(&mut columns);
            measures.push(Measure {
                number: bar.number,
                section: self.section_at(bar.onset),
                columns,
                ends: true,
            });
        }
        measures
    }

    fn section_at(&self, onset: Quarters) -> Option<String> {
        let mut sections = self.melody.sections().iter();
        sections
            .find(|(at, _)| *at == onset)
            .map(|(_, name)| name.clone())
    }

    /// Chords that begin in a bar; one that begins while a note sounds gets a column of its own.
    fn add_chords(&self, start: Quarters, end: Quarters, first: bool, columns: &mut Vec<Column>) {
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
                    let column = Column {
                        onset,
                        chord: Some(symbol),
                        ..Column::default()
                    };
                    columns.insert(found.unwrap_or(columns.len()), column);
                }
            }
        }
    }

    /// Gives each column room for what is written in it, longer notes a little more, and chord symbols room to the next.
    fn space(&self, columns: &mut [Column]) {
        for column in columns.iter_mut() {
            let mut widest = column.rhythm.len();
            if let Some((note, tied)) = column.note {
                let it = &self.notes[note];
                widest = widest
                    .max(self.fret_text(note, tied).len())
                    .max(self.label(note, tied).len());
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

fn rest(duration: Quarters) -> String {
    format!("r{}", note_value(duration))
}

/// A bar in pieces that fit `room`; most bars are one piece.
pub(super) fn broken(measure: Measure, room: usize) -> Vec<Measure> {
    if measure.width() <= room {
        return vec![measure];
    }
    let mut pieces: Vec<Measure> = Vec::new();
    let mut piece = Measure {
        columns: Vec::new(),
        ..measure.clone()
    };
    for column in measure.columns {
        if piece.width() + column.width > room && !piece.columns.is_empty() {
            piece.ends = false;
            let next = Measure {
                section: None,
                columns: Vec::new(),
                ends: true,
                ..piece
            };
            pieces.push(std::mem::replace(&mut piece, next));
        }
        piece.columns.push(column);
    }
    pieces.push(piece);
    pieces
}
