//! The widths of the symbols of a bar, and the breaks of bars into systems.
//!
//! Widths are in staff spaces. The space after a note grows with the square root of its length, which is close to the
//! tables engravers use: a note of twice the length gets about 1.4 times the space (Ross, *The Art of Music Engraving and
//! Processing*, 1970; Gould, *Behind Bars*, 2011; from memory).

use std::ops::Range;

use super::bar_line_marks::form_width;
use super::font::{Face, Sign, defaults};
use super::rows::{POSITION_SIZE, POSITION_WEDGE};
use super::second_voice::{SecondVoice, write_second_voice};
use super::staff_block::{
    DEGREE_SIZE, FINGER_SIZE, FRET_SIZE, INTERVAL_SIZE, LYRIC_SIZE, Notation, Rows, chord_spans,
    chord_width,
};
use super::voicing_diagram::diagram_width;
use crate::melody::{Endings, FormSign, Melody, Meter, NoteValue, Quarters, Times};
use crate::notation::accidental::Accidentals;
use crate::notation::beam::note_index;
use crate::notation::multi_bar_rest::multi_bar_rests;
use crate::notation::rhythm::{Symbol, Written, WrittenBar, write_down};
use crate::theory::Pitch;

/// Space after a quarter note.
const QUARTER_SPACE: f64 = 3.6;
/// The least space between the ink of two symbols.
const GAP: f64 = 0.5;
/// The least width of a rest of several bars.
const LONG_REST: f64 = 9.0;
/// Space after a bar line.
pub(super) const AFTER_BAR_LINE: f64 = 0.9;

/// A symbol with the ink around its head.
#[derive(Clone, Debug)]
pub(super) struct SymbolColumn {
    pub written: Written,
    /// The pitch, for a note.
    pub pitch: Option<Pitch>,
    pub accidentals: &'static [Sign],
    /// From its head to its dots, beside the head of the other voice where that stands right of it.
    pub dots_at: f64,
    /// From the left edge of its first accidental to the left edge of the head.
    pub accidental_left: f64,
    /// From the left edge of the ink to the left edge of the head.
    pub left: f64,
    /// From the left edge of the head to the next head, at the least.
    least: f64,
    /// The same when the line is neither stretched nor squeezed.
    ideal: f64,
}

/// A bar with its columns.
#[derive(Clone, Debug)]
pub(super) struct MeasuredBar {
    pub written: WrittenBar,
    pub columns: Vec<SymbolColumn>,
    /// What lies under the melody, where something does.
    pub second: Option<SecondVoice>,
    /// How many bars it stands for: more than one where several of rest are drawn as one.
    pub bars: usize,
    /// The signature in force, and the one before when it changes here.
    pub signature: i8,
    pub signature_before: Option<i8>,
    /// A meter that begins here.
    pub new_meter: Option<Meter>,
    /// A section that begins here.
    pub section: Option<String>,
    /// Chord symbols with their times in the bar.
    pub chords: Vec<(Quarters, String)>,
    /// Width of the new signature and meter, and of a repeat sign at its beginning.
    pub lead: f64,
    /// Width of the bar line at its end, with its repeat sign.
    pub trail: f64,
    /// The signs of the form at its beginning and its end.
    pub opening: Vec<FormSign>,
    pub closing: Vec<FormSign>,
    /// The ending it belongs to, and whether that begins and ends here.
    pub ending: Option<EndingBracket>,
}

/// The part of an ending's bracket over one bar.
#[derive(Clone, Copy, Debug)]
pub(super) struct EndingBracket {
    pub numbers: Endings,
    pub begins: bool,
    pub ends: bool,
}

impl MeasuredBar {
    /// Its width at this stretch; 0 gives the least width.
    pub fn width(&self, stretch: f64) -> f64 {
        self.start()
            + self
                .columns
                .iter()
                .map(|it| it.advance(stretch))
                .sum::<f64>()
            + self.trail
    }

