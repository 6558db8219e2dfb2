//! Which fingers can hold a set of places.

use super::voicing::{Barre, FingeredPlace};
use crate::neck::{Finger, Fret, Hand, Instrument, Place, StringNumber};

/// The distances of an instrument and a hand, in millimetres.
pub(super) struct Reaches {
    /// From the nut or the capo, by fret.
    nut: [f64; Fret::HIGHEST as usize + 1],
    hand: Hand,
}

/// A way to put fingers on places, in the order of the places.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Grip {
    pub(super) places: Vec<FingeredPlace>,
    pub(super) barre: Option<Barre>,
}

/// The most strings a finger can hold down at one fret; common practice, no source.
const WIDEST_BARRE: [u8; 4] = [12, 2, 3, 2];
/// The most fingers side by side at one fret; common practice, no source.
const SIDE_BY_SIDE: usize = 3;

impl Reaches {
    pub(super) fn new(instrument: &Instrument, hand: Hand) -> Reaches {
        let nut = std::array::from_fn(|number| {
            Fret::new(number as u8).map_or(0.0, |fret| instrument.millimetres_at(fret))
        });
        Reaches { nut, hand }
    }

    /// Millimetres between two frets.
    pub(super) fn between(&self, one: u8, other: u8) -> f64 {
        (self.nut[usize::from(one)] - self.nut[usize::from(other)]).abs()
    }

    /// True when fingers 1 and 4 can be on these frets at once.
    pub(super) fn spans(&self, low: u8, high: u8) -> bool {
        self.between(low, high) <= self.hand.reach(Finger::First, Finger::Fourth).1
    }

    /// Millimetres past comfort between two fingers; `None` when the hand does not reach.
    pub(super) fn stretch(&self, one: (Finger, u8), other: (Finger, u8)) -> Option<f64> {
        let (comfortable, utmost) = self.hand.reach(one.0, other.0);
        let apart = self.between(one.1, other.1);
        (apart <= utmost).then(|| (apart - comfortable).max(0.0))
    }

    /// Every way to put fingers on places.
    ///
    /// The rules, common practice without a source but for the reach of the [`Hand`]: a higher fret takes a higher finger;
    /// on one fret the lower finger takes the lower string and the fingers are neighbours, at most three of them; one
    /// finger may lie across strings where nothing below it is stopped lower or open, the first across any number, the
    /// third across three, the others across two; neighbouring fingers stand at most a fret closer or wider than a fret
    /// each, but 1 and 4, which go as wide as the hand.
    pub(super) fn grips(&self, places: &[Place]) -> Vec<Grip> {
        let mut order: Vec<usize> = (0..places.len())
            .filter(|index| places[*index].fret.get() > 0)
            .collect();
        order.sort_by_key(|index| {
            (
                places[*index].fret,
                std::cmp::Reverse(places[*index].string.get()),
            )
        });
        let mut search = GripSearch {
            reaches: self,
            places,
            order: &order,
            fingers: vec![None; places.len()],
            used: Vec::with_capacity(4),
            barre: None,
            found: Vec::new(),
        };
        search.place(0);
        search.found
    }
}

/// How many frets beside the first finger the thumb stands at most; common practice, no source.
const THUMB_BESIDE: u8 = 1;

impl Reaches {
    /// The same with the thumb over the neck on the lowest string, where the first place is stopped there.
    ///
    /// Common practice, no source: the thumb stands within a fret of where the first finger does, and no first finger lies
    /// across, for which the hand has to come round.
    pub(super) fn thumb_grips(&self, places: &[Place], lowest: StringNumber) -> Vec<Grip> {
        let Some((bass, others)) = places.split_first().filter(|(bass, others)| {
            bass.string == lowest && bass.fret > Fret::OPEN && !others.is_empty()
        }) else {
            return Vec::new();
        };
        let fret = bass.fret.get();
        let is_near = |grip: &Grip| {
            let first = grip.places.iter().filter_map(|it| {
                let finger = it.finger?.get();
                Some((finger, (it.place.fret.get() + 1).saturating_sub(finger)))
            });
            let position = first.min().map_or(fret, |(_, position)| position.max(1));
            let lies = grip
                .barre
                .is_some_and(|barre| barre.finger == Finger::First);
            !lies && fret.abs_diff(position) <= THUMB_BESIDE
        };
        let grips = self.grips(others).into_iter().filter(is_near);
        grips
            .map(|grip| {
                let thumb = FingeredPlace {
                    place: *bass,
                    finger: None,
                };
                Grip {
                    places: [thumb].into_iter().chain(grip.places).collect(),
                    barre: grip.barre,
                }
            })
            .collect()
    }
}

struct GripSearch<'a> {
    reaches: &'a Reaches,
    places: &'a [Place],
    /// Stopped places by fret, the lower string first.
    order: &'a [usize],
    fingers: Vec<Option<Finger>>,
    /// Fingers that are down with their frets, in order.
    used: Vec<(Finger, u8)>,
    barre: Option<Barre>,
    found: Vec<Grip>,
}

