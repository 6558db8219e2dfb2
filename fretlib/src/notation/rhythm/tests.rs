//! Bars written down, in the values a reader expects.

use super::*;
use crate::melody::Draft;

/// Writes down one bar given as durations, `r` before a rest, and gives it back as values: `4.` is a dotted quarter,
/// `~` a tie, `3:2[` … `]` a tuplet.
fn written(meter: &str, durations: &str) -> String {
    let mut draft = Draft::default();
    let meter: Meter = meter.parse().unwrap();
    draft.meters.set(Quarters::ZERO, Some(meter));
    draft.bar_line();
    for word in durations.split(' ') {
        let (is_rest, number) = match word.strip_prefix('r') {
            Some(number) => (true, number),
            None => (false, word),
        };
        let duration: Quarters = number.parse().unwrap();
        if is_rest {
            draft.rest(duration).unwrap();
        } else {
            draft.note("B4".parse().unwrap(), duration).unwrap();
        }
    }
    show(&write_down(&Melody::new(draft).unwrap())[0])
}

fn show(bar: &WrittenBar) -> String {
    let mut words = Vec::new();
    let mut open = None;
    for symbol in &bar.symbols {
        let mut word = String::new();
        if symbol.tuplet != open {
            if open.is_some() {
                words.push("]".into());
            }
            if let Some(number) = symbol.tuplet {
                let tuplet = bar.tuplets[number];
                word.push_str(&format!("{}:{}[", tuplet.count, tuplet.time_of));
            }
            open = symbol.tuplet;
        }
        match symbol.symbol {
            Symbol::Note { tied_on, .. } => {
                word.push_str(&(1 << symbol.value.power()).to_string());
                word.push_str(&".".repeat(symbol.value.dots().into()));
                if tied_on {
                    word.push('~');
                }
            }
            Symbol::Rest => {
                word.push_str(&format!(
                    "r{}{}",
                    1 << symbol.value.power(),
                    ".".repeat(symbol.value.dots().into())
                ));
            }
            Symbol::BarRest => word.push_str("bar rest"),
        }
        words.push(word);
    }
    if open.is_some() {
        words.push("]".into());
    }
    words.join(" ")
}

// Source: Gould, Behind Bars (2011), "Grouping"; from memory.
fn check(cases: &[(&str, &str, &str)]) {
    for (meter, durations, expected) in cases {
        assert_eq!(
            written(meter, durations),
            *expected,
            "{durations} in {meter}"
        );
    }
}

#[test]
fn values_show_the_beats() {
    let cases = [
        ("4/4", "4", "1"),
        ("4/4", "3 1", "2. 4"),
        ("4/4", "1 3", "4 2."),
        ("4/4", "1 2 1", "4 2 4"),          // an even syncopation
        ("4/4", "1/2 1 1/2 2", "8 4 8 2"),  // inside half a bar
        ("4/4", "3/2 1 3/2", "4. 8~ 8 4."), // the middle must show
        ("4/4", "3/2 5/2", "4. 8~ 2"),
        ("4/4", "7/2 1/2", "2~ 4. 8"),
        ("4/4", "3/4 1 1/4 2", "8. 16~ 8. 16 2"), // a beat may not be hidden by less than itself
        ("3/4", "3", "2."),
        ("3/4", "1/2 5/2", "8 8~ 2"),
        ("2/4", "1/2 1 1/2", "8 4 8"),
        ("6/8", "3", "2."),
        ("6/8", "1 1/2 3/2", "4 8 4."),
        ("6/8", "2 1", "4.~ 8 4"),
        ("6/8", "1 1 1", "4 8~ 8 4"),
        ("9/8", "9/2", "2.~ 4."),
        ("12/8", "6", "1."),
        ("12/8", "3/2 3 3/2", "4. 2. 4."), // as in four
        ("3/8", "3/2", "4."),
        ("2/2", "2 1 1", "2 4 4"),
    ];
    check(&cases);
}

// The bracket covers only the three notes, wherever they begin.
#[test]
fn a_tuplet_off_the_half_bar_has_its_own_bracket() {
    check(&[
        ("4/4", "1 2/3 2/3 2/3 1", "4 3:2[4 4 4 ] 4"),
        ("4/4", "1/2 2/3 2/3 2/3 3/2", "8 3:2[4 4 4 ] 4."),
        ("4/4", "r1 2/3 2/3 2/3 r1", "r4 3:2[4 4 4 ] r4"),
        ("3/4", "1 2/3 2/3 2/3", "4 3:2[4 4 4 ]"),
        ("5/4", "1 2/3 2/3 2/3 2", "4 3:2[4 4 4 ] 2"),
        ("4/4", "3/4 1/3 1/3 1/3 9/4", "8. 3:2[8 8 8 ] 16~ 2"),
    ]);
}

