//! How a melody note and what lies under it come one after the other.

use std::fmt;
use std::str::FromStr;

use super::arrangement::{Accompaniment, ArrangedNote};
use super::chord_role::{ChordRole, ChordRoles};
use super::lattice::Lattice;
use super::moment::beat_at;
use super::staging::Staged;
use super::voicing::{Barre, FingeredPlace, UnderNote, Voicing, reach_mm};
use super::voicings::is_muddy;
use crate::error::ParseError;
use crate::melody::Quarters;
use crate::neck::Finger;
use crate::theory::{Chord, ChordDegree};

/// How a melody note and what lies under it come one after the other. Common practice, no source.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Texture {
    /// They begin together, and the voicing lasts as long as it is asked for.
    #[default]
    Together,
    /// A voicing of two beats or more ends after one, so that the melody sings on alone.
    Short,
    /// A voicing of two beats or more comes a beat after its melody note, and sounds again while the melody rests.
    Answer,
    /// One note at a time, half a beat apart, the lowest first and tensions last.
    Broken,
}

impl Texture {
    /// All of them.
    pub const ALL: [Texture; 4] = [
        Texture::Together,
        Texture::Short,
        Texture::Answer,
        Texture::Broken,
    ];

    /// The word for it on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Texture::Together => "together",
            Texture::Short => "short",
            Texture::Answer => "answer",
            Texture::Broken => "broken",
        }
    }
}

impl fmt::Display for Texture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Texture {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Texture, ParseError> {
        let found = Texture::ALL.into_iter().find(|it| it.name() == text);
        found.ok_or_else(|| {
            ParseError::unreadable(text, "a texture: together, short, answer or broken")
        })
    }
}

/// What sounds while the melody rests: the notes of the last voicing, struck again without the melody's.
#[derive(Clone, Debug, PartialEq)]
pub struct RestChord {
    /// When the rest begins, from the start of the tune, and how long it is.
    pub onset: Quarters,
    /// How long the rest is.
    pub duration: Quarters,
    /// When the chord begins, from the onset of the rest.
    pub at: Quarters,
    /// When it ends, from the onset of the rest.
    pub until: Quarters,
    /// The chord.
    pub chord: Chord,
    /// What sounds, lowest first; never empty.
    pub under: Vec<UnderNote>,
    /// The finger that lies across several of its strings, if one does.
    pub barre: Option<Barre>,
    /// The root, fifth and guide tones that do not sound.
    pub omitted: Vec<ChordDegree>,
    /// From the lowest stopped fret to the highest one in millimetres.
    pub reach_mm: f64,
}

/// Times every voicing as the texture asks.
pub(super) fn timed(lattice: &Lattice, notes: &mut [ArrangedNote]) {
    let texture = lattice.settings.texture;
    for (note, written) in notes.iter_mut().zip(lattice.melody.notes()) {
        for it in &mut note.under {
            let beat = beat_at(lattice.melody, written.onset);
            let is_long = it.until - it.at >= beat + beat;
            match texture {
                Texture::Together => {}
                Texture::Short if is_long => it.until = it.at + beat,
                Texture::Answer if is_long => it.at += beat,
                Texture::Short | Texture::Answer => {}
                Texture::Broken => it.enters = one_at_a_time(lattice, it, beat),
            }
        }
    }
}

/// When each note of a voicing enters, so that what sounds is never too low to be told apart; empty when it is too short.
fn one_at_a_time(lattice: &Lattice, it: &Accompaniment, beat: Quarters) -> Vec<Quarters> {
    let under = it.voicing.under();
    let length = it.until - it.at;
    if under.len() < 2 || length < beat {
        return Vec::new();
    }
    let instrument = lattice.arranger.instrument;
    let down = i16::from(instrument.sounding().semitones());
    let melody = instrument.midi_at(it.voicing.melody.place);
    let is_clear = |sounding: &[usize]| {
        let mut midi: Vec<u8> = sounding
            .iter()
            .map(|index| under[*index].pitch.midi().get())
            .collect();
        midi.extend(melody.map(|midi| midi.get()));
        midi.sort_unstable();
        midi.len() < 2 || !is_muddy(i16::from(midi[0]) + down, midi[1] - midi[0])
    };
    // Tensions last: they need the guide tones.
    let mut order: Vec<usize> = (0..under.len()).collect();
    order.sort_by_key(|index| under[*index].role == ChordRole::Tension);
    let mut turns = vec![0u8; under.len()];
    let (mut turn, mut sounding) = (0, Vec::with_capacity(under.len()));
    for index in order {
        turns[index] = turn;
        sounding.push(index);
        if is_clear(&sounding) {
            turn += 1;
        }
    }
    let two = Quarters::from(2);
    let step = (beat / two).min(length / Quarters::from(under.len() as i64));
    turns
        .iter()
        .map(|turn| step * Quarters::from(i64::from(*turn)))
        .collect()
}

