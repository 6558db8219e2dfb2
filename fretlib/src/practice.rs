//! Asking a melody of its player: questions, judging answers, choosing what to ask.

mod answer;
mod arranged_question;
mod difficulty_rank;
mod drill;
mod heard_question;
mod item;
mod kind;
mod ladder;
mod lesson;
mod material;
mod memory_model;
mod placement_key;
mod played_answer;
#[cfg(test)]
mod properties;
mod question;
mod quiz;
mod schedule;
mod session_aim;
mod strip;
mod warm_up;
mod wording;

pub use answer::{Answer, AnswerError, PartialCredit, Respelling, Verdict};
pub use arranged_question::{ArrangedStep, ArrangedTask, ChordToneSet, FingerSet, StruckVoicing};
pub use difficulty_rank::{Difficulty, DifficultyMeasure, DifficultyRank, rank_difficulties};
pub use drill::{Drill, NothingToAsk};
pub use item::{Item, TuneId};
pub use kind::{Kind, Presentation};
pub use ladder::{AT_TEMPO, Ladder, LadderRange, tempo_held};
pub use lesson::{Lesson, Stage};
pub use material::PracticeMaterial;
pub use memory_model::{Grade, InvalidParameters, Memory, MemoryModel, Moment, Standing};
pub use placement_key::PlacementKey;
pub use question::{PhraseChoice, Question, Task};
pub use schedule::{Reason, Schedule};
pub use session_aim::{Interleaving, SessionAim};
pub use strip::{PhraseStrip, StripBar, StripNote};
pub use warm_up::{CAUTIONS, Exercise, ExerciseKind, ExerciseNote, warm_up, warm_up_on_all};
pub use wording::Wording;