// Source: Gould, Behind Bars (2011), "Rests"; from memory.
#[test]
fn rests_follow_the_beats() {
    let cases = [
        ("4/4", "1 r3", "4 r4 r2"),
        ("4/4", "2 r2", "2 r2"),
        ("4/4", "r3 1", "r2 r4 4"),
        ("3/4", "1 r2", "4 r4 r4"),
        ("6/8", "3/2 r3/2", "4. r4."),
        ("6/8", "1/2 r1 3/2", "8 r8 r8 4."),
        ("6/8", "r1 1/2 3/2", "r4 8 4."),
        ("4/4", "r1/2 1/2 r1 2", "r8 8 r4 2"),
    ];
    check(&cases);
}

#[test]
fn odd_divisions_become_tuplets() {
    let cases = [
        ("2/4", "1/3 1/3 1/3 1", "3:2[8 8 8 ] 4"),
        ("4/4", "2/3 2/3 2/3 2", "3:2[4 4 4 ] 2"),
        ("4/4", "2/3 1/3 3", "3:2[4 8 ] 2."),
        ("2/4", "1/6 1/6 1/6 1/2 1", "3:2[16 16 16 ] 8 4"),
        ("2/4", "1/5 1/5 1/5 1/5 1/5 1", "5:4[16 16 16 16 16 ] 4"),
        ("4/4", "3/2 1/3 1/3 1/3 3/2", "4. 3:2[8 8 8 ] 4."), // off the beat
        ("2/4", "1/3 r1/3 1/3 1", "3:2[8 r8 8 ] 4"),
        ("3/4", "1 1/3 1/3 4/3", "4 3:2[8 8 8~ ] 4"),
        ("6/8", "1/7 20/7", "7:4[16 4.~ ] 8~ 4."),
    ];
    check(&cases);
}

#[test]
fn a_note_over_a_bar_line_is_tied() {
    let mut draft = Draft::default();
    draft.meters.set(Quarters::ZERO, Some(Meter::COMMON));
    draft
        .note("B4".parse().unwrap(), Quarters::from(3))
        .unwrap();
    draft
        .note("C5".parse().unwrap(), Quarters::from(9))
        .unwrap();
    let bars = write_down(&Melody::new(draft).unwrap());
    let shown: Vec<String> = bars.iter().map(show).collect();
    assert_eq!(shown, ["2. 4~", "1~", "1"]);
}

#[test]
fn a_time_off_every_grid_is_one_value_that_is_not_longer() {
    assert_eq!(written("2/4", "4/17 30/17"), "32 4");
}

/// A tiny file can hold such a note.
#[test]
fn a_very_long_note_is_one_symbol() {
    let bar = |duration: i64| {
        let mut draft = Draft::default();
        let pitch = "B4".parse().unwrap();
        draft.note(pitch, Quarters::from(duration)).unwrap();
        write_down(&Melody::new(draft).unwrap()).remove(0).symbols
    };
    assert_eq!(bar(32).len(), 3); // two breves with a dot and one without
    assert_eq!(bar(3_600_000).len(), 1);
}

#[test]
fn notes_are_cut_where_something_changes() {
    let mut draft = Draft::default();
    draft.meters.set(Quarters::ZERO, Some(Meter::COMMON));
    draft
        .note("B4".parse().unwrap(), Quarters::from(4))
        .unwrap();
    draft.rest(Quarters::from(4)).unwrap();
    let cuts = [0, 1, 4, 6].map(Quarters::from);
    let bars = write_down_cut_at(&Melody::new(draft).unwrap(), &cuts);
    let shown: Vec<String> = bars.iter().map(show).collect();
    assert_eq!(shown, ["4~ 2.", "r2 r2"]);
}

#[test]
fn a_bar_of_silence_has_one_rest() {
    assert_eq!(written("3/4", "3"), "2.");
    let mut draft = Draft::default();
    draft
        .meters
        .set(Quarters::ZERO, Some("3/4".parse().unwrap()));
    draft.rest(Quarters::from(3)).unwrap();
    draft
        .note("B4".parse().unwrap(), Quarters::from(3))
        .unwrap();
    let bars = write_down(&Melody::new(draft).unwrap());
    assert_eq!(show(&bars[0]), "bar rest");
}

quickcheck::quickcheck! {
    fn what_is_written_fills_the_bar(durations: Vec<u8>, meter: u8) -> bool {
        let meters = ["2/4", "3/4", "4/4", "6/8", "9/8", "12/8", "3/8", "5/8", "7/8", "2/2"];
        let mut draft = Draft::default();
        draft.meters.set(Quarters::ZERO, Some(meters[usize::from(meter) % 10].parse().unwrap()));
        draft.note("B4".parse().unwrap(), Quarters::from(1)).unwrap();
        for byte in durations {
            let duration = Quarters::new(i64::from(byte / 16) + 1, [1, 2, 3, 4, 6, 8][usize::from(byte) % 6]);
            if byte % 5 == 0 {
                draft.rest(duration).unwrap();
            } else {
                draft.note("B4".parse().unwrap(), duration).unwrap();
            }
        }
        write_down(&Melody::new(draft).unwrap()).iter().all(|bar| {
            let mut now = Quarters::ZERO;
            bar.symbols.iter().all(|symbol| {
                let follows = symbol.onset == now;
                now += symbol.duration;
                follows
            }) && now == bar.length
        })
    }
}