    /// Whether it counts among the bars of a line: a pickup and the rest of a split bar do not.
    pub fn is_full(&self) -> bool {
        self.written.number > 0 && self.written.offset.is_zero()
    }

    /// Whether a repeated strain begins here.
    pub fn begins_repeat(&self) -> bool {
        self.opening.contains(&FormSign::RepeatStart)
    }

    /// How often the strain that ends here is played; `None` when none ends here.
    pub fn ends_repeat(&self) -> Option<Times> {
        self.closing.iter().find_map(|sign| match sign {
            FormSign::RepeatEnd(times) => Some(*times),
            _ => None,
        })
    }

    /// Leaves out a new signature, which the head of the line shows.
    pub fn begin_line(&mut self) {
        self.signature_before = None;
        self.lead = lead(self);
    }

    /// The x of the first head.
    pub fn start(&self) -> f64 {
        AFTER_BAR_LINE + self.lead + self.columns.first().map_or(0.0, |column| column.left)
    }

    /// The x of each head, and of the end of the bar.
    pub fn positions(&self, stretch: f64) -> Vec<f64> {
        let mut x = self.start();
        let mut out = vec![x];
        for column in &self.columns {
            x += column.advance(stretch);
            out.push(x);
        }
        out
    }
}

impl SymbolColumn {
    fn advance(&self, stretch: f64) -> f64 {
        self.least.max(self.ideal * stretch)
    }

    /// The sign of the head or the rest.
    pub fn sign(&self) -> Sign {
        head_sign(&self.written)
    }
}

/// The sign of a head or a rest.
pub(super) fn head_sign(written: &Written) -> Sign {
    let power = written.value.power();
    match (written.symbol, power) {
        (Symbol::BarRest, _) => Sign::RestWhole,
        (Symbol::Rest, ..=-1) => Sign::RestBreve,
        (Symbol::Rest, 0) => Sign::RestWhole,
        (Symbol::Rest, 1) => Sign::RestHalf,
        (Symbol::Rest, 2) => Sign::RestQuarter,
        (Symbol::Rest, _) => Sign::RestHooked(written.value.flags()),
        (Symbol::Note { .. }, ..=-1) => Sign::NoteheadBreve,
        (Symbol::Note { .. }, 0) => Sign::NoteheadWhole,
        (Symbol::Note { .. }, 1) => Sign::NoteheadHalf,
        (Symbol::Note { .. }, _) => Sign::NoteheadBlack,
    }
}

/// Distance from a head to its first dot, and from dot to dot.
pub(super) const DOT_GAP: f64 = 0.35;

/// Measures every bar of the melody.
pub(super) fn measure(notation: &Notation<'_>) -> Vec<MeasuredBar> {
    let melody = notation.tune.melody;
    let mut accidentals = Accidentals::new(0);
    let mut signature_before = None;
    let mut meter_before = None;
    let chords = chord_spans(melody);
    let bars = write_down(melody);
    let second = write_second_voice(notation);
    let rests = multi_bar_rests(melody, &bars, &second);
    let endings = melody.form().endings(melody.length());
    joined_rests(bars, &rests)
        .into_iter()
        .map(|(index, bars, written)| {
            let key = melody.keys().at(written.onset).copied();
            let signature = key.unwrap_or(notation.tune.key).signature();
            accidentals.bar(signature);
            let mut second = second.get(index).map(|it| SecondVoice::new(notation, it));
            let columns = columns(notation, &written, second.as_mut(), &mut accidentals);
            let end = written.onset + written.length;
            let in_bar = |at: Quarters| (written.onset..end).contains(&at);
            let section = melody.sections().iter().find(|(at, _)| in_bar(*at));
            let section = section.map(|(_, name)| name.clone());
            let chords = if notation.rows.chords {
                let here = chords.iter().filter(|(at, _)| in_bar(*at));
                here.map(|(at, name)| (*at - written.onset, name.clone()))
                    .collect()
            } else {
                Vec::new()
            };
            let mut bar = MeasuredBar {
                signature,
                signature_before: signature_before.filter(|before| *before != signature),
                new_meter: written.meter.filter(|meter| meter_before != Some(*meter)),
                section,
                chords,
                columns,
                second,
                bars,
                lead: 0.0,
                trail: 0.0,
                opening: signs_at(melody, written.onset, false),
                closing: signs_at(melody, end, true),
                ending: endings
                    .iter()
                    .find(|(span, _)| span.contains(&written.onset))
                    .map(|(span, numbers)| EndingBracket {
                        numbers: *numbers,
                        begins: span.start == written.onset,
                        ends: span.end <= end,
                    }),
                written,
            };
            bar.trail = trail(&bar, end == melody.length());
            // The first system shows both at its head.
            if signature_before.is_none() {
                bar.new_meter = None;
            }
            bar.lead = lead(&bar);
            signature_before = Some(signature);
            meter_before = bar.written.meter.or(meter_before);
            bar.make_room(notation);
            bar
        })
        .collect()
}

