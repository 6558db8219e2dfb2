//! A quiz for paper: places, degrees and intervals to write in.

use super::kind::Kind;
use super::material::PracticeMaterial;
use super::question::Question;

impl Question {
    /// The kinds of question of a quiz, in its order.
    pub const ON_PAPER: [Kind; 3] = [Kind::Place, Kind::Degree, Kind::Interval];

    /// Questions for paper, at most `each` of a kind, those of a kind in the order of the tune.
    ///
    /// Places are asked at the first placement of the material. What sounds alike is asked once as long as there is
    /// anything else. `pick(n)` chooses among `n` and must be below `n`: the same picks give the same quiz.
    pub fn quiz(
        material: &PracticeMaterial,
        each: usize,
        mut pick: impl FnMut(usize) -> usize,
    ) -> Vec<Question> {
        let home = material.placements().first().copied();
        let mut quiz = Vec::new();
        for kind in Question::ON_PAPER {
            let placement = home.filter(|_| kind.is_on_the_neck());
            let mut left: Vec<Question> = material
                .asked()
                .filter_map(|note| material.question(kind, note, placement, |_| 0))
                .collect();
            let (mut chosen, mut alike) = (Vec::<Question>::new(), Vec::new());
            while chosen.len() < each && !left.is_empty() {
                let question = left.remove(pick(left.len()));
                match chosen.iter().any(|it| it.sounds_like(&question)) {
                    true => alike.push(question),
                    false => chosen.push(question),
                }
            }
            alike.truncate(each - chosen.len());
            chosen.extend(alike);
            chosen.sort_by_key(|question| question.note);
            quiz.extend(chosen);
        }
        quiz
    }

    fn sounds_like(&self, other: &Question) -> bool {
        self.task == other.task && self.placement == other.placement
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::abc;
    use crate::neck::{Instrument, Position};
    use crate::practice::PlacementKey;
    use crate::theory::Octave;

    fn material() -> PracticeMaterial {
        let tune = "X:1\nT:Jetty\nM:4/4\nL:1/4\nK:Bb\nB d f e | d2 c2 | G A B =e | f4 | B d f e | d2 c2 |\n";
        let melody = abc::read(tune.as_bytes(), &abc::AbcOptions::default())
            .unwrap()
            .melody;
        let key = *melody.keys().first().unwrap();
        let placement = PlacementKey {
            position: Position::new(5).unwrap(),
            octave: Octave::WRITTEN,
        };
        PracticeMaterial::new(melody, key, &[], Instrument::default(), vec![placement])
    }

    /// Picks that walk through the numbers in a fixed, uneven way.
    fn quiz(each: usize, seed: usize) -> Vec<Question> {
        let mut state = seed;
        Question::quiz(&material(), each, |count| {
            state = (state * 1_103_515_245 + 12_345) % (1 << 31);
            (state >> 8) % count
        })
    }

    #[test]
    fn a_quiz_asks_each_kind_in_the_order_of_the_tune() {
        let quiz = quiz(4, 1);
        let kinds: Vec<Kind> = quiz.iter().map(Question::kind).collect();
        assert_eq!(kinds.chunk_by(|a, b| a == b).count(), 3, "{kinds:?}");
        assert_eq!(kinds.len(), 12);
        for section in quiz.chunk_by(|one, other| one.kind() == other.kind()) {
            assert!(section.is_sorted_by(|one, other| one.note < other.note));
            // The tune has more than four of each that sound different.
            for (at, question) in section.iter().enumerate() {
                assert!(!section[..at].iter().any(|it| it.sounds_like(question)));
            }
        }
    }

    #[test]
    fn the_same_picks_give_the_same_quiz_and_others_another() {
        assert_eq!(quiz(4, 1), quiz(4, 1));
        assert_ne!(quiz(4, 1), quiz(4, 2));
    }

    #[test]
    fn a_short_tune_has_fewer_questions() {
        let notes = material().notes().len();
        let all = quiz(1000, 1);
        // Every note has a place; the tonic is not asked for its degree; the last note leads nowhere.
        let of = |kind: Kind| all.iter().filter(|it| it.kind() == kind).count();
        assert_eq!(of(Kind::Place), notes);
        assert!(of(Kind::Degree) < notes);
        assert_eq!(of(Kind::Interval), notes - 1);
    }
}
