//! Which notes of a melody are those of an earlier version of it.

use crate::theory::MidiNumber;

/// The most pairs of notes that are compared; between longer stretches that differ nothing is found.
const MOST_PAIRS: usize = 4_000_000;

/// For each note of `now` the note of `before` that it was: those of a longest sequence of pitches that both have, in order.
pub(crate) fn same_notes(before: &[MidiNumber], now: &[MidiNumber]) -> Vec<Option<usize>> {
    let alike = |(one, other): &(&MidiNumber, &MidiNumber)| one == other;
    let start = before.iter().zip(now).take_while(alike).count();
    let (old, new) = (&before[start..], &now[start..]);
    let end = (old.iter().rev().zip(new.iter().rev()))
        .take_while(alike)
        .count();
    let mut same = vec![None; now.len()];
    for (index, same) in same[..start].iter_mut().enumerate() {
        *same = Some(index);
    }
    for back in 1..=end {
        same[now.len() - back] = Some(before.len() - back);
    }
    let (old, new) = (&old[..old.len() - end], &new[..new.len() - end]);
    if old.len().saturating_mul(new.len()) > MOST_PAIRS {
        return same;
    }
    // The length of the longest common sequence of what is left from each pair on.
    let width = new.len() + 1;
    let mut lengths = vec![0u32; (old.len() + 1) * width];
    for one in (0..old.len()).rev() {
        for other in (0..new.len()).rev() {
            lengths[one * width + other] = if old[one] == new[other] {
                lengths[(one + 1) * width + other + 1] + 1
            } else {
                lengths[(one + 1) * width + other].max(lengths[one * width + other + 1])
            };
        }
    }
    let (mut one, mut other) = (0, 0);
    while one < old.len() && other < new.len() {
        if old[one] == new[other] {
            same[start + other] = Some(start + one);
            one += 1;
            other += 1;
        } else if lengths[(one + 1) * width + other] >= lengths[one * width + other + 1] {
            one += 1;
        } else {
            other += 1;
        }
    }
    same
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(numbers: &[u8]) -> Vec<MidiNumber> {
        numbers
            .iter()
            .map(|number| MidiNumber::new(number % 128).unwrap())
            .collect()
    }

    #[test]
    fn notes_put_in_and_left_out_move_the_others() {
        let before = notes(&[60, 62, 64, 65, 67]);
        let check = |now: &[u8], expected: &[Option<usize>]| {
            assert_eq!(same_notes(&before, &notes(now)), expected, "{now:?}");
        };
        check(
            &[60, 62, 64, 65, 67],
            &[Some(0), Some(1), Some(2), Some(3), Some(4)],
        );
        check(
            &[59, 60, 62, 64, 65, 67],
            &[None, Some(0), Some(1), Some(2), Some(3), Some(4)],
        );
        check(&[60, 64, 67], &[Some(0), Some(2), Some(4)]);
        check(
            &[60, 62, 63, 65, 67],
            &[Some(0), Some(1), None, Some(3), Some(4)],
        );
        check(&[72], &[None]);
    }

    quickcheck::quickcheck! {
        fn what_is_the_same_has_the_same_pitch_and_keeps_its_order(before: Vec<u8>, now: Vec<u8>) -> bool {
            let (before, now) = (notes(&before), notes(&now));
            let same = same_notes(&before, &now);
            let pairs: Vec<(usize, usize)> = same.iter().enumerate().filter_map(|(new, old)| Some((new, (*old)?))).collect();
            pairs.iter().all(|(new, old)| before[*old] == now[*new]) && pairs.is_sorted_by(|one, other| one.1 < other.1)
        }
    }
}
