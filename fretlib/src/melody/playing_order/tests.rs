use super::*;
use crate::melody::Times;

/// A tune of bars named by letters, one quarter note each, with signs of the form between them.
fn check_order(tune: &str, expected: &str) {
    let mut form = Form::default();
    let mut names = Vec::new();
    for word in tune.split_whitespace() {
        let at = Quarters::from(names.len() as i64);
        let jump = |back_to, until, with_repeats| {
            FormSign::Jump(Jump {
                back_to,
                until,
                with_repeats,
            })
        };
        let signs: &[FormSign] = match word {
            "|:" => &[FormSign::RepeatStart],
            ":|" => &[FormSign::RepeatEnd(Times::TWICE)],
            ":|3" => &[FormSign::RepeatEnd(Times::new(3).unwrap())],
            "::" => &[FormSign::RepeatEnd(Times::TWICE), FormSign::RepeatStart],
            "||" => &[FormSign::DoubleBar],
            "]" => &[FormSign::EndingEnd],
            "segno" => &[FormSign::Segno],
            "coda" => &[FormSign::Coda],
            "tocoda" => &[FormSign::ToCoda],
            "fine" => &[FormSign::Fine],
            "DC" => &[jump(BackTo::Start, Until::Unsaid, false)],
            "DC-repeats" => &[jump(BackTo::Start, Until::Unsaid, true)],
            "DC-fine" => &[jump(BackTo::Start, Until::Fine, false)],
            "DS-coda" => &[jump(BackTo::Segno, Until::Coda, false)],
            _ => match word.strip_prefix('[') {
                Some(numbers) => {
                    let numbers = numbers.split(',').map(|it| it.parse().unwrap());
                    &[FormSign::Ending(Endings::new(numbers).unwrap().unwrap())]
                }
                None => {
                    names.push(word);
                    &[]
                }
            },
        };
        for sign in signs {
            form.add(at, *sign);
        }
    }
    let length = Quarters::from(names.len() as i64);
    let order = match PlayingOrder::of(&form, &Timeline::default(), length) {
        Ok(order) => order,
        Err(error) => {
            assert_eq!(error.to_string(), expected, "{tune}");
            return;
        }
    };
    let played: String = (0..order.length().to_integer())
        .map(|at| names[order.written_at(Quarters::from(at)).to_integer() as usize])
        .collect();
    assert_eq!(played, expected, "{tune}");
}

// Common practice, no source; the endings as in MusicXML's tutorial on repeats.
#[test]
fn repeats_and_endings_are_followed() {
    check_order("A B", "AB");
    check_order("|: A :| |: B :|", "AABB");
    check_order("A :| B :|", "AABB");
    check_order("A || B :|", "ABAB");
    check_order("|: A :: B :|", "AABB");
    check_order("p |: A :|3 B", "pAAAB");
    check_order("|: A [1 B :| [2 C ] D", "ABACD");
    check_order("|: A [1 B :| [2 C :| D", "ABACD");
    check_order("|: A [1,2,3 B :| [4 C ] D", "ABABABACD");
    check_order("|: A [1,3 B :| [2 C :| D", "ABACABD");
    check_order("|: A [1 B :| C", "ABAC");
    check_order("|: A [1 B :| [2 C |: D [1 E :| [2 F", "ABACDEDF");
    check_order("|: A [1 B :| [2 C ] || D [1 E :| [2 F ]", "ABACDEDF");
    check_order("A |: B [1 C :| [2 D ] E :|", "ABCBDEE");
}

#[test]
fn jumps_leave_out_repeats_and_take_the_last_ending() {
    check_order("|: A :| B DC", "AABAB");
    check_order("|: A :| B DC-repeats", "AABAAB");
    check_order("|: A :| fine B DC-fine", "AABA");
    check_order("|: A [1 B :| [2 C ] fine D DC-fine", "ABACDAC");
    check_order("A segno B tocoda C DS-coda coda D", "ABCBD");
    check_order("A segno |: B :| tocoda C DS-coda coda |: D :|", "ABBCBDD");
    check_order("A fine B DC", "ABA");
    check_order("A B :| DC", "ABABAB");
    // Without a jump, a fine and a "To Coda" have no effect.
    check_order("A fine B tocoda C coda D", "ABCD");
}

#[test]
fn signs_without_a_target_are_refused() {
    check_order("A |: B", "a repeat begins here (`|:`) and never ends");
    check_order("|: A |: B :|", "a repeat begins here (`|:`) and never ends");
    check_order(
        "A tocoda DS-coda coda B",
        "D.S. stands here, and there is no segno to go back to",
    );
    check_order("A DC-fine", "`al Fine` stands here, and there is no Fine");
    check_order(
        "segno A DS-coda coda B",
        "`al Coda` stands here, and there is no `To Coda` to leave by",
    );
    check_order(
        "segno A tocoda DS-coda B",
        "`To Coda` stands here, and there is no coda",
    );
}

#[test]
fn parts_are_played_in_their_order() {
    let check = |signs: &[(i64, FormSign)], order: &str, expected: &str| {
        let mut form = Form::default();
        for (at, sign) in signs {
            form.add(Quarters::from(*at), *sign);
        }
        form.set_part_order(order.parse().unwrap());
        let mut sections = Timeline::default();
        for (at, name) in [(0, "A"), (2, "B"), (4, "C")] {
            sections.set(Quarters::from(at), name.to_owned());
        }
        let length = Quarters::from(5);
        let played = match PlayingOrder::of(&form, &sections, length) {
            Ok(order) => (0..order.length().to_integer())
                .map(|at| order.written_at(Quarters::from(at)).to_string())
                .collect(),
            Err(error) => error.to_string(),
        };
        assert_eq!(played, expected, "{order}");
    };
    let twice = FormSign::RepeatEnd(Times::TWICE);
    let da_capo = FormSign::Jump(Jump {
        back_to: BackTo::Start,
        until: Until::Unsaid,
        with_repeats: false,
    });
    check(&[], "ABA", "012301");
    check(&[], "A2C", "01014");
    // A part has its own repeats, each time; a da capo is what the order says.
    check(&[(2, twice)], "ABA", "0101230101");
    check(&[(4, da_capo)], "ABA", "012301");
    check(
        &[],
        "AD",
        "the order of parts names part D, and no section of the tune has that name",
    );
}

#[test]
fn a_jump_cuts_a_note_and_strikes_one_that_is_tied_over() {
    let mut draft = Draft::default();
    let quarters = Quarters::from;
    draft.note("C4".parse().unwrap(), quarters(2)).unwrap();
    draft.note("D4".parse().unwrap(), quarters(2)).unwrap();
    draft.form.add(quarters(1), FormSign::RepeatStart);
    draft
        .form
        .add(quarters(3), FormSign::RepeatEnd(Times::TWICE));
    let melody = Melody::new(draft).unwrap();
    let order = melody.playing_order();
    let played: Vec<String> = order
        .notes(&melody)
        .iter()
        .map(|it| format!("{}.{} {}+{}", it.index, it.time, it.onset, it.duration))
        .collect();
    assert_eq!(played, ["0.1 0+2", "1.1 2+1", "0.2 3+1", "1.2 4+2"]);
    assert_eq!(melody.continuations(1), [0]);
    assert_eq!(melody.played_out().length(), quarters(6));
}
