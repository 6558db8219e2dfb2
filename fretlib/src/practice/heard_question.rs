//! Questions by ear as they sound.

use std::ops::Range;

use super::material::PracticeMaterial;
use super::question::{Question, Task};
use crate::melody::{Form, Melody};
use crate::neck::Place;
use crate::sound::{
    ConcertPitch, Layer, Manner, Performance, PlayThrough, Pluck, StringMaterial, Tone,
    play_through, quiet_chord,
};
use crate::theory::{Chord, Key, Octave, Pitch, PitchClass};

/// Seconds of silence before the first note: a stream begins, a player listens. Chosen by ear.
const LEAD_IN: f64 = 0.1;
/// Seconds that a note sounds which is asked for by itself. Chosen by ear.
const HELD: f64 = 1.2;
/// Seconds of a chord that sets the key where the tune has nothing to set it with. Chosen by ear.
const KEY_CHORD: f64 = 1.5;
/// How many bars are heard before the one of the note. Chosen by ear: two hold a cadence.
const BARS_BEFORE: usize = 2;
/// Seconds in which what is struck together may begin, so that a chord under a note is heard whole.
const TOGETHER: f64 = 0.05;

impl Question {
    /// What is heard with a question by ear.
    ///
    /// An interval is its two notes, one after the other. A degree, or a note that may be in the scale or not, comes after
    /// the tune's own bars before it, with their chords; where there are none, the chord of the tonic sets the key. A phrase
    /// is heard at the tune's own tempo, and as far as what comes next is not told.
    ///
    /// `None` for a question that is shown, and when a note of it is too low or too high to be heard.
    ///
    /// ```
    /// use fretlib::melody::{Draft, Melody, Quarters};
    /// use fretlib::neck::Instrument;
    /// use fretlib::practice::{Kind, PracticeMaterial};
    ///
    /// let mut draft = Draft::default();
    /// for name in ["A4", "E5"] {
    ///     draft.note(name.parse()?, Quarters::ONE)?;
    /// }
    /// let (melody, home) = (Melody::new(draft)?, "A minor".parse()?);
    /// let material = PracticeMaterial::new(melody, home, &[], Instrument::default(), Vec::new());
    /// let question = material.question(Kind::IntervalByEar, 0, None, |_| 0).expect("there is a next note");
    /// let sound = question.sound(&material).expect("both can be heard");
    /// let heard: Vec<f64> = sound.plucks().map(|pluck| pluck.tone.frequency().round()).collect();
    /// assert_eq!(heard, [220.0, 330.0]); // a guitar sounds an octave below what is written
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn sound(&self, material: &PracticeMaterial) -> Option<Performance> {
        if !self.is_heard() {
            return None;
        }
        let phrase = material.phrases().get(material.phrase_of(self.note))?;
        let plucks = match &self.task {
            Task::Interval { .. } => self.one_by_one(self.note..self.note + 2, material)?,
            Task::Degree { pitch, key } | Task::Scale { pitch, key } => {
                self.in_key(*pitch, *key, material)?
            }
            Task::Next { .. } => self.in_time(phrase.start..self.note + 1, material)?,
            Task::Phrase { .. } => self.in_time(phrase.clone(), material)?,
            Task::Place { .. } | Task::Name { .. } | Task::Octave { .. } | Task::Arranged(_) => {
                return None;
            }
        };
        performance(plucks)
    }

    /// What is heard with the answer: a degree goes on to the tonic, a phrase to its next note, the others sound again.
    ///
    /// `None` as for [`Question::sound`].
    pub fn answer_sound(&self, material: &PracticeMaterial) -> Option<Performance> {
        let phrase = material.phrases().get(material.phrase_of(self.note))?;
        match &self.task {
            Task::Next { .. } if self.is_heard() => {
                performance(self.in_time(phrase.start..self.note + 2, material)?)
            }
            Task::Degree { pitch, key } if self.is_heard() => {
                let mut plucks = self.in_key(*pitch, *key, material)?;
                let end = plucks.iter().map(|it| it.end).fold(0.0, f64::max);
                let tonic = nearest(key.tonic(), *pitch)?;
                plucks.push(pluck_of(tonic, end, material)?);
                performance(plucks)
            }
            _ => self.sound(material),
        }
    }

    /// Notes of the melody, each as long as the others.
    fn one_by_one(&self, notes: Range<usize>, material: &PracticeMaterial) -> Option<Vec<Pluck>> {
        let pitches = notes.map(|note| material.pitch(note, Octave::WRITTEN));
        let plucks = pitches
            .enumerate()
            .map(|(index, pitch)| pluck_of(pitch?, HELD * index as f64, material));
        plucks.collect()
    }

