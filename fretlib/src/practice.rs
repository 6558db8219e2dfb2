//! Asking a melody of its player: questions, judging answers, choosing what to ask.

mod aim;
mod answer;
mod drill;
mod item;
mod kind;
mod ladder;
#[cfg(test)]
mod laws;
mod material;
mod memory;
mod question;
mod schedule;
mod spoken;
mod spot;
mod wording;
mod words;

pub use aim::{Aim, Mix};
pub use answer::{Answer, Unclear};
pub use drill::{Drill, NothingToAsk};
pub use item::{Item, TuneId};
pub use kind::Kind;
pub use ladder::{Ladder, LadderRange};
pub use material::Material;
pub use memory::{Grade, Memory, MemoryModel, Moment, Unusable};
pub use question::{Near, Question, Task, Verdict};
pub use schedule::{Reason, Schedule};
pub use spot::Spot;
pub use wording::Wording;
