//! Learns the weights of fingering from printed editions and shows how far they agree with works they never saw.
//!
//! `cargo run --release -p tests --example learn_fingering`: for each work, weights learned from all others are tried on
//! it; then come the weights learned from all, as they stand in `fretlib/src/fingering/term.rs`.

mod learning;

use fretlib::fingering::Term;
use fretlib::fingering::learn::Weights;
use learning::{Lesson, learn};
use tests::agreement::{Agreement, HEADING};
use tests::editions::{Staff, places, studies};

fn main() {
    let mut lesson = Lesson::SHIPPED;
    let numbers: Vec<f64> = std::env::args()
        .skip(1)
        .filter_map(|it| it.parse().ok())
        .collect();
    if let [rounds, margin, step, phrase, studies] = numbers[..] {
        lesson = Lesson {
            rounds: rounds as usize,
            margin,
            step,
            phrase: phrase as usize,
            studies: studies as usize,
        };
    }
    let (places, studies) = (places(), studies());
    let all: Vec<&Staff> = places.iter().chain(&studies).collect();
    let mut works: Vec<&str> = all.iter().map(|staff| staff.work.as_str()).collect();
    works.dedup();
    works.sort_unstable();
    works.dedup();
    println!("{:40} {HEADING}", "left out");
    let mut sum = Agreement::default();
    for work in works {
        let others: Vec<&Staff> = all
            .iter()
            .copied()
            .filter(|staff| staff.work != work)
            .collect();
        let weights = learn(&others, lesson);
        let mut agreement = Agreement::default();
        for staff in all.iter().filter(|staff| staff.work == work) {
            let notes = staff.fingered(&weights).notes;
            agreement.add(staff, &notes);
            sum.add(staff, &notes);
        }
        println!("{:40.40} {agreement}", work);
    }
    println!("{:40} {sum}", "all, each left out");
    let mut before = Agreement::default();
    for staff in &all {
        before.add(staff, &staff.fingered(&Weights::default()).notes);
    }
    println!("{:40} {before}", "the shipped weights, having seen all");
    let weights = learn(&all, lesson);
    for study in &studies {
        let mut seen = Agreement::default();
        seen.add(study, &study.fingered(&weights).notes);
        println!("{:40} {seen}", format!("{} having seen it", study.work));
    }
    for term in Term::ALL {
        println!(
            "{:40} {:6.2}  ({})",
            term.name(),
            weights.get(*term),
            term.unit()
        );
    }
}
