//! Playing a melody once through.

use std::ops::Range;
use std::sync::Arc;

use super::accompaniment::QuietChord;
use super::click::{Click, ClickPattern, beats_of};
use super::performance::{Layer, Performance, PerformanceError, Pluck, Strength};
use super::sounding_bars::{SoundingBar, sounding_bars};
use super::tempo_map::{BarGrid, TempoMap};
use super::tone::{ConcertPitch, StringMaterial, Tone};
use crate::melody::{Melody, Meter, PlayedNote, Quarters, Swing, Tempo};
use crate::neck::{Instrument, Place, StringNumber};
use crate::theory::{Chord, Octave, Pitch};

/// A note of an arrangement that lies under the melody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnderMelody {
    /// When it is plucked, in written time.
    pub onset: Quarters,
    /// How long it sounds.
    pub duration: Quarters,
    /// Where it is plucked.
    pub place: Place,
    /// How strongly.
    pub strength: Strength,
}

/// How a melody is played.
#[derive(Clone, Debug, PartialEq)]
pub struct Manner {
    /// The speed relative to the tune's own tempo: 0.5 is half as fast. It applies to every change of tempo.
    pub speed: f64,
    /// How pairs of notes are divided; evenly when it is `None`.
    pub swing: Option<Swing>,
    /// The tuning note.
    pub a4: ConcertPitch,
    /// Bars counted before the first note.
    pub count_in: u8,
    /// The beats that are clicked.
    pub click: ClickPattern,
    /// Bars played before this time through, for a click that comes and goes.
    pub bars_before: u64,
    /// The range of bars to play, counted in playing order; all when `None`.
    pub bars: Option<Range<usize>>,
    /// The range of notes to play; all when `None`. The beat of their whole bars continues around them.
    pub notes: Option<Range<usize>>,
    /// What lies under the melody, in the place of the quiet chords; those when it is `None`.
    pub under: Option<Arc<[UnderMelody]>>,
}

impl Default for Manner {
    fn default() -> Self {
        Manner {
            speed: 1.0,
            swing: None,
            a4: ConcertPitch::A440,
            count_in: 0,
            click: ClickPattern::ALL,
            bars_before: 0,
            bars: None,
            notes: None,
            under: None,
        }
    }
}

impl Manner {
    /// At the tune's own tempo and with its own feel.
    pub fn of(melody: &Melody) -> Manner {
        Manner {
            swing: melody.feel().and_then(Swing::of),
            ..Manner::default()
        }
    }
}

/// A bar of a melody as it sounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayedBar {
    /// Its index among all bars in playing order.
    pub order: usize,
    /// Its index in [`Melody::bars`].
    pub index: usize,
    /// Which time it is played, from 1.
    pub time: u32,
    /// When it begins, in quarter notes from the first bar played.
    pub onset: Quarters,
    /// When it begins, in seconds from the start of the performance.
    pub start: f64,
    /// When it ends, in seconds.
    pub end: f64,
}

/// A melody once through: its performance, and the place in the music of each moment.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayThrough {
    /// The performance: melody, chords and click in separate layers, so that each can be turned off.
    pub performance: Arc<Performance>,
    /// When each moment sounds, counted from the first bar played.
    pub tempo_map: TempoMap,
    /// The bars in the order in which they sound.
    pub bars: Vec<PlayedBar>,
    /// When the first bar begins, in seconds: the length of the count-in.
    pub lead_in: f64,
}