/// The bars with each long rest as one of them: the index of the first bar, and how many there are.
fn joined_rests(bars: Vec<WrittenBar>, rests: &[Range<usize>]) -> Vec<(usize, usize, WrittenBar)> {
    let mut joined: Vec<(usize, usize, WrittenBar)> = Vec::with_capacity(bars.len());
    let mut rests = rests.iter().peekable();
    for (index, bar) in bars.into_iter().enumerate() {
        while rests.next_if(|run| run.end <= index).is_some() {}
        let goes_on = rests.peek().is_some_and(|run| run.start < index);
        match joined.last_mut().filter(|_| goes_on) {
            Some((_, count, rest)) => {
                *count += 1;
                rest.length += bar.length;
                for symbol in &mut rest.symbols {
                    symbol.duration += bar.length;
                }
            }
            None => joined.push((index, 1, bar)),
        }
    }
    joined
}

/// The signs of the form at a time, either those of the bar that ends there or those of the bar that begins.
fn signs_at(melody: &Melody, time: Quarters, ends: bool) -> Vec<FormSign> {
    let here = melody.form().at(time).iter().map(|(_, sign)| *sign);
    here.filter(|sign| sign.ends() == ends).collect()
}

/// Widths of repeat signs: thick line, thin line and dots, with the space between them.
pub(super) const REPEAT_WIDTH: f64 = defaults::THICK_BAR_LINE
    + defaults::BAR_LINE_GAP
    + defaults::THIN_BAR_LINE
    + DOTS_GAP
    + 2.0 * DOT_RADIUS;
/// From the thin line of a repeat sign to its dots.
pub(super) const DOTS_GAP: f64 = 0.35;
pub(super) const DOT_RADIUS: f64 = 0.22;

fn trail(bar: &MeasuredBar, is_last: bool) -> f64 {
    if bar.ends_repeat().is_some() {
        REPEAT_WIDTH + 0.3
    } else if is_last || bar.closing.contains(&FormSign::FinalBar) {
        defaults::THICK_BAR_LINE + defaults::BAR_LINE_GAP + defaults::THIN_BAR_LINE
    } else {
        // Space for a double bar line, which may belong to the next bar.
        2.0 * defaults::THIN_BAR_LINE + defaults::BAR_LINE_GAP
    }
}

fn lead(bar: &MeasuredBar) -> f64 {
    let repeat = if bar.begins_repeat() {
        REPEAT_WIDTH + 0.4
    } else {
        0.0
    };
    let signature = bar.signature_before.map_or(0.0, |before| {
        signature_width(bar.signature, Some(before)) + 1.0
    });
    let meter = bar.new_meter.map_or(0.0, |meter| meter_width(meter) + 0.8);
    repeat + signature + meter
}

/// Width of a key signature, or of the naturals that cancel the previous one when the new one is empty.
pub(super) fn signature_width(signature: i8, before: Option<i8>) -> f64 {
    let (sign, count) = signature_signs(signature, before);
    sign.advance() * f64::from(count)
}

