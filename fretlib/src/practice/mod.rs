//! Asking a melody of its player: questions, judging answers, choosing what to ask.

mod answer;
mod drill;
mod kind;
#[cfg(test)]
mod laws;
mod material;
mod question;
mod spot;
mod words;

pub use answer::{Answer, Unclear};
pub use drill::{Drill, NothingToAsk};
pub use kind::Kind;
pub use material::Material;
pub use question::{Near, Question, Task, Verdict};
pub use spot::Spot;
