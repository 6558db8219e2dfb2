//! Snapshots of the screen while the program listens, and the effects of keys.

use std::sync::{Arc, OnceLock};

use fretlib::format::abc;
use fretlib::hearing::{HeardPass, Hearing, JudgedNote, NoteVerdict, Take};
use fretlib::neck::{Fret, Instrument, Place};
use fretlib::sound::{Manner, PlayThrough, play_through};
use fretlib::theory::Octave;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::listen_drawing::draw;
use super::listen_state::{ListenEffect, ListenEvent, ListenState, ListeningView, MicrophoneState};
use crate::commands::listen::{LiveNews, PassReport, Tuner};
use crate::commands::play::PlayedTune;
use crate::screen::look::Look;
use crate::screen::snapshot::{self, check_drawn};

const JETTY: &str = "X:1\nT:Jetty\nM:4/4\nL:1/4\nQ:1/4=120\nK:Bb\n\"Bb\"B d f e | \"Cm7\"d2 \"F7\"c2 | \"Gm\"G A B =e | \"F\"f4 | B d f e | d4 |\n";

fn tune() -> &'static (PlayedTune, Arc<PlayThrough>) {
    static TUNE: OnceLock<(PlayedTune, Arc<PlayThrough>)> = OnceLock::new();
    TUNE.get_or_init(|| {
        let melody = abc::read(JETTY.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let guitar = Instrument::default();
        // The lowest place of each note from the fifth fret on.
        let places = melody.notes().iter().map(|note| {
            let mut places: Vec<Place> = guitar.places_for(note.pitch.midi()).collect();
            places.retain(|place| place.fret >= Fret::new(5).unwrap());
            places.into_iter().min_by_key(|place| place.fret)
        });
        let places: Vec<Option<Place>> = places.collect();
        let manner = Manner::default();
        let music = play_through(&melody, &places, Octave::WRITTEN, &guitar, &manner).unwrap();
        let tune = PlayedTune {
            title: "Jetty".into(),
            places,
            octave: Octave::WRITTEN,
            instrument: guitar,
            under: None,
            melody,
        };
        (tune, Arc::new(music))
    })
}

/// The screen with the player at `place` seconds; the second note was struck.
fn state(size: (u16, u16), ascii: bool, place: Option<f64>) -> ListenState {
    let look = Look {
        color: true,
        ascii,
        left_handed: false,
    };
    let (tune, music) = tune().clone();
    let mut state = ListenState::new(look, size, tune, music.clone());
    state.update(ListenEvent::Listening(ListeningView {
        aim: "96 a minute, 80%   ladder to 100%, 2 more right".into(),
        place,
        music,
        hearing: Hearing {
            noise_db: Some(-58.2),
            strike_db: Some(-21.0),
            clipped: 0.0,
        },
        is_counting_in: false,
        tuner: None,
    }));
    if place.is_some() {
        state.update(ListenEvent::News(LiveNews::Struck));
        let d5 = "D5".parse().unwrap();
        state.update(ListenEvent::News(LiveNews::Named(d5, 3.0)));
    }
    state
}

/// A pass with a wrong third note, a late fifth one and an uncertain sixth.
fn report() -> PassReport {
    let verdicts = [
        NoteVerdict::Right,
        NoteVerdict::Right,
        NoteVerdict::Wrong,
        NoteVerdict::Right,
        NoteVerdict::Late,
        NoteVerdict::Missing,
    ];
    let judged = |(index, verdict)| JudgedNote {
        index,
        time: 1,
        verdict,
        sure: index != 5,
        expected: 0.0,
        heard: None,
        break_after: 0.0,
    };
    let pass = HeardPass {
        notes: (0..).zip(verdicts).map(judged).collect(),
        tempo: Some(95.0),
        bars: (1, 2),
        sure_extras: Vec::new(),
    };
    PassReport {
        number: 3,
        heading: "bars 1-2: with faults, 3 of 6 notes, 95 quarter notes a minute".into(),
        is_right: Some(false),
        sentences: vec![
            "Down to 75%.".into(),
            "Wrong: bar 1 beat 3, E5 for F5 (string 1, fret 1).".into(),
            "Off time: bar 2 beat 1, D5 110 ms late.".into(),
        ],
        take: Some(Take {
            passes: vec![pass],
            extra: Vec::new(),
            shift: -12,
            tempo: Some(95.0),
            swing: None,
            fit: 0.8,
        }),
    }
}

fn drawn(state: &ListenState) -> String {
    snapshot::drawn(state.size, |frame| draw(state, frame))
}

fn press(state: &mut ListenState, code: KeyCode) -> Option<ListenEffect> {
    state.update(ListenEvent::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

#[test]
fn the_place_the_last_strike_and_the_verdicts_are_shown() {
    check_drawn(&drawn(&state((80, 24), false, None)), "listening_80x24");
    let mut judged = state((80, 24), false, Some(0.5));
    judged.update(ListenEvent::News(LiveNews::Passed(Box::new(report()))));
    check_drawn(&drawn(&judged), "listening_judged_80x24");
    let mut narrow = state((60, 20), true, Some(0.5));
    narrow.update(ListenEvent::News(LiveNews::Passed(Box::new(report()))));
    check_drawn(&drawn(&narrow), "listening_judged_60x20");
}

#[test]
fn the_tuner_shows_how_far_the_last_string_is_off() {
    let mut state = state((80, 24), false, None);
    state.listening.tuner = Some(Tuner {
        words: "34 cents flat".into(),
        cents: -34.0,
    });
    let e4 = "E4".parse().unwrap();
    state.update(ListenEvent::News(LiveNews::Named(e4, -31.0)));
    check_drawn(&drawn(&state), "listening_tuner_80x24");
}

#[test]
fn a_mark_shows_while_the_microphone_is_open_and_only_then() {
    let mut state = state((80, 24), false, None);
    assert!(drawn(&state).contains("● microphone open"));
    assert_eq!(
        press(&mut state, KeyCode::Char(' ')),
        Some(ListenEffect::Close)
    );
    assert!(drawn(&state).contains("microphone closed"));
    assert!(!drawn(&state).contains("microphone open"));
    // Nothing is tuned while nothing is heard.
    assert_eq!(press(&mut state, KeyCode::Char('t')), None);
    assert_eq!(
        press(&mut state, KeyCode::Char(' ')),
        Some(ListenEffect::Open)
    );
    assert_eq!(
        press(&mut state, KeyCode::Char('t')),
        Some(ListenEffect::Tuner)
    );
    state.update(ListenEvent::Lost("the microphone has gone away".into()));
    assert!(drawn(&state).contains("the microphone has gone away; space tries again"));
    state.update(ListenEvent::Over);
    assert_eq!(state.microphone, MicrophoneState::Over);
    assert_eq!(press(&mut state, KeyCode::Char(' ')), None);
    assert_eq!(press(&mut state, KeyCode::Char('?')), None);
    assert!(drawn(&state).contains("Stop at the first pain"));
    assert_eq!(
        press(&mut state, KeyCode::Char('q')),
        Some(ListenEffect::Leave)
    );
}

#[test]
fn every_size_can_be_drawn() {
    for columns in [1, 59, 61, 120, 260] {
        for rows in [1, 19, 20, 25, 34, 70] {
            for place in [None, Some(0.0), Some(99.0)] {
                let mut state = state((columns, rows), true, place);
                state.update(ListenEvent::News(LiveNews::Passed(Box::new(report()))));
                drawn(&state);
                state.listening.tuner = Some(Tuner {
                    words: "in tune".into(),
                    cents: 0.0,
                });
                drawn(&state);
            }
        }
    }
}
