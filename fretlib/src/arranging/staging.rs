//! How the fingers of an arrangement go down: their order, those that stay or guide, and notes that ring on.

use super::arrangement::{Accompaniment, ArrangedNote, BareReason};
use super::chord_role::ChordRoles;
use super::lattice::Lattice;
use super::voicing::{FingeredPlace, UnderNote, Voicing};
use crate::melody::{Note, Quarters};
use crate::neck::Finger;

/// How the fingers of a voicing go down.
///
/// The order is common practice, no source: the melody first, then fingers that stay, fingers that guide the hand, the
/// bass, the inner voices; each as late as possible.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Staged {
    /// The order of the melody's finger, from 1; `None` on an open string or when it is already down.
    pub melody: Option<u8>,
    /// The same for every note under the melody; `None` also for a held note.
    pub placed: Vec<Option<u8>>,
    /// For every note under the melody, whether it is held from before and not struck again.
    pub held: Vec<bool>,
    /// Fingers that stay where they were in the previous voicing, also during bare notes between.
    pub anchors: Vec<Finger>,
    /// Fingers that stay on their string and lead the hand to another fret.
    pub guides: Vec<Finger>,
    /// True when the melody's finger must lie across the strings from here on, for a later voicing under the same note.
    pub lay_early: bool,
}

/// The fingers that are down, from note to note.
#[derive(Default)]
struct Down {
    places: Vec<FingeredPlace>,
    position: Option<u8>,
}

impl Down {
    /// A bare melody note: its finger leaves its place, its string stops sounding, and a moving hand releases
    /// everything.
    fn bare(&mut self, note: &ArrangedNote) {
        let at = note.melody;
        if self.position != note.position {
            self.places.clear();
        }
        self.places
            .retain(|it| it.finger != at.finger && it.place.string != at.place.string);
        self.places.push(at);
        self.position = note.position;
    }

    fn voicing(&mut self, voicing: &Voicing) {
        self.places = voicing.places().collect();
        self.position = voicing.position();
    }

    fn finger_on(&self, at: FingeredPlace) -> bool {
        at.finger.is_some() && self.places.contains(&at)
    }

    fn leads(&self, at: FingeredPlace) -> bool {
        let from =
            |it: &&FingeredPlace| it.finger == at.finger && it.place.string == at.place.string;
        at.finger.is_some()
            && self
                .places
                .iter()
                .find(from)
                .is_some_and(|it| it.place.fret != at.place.fret)
    }
}

/// Stages every voicing, and lets the bass ring on under the bare notes that follow it.
pub(super) fn staged(lattice: &Lattice, notes: &mut [ArrangedNote]) {
    let mut down = Down::default();
    for index in 0..notes.len() {
        if notes[index].under.is_empty() {
            let ringing = index
                .checked_sub(1)
                .and_then(|before| ringing(lattice, &notes[before], before, &notes[index], &down));
            match ringing {
                Some(ringing) => {
                    down.voicing(&ringing.voicing);
                    down.position = notes[index].position;
                    notes[index].under.push(ringing);
                }
                None => down.bare(&notes[index]),
            }
            continue;
        }
        let later: Vec<bool> = lay_early(&notes[index].under);
        for (nth, it) in notes[index].under.iter_mut().enumerate() {
            it.staging = order(&it.voicing, &down, nth > 0);
            it.staging.lay_early = later[nth];
            down.voicing(&it.voicing);
        }
    }
}

/// For each voicing under one note, whether a later one needs the melody's finger across the strings but this one does
/// not.
fn lay_early(under: &[Accompaniment]) -> Vec<bool> {
    let lies = |it: &Accompaniment| {
        let barre = it.voicing.barre();
        barre.is_some_and(|barre| Some(barre.finger) == it.voicing.melody.finger)
    };
    let later = |from: usize| under[from + 1..].iter().any(lies);
    under
        .iter()
        .enumerate()
        .map(|(index, it)| !lies(it) && later(index))
        .collect()
}

/// The turn of the bass, see [`order`].
const BASS: u8 = 3;

