//! Snapshots of the screen while a melody is played, and the effects of keys.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

use fretlib::arranging::{FingeredPlace, PluckedNote};
use fretlib::format::abc;
use fretlib::melody::{Note, Quarters};
use fretlib::neck::{Fret, Instrument, Place, StringNumber};
use fretlib::sound::{Layer, Manner, PlayThrough, play_through};
use fretlib::theory::Octave;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::play_drawing::draw;
use super::play_state::{PlayEffect, PlayEvent, PlayState, PlayingView};
use crate::audio::Heard;
use crate::commands::play::{PlayedTune, Under};
use crate::screen::look::Look;
use crate::screen::snapshot::{self, check_drawn};

const JETTY: &str = "X:1\nT:Jetty\nM:4/4\nL:1/4\nQ:1/4=120\nK:Bb\n\"Bb\"B d f e | \"Cm7\"d2 \"F7\"c2 | \"Gm\"G A B =e | \"F\"f4 | B d f e | d4 |\n";

fn tune() -> PlayedTune {
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
    PlayedTune {
        title: "Jetty".into(),
        places: places.collect(),
        octave: Octave::WRITTEN,
        instrument: guitar.clone(),
        under: None,
        melody,
    }
}

/// The tune and a pass of it, made once for all tests.
fn played() -> &'static (PlayedTune, Arc<PlayThrough>) {
    static PLAYED: OnceLock<(PlayedTune, Arc<PlayThrough>)> = OnceLock::new();
    PLAYED.get_or_init(|| {
        let tune = tune();
        let pass = pass(&tune);
        (tune, pass)
    })
}

fn pass(tune: &PlayedTune) -> Arc<PlayThrough> {
    let manner = Manner {
        count_in: 1,
        ..Manner::default()
    };
    let pass = play_through(
        &tune.melody,
        &tune.places,
        tune.octave,
        &tune.instrument,
        &manner,
    );
    Arc::new(pass.unwrap())
}

/// The screen this many seconds into the first pass, a bar counted in.
fn state(size: (u16, u16), ascii: bool, seconds: f64) -> PlayState {
    let look = Look {
        color: true,
        ascii,
        left_handed: false,
    };
    let (tune, pass) = played().clone();
    let heard = Heard {
        pass,
        seconds,
        number: 1,
    };
    let mut state = PlayState::new(look, size, tune, [true, true, false]);
    state.update(PlayEvent::Heard(Some(heard)));
    state.update(PlayEvent::Playing(PlayingView {
        tempo: 120.0,
        percent: 100.0,
        latency: Duration::from_millis(58),
        ..PlayingView::default()
    }));
    state
}

fn drawn(state: &PlayState) -> String {
    snapshot::drawn(state.size, |frame| draw(state, frame))
}

fn check(state: &PlayState, name: &str) {
    check_drawn(&drawn(state), name);
}