impl Accompaniment {
    /// The voicing as it grows: a step for each time at which some of its notes enter, the earlier ones held.
    pub fn steps(&self) -> Vec<Accompaniment> {
        let mut times = self.enters.clone();
        times.sort_unstable();
        times.dedup();
        if times.len() < 2 {
            return vec![Accompaniment {
                enters: Vec::new(),
                ..self.clone()
            }];
        }
        let steps = times.iter().enumerate();
        steps
            .map(|(nth, from)| {
                let until = times
                    .get(nth + 1)
                    .map_or(self.until, |next| self.at + *next);
                self.step(nth == 0, *from, until)
            })
            .collect()
    }

    /// What sounds from a time on, until others enter.
    fn step(&self, is_first: bool, from: Quarters, until: Quarters) -> Accompaniment {
        let sounding: Vec<usize> = (0..self.enters.len())
            .filter(|index| self.enters[*index] <= from)
            .collect();
        let held: Vec<bool> = sounding
            .iter()
            .map(|index| self.enters[*index] < from)
            .collect();
        let roles = ChordRoles::new(self.chord, false);
        let voicing = self.voicing.part(&sounding, self.melody_above, &roles);
        let melody = self.staging.melody.filter(|_| is_first);
        let placed = sounding.iter().zip(&held).map(|(index, held)| {
            let turn = self.staging.placed.get(*index).copied().flatten();
            turn.filter(|_| !held)
        });
        let placed: Vec<Option<u8>> = placed.collect();
        let mut turns: Vec<u8> = placed.iter().copied().chain([melody]).flatten().collect();
        turns.sort_unstable();
        turns.dedup();
        let number = |turn: Option<u8>| {
            let place = turns.iter().position(|it| Some(*it) == turn)?;
            Some(place as u8 + 1)
        };
        let goes_on = |finger: &Finger| {
            let mut under = voicing.under().iter().zip(&held);
            under.any(|(note, held)| *held && note.at.finger == Some(*finger))
        };
        // A finger across strings is an anchor by one of them, which may enter later.
        let strings = |voicing: &Voicing, finger: &Finger| {
            let places = voicing.places().filter(|it| it.finger == Some(*finger));
            places.count()
        };
        let is_down = |finger: &Finger| strings(&voicing, finger) == strings(&self.voicing, finger);
        let anchors = match is_first {
            true => self
                .staging
                .anchors
                .iter()
                .copied()
                .filter(is_down)
                .collect(),
            false => Finger::ALL.into_iter().filter(goes_on).collect(),
        };
        Accompaniment {
            moment: self.moment,
            melody_above: self.melody_above,
            at: self.at + from,
            until,
            chord: self.chord,
            enters: Vec::new(),
            staging: Staged {
                melody: number(melody),
                placed: placed.into_iter().map(number).collect(),
                held,
                anchors,
                guides: if is_first {
                    self.staging.guides.clone()
                } else {
                    Vec::new()
                },
                lay_early: self.staging.lay_early,
            },
            voicing,
        }
    }
}

impl Voicing {
    /// Some of the notes under the melody, by their indices, with the melody note `melody` semitones above the root.
    fn part(&self, kept: &[usize], melody: u8, roles: &ChordRoles) -> Voicing {
        let under: Vec<UnderNote> = kept.iter().map(|index| self.under[*index]).collect();
        let places = under.iter().map(|note| note.at).chain([self.melody]);
        let barre = self.barre.filter(|barre| lies_across(*barre, places));
        let above = under
            .iter()
            .map(|note| roles.above_root(note.pitch.midi().get()));
        let omitted = roles.left_out(Some(melody), above);
        let is_complete = self.is_complete && under.len() == self.under.len();
        Voicing {
            melody: self.melody,
            under,
            barre,
            omitted,
            is_complete,
        }
    }
}

/// True when a finger still lies across several of these places.
fn lies_across(barre: Barre, places: impl Iterator<Item = FingeredPlace>) -> bool {
    let on = places.filter(|it| it.finger == Some(barre.finger));
    on.count() > 1
}

