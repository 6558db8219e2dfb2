//! Every voicing a hand can hold under a melody note.

use super::chord_role::{ChordRole, ChordRoles, ToneSet};
use super::grip::{Grip, Reaches};
use super::style::Style;
use super::voicing::{UnderNote, Voicing};
use crate::neck::{Fret, Hand, Instrument, Place, StringNumber};
use crate::theory::Pitch;

/// The lowest allowed lower note of an interval at the bottom of a voicing, as sounding MIDI numbers, by semitones from
/// 1 to 11.
///
/// Source: T. Pease & K. Pullig (ed.), K. Lowell & K. Pullig, *Arranging for Large Jazz Ensemble*, Berklee Press: the low
/// interval limits; printed tables differ by a semitone here and there. Unison and octave are free.
const LOW_INTERVAL_LIMITS: [u8; 11] = [52, 51, 48, 47, 46, 46, 37, 41, 41, 41, 41];

/// True when two notes at the bottom of a voicing are too low and sound muddy.
pub(super) fn is_muddy(lower_sounding: i16, semitones: u8) -> bool {
    (1..=11).contains(&semitones)
        && lower_sounding < i16::from(LOW_INTERVAL_LIMITS[usize::from(semitones) - 1])
}

/// An instrument, a hand and a style.
#[derive(Clone, Copy, Debug)]
pub struct Arranger<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// The fretting hand.
    pub hand: Hand,
    /// The style.
    pub style: Style,
}

impl Arranger<'_> {
    /// Every voicing of a chord with this melody note (written pitch) alone on top that the rules allow, each once.
    ///
    /// The rules (common practice unless a source is named):
    ///
    /// * one note a string, fingers as a hand can put them, everything within reach;
    /// * only root, guide tones, fifth and tensions the chord leaves free; a foreign bass only at the bottom;
    /// * a tension only where every guide tone sounds, the melody counted;
    /// * nothing doubled but root and fifth, and no pitch twice;
    /// * no minor ninth between two notes, but from the root of a dominant up to its b9; no semitone under the melody;
    /// * the two lowest notes keep the low interval limits;
    /// * the number of notes, the roles and the strings of the style.
    ///
    /// ```
    /// use fretlib::arranging::{Arranger, ChordRoles, Style};
    /// use fretlib::neck::{Hand, Instrument};
    ///
    /// let guitar = Instrument::default();
    /// let arranger = Arranger { instrument: &guitar, hand: Hand::MEDIUM, style: Style::PLUCKED };
    /// let roles = ChordRoles::new("Gm7".parse()?, false);
    /// let found = arranger.voicings(&roles, "D6".parse()?);
    /// assert!(found.iter().any(|it| it.shape(&guitar).to_string() == "x-10-x-10-11-10"));
    /// # Ok::<(), fretlib::ParseError>(())
    /// ```
    pub fn voicings(&self, roles: &ChordRoles, melody: Pitch) -> Vec<Voicing> {
        self.search(roles, melody, SearchExtent::All)
    }

    /// True when a voicing is within reach, with every guide tone if the style can sound them all.
    pub fn can_voice(&self, roles: &ChordRoles, melody: Pitch) -> bool {
        let wanted = match self.style.sounds_guides() {
            true => SearchExtent::OneComplete,
            false => SearchExtent::One,
        };
        !self.search(roles, melody, wanted).is_empty()
    }

    fn search(&self, roles: &ChordRoles, melody: Pitch, wanted: SearchExtent) -> Vec<Voicing> {
        let reaches = Reaches::new(self.instrument, self.hand);
        let strings: Vec<StringNumber> = self.instrument.string_numbers().collect();
        let mut found = Vec::new();
        for place in self.instrument.places_for(melody.midi()) {
            let mut search = VoicingSearch {
                arranger: self,
                reaches: &reaches,
                roles,
                melody: melody.midi().get(),
                melody_place: place,
                strings: &strings,
                under: Vec::with_capacity(usize::from(self.style.most)),
                wanted,
                found: &mut found,
            };
            search.string(0);
        }
        found
    }
}

/// When a search stops.
#[derive(Clone, Copy, PartialEq)]
enum SearchExtent {
    All,
    One,
    OneComplete,
}

/// A note under the melody before a finger is found for it.
#[derive(Clone, Copy)]
struct Sounding {
    place: Place,
    midi: u8,
    above_root: u8,
    role: ChordRole,
}

struct VoicingSearch<'a> {
    arranger: &'a Arranger<'a>,
    reaches: &'a Reaches,
    roles: &'a ChordRoles,
    melody: u8,
    melody_place: Place,
    strings: &'a [StringNumber],
    under: Vec<Sounding>,
    wanted: SearchExtent,
    found: &'a mut Vec<Voicing>,
}