fn press(state: &mut PlayState, code: KeyCode) -> Option<PlayEffect> {
    state.update(PlayEvent::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

#[test]
fn the_current_and_next_bar_and_the_sounding_note_are_shown() {
    check(&state((80, 24), false, 4.3), "playing_80x24");
    check(&state((60, 20), true, 6.1), "playing_60x20");
}

#[test]
fn what_lies_under_the_melody_stands_under_it_and_is_marked() {
    let mut tune = tune();
    let place = |string, fret| FingeredPlace {
        place: Place {
            string: StringNumber::new(string).unwrap(),
            fret: Fret::new(fret).unwrap(),
        },
        finger: None,
    };
    // Under the D of the second bar (four quarters in): C and Bb for two beats, then A and Eb.
    let struck = |onset: i64, name: &str, string, fret| PluckedNote {
        note: Note {
            pitch: name.parse().unwrap(),
            onset: Quarters::from(onset),
            duration: Quarters::from(2),
        },
        at: place(string, fret),
        share_db: 3.0,
    };
    tune.under = Some(Under {
        notes: vec![
            struck(4, "C4", 5, 3),
            struck(4, "Bb4", 3, 3),
            struck(6, "A4", 4, 7),
            struck(6, "Eb4", 5, 6),
        ],
        contrast: 9.0,
    });
    let pass = pass(&tune);
    let seen = |size, ascii, seconds| {
        let mut state = state(size, ascii, seconds);
        state.tune = tune.clone();
        let number = 1;
        let pass = pass.clone();
        state.update(PlayEvent::Heard(Some(Heard {
            pass,
            seconds,
            number,
        })));
        state
    };
    check(&seen((80, 24), false, 4.5), "playing_arranged_80x24");
    check(&seen((60, 20), true, 5.5), "playing_arranged_60x20");
}

#[test]
fn the_bar_after_the_current_one_is_always_shown() {
    for columns in [60, 67, 80, 100, 131] {
        for rows in [20, 34] {
            for bar in 0..5 {
                let state = state((columns, rows), false, 2.0 * f64::from(bar) + 2.5);
                let drawn = drawn(&state);
                // Bar numbers are above the bars, in the first line or in that of the second row of bars.
                let heads: Vec<&str> = drawn
                    .lines()
                    .filter(|line| {
                        line.trim_start().starts_with(|c: char| c.is_ascii_digit())
                            && !line.contains('│')
                    })
                    .collect();
                let numbers: Vec<&str> = heads
                    .iter()
                    .flat_map(|line| line.split_whitespace())
                    .collect();
                for number in [bar + 1, bar + 2] {
                    assert!(
                        numbers.contains(&number.to_string().as_str()),
                        "{columns} x {rows}, bar {bar}:\n{drawn}"
                    );
                }
            }
        }
    }
}

#[test]
fn keys_request_their_effects() {
    let mut state = state((80, 24), false, 4.3);
    assert_eq!(press(&mut state, KeyCode::Right), Some(PlayEffect::Move(1)));
    assert_eq!(
        press(&mut state, KeyCode::Char('[')),
        Some(PlayEffect::LoopFrom)
    );
    assert_eq!(
        press(&mut state, KeyCode::Char('-')),
        Some(PlayEffect::Tempo(-5))
    );
    assert_eq!(
        press(&mut state, KeyCode::Char('c')),
        Some(PlayEffect::Turn(Layer::Click, true))
    );
    assert_eq!(
        press(&mut state, KeyCode::Char('m')),
        Some(PlayEffect::Turn(Layer::Melody, false))
    );
    assert!(drawn(&state).contains("chords + click"));
    // Without a ladder nothing is judged.
    assert_eq!(press(&mut state, KeyCode::Char('y')), None);
    state.playing.ladder = Some("ladder to 100%, 2 more right".into());
    assert_eq!(
        press(&mut state, KeyCode::Char('y')),
        Some(PlayEffect::Judge(true))
    );
    assert!(drawn(&state).contains("y right  n not yet"));
    // In a pause only keys without an effect on the music work.
    assert_eq!(
        press(&mut state, KeyCode::Char(' ')),
        Some(PlayEffect::Pause)
    );
    assert_eq!(press(&mut state, KeyCode::Right), None);
    state.update(PlayEvent::Heard(None));
    assert!(drawn(&state).contains("paused, bar 2"));
    assert_eq!(
        press(&mut state, KeyCode::Char(' ')),
        Some(PlayEffect::GoOn)
    );
    for leave in [KeyCode::Esc, KeyCode::Char('q')] {
        assert_eq!(press(&mut state.clone(), leave), Some(PlayEffect::Leave));
    }
    assert_eq!(press(&mut state, KeyCode::Char('?')), None);
    assert!(drawn(&state).contains("Stop at the first pain"));
    assert_eq!(
        press(&mut state, KeyCode::Char('q')),
        Some(PlayEffect::Leave)
    );
}

#[test]
fn nothing_at_the_head_lies_over_anything_else() {
    for columns in [60, 66, 80] {
        let mut state = state((columns, 24), false, 4.3);
        state.layers = [true; 3];
        state.playing.ladder = Some("ladder to 100%, 2 more right".into());
        let drawn = drawn(&state);
        assert!(drawn.contains("ladder to 100%, 2 more right"), "{drawn}");
        assert!(drawn.contains("  melody + chords + click"), "{drawn}");
    }
}

#[test]
fn a_break_is_proposed_after_25_minutes_of_playing() {
    let mut state = state((80, 24), false, 4.3);
    let minutes = |state: &mut PlayState, minutes: u64| {
        state.update(PlayEvent::Passed(Duration::from_secs(60 * minutes)));
        state.notice.take()
    };
    assert_eq!(minutes(&mut state, 24), None);
    state.paused = true;
    assert_eq!(minutes(&mut state, 1), None); // a pause is a break
    state.paused = false;
    assert_eq!(minutes(&mut state, 24), None);
    assert!(minutes(&mut state, 1).unwrap().contains("rest the hands"));
    assert_eq!(minutes(&mut state, 1), None);
}

#[test]
fn lost_sound_pauses_and_is_reported() {
    let mut state = state((80, 24), false, 4.3);
    state.update(PlayEvent::Lost("the sound device has gone away".into()));
    assert!(state.paused);
    assert!(
        drawn(&state)
            .contains("the sound has stopped: the sound device has gone away; space tries again")
    );
    assert_eq!(
        press(&mut state, KeyCode::Char(' ')),
        Some(PlayEffect::GoOn)
    );
}

#[test]
fn every_size_and_moment_can_be_drawn() {
    for columns in [1, 59, 61, 80, 260] {
        for rows in [1, 19, 20, 25, 34, 70] {
            for seconds in [0.0, 2.0, 7.7, 99.0] {
                drawn(&state((columns, rows), true, seconds));
            }
        }
    }
    let string = StringNumber::new(1).unwrap();
    let mut off = state((80, 24), false, 3.0);
    off.tune.places = vec![None; off.tune.places.len()];
    off.tune.places[0] = Some(Place {
        string,
        fret: Fret::new(22).unwrap(),
    });
    drawn(&off);
}