/// The accidental of a signature and its number.
pub(super) fn signature_signs(signature: i8, before: Option<i8>) -> (Sign, u8) {
    match signature {
        0 => (Sign::Natural, before.map_or(0, i8::unsigned_abs)),
        1.. => (Sign::Sharp, signature.unsigned_abs()),
        _ => (Sign::Flat, signature.unsigned_abs()),
    }
}

/// Width of a time signature.
pub(super) fn meter_width(meter: Meter) -> f64 {
    number_width(meter.count()).max(number_width(meter.unit()))
}

/// Width of a number in time signature digits.
pub(super) fn number_width(number: impl Into<u32>) -> f64 {
    digits(number)
        .map(|digit| Sign::TimeDigit(digit).advance())
        .sum()
}

/// The digits of a number from the left.
pub(super) fn digits(number: impl Into<u32>) -> impl Iterator<Item = u8> {
    number
        .into()
        .to_string()
        .into_bytes()
        .into_iter()
        .map(|it| it - b'0')
}

fn columns(
    notation: &Notation<'_>,
    bar: &WrittenBar,
    mut second: Option<&mut SecondVoice>,
    accidentals: &mut Accidentals,
) -> Vec<SymbolColumn> {
    let mut columns: Vec<SymbolColumn> = Vec::with_capacity(bar.symbols.len());
    for written in &bar.symbols {
        if let Some(second) = &mut second {
            say_accidentals(second, written.onset, accidentals);
        }
        columns.push({
            let pitch = note_index(written).map(|index| notation.tune.melody.notes()[index].pitch);
            let is_tied = matches!(
                written.symbol,
                Symbol::Note {
                    tied_back: true,
                    ..
                }
            );
            let signs = pitch
                .and_then(|pitch| accidentals.before(pitch, is_tied))
                .map_or(&[][..], Sign::of_alteration);
            let left = signs.iter().map(|sign| sign.advance() + 0.2).sum();
            SymbolColumn {
                written: *written,
                pitch,
                accidentals: signs,
                dots_at: head_sign(written).advance(),
                accidental_left: left,
                left,
                least: 0.0,
                ideal: 0.0,
            }
        });
    }
    if let Some(second) = &mut second {
        say_accidentals(second, bar.length, accidentals);
        for (written, stack) in second.written.symbols.iter().zip(&mut second.stacks) {
            if let Some(stack) = stack {
                let mut own = columns
                    .iter_mut()
                    .filter(|column| column.written.onset == written.onset);
                stack.set(written, own.next());
            }
        }
    }
    for at in 0..columns.len() {
        let next_left = columns.get(at + 1).map_or(0.3, |next| next.left);
        let column = &columns[at];
        let written = column.written;
        let mut right =
            column.dots_at + f64::from(written.value.dots()) * (DOT_GAP + Sign::Dot.advance());
        if written.can_be_beamed() {
            // An upward flag extends to the right; a beamed note has at least this much space anyway.
            right += 0.5;
        }
        let mut least = right + GAP + next_left;
        if let Some(second) = &second {
            least = least.max(room_for_chords(
                notation,
                second,
                &columns[at],
                right,
                next_left,
            ));
        }
        if let Some(index) = note_index(&written) {
            least = least.max(text_room(notation, index));
        }
        let beats = written.duration.to_f64();
        columns[at].least = least;
        columns[at].ideal = QUARTER_SPACE * beats.sqrt() + 0.5 * next_left;
    }
    columns
}

/// Finds the accidentals of the chords that begin before a time, and have none yet.
fn say_accidentals(second: &mut SecondVoice, before: Quarters, accidentals: &mut Accidentals) {
    let symbols = second.written.symbols.iter().zip(&mut second.stacks);
    for (written, stack) in symbols {
        let (true, Some(stack)) = (written.onset < before, stack) else {
            continue;
        };
        stack.say_accidentals(written, accidentals);
    }
}

