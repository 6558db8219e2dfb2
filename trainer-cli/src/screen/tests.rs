//! Snapshots of the screen, and the effects of keys and clicks.

use std::sync::Arc;

use fretlib::format::abc;
use fretlib::mapping::{NeckMap, OpenStrings};
use fretlib::melody::Melody;
use fretlib::neck::{Finger, Instrument, Position};
use fretlib::practice::{Answer, Interleaving, Kind, PlacementKey, PracticeMaterial};
use fretlib::sound::Performance;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::*;
use crate::request::SessionRequest;
use crate::session::PracticeTune;
use snapshot::check_drawn;
use state::Overlay;

const JETTY: &str = "X:1\nT:Jetty\nM:4/4\nL:1/4\nK:Bb\nB d f e | d2 c2 | G A B =e | f4 |\n";

fn melody() -> Melody {
    abc::read(JETTY.as_bytes(), &abc::AbcOptions::default())
        .unwrap()
        .melody
}

/// A session over the tune at its whole placements, with one kind of question.
fn session(kind: Kind, position: u8) -> Session {
    let melody = melody();
    let instrument = Instrument::default();
    let map = NeckMap::new(&melody, &instrument, OpenStrings::FirstPosition);
    let placements: Vec<PlacementKey> = map
        .whole()
        .filter(|it| it.position == Position::new(position).unwrap() || kind == Kind::Octave)
        .map(|it| PlacementKey {
            position: it.position,
            octave: it.octave,
        })
        .collect();
    let home = "Bb major".parse().unwrap();
    let material = PracticeMaterial::new(melody.clone(), home, &[], instrument, placements);
    let tune = PracticeTune::new(material, &melody, None);
    let now = Clock::from_option(None).unwrap().now();
    Session::new(vec![tune], &request(kind), None, now).unwrap()
}

fn request(kind: Kind) -> SessionRequest {
    SessionRequest {
        kinds: vec![kind],
        questions: None,
        is_random: true,
        seed: Some(1),
        mix: Interleaving::default(),
        untouched: 12,
        everywhere: true,
        ask_at_once: false,
        plain: false,
        no_history: true,
        now: None,
    }
}

fn look() -> Look {
    Look {
        color: true,
        ascii: false,
        left_handed: false,
    }
}

/// A loudspeaker that keeps what it is given, until it goes away.
#[derive(Default)]
struct Kept {
    played: Vec<Arc<Performance>>,
    is_gone: bool,
}

impl SoundOutput for Kept {
    fn open(&mut self) -> Result<(), String> {
        match self.is_gone {
            true => Err("the sound device has gone away".into()),
            false => Ok(()),
        }
    }

    fn play(&mut self, performance: Arc<Performance>) {
        self.played.push(performance);
    }

    fn stop(&mut self) {}
}

/// A screen with its first question, and the session behind it.
fn first_question(kind: Kind, size: (u16, u16), look: Look) -> (State, Session, Asked) {
    let mut session = session(kind, 5);
    let mut state = State::new(look, size);
    let clock = Clock::from_option(None).unwrap();
    let asked = put_next(&mut session, &clock, &mut Kept::default(), &mut state).unwrap();
    (state, session, asked)
}

fn drawn(state: &State) -> String {
    snapshot::drawn(state.size, |frame| render::render(state, frame))
}

fn check(state: &State, name: &str) {
    check_drawn(&drawn(state), name);
}