    /// Notes of the melody as they are played, in the order in which they are written.
    fn in_time(&self, notes: Range<usize>, material: &PracticeMaterial) -> Option<Vec<Pluck>> {
        let melody = material.melody();
        let octave = self.placement.map_or(Octave::WRITTEN, |it| it.octave);
        let place = |note| Some(*material.shown_places(note, self.placement?).first()?);
        let places: Vec<Option<Place>> = (0..melody.notes().len()).map(place).collect();
        let played = play(&without_form(melody)?, &places, octave, material)?;
        let plucks = played.performance.plucks();
        let is_wanted = |pluck: &&Pluck| pluck.note.is_some_and(|note| notes.contains(&note));
        let plucks: Vec<Pluck> = plucks.filter(is_wanted).copied().collect();
        (plucks.len() == notes.len()).then_some(plucks)
    }

    /// A pitch in the place of the note, after what sets the key.
    fn in_key(&self, pitch: Pitch, key: Key, material: &PracticeMaterial) -> Option<Vec<Pluck>> {
        let played = play(material.melody(), &[], Octave::WRITTEN, material)?;
        let mut all = played.performance.plucks();
        let at = all.find(|pluck| pluck.note == Some(self.note))?.start;
        let bar = played.bars.iter().rposition(|bar| bar.start <= at)?;
        let before = bar.min(BARS_BEFORE);
        let from = played.bars[bar - before].start;
        let mut plucks: Vec<Pluck> = played
            .performance
            .plucks_between(from, at + TOGETHER)
            .filter(|pluck| pluck.layer == Layer::Chords || pluck.start < at)
            .copied()
            .collect();
        let end = at + HELD;
        for pluck in &mut plucks {
            pluck.end = match pluck.layer {
                Layer::Chords => pluck.end.min(end),
                Layer::Melody | Layer::Click => pluck.end.min(at),
            };
        }
        plucks.push(pluck_of(pitch, at, material)?);
        let has_chords = plucks.iter().any(|pluck| pluck.layer == Layer::Chords);
        if before == 0 || !has_chords {
            for pluck in &mut plucks {
                pluck.start += KEY_CHORD;
                pluck.end += KEY_CHORD;
            }
            plucks.extend(key_chord(key, from, material)?);
        }
        Some(plucks)
    }
}

/// The triad on the tonic, struck once.
fn key_chord(key: Key, start: f64, material: &PracticeMaterial) -> Option<Vec<Pluck>> {
    let [root, _, third, _, fifth, _, _] = key.scale();
    let chord = Chord::from_notes(&[root, third, fifth])?;
    let strings = StringMaterial::of(material.instrument());
    let end = start + KEY_CHORD;
    Some(quiet_chord(chord, start, end, ConcertPitch::A440, strings))
}

/// The pitch of a class that is nearest to another pitch, below rather than above.
fn nearest(class: PitchClass, pitch: Pitch) -> Option<Pitch> {
    let octaves = [0, -1, 1].map(|octave| pitch.octave() + octave);
    let found = octaves
        .into_iter()
        .filter_map(|octave| Pitch::new(class.letter(), class.alteration(), octave).ok());
    let distance = |other: &Pitch| {
        let semitones = other.midi() - pitch.midi();
        (semitones.abs(), semitones)
    };
    found.min_by_key(distance)
}

/// A written pitch, held.
fn pluck_of(pitch: Pitch, start: f64, material: &PracticeMaterial) -> Option<Pluck> {
    let instrument = material.instrument();
    let sounding = i16::from(pitch.midi().get()) + i16::from(instrument.sounding().semitones());
    let frequency = ConcertPitch::A440.frequency(sounding);
    let tone = Tone::new(frequency, StringMaterial::of(instrument)).ok()?;
    let string = instrument.string_numbers().next()?;
    Some(Pluck::new(tone, string, start, start + HELD))
}

fn play(
    melody: &Melody,
    places: &[Option<Place>],
    octave: Octave,
    material: &PracticeMaterial,
) -> Option<PlayThrough> {
    let manner = Manner::of(melody);
    play_through(melody, places, octave, material.instrument(), &manner).ok()
}

/// The melody with every bar once, so that each note sounds once and after the one written before it.
fn without_form(melody: &Melody) -> Option<Melody> {
    let mut draft = melody.clone().into_draft();
    draft.form = Form::default();
    Melody::new(draft).ok()
}