impl VoicingSearch<'_> {
    /// Continues with string `index`: silent, or any fret that fits.
    fn string(&mut self, index: usize) {
        if self.wanted != SearchExtent::All && !self.found.is_empty() {
            return;
        }
        let Some(string) = self.strings.get(index).copied() else {
            self.finish();
            return;
        };
        self.string(index + 1);
        let is_full = self.under.len() + 1 >= usize::from(self.arranger.style.most);
        if string == self.melody_place.string || is_full {
            return;
        }
        for fret in 0..=self.arranger.instrument.highest_fret().get() {
            let Ok(fret) = Fret::new(fret) else { continue };
            let place = Place { string, fret };
            if let Some(note) = self.fitting(place) {
                self.under.push(note);
                self.string(index + 1);
                self.under.pop();
            }
        }
    }

    /// The note at a place, if it may sound with the melody and the notes already chosen.
    fn fitting(&self, place: Place) -> Option<Sounding> {
        let midi = self.arranger.instrument.midi_at(place)?.get();
        // A semitone under the melody clashes with it.
        if midi + 1 >= self.melody {
            return None;
        }
        let above_root = self.roles.above_root(midi);
        let melody_above = self.roles.above_root(self.melody);
        // The sixth that replaces the seventh is already an available tension of that chord.
        let (role, _) = self.roles.at(above_root)?;
        let style = &self.arranger.style;
        if !style.only.is_empty() && !style.only.contains(&role) {
            let sixth = above_root == 9 && self.roles.takes_sixth(melody_above);
            if !(sixth && style.only.contains(&ChordRole::Guide)) {
                return None;
            }
        }
        if !self.is_within_reach(place) {
            return None;
        }
        let may_double = matches!(role, ChordRole::Root | ChordRole::Fifth);
        let others = self.under.iter().map(|it| (it.midi, it.above_root));
        for (other, other_above) in others.chain([(self.melody, melody_above)]) {
            if other == midi || (other_above == above_root && !may_double) {
                return None;
            }
            let (low, high) = (midi.min(other), midi.max(other));
            let is_minor_ninth = high - low > 1 && (high - low) % 12 == 1;
            let on_root = self.roles.above_root(low) == 0 && self.roles.is_dominant();
            if is_minor_ninth && !on_root {
                return None;
            }
        }
        Some(Sounding {
            place,
            midi,
            above_root,
            role,
        })
    }

    fn is_within_reach(&self, place: Place) -> bool {
        let fret = place.fret.get();
        if fret == 0 {
            return true;
        }
        let others = self.under.iter().map(|it| it.place);
        others
            .chain([self.melody_place])
            .map(|other| other.fret.get())
            .filter(|other| *other > 0)
            .all(|other| self.reaches.spans(fret.min(other), fret.max(other)))
    }

    fn finish(&mut self) {
        let style = &self.arranger.style;
        if self.under.is_empty() || self.under.len() + 1 < usize::from(style.least) {
            return;
        }
        let melody_above = self.roles.above_root(self.melody);
        let sounding = self
            .under
            .iter()
            .fold(1 << melody_above, |set: ToneSet, it| {
                set | 1 << it.above_root
            });
        let guides = self.roles.guides(melody_above, sounding);
        let is_complete = guides & sounding == guides;
        let mut sorted = self.under.clone();
        sorted.sort_by_key(|it| it.midi);
        let stands_for_seventh = |it: &Sounding| guides & 1 << it.above_root != 0;
        if self.wanted == SearchExtent::OneComplete && !is_complete {
            return;
        }
        let needs_guides = sorted
            .iter()
            .any(|it| it.role == ChordRole::Tension && !stands_for_seventh(it));
        if needs_guides && !is_complete {
            return;
        }
        if sorted[1..].iter().any(|it| it.role == ChordRole::Bass) || !self.is_clear(&sorted) {
            return;
        }
        if style.picked && !self.is_damped() {
            return;
        }
        let places: Vec<Place> = sorted
            .iter()
            .map(|it| it.place)
            .chain([self.melody_place])
            .collect();
        let above = self.under.iter().map(|it| it.above_root);
        let omitted = self.roles.left_out(Some(melody_above), above);
        let mut grips = self.reaches.grips(&places);
        if style.thumb {
            let lowest = self.strings.last().copied();
            grips.extend(lowest.map_or(Vec::new(), |lowest| {
                self.reaches.thumb_grips(&places, lowest)
            }));
        }
        for grip in grips {
            let Some(voicing) = self.voicing(&sorted, grip, &omitted, is_complete) else {
                continue;
            };
            self.found.push(voicing);
        }
    }

    fn voicing(
        &self,
        sorted: &[Sounding],
        grip: Grip,
        omitted: &[crate::theory::ChordDegree],
        is_complete: bool,
    ) -> Option<Voicing> {
        let (melody, held) = grip.places.split_last()?;
        let under = sorted
            .iter()
            .zip(held)
            .map(|(note, at)| {
                let (role, degree) = self.roles.at(note.above_root)?;
                Some(UnderNote {
                    at: *at,
                    pitch: self.roles.spell(note.midi)?,
                    degree,
                    role,
                })
            })
            .collect::<Option<Vec<UnderNote>>>()?;
        Some(Voicing {
            melody: *melody,
            under,
            barre: grip.barre,
            omitted: omitted.to_vec(),
            is_complete,
        })
    }

    /// True when the two lowest notes respect the low interval limits.
    fn is_clear(&self, sorted: &[Sounding]) -> bool {
        let low = sorted[0].midi;
        let next = sorted.get(1).map_or(self.melody, |it| it.midi);
        let sounding = i16::from(low) + i16::from(self.arranger.instrument.sounding().semitones());
        !is_muddy(sounding, next - low)
    }

    /// True when every silent string between sounding ones has a stopped string beside it, whose finger damps it.
    fn is_damped(&self) -> bool {
        let fret_on = |string: u8| {
            let places = self
                .under
                .iter()
                .map(|it| it.place)
                .chain([self.melody_place]);
            places
                .clone()
                .find(|place| place.string.get() == string)
                .map(|place| place.fret.get())
        };
        let strings = || {
            self.under
                .iter()
                .map(|it| it.place)
                .chain([self.melody_place])
                .map(|it| it.string.get())
        };
        let (Some(first), Some(last)) = (strings().min(), strings().max()) else {
            return true;
        };
        (first + 1..last)
            .filter(|string| fret_on(*string).is_none())
            .all(|string| {
                [string - 1, string + 1]
                    .into_iter()
                    .any(|beside| fret_on(beside).is_some_and(|fret| fret > 0))
            })
    }
}