fn press(state: &mut State, code: KeyCode) -> Option<Effect> {
    state.update(Event::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

fn type_text(state: &mut State, text: &str) -> Option<Effect> {
    let mut effect = None;
    for letter in text.chars() {
        effect = press(state, KeyCode::Char(letter));
    }
    effect
}

fn judge(state: &mut State, session: &mut Session, asked: &Asked, effect: Effect) {
    let Effect::Answer(typed, answer) = effect else {
        panic!("{effect:?}");
    };
    let now = Clock::from_option(None).unwrap().now();
    let verdict = session.answer(asked, &typed, answer, 1.0, now);
    state.update(Event::Judged {
        verdict: answer.map(|_| verdict),
        remark: remark(asked, verdict, answer.is_none()),
        tally: session.tally().clone(),
    });
}

#[test]
fn a_question_is_drawn_for_its_terminal() {
    for (size, name) in [
        ((80, 24), "place_80x24"),
        ((120, 40), "place_120x40"),
        ((60, 20), "place_60x20"),
        ((50, 16), "too_small_50x16"),
    ] {
        check(&first_question(Kind::Place, size, look()).0, name);
    }
    check(
        &first_question(Kind::Name, (80, 24), look()).0,
        "name_80x24",
    );
    check(
        &first_question(Kind::Octave, (120, 40), look()).0,
        "octave_120x40",
    );
    let plain = Look {
        color: false,
        ascii: true,
        left_handed: true,
    };
    check(
        &first_question(Kind::Place, (80, 24), plain).0,
        "ascii_left_handed_80x24",
    );
}

#[test]
fn an_answer_is_drawn_with_its_phrase() {
    let (mut state, mut session, asked) = first_question(Kind::Place, (80, 24), look());
    press(&mut state, KeyCode::Down);
    let effect = press(&mut state, KeyCode::Enter).unwrap();
    judge(&mut state, &mut session, &asked, effect);
    check(&state, "wrong_80x24");
    let now = Clock::from_option(None).unwrap().now();
    state.update(Event::Ended(session.summary(now)));
    check(&state, "over_80x24");
}

#[test]
fn help_and_pause_cover_the_question() {
    let (mut state, ..) = first_question(Kind::Place, (80, 24), look());
    press(&mut state, KeyCode::F(1));
    check(&state, "help_80x24");
    press(&mut state, KeyCode::Char(' '));
    press(&mut state, KeyCode::Tab);
    check(&state, "pause_80x24");
    state.update(Event::Passed(Duration::from_secs(30)));
    assert_eq!(
        (state.on_question, state.in_session),
        (Duration::ZERO, Duration::ZERO)
    );
    press(&mut state, KeyCode::Char(' '));
    assert_eq!(state.overlay, Overlay::None);
    assert_eq!(state.typed, "");
}

#[test]
fn a_place_is_answered_by_keys_by_digits_and_by_a_click() {
    let (state, _, asked) = first_question(Kind::Place, (80, 24), look());
    let place = asked.question.right_places()[0];
    let right = Answer::Place(place);
    let is_right = |effect: Option<Effect>| matches!(effect, Some(Effect::Answer(_, Some(answer))) if answer == right);

    let mut by_digits = state.clone();
    assert_eq!(
        type_text(&mut by_digits, &format!("{} {}", place.string, place.fret)),
        None
    );
    assert!(is_right(press(&mut by_digits, KeyCode::Enter)));

    let mut by_keys = state.clone();
    for _ in 0..40 {
        let step = match by_keys.cursor.string.get().cmp(&place.string.get()) {
            std::cmp::Ordering::Less => KeyCode::Down,
            std::cmp::Ordering::Greater => KeyCode::Up,
            std::cmp::Ordering::Equal => break,
        };
        press(&mut by_keys, step);
    }
    for _ in 0..40 {
        let step = match by_keys.cursor.fret.cmp(&place.fret) {
            std::cmp::Ordering::Less => KeyCode::Right,
            std::cmp::Ordering::Greater => KeyCode::Left,
            std::cmp::Ordering::Equal => break,
        };
        press(&mut by_keys, step);
    }
    assert!(is_right(press(&mut by_keys, KeyCode::Enter)));

    let wood = state.neck().unwrap();
    let mut found = false;
    for row in 0..24 {
        for column in 0..80 {
            if wood.place_at(column, row) == Some(place) {
                found = true;
                assert!(is_right(state.clone().update(Event::Click { column, row })));
            }
        }
    }
    assert!(found);
}

#[test]
fn the_cursor_starts_where_the_question_is() {
    for kind in [Kind::Place, Kind::Next, Kind::Octave] {
        let (mut state, mut session, mut asked) = first_question(kind, (80, 24), look());
        let clock = Clock::from_option(None).unwrap();
        for _ in 0..20 {
            let question = &asked.question;
            let first = question.placement.unwrap().position.fret(Finger::First);
            let expected = match (kind, question.shown_place()) {
                (Kind::Next, Some(shown)) => (shown.string.get(), shown.fret),
                (Kind::Octave, Some(shown)) => (shown.string.get(), first),
                _ => (3, first),
            };
            let cursor = (state.cursor.string.get(), state.cursor.fret);
            assert_eq!(cursor, expected, "{kind}: {question:?}");
            // Wherever the last answer was given.
            state.cursor = question.right_places()[0];
            session.answer(&asked, "?", None, 1.0, clock.now());
            asked = put_next(&mut session, &clock, &mut Kept::default(), &mut state).unwrap();
        }
    }
}

#[test]
fn enter_answers_in_every_kind_alike() {
    for (kind, typed) in [
        (Kind::Degree, "b3"),
        (Kind::Scale, "y"),
        (Kind::Interval, "m3"),
    ] {
        let (mut state, ..) = first_question(kind, (80, 24), look());
        assert_eq!(type_text(&mut state, typed), None, "{kind}");
        let effect = press(&mut state, KeyCode::Enter);
        assert!(matches!(effect, Some(Effect::Answer(_, Some(_)))), "{kind}");
    }
}

#[test]
fn a_space_before_a_question_mark_is_ignored() {
    let (mut state, ..) = first_question(Kind::Degree, (80, 24), look());
    assert_eq!(
        type_text(&mut state, " ?"),
        Some(Effect::Answer("?".into(), None))
    );
}

#[test]
fn unclear_answers_are_asked_again() {
    let (mut state, ..) = first_question(Kind::Place, (80, 24), look());
    type_text(&mut state, "somewhere");
    assert_eq!(press(&mut state, KeyCode::Enter), None);
    assert!(drawn(&state).contains("expected a string and a fret"));
    press(&mut state, KeyCode::Esc);
    assert_eq!((state.typed.as_str(), &state.unclear), ("", &None));
}

#[test]
fn there_is_always_a_way_out() {
    let (state, ..) = first_question(Kind::Place, (80, 24), look());
    for overlay in [Overlay::None, Overlay::Pause, Overlay::Help] {
        let covered = State {
            overlay,
            ..state.clone()
        };
        assert_eq!(
            press(&mut covered.clone(), KeyCode::Char('q')),
            Some(Effect::Leave)
        );
        let ctrl_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(
            covered.clone().update(Event::Key(ctrl_c)),
            Some(Effect::Leave)
        );
    }
    assert_eq!(press(&mut state.clone(), KeyCode::Esc), Some(Effect::Leave));
}

#[test]
fn every_size_can_be_drawn() {
    for kind in [Kind::Place, Kind::Interval] {
        let (mut state, ..) = first_question(kind, (80, 24), look());
        for columns in (1..300).step_by(37) {
            for rows in (1..70).step_by(11) {
                state.update(Event::Size(columns, rows));
                drawn(&state);
            }
        }
    }
}

/// A scheduled session over the tune, whose first phrase is untouched.
fn first_lesson(size: (u16, u16)) -> (State, Session) {
    let tune = session(Kind::Place, 5).into_tunes().remove(0);
    let request = SessionRequest {
        is_random: false,
        ..request(Kind::Place)
    };
    let clock = Clock::from_option(None).unwrap();
    let mut session = Session::new(vec![tune], &request, None, clock.now()).unwrap();
    let mut state = State::new(look(), size);
    put_next(&mut session, &clock, &mut Kept::default(), &mut state).unwrap();
    (state, session)
}

#[test]
fn an_answer_that_is_played_is_asked_for_and_shown() {
    for (size, name) in [((80, 24), "80x24"), ((60, 20), "60x20")] {
        let (mut state, mut session, asked) = first_question(Kind::Place, size, look());
        state.listens = true;
        check(&state, &format!("by_playing_{name}"));
        let material = &session.tune(&asked).material;
        let right = material.melody().notes()[asked.question.note].pitch;
        let octave = asked.question.placement.unwrap().octave;
        let right = right.transpose(octave.interval()).unwrap();
        let answer = asked
            .question
            .answer_played(&[right], material.instrument())
            .unwrap();
        let played = Event::Played(format!("played {right}"), answer);
        let effect = state.update(played).unwrap();
        judge(&mut state, &mut session, &asked, effect);
        assert!(matches!(
            state.phase,
            Phase::Answered {
                verdict: Some(Verdict::Right),
                ..
            }
        ));
        check(&state, &format!("by_playing_answered_{name}"));
    }
}

#[test]
fn taking_back_is_offered_once_there_is_an_answer() {
    let (mut state, mut session, asked) = first_question(Kind::Place, (80, 24), look());
    let offers = |state: &State| drawn(state).contains("Backspace");
    assert!(!offers(&state));
    let effect = press(&mut state, KeyCode::Char('?')).unwrap();
    judge(&mut state, &mut session, &asked, effect);
    assert!(offers(&state));
    let clock = Clock::from_option(None).unwrap();
    put_next(&mut session, &clock, &mut Kept::default(), &mut state).unwrap();
    assert!(offers(&state));
}

#[test]
fn an_untouched_phrase_is_shown_then_hidden_then_asked() {
    let (mut state, _) = first_lesson((80, 24));
    check(&state, "lesson_whole_80x24");
    press(&mut state, KeyCode::Enter);
    check(&state, "lesson_every_other_80x24");
    press(&mut state, KeyCode::Enter);
    assert_eq!(state.phase, Phase::Learning(2));
    press(&mut state, KeyCode::Enter);
    assert_eq!(state.phase, Phase::Asking);
    let (mut state, _) = first_lesson((60, 20));
    check(&state, "lesson_whole_60x20");
    press(&mut state, KeyCode::Char('s'));
    assert_eq!(state.phase, Phase::Asking);
    check(&first_lesson((120, 40)).0, "lesson_whole_120x40");
}

#[test]
fn a_question_by_ear_gives_nothing_away_until_it_is_answered() {
    let (mut state, mut session, asked) = first_question(Kind::IntervalByEar, (80, 24), look());
    check(&state, "interval_by_ear_80x24");
    type_text(&mut state, "P8");
    let effect = press(&mut state, KeyCode::Enter).unwrap();
    judge(&mut state, &mut session, &asked, effect);
    check(&state, "interval_by_ear_answered_80x24");
    check(
        &first_question(Kind::NextByEar, (60, 20), look()).0,
        "next_by_ear_60x20",
    );
    check(
        &first_question(Kind::DegreeByEar, (120, 40), look()).0,
        "degree_by_ear_120x40",
    );
}

#[test]
fn r_plays_a_question_by_ear_and_nothing_else() {
    let (mut state, mut session, asked) = first_question(Kind::DegreeByEar, (80, 24), look());
    assert_eq!(press(&mut state, KeyCode::Char('r')), Some(Effect::Play));
    // What is typed has an r of its own.
    assert_eq!(type_text(&mut state, "tr"), None);
    assert_eq!(state.typed, "tr");
    press(&mut state, KeyCode::Esc);
    let effect = press(&mut state, KeyCode::Char('?')).unwrap();
    judge(&mut state, &mut session, &asked, effect);
    assert_eq!(press(&mut state, KeyCode::Char('r')), Some(Effect::Play));
    assert_eq!(press(&mut state, KeyCode::Char(' ')), Some(Effect::Next));
    let (mut state, ..) = first_question(Kind::Degree, (80, 24), look());
    assert_eq!(press(&mut state, KeyCode::Char('r')), None);
    assert_eq!(state.typed, "r");
}

#[test]
fn a_question_by_ear_is_heard_when_it_is_put_and_left_out_when_it_cannot_be() {
    let mut wanted = request(Kind::Place);
    wanted.kinds.push(Kind::ScaleByEar);
    let tune = session(Kind::Place, 5).into_tunes().remove(0);
    let clock = Clock::from_option(None).unwrap();
    let mut session = Session::new(vec![tune], &wanted, None, clock.now()).unwrap();
    let mut state = State::new(look(), (80, 24));
    let mut sound = Kept::default();
    for _ in 0..20 {
        let before = sound.played.len();
        let asked = put_next(&mut session, &clock, &mut sound, &mut state).unwrap();
        let heard = sound.played.len() - before;
        assert_eq!(heard, usize::from(asked.question.is_heard()));
        if let Some(performance) = sound.played.last().filter(|_| heard > 0) {
            let expected = asked.question.sound(&session.tune(&asked).material);
            assert_eq!(Some(&**performance), expected.as_ref());
        }
    }
    assert!((5..15).contains(&sound.played.len()));
    sound.is_gone = true;
    for _ in 0..20 {
        let asked = put_next(&mut session, &clock, &mut sound, &mut state).unwrap();
        assert!(!asked.question.is_heard());
    }
    assert_eq!(
        state.notice.as_deref(),
        Some("questions by ear are left out: the sound device has gone away")
    );
    state.update(Event::Ended(session.summary(clock.now())));
    assert!(drawn(&state).contains("questions by ear are left out"));
    state.phase = Phase::Asking;
    // It is said once: the next answer takes it from the screen.
    press(&mut state, KeyCode::Char('?'));
    assert_eq!(state.notice, None);
}

#[test]
fn phrases_to_choose_from_stand_where_the_neck_will_be() {
    let (mut state, mut session, asked) = {
        let source = "X:1\nT:Groyne\nM:3/4\nL:1/4\nK:G\n\
            G A B | d2 z | d B G | A2 z | e d B | G2 z |]\n";
        let melody = abc::read(source.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let phrases = [0..4, 4..8, 8..12];
        let home = "G major".parse().unwrap();
        let placements = session(Kind::Place, 5).into_tunes().remove(0);
        let placements = placements.material.placements().to_vec();
        let instrument = Instrument::default();
        let material =
            PracticeMaterial::new(melody.clone(), home, &phrases, instrument, placements);
        let tune = PracticeTune::new(material, &melody, None);
        let clock = Clock::from_option(None).unwrap();
        let wanted = request(Kind::PhraseByEar);
        let mut session = Session::new(vec![tune], &wanted, None, clock.now()).unwrap();
        let mut state = State::new(look(), (80, 24));
        let asked = put_next(&mut session, &clock, &mut Kept::default(), &mut state).unwrap();
        (state, session, asked)
    };
    check(&state, "phrase_by_ear_80x24");
    type_text(&mut state, "4");
    assert_eq!(press(&mut state, KeyCode::Enter), None);
    assert_eq!(
        state.unclear.as_deref(),
        Some("expected a number from 1 to 3")
    );
    press(&mut state, KeyCode::Esc);
    let effect = press(&mut state, KeyCode::Char('?')).unwrap();
    judge(&mut state, &mut session, &asked, effect);
    check(&state, "phrase_by_ear_answered_80x24");
}