/// Plays a melody once through, in the order in which its bars sound.
///
/// `places` has an entry for each note. A note without a place still sounds, moved by `octave` octaves, as on an open
/// string. A note is damped at its end, or where a jump of the form or the end of the played part cuts it.
///
/// # Errors
///
/// When it would last longer than [`Performance::LONGEST`], or has too many notes.
///
/// ```
/// use fretlib::melody::{Draft, Melody, Quarters, Tempo};
/// use fretlib::neck::Instrument;
/// use fretlib::sound::{Manner, play_through};
/// use fretlib::theory::Octave;
///
/// let mut draft = Draft::default();
/// draft.tempos.set(Quarters::ZERO, Tempo::new(Quarters::from(1), Quarters::from(120))?);
/// for name in ["E4", "F#4", "G4", "A4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// let melody = Melody::new(draft)?;
/// let half = Manner { speed: 0.5, ..Manner::default() };
/// let played = play_through(&melody, &[None; 4], Octave::WRITTEN, &Instrument::default(), &half)?;
/// let starts: Vec<f64> = played.performance.plucks().map(|pluck| pluck.start).collect();
/// assert_eq!(starts, [0.0, 1.0, 2.0, 3.0]); // a quarter note at 60 to the minute
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn play_through(
    melody: &Melody,
    places: &[Option<Place>],
    octave: Octave,
    instrument: &Instrument,
    manner: &Manner,
) -> Result<PlayThrough, PerformanceError> {
    let layout = Layout::new(melody, manner.bars.clone());
    let lead_in = layout.count_in(manner);
    let tempo_map = TempoMap::new(
        lead_in.seconds,
        &layout.tempos,
        manner.speed,
        layout.grids(),
        manner.swing,
    );
    let mut plucks = layout.melody(places, octave, instrument, manner, &tempo_map);
    match &manner.under {
        Some(under) => plucks.extend(layout.under(under, instrument, manner, &tempo_map)),
        None => plucks.extend(layout.chords(instrument, manner, &tempo_map)),
    }
    let mut clicks = lead_in.clicks;
    clicks.extend(layout.clicks(manner, &tempo_map));
    let end = tempo_map.seconds_on_the_grid(layout.length);
    let bars = layout.bars.iter().map(|bar| PlayedBar {
        order: bar.order,
        index: bar.written.index,
        time: bar.written.time,
        onset: bar.onset,
        start: tempo_map.seconds_on_the_grid(bar.onset),
        end: tempo_map.seconds_on_the_grid(bar.onset + bar.length()),
    });
    Ok(PlayThrough {
        bars: bars.collect(),
        performance: Arc::new(Performance::new(plucks, clicks, end)?),
        tempo_map,
        lead_in: lead_in.seconds,
    })
}

/// The part of a melody that is played, in playing order.
struct Layout<'a> {
    melody: &'a Melody,
    bars: Vec<LaidBar>,
    notes: Vec<PlayedNote>,
    tempos: Vec<(Quarters, Tempo)>,
    length: Quarters,
}

struct LaidBar {
    written: SoundingBar,
    /// Its index among all bars in playing order.
    order: usize,
    /// When it begins, from the first bar played.
    onset: Quarters,
    meter: Option<Meter>,
    /// What the tempo counts in it.
    beat: Quarters,
}

impl LaidBar {
    fn length(&self) -> Quarters {
        self.written.end - self.written.start
    }

    /// The playing time of a written moment of this bar.
    fn sounds_at(&self, written: Quarters) -> Quarters {
        self.onset + (written - self.written.start)
    }
}

struct CountIn {
    seconds: f64,
    clicks: Vec<Click>,
}

