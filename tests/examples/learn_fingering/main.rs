//! Learns the weights of fingering from printed editions and measures their agreement with works they never saw.
//!
//! `cargo run --release -p tests --example learn_fingering`: for each work, weights learned from all others are tried on
//! it; then come the weights learned from all, to be put into `fretlib/src/fingering/term.rs`. The weights of each work left
//! out are written to `tests/data/fingering_left_out.jsonl`, on which a test stands.

mod learning;

use std::collections::BTreeMap;
use std::io::Write;

use fretlib::fingering::Term;
use learning::{PINNED_EVERY, learn};
use tests::agreement::{Agreement, HEADING, lowest_fret};
use tests::editions::{Staff, places, sparse, studies};

/// Works kept out of every choice: of terms, bounds and settings.
const KEPT_BACK: [&str; 2] = ["Pathétique", "Wohltemperierte"];

fn main() -> std::io::Result<()> {
    let (places, studies) = (places(), studies());
    let all: Vec<&Staff> = places.iter().chain(&studies).collect();
    let mut works: Vec<&str> = all.iter().map(|staff| staff.work.as_str()).collect();
    works.sort_unstable();
    works.dedup();
    let mut file = std::fs::File::create(tests::data("fingering_left_out.jsonl"))?;
    println!("{:44} {HEADING}", "left out");
    for work in works {
        let (own, others): (Vec<&Staff>, Vec<&Staff>) =
            all.iter().partition(|staff| staff.work == work);
        let weights = learn(&others);
        let named: BTreeMap<&str, f64> = Term::ALL
            .iter()
            .map(|term| (term.name(), weights.get(*term)))
            .collect();
        writeln!(
            file,
            "{}",
            serde_json::json!({ "left_out": work, "weights": named })
        )?;
        let kept_back = KEPT_BACK.iter().any(|name| work.contains(name));
        println!("{work:.60}{}", if kept_back { " (kept back)" } else { "" });
        show("  lowest fret", &own, lowest_fret);
        show("  free", &own, |staff| staff.fingered(&weights).notes);
        let pinned: Vec<Staff> = own
            .iter()
            .map(|staff| staff.pinned(0, PINNED_EVERY))
            .collect();
        let pinned: Vec<&Staff> = pinned.iter().collect();
        show("  one place in 16 pinned", &pinned, |staff| {
            staff.fingered(&weights).notes
        });
    }
    let weights = learn(&all);
    println!("learned from all, having seen them");
    show("  free", &all, |staff| staff.fingered(&weights).notes);
    for study in &studies {
        show(&format!("  {}", study.work), &[study], |staff| {
            staff.fingered(&weights).notes
        });
    }
    show(
        "  staves with few places",
        &sparse().iter().collect::<Vec<_>>(),
        |staff| staff.fingered(&weights).notes,
    );
    for term in Term::ALL {
        println!(
            "{:40} {:6.2}  ({})",
            term.name(),
            weights.get(*term),
            term.unit()
        );
    }
    Ok(())
}

fn show(
    name: &str,
    staves: &[&Staff],
    fingered: impl Fn(&Staff) -> Vec<fretlib::fingering::FingeredNote>,
) {
    let mut agreement = Agreement::default();
    for staff in staves {
        agreement.add(staff, &fingered(staff));
    }
    println!("{name:44} {agreement}");
}