/// The least from a head to the next with the chords of the second voice that begin with it and after it.
fn room_for_chords(
    notation: &Notation<'_>,
    second: &SecondVoice,
    column: &SymbolColumn,
    right: f64,
    next_left: f64,
) -> f64 {
    let (start, length) = (column.written.onset, column.written.duration);
    let end = start + length;
    let here = second
        .chords()
        .filter(|(written, _)| (start..end).contains(&written.onset));
    let mut before = (start, right, 0.0);
    let mut least: f64 = 0.0;
    let mut needed = |from: (Quarters, f64, f64), at: Quarters, room: f64| {
        let share = (at - from.0).to_f64() / length.to_f64();
        least = least.max(room / share.max(1e-3));
    };
    for (written, stack) in here {
        let chord = &notation.tune.under[stack.chord];
        let fingers = notation.fingers(None, Some(chord));
        let words = match stack.is_only_tied(written) {
            true => 0.0,
            false => label_width(notation, &notation.widest_fret(chord), &fingers),
        };
        if written.onset == start {
            before = (start, right.max(stack.right), words / 2.0);
            continue;
        }
        needed(before, written.onset, before.1 + GAP + stack.left);
        needed(before, written.onset, before.2 + words / 2.0 + BETWEEN);
        before = (written.onset, stack.right, words / 2.0);
    }
    needed(before, end, before.1 + GAP + next_left);
    needed(before, end, before.2 + BETWEEN + 0.5);
    least
}

/// The width of a figure on the tablature and the fingers under it.
fn label_width(notation: &Notation<'_>, fret: &str, fingers: &str) -> f64 {
    let figure = Face::Figure.width(fret, FRET_SIZE) + 0.3;
    match notation.rows {
        Rows {
            tablature: true,
            fingering: true,
            ..
        } => figure.max(Face::Label.width(fingers, FINGER_SIZE)),
        Rows {
            tablature: true, ..
        } => figure,
        _ => 0.0,
    }
}

/// From the label of one note to that of the next.
const BETWEEN: f64 = 0.35;

/// The widest label under or over a note, in staff spaces.
fn words_width(notation: &Notation<'_>, index: usize) -> f64 {
    let rows = notation.rows;
    let mut width: f64 = 0.0;
    let onset = notation
        .tune
        .melody
        .notes()
        .get(index)
        .map(|note| note.onset);
    if let Some(chord) = onset.and_then(|onset| notation.chord_at(onset)) {
        let fingers = notation.fingers(Some(index), Some(chord));
        width = label_width(notation, &notation.widest_fret(chord), &fingers);
    }
    if rows.degrees && !notation.is_blank {
        width = width.max(Face::Bold.width(&notation.degree(index), DEGREE_SIZE) + 0.5);
    }
    if rows.chord_tones && !notation.is_blank {
        width = width.max(Face::Text.width(&notation.chord_tone(index), DEGREE_SIZE));
    }
    for syllable in notation.sung(index) {
        let hyphen = if syllable.joins { 0.9 } else { 0.3 };
        width = width.max(Face::Text.width(&syllable.text, LYRIC_SIZE) + hyphen);
    }
    if rows.tablature
        && let Some(it) = notation.tune.places.get(index).copied().flatten()
    {
        width = width.max(Face::Figure.width(&it.place.fret.to_string(), FRET_SIZE) + 0.3);
    }
    width
}

/// The width of the numeral over a note where the hand comes to another position.
fn position_width(notation: &Notation<'_>, index: usize) -> Option<f64> {
    let position = |index: usize| Some(notation.shown_place(index)?.position);
    let here = position(index)?;
    let is_shown = notation.rows.fingering && (0..index).rev().find_map(position) != Some(here);
    is_shown.then(|| Face::Bold.width(&here.to_string(), POSITION_SIZE))
}

