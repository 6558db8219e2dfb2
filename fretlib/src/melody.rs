//! Notes in time, knowing nothing of instruments.

mod analysis;
mod bar;
mod bar_choice;
mod beat;
mod draft;
mod feel;
mod form;
mod key_finding;
mod lyric;
mod measures;
mod meter;
pub(crate) mod note_value;
mod part_order;
mod phrase;
mod playing_order;
mod quarters;
mod swing;
mod tempo;
mod timeline;
mod tuplet;

use std::fmt;
use std::ops::Range;

pub use analysis::AnalysedNote;
pub use bar::Bar;
pub use bar_choice::BarChoice;
pub use beat::Beat;
pub use draft::Draft;
pub use feel::Feel;
pub use form::{BackTo, Endings, Form, FormSign, Jump, Times, Until};
pub use key_finding::{KeyEstimate, KeyProfile, estimate_keys};
pub use lyric::Syllable;
pub use measures::{Measure, MeasurePart};
pub use meter::Meter;
pub use note_value::NoteValue;
pub use part_order::PartOrder;
pub use playing_order::{FormError, FormFault, Pass, PlayedNote, PlayingOrder};
pub use quarters::Quarters;
pub use swing::Swing;
pub use tempo::Tempo;
pub use timeline::Timeline;
pub use tuplet::{Tuplet, TupletGrouper};

use crate::error::{OutOfRange, is_error};
use crate::one_line::one_line;
use crate::theory::{Chord, Interval, Key, Pitch};
use bar::{bars_by_meter, number_bars};
use draft::check_time;
use lyric::valid_syllables;
use tuplet::valid_tuplets;

/// One note of a melody; tied notes are one note.
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Note {
    /// Written pitch.
    pub pitch: Pitch,
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// How long it lasts.
    pub duration: Quarters,
}

impl Note {
    /// When it ends.
    pub fn end(&self) -> Quarters {
        self.onset + self.duration
    }

    /// The same note, so much later.
    fn moved(self, by: Quarters) -> Note {
        Note {
            onset: self.onset + by,
            ..self
        }
    }
}

/// Why a draft is not a melody.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum MelodyError {
    /// There is nothing to play.
    NoNotes,
    /// A note begins before the one ahead of it has ended.
    Overlap {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// A note has no length.
    NoLength {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// A time is on a grid finer than any music.
    TooFine {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// The tune is too long.
    TooLong {
        /// The number of the note, counted from 1.
        note: usize,
    },
    /// Too many bars, usually from a long silence in a short meter.
    TooManyBars,
    /// The form cannot be followed.
    Form(FormError),
    /// The bars are not in ascending order.
    BarOrder {
        /// The bar's number.
        number: u32,
    },
}

impl fmt::Display for MelodyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            MelodyError::NoNotes => f.write_str("no notes found"),
            MelodyError::Overlap { note } => write!(
                f,
                "note {note} begins before the note ahead of it has ended"
            ),
            MelodyError::NoLength { note } => write!(f, "note {note} has no length"),
            MelodyError::TooFine { note } => write!(
                f,
                "note {note} begins or ends on a grid finer than 1/{} of a quarter note",
                Melody::FINEST
            ),
            MelodyError::TooLong { note } => write!(
                f,
                "note {note} lies beyond {} quarter notes from the start",
                Melody::LONGEST
            ),
            MelodyError::TooManyBars => {
                write!(f, "there are more than {} bars in it", Melody::MOST_BARS)
            }
            MelodyError::Form(error) => error.fmt(f),
            MelodyError::BarOrder { number } => {
                write!(f, "bar {number} begins before the bar ahead of it")
            }
        }
    }
}

is_error!(MelodyError);

/// A melody: at least one note, in order, none overlapping; silence between them is rest.
///
/// All pitches are written pitch. Values are made by the readers in [`crate::format`] or from a [`Draft`].
#[derive(Clone, Debug, Eq)]
pub struct Melody {
    title: String,
    composer: Option<String>,
    source: Option<String>,
    transcriber: Option<String>,
    keys: Timeline<Key>,
    meters: Timeline<Option<Meter>>,
    tempos: Timeline<Tempo>,
    feel: Option<Feel>,
    chords: Timeline<Option<Chord>>,
    sections: Timeline<String>,
    phrase_starts: Vec<Quarters>,
    // Invariant: it can be followed.
    form: Form,
    // Invariant: in order, not overlapping, each inside a bar.
    tuplets: Vec<Tuplet>,
    // Invariant: in order of time and verse, each at the onset of a note.
    lyrics: Vec<Syllable>,
    words: Vec<String>,
    line_breaks: Vec<Quarters>,
    // Invariant: not empty; onsets rise; no note begins before the one ahead has ended.
    notes: Vec<Note>,
    // Invariant: not empty; onsets rise; the first bar begins no later than the first note.
    bars: Vec<Bar>,
    length: Quarters,
}