impl<'a> Layout<'a> {
    fn new(melody: &'a Melody, range: Option<Range<usize>>) -> Layout<'a> {
        let order = melody.playing_order();
        let all = sounding_bars(melody, &order);
        let range = range.unwrap_or(0..all.len());
        let range = range.start.min(all.len())..range.end.min(all.len());
        let wanted = &all[range.clone()];
        let start = wanted.first().map_or(Quarters::ZERO, |bar| bar.sounds_at);
        let bars: Vec<LaidBar> = wanted
            .iter()
            .zip(range)
            .map(|(written, order)| {
                let meter = melody.meters().at(written.start).copied().flatten();
                let tempo = melody.tempos().at(written.start);
                let felt = meter.unwrap_or(Meter::COMMON);
                LaidBar {
                    written: *written,
                    order,
                    onset: written.sounds_at - start,
                    meter,
                    beat: tempo.map_or(felt.beat(), |tempo| tempo.beat_in(felt)),
                }
            })
            .collect();
        let length = bars
            .last()
            .map_or(Quarters::ZERO, |bar| bar.onset + bar.length());
        let notes = order.notes(melody).into_iter().filter_map(|note| {
            let onset = note.onset - start;
            let is_played = !onset.is_negative() && onset < length;
            is_played.then_some(PlayedNote { onset, ..note })
        });
        Layout {
            melody,
            notes: notes.collect(),
            tempos: tempos(melody, &bars),
            bars,
            length,
        }
    }

    fn grids(&self) -> Vec<BarGrid> {
        let grid = |bar: &LaidBar| BarGrid {
            start: bar.onset,
            phase: bar.written.phase,
            swings: bar.meter.is_none_or(|meter| !meter.is_compound()),
        };
        self.bars.iter().map(grid).collect()
    }

    /// Clicks before the first bar: whole bars, plus the beats that a pickup lacks.
    fn count_in(&self, manner: &Manner) -> CountIn {
        let first = self.bars.first();
        let meter = first.and_then(|bar| bar.meter).unwrap_or(Meter::COMMON);
        let phase = first.map_or(Quarters::ZERO, |bar| bar.written.phase);
        let tempo = self
            .tempos
            .first()
            .map_or(Tempo::DEFAULT, |(_, tempo)| *tempo);
        let seconds = |time: Quarters| tempo.seconds(time) / manner.speed;
        if manner.count_in == 0 {
            return CountIn {
                seconds: 0.0,
                clicks: Vec::new(),
            };
        }
        let beat = first.map_or(meter.beat(), |bar| bar.beat);
        let bar = meter.bar_length();
        let mut clicks = Vec::new();
        for number in 0..=manner.count_in {
            let start = bar * Quarters::from(i64::from(number));
            let length = if number == manner.count_in {
                phase
            } else {
                bar
            };
            for (beat, at) in beats_of(beat, Quarters::ZERO, length) {
                clicks.push(Click {
                    at: seconds(start + at),
                    accent: beat == 1,
                    count_in: true,
                });
            }
        }
        CountIn {
            seconds: seconds(bar * Quarters::from(i64::from(manner.count_in)) + phase),
            clicks,
        }
    }

    fn melody(
        &self,
        places: &[Option<Place>],
        octave: Octave,
        instrument: &Instrument,
        manner: &Manner,
        tempo_map: &TempoMap,
    ) -> Vec<Pluck> {
        let mut plucks = Vec::with_capacity(self.notes.len());
        for note in &self.notes {
            let wanted = manner.notes.as_ref();
            if wanted.is_some_and(|wanted| !wanted.contains(&note.index)) {
                continue;
            }
            let pitch = self.melody.notes()[note.index].pitch;
            let place = places.get(note.index).copied().flatten();
            let Some((tone, string)) = tone(pitch, place, octave, instrument, manner.a4) else {
                continue;
            };
            let start = tempo_map.seconds(note.onset);
            let end = tempo_map.seconds((note.onset + note.duration).min(self.length));
            plucks.push(Pluck {
                note: Some(note.index),
                ..Pluck::new(tone, string, start, end)
            });
        }
        plucks
    }

    /// What lies under the melody, in the order in which it sounds; cut by a jump and struck after it, as the melody is.
    fn under(
        &self,
        under: &[UnderMelody],
        instrument: &Instrument,
        manner: &Manner,
        tempo_map: &TempoMap,
    ) -> Vec<Pluck> {
        let mut plucks = Vec::new();
        for (written, sounds_at) in self.without_jumps() {
            for note in under {
                let start = note.onset.max(written.start);
                let end = (note.onset + note.duration).min(written.end);
                let Some(tone) =
                    Tone::at(instrument, note.place, manner.a4).filter(|_| start < end)
                else {
                    continue;
                };
                let seconds = |time| tempo_map.seconds(sounds_at + (time - written.start));
                plucks.push(Pluck {
                    layer: Layer::Chords,
                    strength: note.strength,
                    ..Pluck::new(tone, note.place.string, seconds(start), seconds(end))
                });
            }
        }
        plucks
    }

    /// The stretches of written time that sound without a jump, each with when it begins to sound.
    fn without_jumps(&self) -> Vec<(Range<Quarters>, Quarters)> {
        let mut stretches: Vec<(Range<Quarters>, Quarters)> = Vec::new();
        for bar in &self.bars {
            match stretches.last_mut() {
                Some((before, _)) if before.end == bar.written.start => {
                    before.end = bar.written.end;
                }
                _ => stretches.push((bar.written.start..bar.written.end, bar.onset)),
            }
        }
        stretches
    }

    /// Each chord, struck where it begins and at every bar line within it.
    fn chords(&self, instrument: &Instrument, manner: &Manner, tempo_map: &TempoMap) -> Vec<Pluck> {
        let material = StringMaterial::of(instrument);
        let mut struck: Vec<(Quarters, Option<Chord>)> = Vec::new();
        for bar in &self.bars {
            let chords = self.melody.chords();
            struck.push((bar.onset, chords.at(bar.written.start).copied().flatten()));
            for (at, chord) in chords.within(bar.written.start, bar.written.end) {
                if *at > bar.written.start {
                    struck.push((bar.sounds_at(*at), *chord));
                }
            }
        }
        let ends = struck
            .iter()
            .skip(1)
            .map(|(at, _)| *at)
            .chain([self.length]);
        let ends: Vec<Quarters> = ends.collect();
        let mut before: Option<QuietChord> = None;
        let mut plucks = Vec::new();
        for ((start, chord), end) in struck.iter().zip(ends) {
            let Some(chord) = chord else {
                continue;
            };
            let voicing = QuietChord::after(before.as_ref(), *chord);
            let (start, end) = (tempo_map.seconds(*start), tempo_map.seconds(end));
            plucks.extend(voicing.plucks(start, end, manner.a4, material));
            before = Some(voicing);
        }
        plucks
    }

    fn clicks(&self, manner: &Manner, tempo_map: &TempoMap) -> Vec<Click> {
        let mut clicks = Vec::new();
        let mut full_bars = manner.bars_before;
        for bar in &self.bars {
            let is_clicked = manner.click.has_bar(full_bars);
            if bar.written.phase.is_zero() {
                full_bars += 1;
            }
            let Some(meter) = bar.meter.filter(|_| is_clicked) else {
                continue;
            };
            let unit = match manner.click.has_all_beats() {
                true => bar.beat,
                false => meter.beat(),
            };
            for (beat, at) in beats_of(unit, bar.written.phase, bar.length()) {
                if manner.click.has_beat(beat) {
                    clicks.push(Click {
                        at: tempo_map.seconds_on_the_grid(bar.onset + at),
                        accent: beat == 1,
                        count_in: false,
                    });
                }
            }
        }
        clicks
    }
}

/// The tone and string of a note; `None` when it cannot be heard.
fn tone(
    pitch: Pitch,
    place: Option<Place>,
    octave: Octave,
    instrument: &Instrument,
    a4: ConcertPitch,
) -> Option<(Tone, StringNumber)> {
    if let Some(place) = place
        && let Some(tone) = Tone::at(instrument, place, a4)
    {
        return Some((tone, place.string));
    }
    let octaves = i16::from(instrument.sounding().semitones()) + octave.semitones();
    let frequency = a4.frequency(i16::from(pitch.midi().get()) + octaves);
    let tone = Tone::new(frequency, StringMaterial::of(instrument)).ok()?;
    Some((tone, instrument.string_numbers().next()?))
}

/// Each tempo with its onset.
fn tempos(melody: &Melody, bars: &[LaidBar]) -> Vec<(Quarters, Tempo)> {
    let mut tempos: Vec<(Quarters, Tempo)> = Vec::new();
    for bar in bars {
        let (start, end) = (bar.written.start, bar.written.end);
        let at_start = melody.tempos().at(start).copied().unwrap_or(Tempo::DEFAULT);
        tempos.push((bar.onset, at_start));
        let inside = melody.tempos().within(start, end);
        tempos.extend(
            inside
                .iter()
                .map(|(at, tempo)| (bar.sounds_at(*at), *tempo)),
        );
    }
    // A change at a bar line comes up twice.
    tempos.dedup_by(|later, earlier| {
        let is_same_time = later.0 == earlier.0;
        if is_same_time {
            earlier.1 = later.1;
        }
        is_same_time || later.1 == earlier.1
    });
    tempos
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::melody::{Endings, FormSign, Times};
    use crate::neck::Fret;

    fn melody(source: &str) -> Melody {
        abc::read(source.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody
    }

    fn play(source: &str, manner: &Manner) -> PlayThrough {
        let melody = melody(source);
        let places = vec![None; melody.notes().len()];
        play_through(
            &melody,
            &places,
            Octave::WRITTEN,
            &Instrument::default(),
            manner,
        )
        .unwrap()
    }

    /// Starts in milliseconds.
    fn starts(times: impl Iterator<Item = f64>) -> Vec<i64> {
        times
            .map(|seconds| (1000.0 * seconds).round() as i64)
            .collect()
    }

    fn notes(played: &PlayThrough) -> Vec<i64> {
        let melody = |pluck: &&Pluck| pluck.layer == Layer::Melody;
        starts(
            played
                .performance
                .plucks()
                .filter(melody)
                .map(|pluck| pluck.start),
        )
    }

    const REEL: &str = "X:1\nM:4/4\nL:1/8\nQ:1/4=60\nK:C\nG2|C2 D>E (3FGA B2|c8|\n";

    #[test]
    fn notes_begin_where_they_are_written() {
        let played = play(REEL, &Manner::default());
        // A pickup, a quarter, a dotted pair, a triplet, a quarter, a whole note.
        assert_eq!(
            notes(&played),
            [0, 1000, 2000, 2750, 3000, 3333, 3667, 4000, 5000]
        );
        assert_eq!(played.performance.seconds(), 9.0);
        let half = Manner {
            speed: 0.5,
            ..Manner::default()
        };
        assert_eq!(notes(&play(REEL, &half))[4], 6000);
    }

    #[test]
    fn swing_moves_eighths_and_leaves_triplets_and_the_click() {
        let manner = Manner {
            swing: Some(Swing::EIGHTHS),
            ..Manner::default()
        };
        let source = "X:1\nM:4/4\nL:1/8\nQ:1/4=60\nK:C\nCD (3EFG A2 Bc|\n";
        let played = play(source, &manner);
        assert_eq!(notes(&played), [0, 667, 1000, 1333, 1667, 2000, 3000, 3667]);
        assert_eq!(
            starts(played.performance.clicks().iter().map(|click| click.at)),
            [0, 1000, 2000, 3000]
        );
        // Compound meters are in threes already.
        let jig = "X:1\nM:6/8\nL:1/8\nQ:3/8=60\nK:C\nCDE FGA|\n";
        let played = play(jig, &manner);
        assert_eq!(notes(&played), [0, 333, 667, 1000, 1333, 1667]);
        assert_eq!(
            starts(played.performance.clicks().iter().map(|click| click.at)),
            [0, 1000]
        );
    }

    // Common practice, no source: the click is the metronome mark.
    #[test]
    fn the_click_counts_what_the_tempo_counts() {
        let clicks = |fields: &str, manner: &Manner| {
            let played = play(&format!("X:1\nL:1/8\n{fields}\nK:C\nC4E2|\n"), manner);
            starts(played.performance.clicks().iter().map(|click| click.at))
        };
        let all = Manner::default();
        assert_eq!(clicks("M:6/8\nQ:3/8=60", &all), [0, 1000]);
        assert_eq!(clicks("M:6/8\nQ:1/8=60", &all).len(), 6);
        assert_eq!(clicks("M:3/4\nQ:3/4=60", &all), [0]);
        assert_eq!(clicks("M:6/8\nQ:1/4=60", &all), [0, 1500]);
        let counted = Manner {
            count_in: 1,
            ..Manner::default()
        };
        assert_eq!(clicks("M:3/4\nQ:3/4=60", &counted), [0, 1000]);
        // A choice of beats is one of those that are felt.
        let backbeat = Manner {
            click: "2".parse().unwrap(),
            ..Manner::default()
        };
        assert_eq!(clicks("M:3/4\nQ:3/4=60", &backbeat), [333]);
    }

    #[test]
    fn a_tune_that_swings_is_swung() {
        let played = |feel: &str| {
            let source = format!("X:1\nM:4/4\nL:1/8\nQ:{feel} 1/4=60\nK:C\nCDEF G4|\n");
            let manner = Manner::of(&melody(&source));
            starts(
                play(&source, &manner)
                    .performance
                    .plucks()
                    .map(|it| it.start),
            )
        };
        assert_eq!(played("\"Swing\""), [0, 667, 1000, 1667, 2000]);
        assert_eq!(played("\"Straight\""), [0, 500, 1000, 1500, 2000]);
        assert_eq!(played(""), [0, 500, 1000, 1500, 2000]);
    }

    #[test]
    fn a_count_in_leads_to_the_first_note() {
        let manner = Manner {
            count_in: 1,
            ..Manner::default()
        };
        let played = play(REEL, &manner);
        // A bar of four, then three of the bar that the pickup fills.
        let counted = played
            .performance
            .clicks()
            .iter()
            .filter(|click| click.count_in);
        assert_eq!(
            starts(counted.map(|click| click.at)),
            [0, 1000, 2000, 3000, 4000, 5000, 6000]
        );
        assert_eq!((played.lead_in, notes(&played)[0]), (7.0, 7000));
        // The pickup is beat 4, the first full bar has the accent.
        let beats: Vec<(i64, bool)> = played
            .performance
            .clicks()
            .iter()
            .filter(|click| !click.count_in)
            .take(2)
            .map(|click| (click.at as i64, click.accent))
            .collect();
        assert_eq!(beats, [(7, false), (8, true)]);
        assert!((played.tempo_map.quarters(6.0) + 1.0).abs() < 1e-9); // a quarter note before the first
    }

    #[test]
    fn clicks_come_and_go() {
        let source = "X:1\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\nC4|C4|C4|C4|\n";
        let manner = Manner {
            click: "2-4"
                .parse::<ClickPattern>()
                .unwrap()
                .dropped("1+2".parse().unwrap()),
            ..Manner::default()
        };
        let clicks = |manner: &Manner| {
            starts(
                play(source, manner)
                    .performance
                    .clicks()
                    .iter()
                    .map(|click| click.at),
            )
        };
        assert_eq!(clicks(&manner), [1000, 3000, 13000, 15000]);
        let second_time = Manner {
            bars_before: 4,
            ..manner
        };
        assert_eq!(clicks(&second_time), [9000, 11000]);
    }

    #[test]
    fn a_part_is_played_with_its_whole_bars() {
        let source = "X:1\nM:3/4\nL:1/4\nQ:1/4=60\nK:C\nCDE|FGA|Bcd|efg|\n";
        let manner = Manner {
            bars: Some(1..3),
            notes: Some(4..7),
            ..Manner::default()
        };
        let played = play(source, &manner);
        assert_eq!(notes(&played), [1000, 2000, 3000]);
        assert_eq!(played.performance.seconds(), 6.0);
        assert_eq!(
            played.bars.iter().map(|bar| bar.index).collect::<Vec<_>>(),
            [1, 2]
        );
        assert_eq!(played.bars[1].start, 3.0);
        let none = Manner {
            bars: Some(7..9),
            ..Manner::default()
        };
        assert_eq!(play(source, &none).performance.seconds(), 0.0);
    }

    #[test]
    fn tempo_changes_and_ties_over_bar_lines_are_kept() {
        let source = "X:1\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\nC2D2-|D2[Q:1/4=120]E2|\n";
        let played = play(source, &Manner::default());
        assert_eq!(notes(&played), [0, 2000, 6000]);
        let ends = starts(played.performance.plucks().map(|pluck| pluck.end));
        assert_eq!(ends, [2000, 6000, 7000]);
        assert_eq!(played.performance.seconds(), 7.0);
        for seconds in [0.0, 3.3, 6.5] {
            let quarters = played.tempo_map.quarters(seconds);
            let back = played.tempo_map.seconds_at(quarters);
            assert!((back - seconds).abs() < 1e-9);
        }
    }

    #[test]
    fn repeats_and_endings_are_played() {
        // C |: D E |1 F :|2 G |]
        let source = "X:1\nM:2/4\nL:1/4\nQ:1/4=60\nK:C\nC|DE|F2|G2|]\n";
        let mut draft = melody(source).into_draft();
        let ending = |number| FormSign::Ending(Endings::new([number]).unwrap().unwrap());
        for (at, sign) in [
            (1, FormSign::RepeatStart),
            (3, ending(1)),
            (5, FormSign::EndingEnd),
            (5, FormSign::RepeatEnd(Times::TWICE)),
            (5, ending(2)),
            (7, FormSign::EndingEnd),
        ] {
            draft.form.add(Quarters::from(at), sign);
        }
        let melody = Melody::new(draft).unwrap();
        let play = |manner: &Manner| {
            let places = [None; 5];
            let guitar = Instrument::default();
            play_through(&melody, &places, Octave::WRITTEN, &guitar, manner).unwrap()
        };
        let played = play(&Manner::default());
        assert_eq!(notes(&played), [0, 1000, 2000, 3000, 5000, 6000, 7000]);
        let bars: Vec<(usize, u32)> = played
            .bars
            .iter()
            .map(|bar| (bar.index, bar.time))
            .collect();
        assert_eq!(bars, [(0, 1), (1, 1), (2, 1), (1, 2), (3, 1)]);
        let second_time = Manner {
            bars: Some(3..5),
            ..Manner::default()
        };
        assert_eq!(notes(&play(&second_time)), [0, 1000, 2000]);
    }

    #[test]
    fn chords_are_struck_where_they_begin_and_at_bar_lines() {
        let source = "X:1\nM:4/4\nL:1/4\nQ:1/4=60\nK:C\n\"Dm7\"C2\"G7\"D2|\"C\"E4|F4|\n";
        let played = play(source, &Manner::default());
        let chords = played
            .performance
            .plucks()
            .filter(|it| it.layer == Layer::Chords);
        let basses: Vec<f64> = chords
            .filter(|it| it.string.get() == 6)
            .map(|it| it.start)
            .collect();
        assert_eq!(basses, [0.0, 2.0, 4.0, 8.0]);
    }

    // Common practice, no source: what is written once and repeated sounds as often as the melody over it.
    #[test]
    fn what_lies_under_is_repeated_with_the_melody_and_takes_the_place_of_the_chords() {
        let source = "X:1\nM:2/4\nL:1/4\nQ:1/4=60\nK:C\n|: \"C\"c d |1 e2 :|2 g2 |]\n";
        let melody = melody(source);
        let place = |string| Place {
            string: StringNumber::new(string).unwrap(),
            fret: Fret::new(3).unwrap(),
        };
        let note = |onset: i64, duration: i64, string| UnderMelody {
            onset: Quarters::from(onset),
            duration: Quarters::from(duration),
            place: place(string),
            strength: Strength::MELODY.softer(9.0),
        };
        // The second goes on over the end of the first ending: the jump cuts it, and the last one begins after it.
        let under = [note(0, 2, 5), note(3, 3, 4), note(4, 2, 6)];
        let manner = Manner {
            under: Some(under.to_vec().into()),
            ..Manner::default()
        };
        let places = vec![None; melody.notes().len()];
        let guitar = Instrument::default();
        let played = play_through(&melody, &places, Octave::WRITTEN, &guitar, &manner).unwrap();
        let below = played.performance.plucks();
        let below = below.filter(|pluck| pluck.layer == Layer::Chords);
        let sounds: Vec<(u8, f64, f64)> = below
            .map(|pluck| (pluck.string.get(), pluck.start, pluck.end))
            .collect();
        let wanted = [
            (5, 0.0, 2.0),
            (4, 3.0, 4.0),
            (5, 4.0, 6.0),
            (4, 6.0, 8.0),
            (6, 6.0, 8.0),
        ];
        assert_eq!(sounds, wanted);
    }
}
