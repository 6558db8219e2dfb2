//! Learns the decision trees of the hearing from takes of which it is known what was played.
//!
//! `cargo run --release -p tests --example learn_hearing strikes LEARN… -- CHECK…` learns what a struck note is,
//! `… learn_hearing neighbours LEARN… -- CHECK…` what the strikes around it add, from takes that `strikes` has not seen,
//! and `… learn_hearing soft LEARN… -- CHECK…` which notes without a strike were played softly. Each folder holds takes as
//! 16-bit mono WAV files and a `truth.json`:
//!
//! ```json
//! [{"file":"a.wav", "played":[{"on":0.52,"midi":52,"score_i":0}], "score":[{"midi":52}], "quarters":[["0","1/2"]]}]
//! ```
//!
//! `on` is in seconds, `midi` sounds, `score_i` is which note of the melody it is, or null; `score` and `quarters` (onset and
//! length) are the melody, which only `soft` needs. Trees are learned from the first folders and measured on the others as
//! they grow. The table for `fretlib/src/hearing/strike_trees.rs`, `neighbour_trees.rs` or `second_look_trees.rs` is printed at the end.

mod boosting;
mod played_take;
mod soft_notes;
mod strikes;

use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (what, folders) = arguments
        .split_first()
        .ok_or("say `strikes`, `neighbours` or `soft`")?;
    let mut parts = folders.split(|it| it == "--");
    let takes = parts.next().filter(|it| !it.is_empty());
    let takes = takes.ok_or("name a folder of takes to learn from")?;
    let check = parts.next().unwrap_or_default();
    let trees = match what.as_str() {
        "strikes" => strikes::learn(takes, check)?,
        "neighbours" => strikes::learn_neighbours(takes, check)?,
        "soft" => soft_notes::learn(takes, check)?,
        other => {
            return Err(format!(
                "`{other}` cannot be learned: say `strikes`, `neighbours` or `soft`"
            )
            .into());
        }
    };
    print!("{trees}");
    Ok(())
}