impl Melody {
    /// The longest tune, in quarter notes.
    pub const LONGEST: i64 = 4_000_000;
    /// The finest grid, in parts of a quarter note.
    pub const FINEST: i64 = 1_000_000;
    /// The most bars, written in the source or made from the meter.
    pub const MOST_BARS: usize = 250_000;

    /// Checks a draft.
    ///
    /// A first bar shorter than its meter is a pickup, bar 0. A tune without bar lines gets bars from its meter, or a
    /// single bar in free meter. Repeat signs and double bar lines get a bar line where there is none. Signs of the
    /// form after the end are left out, and so is a final bar line at the end. Control characters are removed from the
    /// title and the names.
    ///
    /// # Errors
    ///
    /// When there is no note, notes overlap or have no length, bars are out of order or too many, or the form cannot
    /// be followed.
    pub fn new(draft: Draft) -> Result<Melody, MelodyError> {
        let Draft {
            meters,
            sections,
            mut phrase_starts,
            form,
            mut line_breaks,
            notes,
            mut bars,
            ..
        } = draft;
        if notes.is_empty() {
            return Err(MelodyError::NoNotes);
        }
        let mut end = Quarters::from(0);
        for (index, note) in notes.iter().enumerate() {
            let number = index + 1;
            if !note.duration.is_positive() {
                return Err(MelodyError::NoLength { note: number });
            }
            if note.onset < end {
                return Err(MelodyError::Overlap { note: number });
            }
            check_time(note.onset, number)?;
            check_time(note.duration, number)?;
            end = note.end();
            check_time(end, number)?;
        }
        let length = end.max(draft.now);
        if bars.is_empty() {
            bars = bars_by_meter(&meters, length)?;
        }
        if bars[0] > Quarters::from(0) {
            bars.insert(0, Quarters::from(0));
        }
        let form = form.normalised(length);
        let sections = sections.try_map(|name| Ok::<_, MelodyError>(one_line(name)))?;
        PlayingOrder::of(&form, &sections, length).map_err(MelodyError::Form)?;
        let parted = form
            .signs()
            .iter()
            .map(|(at, _)| *at)
            .filter(|at| form.parts_bar(*at));
        for at in parted {
            if let Err(index) = bars.binary_search(&at) {
                bars.insert(index, at);
            }
        }
        // A bar line at the very end opens no bar.
        while bars.len() > 1 && bars.last().is_some_and(|last| *last >= length) {
            bars.pop();
        }
        if bars.len() > Melody::MOST_BARS {
            return Err(MelodyError::TooManyBars);
        }
        let bars = number_bars(&bars, &meters, &form, length)?;
        phrase_starts.sort_unstable();
        phrase_starts.dedup();
        line_breaks.sort_unstable();
        line_breaks.dedup();
        line_breaks.retain(|at| {
            at.is_positive() && bars.binary_search_by_key(at, |bar| bar.onset).is_ok()
        });
        let mut melody = Melody {
            title: one_line(&draft.title),
            composer: draft.composer.as_deref().and_then(name),
            source: draft.source.as_deref().and_then(name),
            transcriber: draft.transcriber.as_deref().and_then(name),
            keys: draft.keys,
            meters,
            tempos: draft.tempos,
            feel: draft.feel,
            chords: draft.chords,
            sections,
            phrase_starts,
            form,
            tuplets: Vec::new(),
            lyrics: valid_syllables(draft.lyrics, &notes),
            words: draft.words.iter().map(|line| one_line(line)).collect(),
            line_breaks,
            notes,
            bars,
            length,
        };
        melody.tuplets = valid_tuplets(draft.tuplets, &melody);
        Ok(melody)
    }

    /// The melody as a draft again, to change it.
    pub fn into_draft(self) -> Draft {
        Draft {
            title: self.title,
            composer: self.composer,
            source: self.source,
            transcriber: self.transcriber,
            keys: self.keys,
            meters: self.meters,
            tempos: self.tempos,
            feel: self.feel,
            chords: self.chords,
            sections: self.sections,
            phrase_starts: self.phrase_starts,
            form: self.form,
            tuplets: self.tuplets,
            lyrics: self.lyrics,
            words: self.words,
            line_breaks: self.line_breaks,
            bars: self.bars.iter().map(|bar| bar.onset).collect(),
            notes: self.notes,
            now: self.length,
        }
    }

    /// The tune's name; may be empty.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Who made it, when known.
    pub fn composer(&self) -> Option<&str> {
        self.composer.as_deref()
    }

    /// The book or the player it comes from, when known.
    pub fn source(&self) -> Option<&str> {
        self.source.as_deref()
    }

