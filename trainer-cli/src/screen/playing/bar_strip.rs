//! Bars as columns of the screen, proportional to time.

use fretlib::neck::Place;
use fretlib::sound::{Layer, PlayThrough, PlayedBar};

use crate::commands::play::PlayedTune;

/// A bar, laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct BarStrip {
    /// Its index among the bars of the pass.
    pub index: usize,
    /// Its heading: its number, and which time it is played if it is repeated.
    pub heading: String,
    /// Its width in columns, including the bar line.
    pub width: u16,
    /// The notes that begin in it.
    pub notes: Vec<StripNote>,
    /// Chord symbols and their columns.
    pub chords: Vec<(u16, String)>,
    /// Times in seconds and their columns, ascending from the bar's start to its end.
    anchors: Vec<(f64, u16)>,
}

/// A note in a bar.
#[derive(Clone, Debug, PartialEq)]
pub struct StripNote {
    /// Its column, counted from the bar line.
    pub column: u16,
    /// The melody, or what lies under it.
    pub layer: Layer,
    /// The note of the melody that it is, counted from 0.
    pub note: Option<usize>,
    /// Where it is played, if it has a place.
    pub place: Option<Place>,
    /// Its name on the staff, without the octave.
    pub name: String,
    /// When it sounds, in seconds.
    pub start: f64,
    pub end: f64,
}

/// The fewest columns of a bar.
const NARROWEST: u16 = 10;
/// Columns of the bar line and the space behind it.
const MARGIN: u16 = 2;

impl BarStrip {
    /// Lays out a bar of a pass: as narrow as its quickest notes allow, and no wider than `most`.
    pub fn new(tune: &PlayedTune, pass: &PlayThrough, index: usize, most: u16) -> BarStrip {
        let bar = pass.bars[index];
        let notes = notes_of(tune, pass, &bar);
        let seconds = bar.end - bar.start;
        let columns: Vec<&[StripNote]> = notes.chunk_by(is_together).collect();
        let shares = columns.windows(2).map(|pair| {
            let room = f64::from(room_of(pair[0]));
            room * seconds / (pair[1][0].start - pair[0][0].start)
        });
        let last = columns.last().map_or(0.0, |column| {
            f64::from(room_of(column)) * seconds / (bar.end - column[0].start).max(1e-3)
        });
        let inner = shares.fold(last, f64::max).ceil().min(f64::from(most)) as u16;
        let width = (inner + MARGIN).clamp(NARROWEST, most.max(NARROWEST));
        BarStrip::laid_out(tune, &bar, index, width, notes)
    }

    /// The same bar with this many columns.
    pub fn widened(&self, tune: &PlayedTune, pass: &PlayThrough, width: u16) -> BarStrip {
        BarStrip::laid_out(
            tune,
            &pass.bars[self.index],
            self.index,
            width,
            self.notes.clone(),
        )
    }

    fn laid_out(
        tune: &PlayedTune,
        bar: &PlayedBar,
        index: usize,
        width: u16,
        mut notes: Vec<StripNote>,
    ) -> BarStrip {
        let inner = f64::from(width.saturating_sub(MARGIN));
        let along = |seconds: f64| {
            let share = (seconds - bar.start) / (bar.end - bar.start).max(1e-6);
            MARGIN + (share.clamp(0.0, 1.0) * inner) as u16
        };
        let mut anchors = vec![(bar.start, MARGIN)];
        let mut next = MARGIN;
        for together in notes.chunk_by_mut(is_together) {
            let (start, room) = (together[0].start, room_of(together));
            // If the bar is too narrow, notes are pushed to the right, and the last ones become invisible.
            let column = along(start).max(next);
            next = column + room;
            if start > bar.start {
                anchors.push((start, column));
            }
            together.iter_mut().for_each(|note| note.column = column);
        }
        notes.retain(|note| note.column + room_of(std::slice::from_ref(note)) <= width + 1);
        anchors.push((bar.end, width.max(next)));
        let written = tune.melody.bars()[bar.index];
        let symbols = tune.melody.chords().within(written.onset, written.end);
        let chords = symbols.iter().map(|(at, chord)| {
            let share = (*at - written.onset).to_f64() / written.length().to_f64();
            let column = MARGIN + (share * inner) as u16;
            (
                column,
                chord.map_or("N.C.".into(), |chord| chord.to_string()),
            )
        });
        let heading = match bar.time {
            1 => written.to_string(),
            time => format!("{written} (time {time})"),
        };
        BarStrip {
            index,
            heading,
            width,
            notes,
            chords: chords.collect(),
            anchors,
        }
    }