/// The least distance between two heads, so that the labels of both fit.
fn text_room(notation: &Notation<'_>, index: usize) -> f64 {
    let (here, next) = (
        words_width(notation, index),
        words_width(notation, index + 1),
    );
    let mut room = (here + next) / 2.0 + BETWEEN;
    if let (Some(here), Some(next)) = (
        position_width(notation, index),
        position_width(notation, index + 1),
    ) {
        room = room.max((here + next) / 2.0 + POSITION_WEDGE + BETWEEN);
    }
    let next = notation.tune.notes.get(index + 1);
    if let Some(interval) = next.and_then(|next| next.interval)
        && notation.rows.intervals
        && !notation.is_blank
    {
        room = room.max(Face::Label.width(&interval.to_string(), INTERVAL_SIZE) + 0.5);
    }
    room
}

impl MeasuredBar {
    /// Widens columns until each chord symbol and each diagram ends before the next begins.
    fn make_room(&mut self, notation: &Notation<'_>) {
        let symbols: Vec<(Quarters, f64)> = self
            .chords
            .iter()
            .map(|(at, name)| (*at, chord_width(name) + 1.0))
            .collect();
        self.make_room_for(&symbols);
        if notation.rows.diagrams {
            let chords = self.second.iter().flat_map(SecondVoice::chords);
            let struck = chords.filter(|(written, stack)| !stack.is_only_tied(written));
            let diagrams: Vec<(Quarters, f64)> = struck
                .map(|(written, stack)| {
                    let chord = &notation.tune.under[stack.chord];
                    (written.onset, diagram_width(notation, chord) + 0.6)
                })
                .collect();
            self.make_room_for(&diagrams);
        }
        let wanted = form_width(&self.opening, &self.closing, self.ending.is_some());
        let room = self.width(0.0);
        if let Some(last) = self.columns.last_mut().filter(|_| room < wanted) {
            last.least += wanted - room;
        }
        if self.columns.len() == 1 && self.columns[0].written.symbol == Symbol::BarRest {
            let least = if self.bars > 1 { LONG_REST } else { 6.0 };
            self.columns[0].least = self.columns[0].least.max(least);
            self.columns[0].ideal = self.columns[0].ideal.min(1.5 * least);
        }
    }
}

impl MeasuredBar {
    /// Widens columns until what begins at these times, each so wide, ends before the next begins or the bar ends.
    fn make_room_for(&mut self, labels: &[(Quarters, f64)]) {
        let times: Vec<Quarters> = self.columns.iter().map(|it| it.written.onset).collect();
        let length = self.written.length;
        for (at, (from, wanted)) in labels.iter().enumerate() {
            let (from, wanted) = (*from, *wanted);
            let to = labels.get(at + 1).map_or(length, |next| next.0);
            let under: Vec<usize> = (0..times.len())
                .filter(|&column| {
                    let end = times.get(column + 1).copied().unwrap_or(length);
                    end > from && times[column] < to
                })
                .collect();
            let room: f64 = under
                .iter()
                .map(|&column| {
                    let end = times.get(column + 1).copied().unwrap_or(length);
                    let shared = end.min(to) - times[column].max(from);
                    self.columns[column].least * shared.to_f64() / (end - times[column]).to_f64()
                })
                .sum();
            if room < wanted && !under.is_empty() {
                for &column in &under {
                    self.columns[column].least *= wanted / room.max(0.1);
                }
            }
        }
    }
}