/// What is plucked, the first note a moment after the start.
fn performance(mut plucks: Vec<Pluck>) -> Option<Performance> {
    let first = plucks
        .iter()
        .map(|it| it.start)
        .fold(f64::INFINITY, f64::min);
    for pluck in &mut plucks {
        pluck.start += LEAD_IN - first;
        pluck.end += LEAD_IN - first;
    }
    let end = plucks.iter().map(|it| it.end).fold(0.0, f64::max);
    Performance::new(plucks, Vec::new(), end).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::hearing::{Heard, RecordingRate};
    use crate::mapping::{NeckMap, OpenStrings};
    use crate::neck::Instrument;
    use crate::practice::properties::seeded;
    use crate::practice::{Answer, Kind, PlacementKey};
    use crate::sound::SampleRate;
    use crate::sound::measured::{cents, frequency};
    use crate::theory::Membership;

    /// Three phrases, the first of them repeated, with an ending for each time.
    const TUNE: &str = "\
X:1
T:Breakwater
M:4/4
L:1/4
Q:1/4=120
K:Bb
\"Bb\"B d f2 |: \"Eb\"g f e d |1 \"F7\"c B A F :|2 \"Bb\"B3 z || \"Gm\"d e ^f g | \"Eb\"b a g f | \"F7\"e c \"Bb\"B2 |]
";

    fn material(source: &str, phrases: &[Range<usize>]) -> PracticeMaterial {
        let read = abc::read(source.as_bytes(), &abc::AbcOptions::default()).unwrap();
        let instrument = Instrument::default();
        let map = NeckMap::new(&read.melody, &instrument, OpenStrings::FirstPosition);
        let placements = map.whole().map(|it| PlacementKey {
            position: it.position,
            octave: it.octave,
        });
        let placements = placements.collect();
        let home = *read.melody.keys().first().unwrap();
        PracticeMaterial::new(read.melody, home, phrases, instrument, placements)
    }

    fn breakwater() -> PracticeMaterial {
        material(TUNE, &[0..7, 7..12, 12..23])
    }

    fn samples(performance: &Performance) -> Vec<f32> {
        performance.samples(SampleRate::CD)
    }

    /// The MIDI numbers of what is struck, as the program's ear finds them.
    fn heard(performance: &Performance) -> Vec<u8> {
        let rate = RecordingRate::new(44_100).unwrap();
        let heard = Heard::whole(&samples(performance), rate);
        let notes = heard.struck_notes().into_iter();
        notes.map(|note| note.pitch.get()).collect()
    }

    /// What notes of the tune sound like on a guitar.
    fn sounding(material: &PracticeMaterial, notes: Range<usize>, octave: i8) -> Vec<u8> {
        let notes = material.notes()[notes].iter();
        notes
            .map(|it| {
                it.note
                    .pitch
                    .midi()
                    .get()
                    .strict_add_signed(12 * (octave - 1))
            })
            .collect()
    }

    #[test]
    fn the_interval_heard_is_the_interval_asked() {
        let material = breakwater();
        for note in 0..material.notes().len() - 1 {
            let question = material
                .question(Kind::IntervalByEar, note, None, |_| 0)
                .unwrap();
            let Task::Interval { from, to } = question.task else {
                panic!("{question:?}");
            };
            let samples = samples(&question.sound(&material).unwrap());
            let measured = [from, to].map(|pitch| {
                let start = LEAD_IN + 0.1 + if pitch == from { 0.0 } else { HELD };
                let start = SampleRate::CD.sample_at(start) as usize;
                let guess = ConcertPitch::A440.frequency(i16::from(pitch.midi().get()) - 12);
                frequency(&samples[start..start + 40_000], SampleRate::CD, guess)
            });
            if from == to {
                continue;
            }
            let semitones = i32::from((to - from).semitones());
            let wanted = measured[0] * 2f64.powf(f64::from(semitones) / 12.0);
            assert!(cents(measured[1], wanted).abs() < 1.0, "{from} {to}");
        }
    }

    #[test]
    fn a_phrase_is_heard_up_to_the_note_before_the_one_asked_for() {
        let material = breakwater();
        let placement = material.placements()[0];
        for (note, start) in [(3, 0), (6, 0), (9, 7), (20, 12)] {
            let question = material
                .question(Kind::NextByEar, note, Some(placement), |_| 0)
                .unwrap();
            let octave = placement.octave.get();
            assert_eq!(
                heard(&question.sound(&material).unwrap()),
                sounding(&material, start..note + 1, octave)
            );
            assert_eq!(
                heard(&question.answer_sound(&material).unwrap()),
                sounding(&material, start..note + 2, octave)
            );
            let Task::Next { place, .. } = question.task else {
                panic!("{question:?}");
            };
            let last = question.sound(&material).unwrap();
            let last = last.plucks().last().unwrap();
            assert_eq!(last.string, place.string);
        }
        // One note alone tells nothing of what comes next.
        assert!(!material.can_ask(Kind::NextByEar, 7, Some(placement)));
    }

    #[test]
    fn the_phrase_heard_is_the_one_that_is_right() {
        let material = breakwater();
        let mut pick = seeded(3);
        for note in [0, 7, 12] {
            let question = material
                .question(Kind::PhraseByEar, note, None, &mut pick)
                .unwrap();
            let Task::Phrase { choices, right } = &question.task else {
                panic!("{question:?}");
            };
            assert_eq!(choices.len(), 3);
            let heard = heard(&question.sound(&material).unwrap());
            for (index, choice) in choices.iter().enumerate() {
                let notes = material.phrases()[choice.phrase].clone();
                let is_heard = heard == sounding(&material, notes, 0);
                assert_eq!(is_heard, index == *right);
                let answer = Answer::Choice(index as u32 + 1);
                assert_eq!(question.judge(answer).is_right(), is_heard);
            }
            // Nothing that is shown says which it is.
            let wording = question.wording(&material);
            assert!(!wording.whereabouts.contains("bar"), "{wording:?}");
        }
        // Phrases that sound alike are no choice.
        let alike = "X:1\nM:4/4\nL:1/4\nK:C\nC E G2 | C E G2 |]\n";
        let alike = self::material(alike, &[0..3, 3..6]);
        assert!(!alike.can_ask(Kind::PhraseByEar, 0, None));
    }

    #[test]
    fn the_bars_before_it_set_the_key_of_a_degree() {
        let material = breakwater();
        let plucks = |note| -> (Vec<usize>, Vec<Pluck>) {
            let question = material
                .question(Kind::DegreeByEar, note, None, |_| 0)
                .unwrap();
            let sound = question.sound(&material).unwrap();
            let notes = sound.plucks().filter_map(|it| it.note).collect();
            (notes, sound.plucks().copied().collect())
        };
        // Two bars before it, and its own up to it.
        let (notes, all) = plucks(10);
        assert_eq!(notes, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
        let last = all.iter().rfind(|it| it.layer == Layer::Melody).unwrap();
        let written = material.notes()[10].note.pitch.midi().get();
        let wanted = ConcertPitch::A440.frequency(i16::from(written) - 12);
        assert_eq!(last.tone.frequency(), wanted);
        assert!(all.iter().filter(|it| it.layer == Layer::Chords).count() >= 6);
        // The second ending comes after the bar that is repeated, not after the first ending.
        assert_eq!(plucks(11).0, [7, 8, 9, 10, 3, 4, 5, 6]);
        // Before the first note there is only the chord of the key: Bb, D and F.
        let (notes, all) = plucks(0);
        assert_eq!(notes, [0usize; 0]);
        let classes: Vec<i16> = all
            .iter()
            .filter(|it| it.layer == Layer::Chords && it.start < KEY_CHORD)
            .map(|it| (12.0 * (it.tone.frequency() / 440.0).log2()).round() as i16)
            .map(|semitones| (semitones + 9).rem_euclid(12))
            .collect();
        assert_eq!(classes, [10, 2, 5]);
    }

    #[test]
    fn even_a_tune_without_accidentals_has_notes_outside_the_scale() {
        let material = material("X:1\nM:4/4\nL:1/4\nK:C\nC D E F | G A B c |]\n", &[]);
        let mut pick = seeded(1);
        let mut outside = 0;
        for note in (0..8).cycle().take(80) {
            let question = material
                .question(Kind::ScaleByEar, note, None, &mut pick)
                .unwrap();
            let Task::Scale { pitch, key } = question.task else {
                panic!("{question:?}");
            };
            let sound = question.sound(&material).unwrap();
            let last = sound.plucks().last().unwrap().tone.frequency();
            let wanted = ConcertPitch::A440.frequency(i16::from(pitch.midi().get()) - 12);
            assert_eq!(last, wanted);
            let own = material.notes()[note].note.pitch;
            assert!((pitch.midi() - own.midi()).abs() <= 1);
            let is_outside = key.membership(pitch.class()) == Membership::Chromatic;
            assert_eq!(is_outside, pitch != own);
            outside += usize::from(is_outside);
        }
        assert!((25..55).contains(&outside), "{outside} of 80");
    }

    #[test]
    fn a_degree_goes_home_to_the_nearest_tonic() {
        for (pitch, tonic) in [
            ("D4", "C4"),
            ("B4", "C5"),
            ("G4", "C5"),
            ("F#4", "C4"),
            ("C5", "C5"),
        ] {
            let found = nearest("C".parse().unwrap(), pitch.parse().unwrap());
            assert_eq!(found, tonic.parse().ok(), "{pitch}");
        }
    }
}