/// What sounds in the rests of the melody, where the texture asks for it.
///
/// The last voicing under the same chord, when the hand still stands where it was struck.
pub(super) fn in_rests(lattice: &Lattice, notes: &[ArrangedNote]) -> Vec<RestChord> {
    if lattice.settings.texture != Texture::Answer {
        return Vec::new();
    }
    let written = lattice.melody.notes();
    let mut last: Option<(Option<u8>, &Accompaniment)> = None;
    let mut found = Vec::new();
    for (index, note) in notes.iter().enumerate() {
        if let Some(it) = note.under.iter().rfind(|it| !it.is_only_held()) {
            last = Some((note.position, it));
        }
        let onset = written[index].end();
        let end = written
            .get(index + 1)
            .map_or(lattice.melody.length(), |next| next.onset);
        if let Some((_, it)) = last.filter(|(position, _)| *position == note.position) {
            found.extend(rest_chord(lattice, it, onset, end));
        }
    }
    found
}

fn rest_chord(
    lattice: &Lattice,
    it: &Accompaniment,
    onset: Quarters,
    end: Quarters,
) -> Option<RestChord> {
    let melody = lattice.melody;
    if end <= onset || melody.chords().at(onset).copied().flatten() != Some(it.chord) {
        return None;
    }
    let mut changes = melody
        .chords()
        .within(onset, end)
        .iter()
        .map(|(at, chord)| (*at, *chord));
    let change = changes.find(|(at, chord)| *at > onset && *chord != Some(it.chord));
    let until = change.map_or(end, |(at, _)| at);
    let beat = beat_at(melody, onset);
    // On the first beat of the rest.
    let bar = melody.bar_at(onset);
    let into = (onset - bar.onset) / beat;
    let ahead = (into.ceil() - into) * beat;
    if until - onset - ahead < beat {
        return None;
    }
    let roles = ChordRoles::new(it.chord, false);
    let under = it.voicing.under().to_vec();
    let above = under
        .iter()
        .map(|note| roles.above_root(note.pitch.midi().get()));
    Some(RestChord {
        onset,
        duration: end - onset,
        at: ahead,
        until: until - onset,
        chord: it.chord,
        barre: it
            .voicing
            .barre()
            .filter(|barre| lies_across(*barre, under.iter().map(|note| note.at))),
        omitted: roles.left_out(None, above),
        reach_mm: reach_mm(
            under.iter().map(|note| note.at.place),
            lattice.arranger.instrument,
        ),
        under,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arranging::few_bars::{medium_hand, tune};
    use crate::arranging::{Arrangement, ArrangingSettings, Style};
    use crate::neck::Instrument;

    /// The lower voice as onset+duration, a note ending in `~` where it goes on from before.
    fn check(texture: Texture, expected: &str) {
        let melody = tune(
            "C major",
            r#"(chords: "Dm7 | G7 | Cmaj7", notes: "F5 h r h | B5 w | E5 q D C r")"#,
        );
        let guitar = Instrument::default();
        let arranger = medium_hand(&guitar, Style::SHELLS);
        let settings = ArrangingSettings {
            texture,
            ..ArrangingSettings::default()
        };
        let lattice = Lattice::new(arranger, &melody, settings).unwrap();
        let best: Arrangement = lattice.solve(1).remove(0);
        let voice = best.lower_voice(&melody);
        let chords = voice.iter().map(|chord| {
            let notes = chord
                .notes
                .iter()
                .map(|note| if note.tied_back { "~" } else { "o" });
            format!(
                "{}+{}:{}",
                chord.onset,
                chord.duration,
                notes.collect::<String>()
            )
        });
        assert_eq!(chords.collect::<Vec<_>>().join(" "), expected, "{texture}");
    }

    #[test]
    fn textures_part_melody_and_voicing() {
        check(Texture::Together, "0+2:oo 4+4:oo 8+1:oo");
        check(Texture::Short, "0+1:oo 4+1:oo 8+1:oo");
        check(Texture::Answer, "1+1:oo 2+2:oo 5+3:oo 8+1:oo 11+1:oo");
        check(
            Texture::Broken,
            "0+1/2:o 1/2+3/2:~o 4+1/2:o 9/2+7/2:~o 8+1/2:o 17/2+1/2:~o",
        );
        for texture in Texture::ALL {
            assert_eq!(texture.name().parse::<Texture>().unwrap(), texture);
        }
    }
}