    /// The column of a time within the bar, interpolated from note to note.
    pub fn column_at(&self, seconds: f64) -> u16 {
        let after = self.anchors.partition_point(|(at, _)| *at <= seconds);
        let Some((from, left)) = after.checked_sub(1).map(|index| self.anchors[index]) else {
            return MARGIN;
        };
        let Some((to, right)) = self.anchors.get(after) else {
            return left.min(self.width.saturating_sub(1));
        };
        let share = (seconds - from) / (to - from).max(1e-6);
        let column = f64::from(left) + share * (f64::from(*right) - f64::from(left));
        (column as u16).min(self.width.saturating_sub(1))
    }
}

/// Whether two notes are struck together, so that they stand over each other.
fn is_together(one: &StripNote, other: &StripNote) -> bool {
    other.start - one.start < 1e-6
}

/// Columns that notes struck together need: the widest figure or name, and a space.
fn room_of(together: &[StripNote]) -> u16 {
    let room = |note: &StripNote| {
        let figure = note.place.map_or(1, |place| place.fret.to_string().len());
        let name = match note.layer {
            Layer::Melody => note.name.len(),
            Layer::Chords | Layer::Click => 0,
        };
        figure.max(name)
    };
    together.iter().map(room).max().unwrap_or(0) as u16 + 1
}

fn notes_of(tune: &PlayedTune, pass: &PlayThrough, bar: &PlayedBar) -> Vec<StripNote> {
    // Times are sums of fractions: a note on the bar line must not fall before it by rounding.
    let inside = pass
        .performance
        .plucks_between(bar.start - 1e-9, bar.end - 1e-9);
    let notes = inside.filter_map(|pluck| {
        let note = pluck.note?;
        Some(StripNote {
            column: 0,
            layer: Layer::Melody,
            note: Some(note),
            place: tune.places[note],
            name: tune.melody.notes()[note].pitch.class().to_string(),
            start: pluck.start,
            end: pluck.end,
        })
    });
    let mut notes: Vec<StripNote> = notes.collect();
    notes.extend(under(tune, pass, bar));
    notes.sort_by(|one, other| one.start.total_cmp(&other.start));
    notes
}

/// What lies under the melody and begins in a bar.
fn under<'a>(
    tune: &'a PlayedTune,
    pass: &'a PlayThrough,
    bar: &'a PlayedBar,
) -> impl Iterator<Item = StripNote> + 'a {
    let written = tune.melody.bars()[bar.index];
    let all = tune.under.iter().flat_map(|under| &under.notes);
    let here = all.filter(move |it| (written.onset..written.end).contains(&it.note.onset));
    let seconds = move |time| pass.tempo_map.seconds(bar.onset + (time - written.onset));
    here.map(move |it| StripNote {
        column: 0,
        layer: Layer::Chords,
        note: None,
        place: Some(it.at.place),
        name: it.note.pitch.class().to_string(),
        start: seconds(it.note.onset),
        end: seconds(it.note.end()),
    })
}

/// The bars shown together: those that fit `width` columns, including the bar `present`, which is never the last of the
/// first row if there are two or more.
pub fn rows_of_bars(
    tune: &PlayedTune,
    pass: &PlayThrough,
    present: usize,
    width: u16,
    rows: usize,
) -> Vec<Vec<BarStrip>> {
    let most = width / 2;
    let count = pass.bars.len();
    let mut start = 0;
    loop {
        let mut shown = Vec::new();
        let mut next = start;
        for _ in 0..rows {
            let row = one_row(tune, pass, next, width, most);
            next += row.len();
            shown.push(row);
        }
        let first = shown[0].len();
        // A single row moves on at its last bar; with a second row the next bars are visible anyway.
        let step = if rows > 1 || first < 2 {
            first
        } else {
            first - 1
        };
        if present < start + step || start + first >= count || step == 0 {
            shown.retain(|row| !row.is_empty());
            return shown;
        }
        start += step;
    }
}

fn one_row(
    tune: &PlayedTune,
    pass: &PlayThrough,
    first: usize,
    width: u16,
    most: u16,
) -> Vec<BarStrip> {
    let mut row: Vec<BarStrip> = Vec::new();
    let mut used = 1;
    for index in first..pass.bars.len() {
        let bar = BarStrip::new(tune, pass, index, most);
        if used + bar.width > width && !row.is_empty() {
            break;
        }
        used += bar.width;
        row.push(bar);
    }
    // Spare columns are distributed over the bars; a last row keeps its size.
    if first + row.len() < pass.bars.len() {
        let share = width.saturating_sub(used) / row.len().max(1) as u16;
        row = row
            .iter()
            .map(|bar| bar.widened(tune, pass, bar.width + share))
            .collect();
    }
    row
}