    /// Who wrote it down in the form in which it was read, when known.
    pub fn transcriber(&self) -> Option<&str> {
        self.transcriber.as_deref()
    }

    /// The keys as declared; empty when the source does not say.
    pub fn keys(&self) -> &Timeline<Key> {
        &self.keys
    }

    /// The meters; `None` stands for free meter.
    pub fn meters(&self) -> &Timeline<Option<Meter>> {
        &self.meters
    }

    /// The tempos; empty when the source does not say.
    pub fn tempos(&self) -> &Timeline<Tempo> {
        &self.tempos
    }

    /// The tempo it begins at: as declared, or else 120 quarter notes a minute, counted in the beat of its meter.
    pub fn first_tempo(&self) -> Tempo {
        let beat = self.meters.first().copied().flatten().map(Meter::beat);
        let undeclared = || Tempo::DEFAULT.counted_in(beat.unwrap_or(Quarters::ONE));
        self.tempos.first().copied().unwrap_or_else(undeclared)
    }

    /// How pairs of notes are meant to be played; `None` when the source does not say.
    pub fn feel(&self) -> Option<Feel> {
        self.feel
    }

    /// The chords; `None` stands for "no chord".
    pub fn chords(&self) -> &Timeline<Option<Chord>> {
        &self.chords
    }

    /// The names of the sections.
    pub fn sections(&self) -> &Timeline<String> {
        &self.sections
    }

    /// Onsets at which the source says a phrase begins, in order; empty when it does not say.
    pub fn phrase_starts(&self) -> &[Quarters] {
        &self.phrase_starts
    }

    /// Repeats, endings and jumps, in written order.
    pub fn form(&self) -> &Form {
        &self.form
    }

    /// Tuplet brackets, as in the source; empty when it has none or does not say.
    pub fn tuplets(&self) -> &[Tuplet] {
        &self.tuplets
    }

    /// What is sung to the notes, in order of time and verse; empty when nothing is.
    pub fn lyrics(&self) -> &[Syllable] {
        &self.lyrics
    }

    /// Words that are printed after the tune, line by line; empty lines part verses.
    pub fn words(&self) -> &[String] {
        &self.words
    }

    /// Where the source broke its lines, in order; empty when it does not say.
    pub fn line_breaks(&self) -> &[Quarters] {
        &self.line_breaks
    }

    /// The notes, in order; never empty.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The bars, in order; never empty.
    pub fn bars(&self) -> &[Bar] {
        &self.bars
    }

    /// When the last note or the rest after it ends.
    pub fn length(&self) -> Quarters {
        self.length
    }

    /// The bar in which `onset` lies.
    pub fn bar_at(&self, onset: Quarters) -> Bar {
        let after = self.bars.partition_point(|bar| bar.onset <= onset);
        self.bars[after.saturating_sub(1)]
    }

    /// The lowest and the highest note.
    pub fn range(&self) -> (Pitch, Pitch) {
        let first = self.notes[0].pitch;
        let pitches = || self.notes.iter().map(|note| note.pitch);
        let low = pitches().fold(
            first,
            |low, it| if it.midi() < low.midi() { it } else { low },
        );
        let high = pitches().fold(
            first,
            |high, it| if it.midi() > high.midi() { it } else { high },
        );
        (low, high)
    }

    /// The same tune with this key throughout, in place of those declared.
    #[must_use]
    pub fn with_key(mut self, key: Key) -> Melody {
        self.keys = Timeline::constant(key);
        self
    }

    /// The tune moved by an interval, keys and chords with it.
    ///
    /// # Errors
    ///
    /// When a note leaves the MIDI range, or a key would need more than seven sharps or flats.
    pub fn transposed(&self, interval: Interval) -> Result<Melody, OutOfRange> {
        let mut moved = self.clone();
        for note in &mut moved.notes {
            note.pitch = note.pitch.transpose(interval)?;
        }
        moved.keys = self.keys.try_map(|key| key.transpose(interval))?;
        moved.chords = self.chords.try_map(|chord| {
            chord
                .as_ref()
                .map(|chord| chord.transpose(interval))
                .transpose()
        })?;
        Ok(moved)
    }

    /// Only the bars whose numbers lie in `numbers`, beginning at time zero; `None` when no note begins in them.
    ///
    /// Notes are kept whole, even past the end of the last bar. Bars keep their numbers.
    pub fn excerpt(&self, numbers: Range<u32>) -> Option<Melody> {
        let is_in = |bar: &Bar| numbers.contains(&bar.number);
        let start = self.bars.iter().find(|bar| is_in(bar))?.onset;
        let end = self.bars.iter().rfind(|bar| is_in(bar))?.end;
        self.between(start, end)
    }