impl GripSearch<'_> {
    fn place(&mut self, next: usize) {
        let Some(first) = self.order.get(next) else {
            let fingered = self.places.iter().zip(&self.fingers);
            self.found.push(Grip {
                places: fingered
                    .map(|(place, finger)| FingeredPlace {
                        place: *place,
                        finger: *finger,
                    })
                    .collect(),
                barre: self.barre,
            });
            return;
        };
        let fret = self.places[*first].fret.get();
        let above = self.used.last().map_or(0, |(finger, _)| finger.get());
        for finger in Finger::ALL
            .into_iter()
            .filter(|finger| finger.get() > above)
        {
            if !self.can_take(finger, fret) {
                continue;
            }
            self.used.push((finger, fret));
            self.fingers[*first] = Some(finger);
            self.place(next + 1);
            if self.barre.is_none() {
                self.lay_across(next, finger, fret);
            }
            self.fingers[*first] = None;
            self.used.pop();
        }
    }

    /// Continues with the finger lying across further strings of its fret.
    fn lay_across(&mut self, first: usize, finger: Finger, fret: u8) {
        let mut last = first;
        while let Some(index) = self.order.get(last + 1)
            && self.places[*index].fret.get() == fret
        {
            last += 1;
            let (low, high) = (
                self.places[self.order[first]].string,
                self.places[*index].string,
            );
            let barre = Barre {
                finger,
                fret,
                from: high,
                to: low,
            };
            let blocked = self.places.iter().any(|place| {
                (high.get()..=low.get()).contains(&place.string.get()) && place.fret.get() < fret
            });
            if blocked || barre.strings() > WIDEST_BARRE[usize::from(finger.get()) - 1] {
                break;
            }
            self.fingers[*index] = Some(finger);
            self.barre = Some(barre);
            self.place(last + 1);
            self.barre = None;
        }
        for index in &self.order[first + 1..=last] {
            self.fingers[*index] = None;
        }
    }

    fn can_take(&self, finger: Finger, fret: u8) -> bool {
        let Some((before, at)) = self.used.last().copied() else {
            return true;
        };
        let apart = finger.get() - before.get();
        if at == fret {
            let beside = self.used.iter().filter(|(_, at)| *at == fret).count();
            if apart > 1 || beside == SIDE_BY_SIDE {
                return false;
            }
        } else if apart > fret - at + 1 || (fret - at > apart + 1 && apart < 3) {
            return false;
        }
        self.used
            .iter()
            .all(|down| self.reaches.stretch(*down, (finger, fret)).is_some())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places as string:fret, and the fingers of every grip in the same order.
    fn check(places: &str, expected: &str) {
        let places: Vec<Place> = places
            .split(' ')
            .map(|word| {
                let (string, fret) = word.split_once(':').unwrap();
                Place {
                    string: StringNumber::new(string.parse().unwrap()).unwrap(),
                    fret: Fret::new(fret.parse().unwrap()).unwrap(),
                }
            })
            .collect();
        let reaches = Reaches::new(&Instrument::default(), Hand::MEDIUM);
        let grips = reaches.grips(&places);
        let found: Vec<String> = grips
            .iter()
            .map(|grip| {
                let finger = |it: &FingeredPlace| {
                    it.finger
                        .map_or('0', |finger| (b'0' + finger.get()) as char)
                };
                grip.places.iter().map(finger).collect()
            })
            .collect();
        assert_eq!(found.join(" "), expected, "{places:?}");
    }

    // Common practice, no source.
    #[test]
    fn open_chords_have_their_usual_fingers() {
        check("5:3 4:2 3:0 2:1", "3201 4201 4301 4302");
        // A major: three fingers side by side, or one across.
        check(
            "4:2 3:2 2:2 1:0",
            "1230 1220 1120 1110 2340 2330 2230 3440 3340 3330",
        );
        // F major: the first finger across all six strings.
        assert!({
            let reaches = Reaches::new(&Instrument::default(), Hand::MEDIUM);
            let place = |string, fret| Place {
                string: StringNumber::new(string).unwrap(),
                fret: Fret::new(fret).unwrap(),
            };
            let places = [
                place(6, 1),
                place(5, 3),
                place(4, 3),
                place(3, 2),
                place(2, 1),
                place(1, 1),
            ];
            let fingers = |grip: &Grip| {
                grip.places
                    .iter()
                    .map(|it| it.finger.unwrap().get())
                    .collect::<Vec<_>>()
            };
            reaches
                .grips(&places)
                .iter()
                .map(fingers)
                .any(|it| it == [1, 3, 4, 2, 1, 1])
        });
    }

    // Common practice: the thumb takes the third fret of the lowest string beside a hand that stands there.
    #[test]
    fn the_thumb_comes_over_the_neck_beside_the_hand() {
        let reaches = Reaches::new(&Instrument::default(), Hand::MEDIUM);
        let place = |string, fret| Place {
            string: StringNumber::new(string).unwrap(),
            fret: Fret::new(fret).unwrap(),
        };
        let lowest = StringNumber::new(6).unwrap();
        let shell = [place(4, 3), place(3, 4), place(2, 3)];
        let with_bass = |fret| [&[place(6, fret)][..], &shell].concat();
        let grips = reaches.thumb_grips(&with_bass(3), lowest);
        assert!(!grips.is_empty());
        assert!(grips.iter().all(|grip| grip.places[0].is_thumb()));
        assert!(
            grips
                .iter()
                .all(|grip| grip.places[1..].iter().all(|it| it.finger.is_some()))
        );
        // Too far from the hand, an open string, another string.
        assert!(reaches.thumb_grips(&with_bass(7), lowest).is_empty());
        assert!(reaches.thumb_grips(&with_bass(0), lowest).is_empty());
        assert!(reaches.thumb_grips(&shell, lowest).is_empty());
    }

    #[test]
    fn no_finger_lies_across_an_open_string() {
        check("3:2 2:0 1:2", "102 203 304");
    }
}