/// The order in which the fingers of a voicing go down.
fn order(voicing: &Voicing, down: &Down, melody_lies: bool) -> Staged {
    let mut staged = Staged {
        held: vec![false; voicing.under().len()],
        ..Staged::default()
    };
    // The rank of each finger in the order: 0 the melody, then staying, guiding, bass, inner.
    let turn = |finger: Finger| {
        let places = || voicing.places().filter(move |it| it.finger == Some(finger));
        if voicing.melody.finger == Some(finger) {
            0
        } else if places().any(|it| down.finger_on(it)) {
            1
        } else if places().any(|it| down.leads(it)) {
            2
        } else if voicing.has_bass() && voicing.under()[0].at.finger == Some(finger) {
            BASS
        } else {
            4
        }
    };
    let fingers: Vec<Finger> = Finger::ALL
        .into_iter()
        .filter(|finger| voicing.places().any(|it| it.finger == Some(*finger)))
        .collect();
    let thumb = voicing.has_thumb().then_some(BASS);
    let fingers_turns = fingers.iter().map(|finger| turn(*finger));
    let mut turns: Vec<u8> = fingers_turns.chain(thumb).collect();
    turns.sort_unstable();
    turns.dedup();
    let number = |at: FingeredPlace| {
        let turn = match at.finger {
            None if at.is_thumb() => BASS,
            finger => turn(finger?),
        };
        turns
            .iter()
            .position(|it| *it == turn)
            .map(|place| place as u8 + 1)
    };
    staged.placed = voicing.under().iter().map(|note| number(note.at)).collect();
    staged.melody = if melody_lies {
        None
    } else {
        number(voicing.melody)
    };
    let stays = |finger: &Finger| {
        voicing
            .places()
            .any(|it| it.finger == Some(*finger) && down.finger_on(it))
    };
    let leads = |finger: &Finger| {
        voicing
            .places()
            .any(|it| it.finger == Some(*finger) && down.leads(it))
    };
    staged.anchors = fingers.iter().copied().filter(stays).collect();
    staged.guides = fingers
        .into_iter()
        .filter(|finger| !stays(finger) && leads(finger))
        .collect();
    staged
}

/// The bass of the previous note, if the hand can hold it under a bare note.
///
/// It rings on while the chord lasts, without a rest between, with the finger free and in reach, and not a minor ninth
/// or a semitone under the melody.
fn ringing(
    lattice: &Lattice,
    before: &ArrangedNote,
    index: usize,
    note: &ArrangedNote,
    down: &Down,
) -> Option<Accompaniment> {
    let last = before.under.last()?;
    let (own, next) = (
        &lattice.melody.notes()[index],
        &lattice.melody.notes()[index + 1],
    );
    let sounds_to_the_end = last.until == own.duration && own.end() == next.onset;
    if note.bare != Some(BareReason::Passing)
        || !sounds_to_the_end
        || !chord_lasts(lattice, next, last)
    {
        return None;
    }
    let bass = last
        .voicing
        .under()
        .first()
        .filter(|_| last.voicing.has_bass())?;
    let moved = down.position != note.position && !bass.at.is_open();
    if moved || !fits_under(lattice, note, bass) {
        return None;
    }
    let roles = ChordRoles::new(last.chord, false);
    let [bass_above, melody_above] =
        [bass.pitch, note.pitch].map(|pitch| roles.above_root(pitch.midi().get()));
    let omitted = roles.left_out(Some(melody_above), [bass_above]);
    Some(Accompaniment {
        moment: last.moment,
        at: Quarters::ZERO,
        until: next.duration,
        chord: last.chord,
        enters: Vec::new(),
        melody_above,
        voicing: Voicing {
            melody: note.melody,
            under: vec![*bass],
            barre: None,
            omitted,
            is_complete: false,
        },
        staging: Staged {
            melody: note.melody.finger.map(|_| 1),
            placed: vec![None],
            held: vec![true],
            anchors: bass.at.finger.into_iter().collect(),
            ..Staged::default()
        },
    })
}

fn chord_lasts(lattice: &Lattice, note: &Note, last: &Accompaniment) -> bool {
    let chords = lattice.melody.chords();
    let same = |chord: &Option<crate::theory::Chord>| *chord == Some(last.chord);
    chords.at(note.onset).is_some_and(same)
        && chords
            .within(note.onset, note.end())
            .iter()
            .all(|(_, chord)| same(chord))
}

fn fits_under(lattice: &Lattice, note: &ArrangedNote, bass: &UnderNote) -> bool {
    let (melody, low) = (note.pitch.midi().get(), bass.pitch.midi().get());
    if low >= melody || (melody - low) % 12 == 1 || bass.at.place.string == note.melody.place.string
    {
        return false;
    }
    let (Some(finger), Some(held)) = (note.melody.finger, bass.at.finger) else {
        return true;
    };
    let (fret, at) = (note.melody.place.fret.get(), bass.at.place.fret.get());
    let crossed = (finger < held && fret > at) || (finger > held && fret < at);
    finger != held
        && !crossed
        && lattice
            .reaches
            .stretch((finger, fret), (held, at))
            .is_some()
}