    /// Only the part between two bar lines, beginning at time zero; `None` when no note begins there.
    ///
    /// Notes are kept whole, even past the end. Bars keep their numbers; signs of the form that lead out of the part
    /// are left out.
    pub fn between(&self, start: Quarters, end: Quarters) -> Option<Melody> {
        let back = Quarters::ZERO - start;
        let notes: Vec<Note> = self
            .notes
            .iter()
            .filter(|note| note.onset >= start && note.onset < end)
            .map(|note| note.moved(back))
            .collect();
        let length = notes.last()?.end().max(end - start);
        let is_inside = |bar: &&Bar| bar.onset >= start && bar.onset < end;
        let bars: Vec<Bar> = self.bars.iter().filter(is_inside).copied().collect();
        let shifted = |times: &[Quarters]| -> Vec<Quarters> {
            let inside = times.iter().filter(|at| (start..end).contains(at));
            inside.map(|at| *at - start).collect()
        };
        Some(Melody {
            title: self.title.clone(),
            composer: self.composer.clone(),
            source: self.source.clone(),
            transcriber: self.transcriber.clone(),
            feel: self.feel,
            keys: self.keys.excerpt(start, end),
            meters: self.meters.excerpt(start, end),
            tempos: self.tempos.excerpt(start, end),
            chords: self.chords.excerpt(start, end),
            sections: self.sections.excerpt(start, end),
            phrase_starts: shifted(&self.phrase_starts),
            form: self.form.excerpt(start, end).settled(length),
            tuplets: self
                .tuplets
                .iter()
                .filter(|it| it.start >= start && it.end <= end)
                .map(|it| it.moved(back))
                .collect(),
            lyrics: self
                .lyrics
                .iter()
                .filter(|it| (start..end).contains(&it.onset))
                .map(|it| it.moved(back))
                .collect(),
            words: self.words.clone(),
            line_breaks: shifted(&self.line_breaks),
            bars: bars
                .iter()
                .enumerate()
                .map(|(index, bar)| Bar {
                    onset: bar.onset - start,
                    end: match bars.get(index + 1) {
                        Some(next) => next.onset - start,
                        None => length,
                    },
                    ..*bar
                })
                .collect(),
            length,
            notes,
        })
    }
}

/// A name without control characters, if anything is left of it.
fn name(text: &str) -> Option<String> {
    Some(one_line(text)).filter(|name| !name.trim().is_empty())
}

impl Melody {
    /// Appends another part of the same tune. `length` is the length of this one, without notes
    /// that sound past its end.
    pub(super) fn append(&mut self, part: Melody, length: Quarters) {
        let end = length + part.length;
        for note in &mut self.notes {
            note.duration = note.duration.min(length - note.onset);
        }
        part.keys
            .copy_part(Quarters::ZERO, part.length, length, &mut self.keys);
        part.meters
            .copy_part(Quarters::ZERO, part.length, length, &mut self.meters);
        part.tempos
            .copy_part(Quarters::ZERO, part.length, length, &mut self.tempos);
        part.chords
            .copy_part(Quarters::ZERO, part.length, length, &mut self.chords);
        for (onset, name) in part.sections.iter() {
            self.sections.set(onset + length, name.clone());
        }
        self.phrase_starts
            .extend(part.phrase_starts.iter().map(|at| *at + length));
        for (at, sign) in part.form.signs() {
            self.form.add(*at + length, *sign);
        }
        self.form.settle(&self.sections, end);
        let tuplets = part.tuplets.iter().map(|it| it.moved(length));
        self.tuplets.extend(tuplets);
        let lyrics = part.lyrics.iter().map(|it| it.moved(length));
        self.lyrics.extend(lyrics);
        self.line_breaks.push(length);
        self.line_breaks
            .extend(part.line_breaks.iter().map(|at| *at + length));
        if let Some(last) = self.bars.last_mut() {
            last.end = length;
        }
        self.bars
            .extend(part.bars.iter().map(|bar| bar.moved(length)));
        self.notes
            .extend(part.notes.iter().map(|note| note.moved(length)));
        self.length = end;
    }
}

impl PartialEq for Melody {
    /// Equal apart from line breaks and tuplet brackets, which belong to the page and not to the
    /// tune.
    fn eq(&self, other: &Melody) -> bool {
        self.title == other.title
            && self.composer == other.composer
            && self.source == other.source
            && self.transcriber == other.transcriber
            && self.feel == other.feel
            && self.keys == other.keys
            && self.meters == other.meters
            && self.tempos == other.tempos
            && self.chords == other.chords
            && self.sections == other.sections
            && self.phrase_starts == other.phrase_starts
            && self.form == other.form
            && self.lyrics == other.lyrics
            && self.words == other.words
            && self.notes == other.notes
            && self.bars == other.bars
            && self.length == other.length
    }
}

#[cfg(test)]
mod tests;