/// How many bars go on each system.
///
/// Every section begins a line. So does each line of the source if it has line breaks; otherwise there are `per_line`
/// bars to the line, not counting a pickup or the rest of a split bar. Lines that are too wide are split evenly into as
/// few as possible.
pub(super) fn break_into_systems(
    bars: &[MeasuredBar],
    source: &[Quarters],
    per_line: Option<usize>,
    first_room: f64,
    room: f64,
) -> Vec<usize> {
    let mut counts = Vec::new();
    let mut start = 0;
    let mut line_of_source = None;
    // A source with a line for every bar has no meaningful line breaks.
    let is_told = per_line.is_none() && !source.is_empty() && source.len() * 2 < bars.len();
    if is_told {
        line_of_source = Some(source);
    }
    let per_line = per_line.unwrap_or(BARS_PER_LINE).max(1);
    while start < bars.len() {
        let mut full = 0;
        let mut end = start;
        while end < bars.len() {
            let bar = &bars[end];
            let is_new_section = bar.section.is_some();
            let is_new_line = match line_of_source {
                Some(breaks) => breaks.contains(&bar.written.onset),
                // The rest of a bar stays with its beginning, a pickup after a repeat goes with its strain.
                None => {
                    let goes_on = end > start && bars[end - 1].written.is_cut_off;
                    full == per_line && (bar.is_full() || !goes_on)
                }
            };
            if end > start && (is_new_section || is_new_line) {
                break;
            }
            full += usize::from(bar.is_full());
            end += 1;
        }
        let room = if start == 0 { first_room } else { room };
        // Four bars go on a line if they fit at all; longer lines of a source only if they are easy to read.
        let squeeze = if line_of_source.is_some() { 0.8 } else { 0.0 };
        counts.extend(shared_out(&bars[start..end], room, squeeze));
        start = end;
    }
    counts
}

/// The default number of bars on a line.
pub(super) const BARS_PER_LINE: usize = 4;

/// Spreads these bars evenly over as few lines as possible at this stretch; only full ones are counted.
fn shared_out(bars: &[MeasuredBar], room: f64, stretch: f64) -> Vec<usize> {
    let fits = |bars: &[MeasuredBar]| {
        bars.len() == 1 || bars.iter().map(|bar| bar.width(stretch)).sum::<f64>() <= room
    };
    let full = bars.iter().filter(|bar| bar.is_full()).count();
    let share = |lines: usize| -> Vec<usize> {
        if lines > full {
            let ends = |line: usize| bars.len() * line / lines;
            return (0..lines).map(|line| ends(line + 1) - ends(line)).collect();
        }
        // A pickup goes with the bars after it, the rest of a bar with its beginning.
        let mut counts = vec![0; lines];
        let (mut line, mut passed, mut goes_on) = (0, 0, false);
        for bar in bars {
            while !goes_on && line + 1 < lines && passed >= full * (line + 1) / lines {
                line += 1;
            }
            counts[line] += 1;
            passed += usize::from(bar.is_full());
            goes_on = bar.written.is_cut_off;
        }
        counts
    };
    (1..=bars.len())
        .map(share)
        .find(|counts| {
            let mut start = 0;
            counts.iter().all(|count| {
                let line = &bars[start..start + count];
                start += count;
                fits(line)
            })
        })
        .unwrap_or_default()
}

/// The stretch at which these bars fill the width.
pub(super) fn stretch_to_fill(bars: &[MeasuredBar], room: f64) -> f64 {
    let width = |stretch: f64| bars.iter().map(|bar| bar.width(stretch)).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    while width(high) < room && high < 64.0 {
        high *= 2.0;
    }
    for _ in 0..40 {
        let middle = (low + high) / 2.0;
        if width(middle) < room {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// The x of a moment of the bar, between the heads.
pub(super) fn x_at(bar: &MeasuredBar, positions: &[f64], time: Quarters) -> f64 {
    let at = bar
        .columns
        .iter()
        .rposition(|column| column.written.onset <= time)
        .unwrap_or(0);
    let Some(column) = bar.columns.get(at) else {
        return 0.0;
    };
    let part = if column.written.duration.is_zero() {
        0.0
    } else {
        (time - column.written.onset).to_f64() / column.written.duration.to_f64()
    };
    positions[at] + part * (positions[at + 1] - positions[at])
}

/// The longest value without a stem.
pub(super) fn has_stem(value: NoteValue) -> bool {
    value.power() > NoteValue::WHOLE.power()
}
