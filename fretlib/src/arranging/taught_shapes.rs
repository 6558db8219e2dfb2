//! The shapes that every player is taught must be found. Common practice, no source.

use super::{ChordRoles, Style};
use crate::arranging::few_bars::medium_hand;
use crate::neck::{Fret, Instrument, InstrumentSpec, Place};
use crate::theory::Chord;

/// Shapes from the lowest string; the highest note is the melody.
const SHAPES: [(&str, &str); 14] = [
    // Four notes with the second voice from the top dropped an octave, on strings 1 to 4.
    ("Cmaj7", "x-x-10-12-12-12 x-x-2-4-1-3 x-x-5-5-5-7"),
    ("C7", "x-x-10-12-11-12 x-x-2-3-1-3 x-x-5-5-5-6 x-x-8-9-8-8"),
    ("Cm7", "x-x-10-12-11-11 x-x-1-3-1-3 x-x-5-5-4-6 x-x-8-8-8-8"),
    (
        "Cm7b5",
        "x-x-10-11-11-11 x-x-1-3-1-2 x-x-4-5-4-6 x-x-8-8-7-8",
    ),
    // The same on strings 2 to 5.
    ("Cmaj7", "x-3-5-4-5-x x-7-9-5-8-x x-10-10-9-12-x"),
    (
        "C7",
        "x-3-5-3-5-x x-7-8-5-8-x x-10-10-9-11-x x-13-14-12-13-x",
    ),
    (
        "Cm7",
        "x-3-5-3-4-x x-6-8-5-8-x x-10-10-8-11-x x-13-13-12-13-x",
    ),
    // The third voice dropped: a bass, a silent string and three notes, from string 6 and from string 5.
    ("Gmaj7", "3-x-4-4-3-x"),
    ("G7", "3-x-3-4-3-x"),
    ("Gm7", "3-x-3-3-3-x x-10-x-10-11-10"),
    ("Cmaj7", "x-3-x-4-5-3"),
    ("C7", "x-3-x-3-5-3"),
    // Root and guide tones.
    ("G7", "3-x-3-4-x-x"),
    ("Cm7", "x-3-1-3-x-x"),
];

#[test]
fn every_taught_shape_is_found() {
    let guitar = Instrument::default();
    let spec = InstrumentSpec {
        frets: 15,
        ..guitar.build().clone()
    };
    let guitar = Instrument::new(spec).unwrap();
    let arranger = medium_hand(&guitar, Style::PLUCKED);
    for (chord, shapes) in SHAPES {
        let chord: Chord = chord.parse().unwrap();
        for shape in shapes.split(' ') {
            let top = guitar
                .string_numbers()
                .rev()
                .zip(shape.split('-'))
                .filter(|(_, fret)| *fret != "x")
                .last();
            let (string, fret) = top.unwrap();
            let fret = Fret::new(fret.parse().unwrap()).unwrap();
            let midi = guitar.midi_at(Place { string, fret }).unwrap();
            let class = chord
                .tones()
                .into_iter()
                .find(|tone| tone.chroma() == midi.chroma())
                .unwrap();
            let found =
                arranger.voicings(&ChordRoles::new(chord, false), class.at_midi(midi).unwrap());
            assert!(
                found
                    .iter()
                    .any(|it| it.shape(&guitar).to_string() == shape),
                "{chord} {shape}"
            );
        }
    }
}
