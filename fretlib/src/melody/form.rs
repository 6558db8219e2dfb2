//! The form of a tune: repeats, endings, jumps and the bar lines between its sections.

use std::fmt;

use super::part_order::PartOrder;
use super::playing_order::{FormError, FormFault, PlayingOrder};
use super::{Quarters, Timeline};
use crate::error::{OutOfRange, check_range};

/// A sign of the form. Signs at the same time are ordered like this: first those that end
/// something, then those that begin something.
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum FormSign {
    /// The bracket of an ending closes.
    EndingEnd,
    /// After a jump back, go on from the coda.
    ToCoda,
    /// `:|` – go back to the last [`FormSign::RepeatStart`], else to the end of the previous
    /// repeat, else to the start.
    RepeatEnd(Times),
    /// After a jump back, the tune ends here.
    Fine,
    /// D.C. or D.S., and how it continues.
    Jump(Jump),
    /// A double bar line.
    DoubleBar,
    /// A final bar line inside the tune; the one at the end is implied.
    FinalBar,
    /// `|:`
    RepeatStart,
    /// An ending begins; its numbers tell which times it is played.
    Ending(Endings),
    /// The segno: where a D.S. goes back to.
    Segno,
    /// The coda: where a "To Coda" leads.
    Coda,
}

impl FormSign {
    /// What stands over the music in words; `None` for what the bar line draws.
    pub fn in_words(self) -> Option<String> {
        Some(match self {
            FormSign::Ending(numbers) => format!("[{numbers}"),
            FormSign::Segno => "Segno".to_owned(),
            FormSign::Coda => "Coda".to_owned(),
            FormSign::ToCoda => "To Coda".to_owned(),
            FormSign::Fine => "Fine".to_owned(),
            FormSign::Jump(jump) => jump.to_string(),
            _ => return None,
        })
    }
}

impl FormSign {
    /// True when the sign belongs to the bar that ends there, false when it belongs to the bar that
    /// begins there.
    pub fn ends(self) -> bool {
        self <= FormSign::FinalBar
    }

    /// True when the sign is drawn as a bar line. Inside a bar, the bar continues after it.
    pub(crate) fn is_bar_line(self) -> bool {
        matches!(
            self,
            FormSign::RepeatEnd(_)
                | FormSign::RepeatStart
                | FormSign::DoubleBar
                | FormSign::FinalBar
        )
    }
}

/// How many times a repeated strain is played, from 2.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Times(u8);

impl Times {
    /// Twice, the meaning of a plain `:|`.
    pub const TWICE: Times = Times(2);

    /// # Errors
    ///
    /// When `times` is outside 2 to 99.
    pub const fn new(times: u8) -> Result<Times, OutOfRange> {
        match check_range("times a strain is played", times as i64, 2, 99) {
            Ok(()) => Ok(Times(times)),
            Err(error) => Err(error),
        }
    }

    /// The number of times.
    pub const fn get(self) -> u8 {
        self.0
    }
}

/// The numbers of an ending, from 1 to 32; at least one.
#[derive(Clone, Copy, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Endings(u32);

impl Endings {
    /// An ending with these numbers, in any order; none when there are none.
    ///
    /// # Errors
    ///
    /// When a number is outside 1 to 32.
    pub fn new(numbers: impl IntoIterator<Item = u8>) -> Result<Option<Endings>, OutOfRange> {
        let mut bits = 0;
        for number in numbers {
            check_range("number of an ending", number.into(), 1, 32)?;
            bits |= 1 << (number - 1);
        }
        Ok((bits != 0).then_some(Endings(bits)))
    }

    /// The numbers, in ascending order.
    pub fn numbers(self) -> impl Iterator<Item = u8> {
        (1..=32).filter(move |number| self.contains((*number).into()))
    }

    /// Whether it is played this time.
    pub fn contains(self, time: u32) -> bool {
        (1..=32).contains(&time) && self.0 >> (time - 1) & 1 == 1
    }

    /// The largest number.
    pub fn last(self) -> u8 {
        (32 - self.0.leading_zeros()) as u8
    }

    /// The smallest number.
    pub fn first(self) -> u8 {
        self.0.trailing_zeros() as u8 + 1
    }
}

impl fmt::Display for Endings {
    /// `1`, `1,3`: as in ABC and MusicXML.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, number) in self.numbers().enumerate() {
            let comma = if index > 0 { "," } else { "" };
            write!(f, "{comma}{number}")?;
        }
        Ok(())
    }
}

impl fmt::Debug for Endings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// D.C. or D.S.: where it goes back to, where it stops, and whether repeats are taken again.
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Jump {
    /// Where it goes back to.
    pub back_to: BackTo,
    /// How the tune continues from there.
    pub until: Until,
    /// Whether repeats are played again after the jump. Common practice: only if the page says so.
    pub with_repeats: bool,
}

/// Where a jump goes back to.
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum BackTo {
    /// D.C.
    Start,
    /// D.S.
    Segno,
}

/// How the tune continues after a jump back.
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Until {
    /// Not stated: to the fine or the coda if there is one, else to the end.
    Unsaid,
    /// `al Fine`
    Fine,
    /// `al Coda`
    Coda,
}

impl fmt::Display for Jump {
    /// `D.C.`, `D.S. al Coda`, `D.C. al Fine with repeats`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.back_to {
            BackTo::Start => "D.C.",
            BackTo::Segno => "D.S.",
        })?;
        f.write_str(match self.until {
            Until::Unsaid => "",
            Until::Fine => " al Fine",
            Until::Coda => " al Coda",
        })?;
        f.write_str(if self.with_repeats {
            " with repeats"
        } else {
            ""
        })
    }
}

/// The signs of a tune's form in written order; empty for a tune that is played from end to end.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Form {
    // Invariant: rises strictly.
    signs: Vec<(Quarters, FormSign)>,
    part_order: Option<PartOrder>,
}

impl Form {
    /// Adds a sign; a repeated sign counts once.
    ///
    /// Of two bar lines in one place the stronger stays: a repeat sign replaces a double bar line, and a final
    /// bar line replaces a double one.
    pub fn add(&mut self, at: Quarters, sign: FormSign) {
        let is_newest = self.signs.last().is_none_or(|last| *last < (at, sign));
        let index = match is_newest {
            true => self.signs.len(),
            false => match self.signs.binary_search(&(at, sign)) {
                Ok(_) => return,
                Err(index) => index,
            },
        };
        self.signs.insert(index, (at, sign));
        let here = self.at(at);
        let is_plainer = |it: FormSign| match it {
            FormSign::DoubleBar => here
                .iter()
                .any(|(_, it)| it.is_bar_line() && *it != FormSign::DoubleBar),
            FormSign::FinalBar => here
                .iter()
                .any(|(_, it)| matches!(it, FormSign::RepeatEnd(_) | FormSign::RepeatStart)),
            _ => false,
        };
        let plainer: Vec<FormSign> = here
            .iter()
            .map(|it| it.1)
            .filter(|it| is_plainer(*it))
            .collect();
        self.signs
            .retain(|(time, sign)| *time != at || !plainer.contains(sign));
    }

    /// Sets the order in which the parts of the tune are played. It stands for D.C. and D.S., which are not followed then.
    pub fn set_part_order(&mut self, order: PartOrder) {
        self.part_order = Some(order);
    }

    /// The order in which the parts of the tune are played, when it is given.
    pub fn part_order(&self) -> Option<&PartOrder> {
        self.part_order.as_ref()
    }

    /// The signs, in order.
    pub fn signs(&self) -> &[(Quarters, FormSign)] {
        &self.signs
    }

    /// The signs at this time, in order.
    pub fn at(&self, time: Quarters) -> &[(Quarters, FormSign)] {
        let first = self.signs.partition_point(|(at, _)| *at < time);
        let after = self.signs.partition_point(|(at, _)| *at <= time);
        &self.signs[first..after]
    }

    /// True when nothing is marked.
    pub fn is_empty(&self) -> bool {
        self.signs.is_empty() && self.part_order.is_none()
    }

    /// Whether there is a repeat sign or a double bar line here, which splits a bar without ending
    /// it.
    pub(super) fn parts_bar(&self, time: Quarters) -> bool {
        self.at(time).iter().any(|(_, sign)| sign.is_bar_line())
    }

    /// Where the first ending of a group begins in this stretch of the tune.
    pub(super) fn first_ending_within(&self, start: Quarters, end: Quarters) -> Option<Quarters> {
        let from = self.signs.partition_point(|(at, _)| *at < start);
        let mut inside = self.signs[from..].iter().take_while(|(at, _)| *at < end);
        let is_first = |sign: FormSign| matches!(sign, FormSign::Ending(it) if it.first() == 1);
        inside.find(|(_, sign)| is_first(*sign)).map(|(at, _)| *at)
    }

    /// The endings: start and end of each bracket, and its numbers.
    ///
    /// An open bracket ends at the next repeat sign, double bar line or ending, or at `end`.
    pub fn endings(&self, end: Quarters) -> Vec<(std::ops::Range<Quarters>, Endings)> {
        let mut endings = Vec::new();
        for (index, (start, sign)) in self.signs.iter().enumerate() {
            let FormSign::Ending(numbers) = sign else {
                continue;
            };
            let close = self.signs[index + 1..].iter().find(|(at, sign)| {
                let closes =
                    sign.is_bar_line() || matches!(sign, FormSign::EndingEnd | FormSign::Ending(_));
                closes && at > start
            });
            endings.push((*start..close.map_or(end, |(at, _)| *at), *numbers));
        }
        endings
    }

    /// Only the signs inside a tune of this length. Redundant signs are removed too: a final bar line at the end of the
    /// tune, and the end of an ending where a bar line or another ending closes it.
    pub(super) fn normalised(mut self, length: Quarters) -> Form {
        self.signs.retain(|(at, sign)| match sign {
            FormSign::DoubleBar | FormSign::FinalBar => at.is_positive() && *at < length,
            _ if sign.ends() => at.is_positive() && *at <= length,
            _ => !at.is_negative() && *at < length,
        });
        let closes = |sign: &FormSign| sign.is_bar_line() || matches!(sign, FormSign::Ending(_));
        let is_said =
            |at: Quarters| at == length || self.at(at).iter().any(|(_, sign)| closes(sign));
        let kept: Vec<bool> = self
            .signs
            .iter()
            .map(|(at, sign)| *sign != FormSign::EndingEnd || !is_said(*at))
            .collect();
        let mut kept = kept.into_iter();
        self.signs.retain(|_| kept.next().unwrap_or(true));
        for at in self.implied_starts() {
            self.add(at, FormSign::RepeatStart);
        }
        self
    }

    /// Where a strain begins that is repeated without a sign at its beginning, except at the start of the tune.
    ///
    /// Print often leaves it out after another repeat; said outright, every program goes back to the same place.
    fn implied_starts(&self) -> Vec<Quarters> {
        let mut starts = Vec::new();
        let (mut strain, mut is_said, mut in_ending) = (Quarters::ZERO, false, false);
        for (at, sign) in &self.signs {
            let goes_on = || {
                let here = self.at(*at).iter();
                here.into_iter()
                    .any(|(_, it)| matches!(it, FormSign::Ending(_)))
            };
            match sign {
                FormSign::RepeatStart => (strain, is_said, in_ending) = (*at, true, false),
                FormSign::Ending(_) => in_ending = true,
                FormSign::EndingEnd | FormSign::DoubleBar | FormSign::FinalBar if in_ending => {
                    (strain, is_said, in_ending) = (*at, false, false);
                }
                FormSign::RepeatEnd(_) => {
                    if !is_said && strain.is_positive() {
                        starts.push(strain);
                    }
                    match goes_on() {
                        // The other endings belong to the same strain.
                        true => is_said = true,
                        false => (strain, is_said, in_ending) = (*at, false, false),
                    }
                }
                _ => {}
            }
        }
        starts
    }

    /// Removes one sign after another until the form can be followed.
    ///
    /// An order of parts goes first.
    pub(crate) fn settle(
        &mut self,
        sections: &Timeline<String>,
        length: Quarters,
    ) -> Vec<FormError> {
        let mut errors = Vec::new();
        while let Err(error) = PlayingOrder::of(self, sections, length) {
            if self.part_order.take().is_some() {
                errors.push(error);
                continue;
            }
            let faulty = |sign: FormSign| match error.fault {
                FormFault::RepeatWithoutEnd => sign == FormSign::RepeatStart,
                FormFault::NoSegno | FormFault::NoFine | FormFault::NoToCoda => {
                    matches!(sign, FormSign::Jump(_))
                }
                FormFault::NoCoda => sign == FormSign::ToCoda,
                FormFault::TooLong => true,
                FormFault::NoPart(_) => false,
            };
            self.signs
                .retain(|(at, sign)| *at != error.at || !faulty(*sign));
            errors.push(error);
        }
        errors
    }

    /// The form of one part: its own repeats and endings, without jumps.
    pub(super) fn of_part(&self, start: Quarters, end: Quarters) -> Form {
        let mut form = self.excerpt(start, end);
        let is_jump = |sign: FormSign| matches!(sign, FormSign::Jump(_) | FormSign::ToCoda);
        form.signs.retain(|(_, sign)| !is_jump(*sign));
        form.settled(end - start)
    }

    /// The form without the signs that cannot be followed.
    pub(super) fn settled(mut self, length: Quarters) -> Form {
        self.settle(&Timeline::default(), length);
        self
    }

    /// The signs of a stretch of the tune, with time counted from its start.
    ///
    /// Jumps out of it, and signs that only such jumps use, are left out.
    pub(super) fn excerpt(&self, start: Quarters, end: Quarters) -> Form {
        let inside = |(at, sign): &&(Quarters, FormSign)| match sign.ends() {
            true => *at > start && *at <= end,
            false => *at >= start && *at < end,
        };
        let mut signs: Vec<_> = self.signs.iter().filter(inside).copied().collect();
        let has = |signs: &[(Quarters, FormSign)], wanted: FormSign| {
            signs.iter().any(|it| it.1 == wanted)
        };
        let is_kept = |sign: FormSign| match sign {
            FormSign::Jump(jump) => {
                (jump.back_to != BackTo::Segno || has(&signs, FormSign::Segno))
                    && (jump.until != Until::Fine || has(&signs, FormSign::Fine))
                    && (jump.until != Until::Coda
                        || has(&signs, FormSign::ToCoda) && has(&signs, FormSign::Coda))
            }
            FormSign::ToCoda => has(&signs, FormSign::Coda),
            _ => true,
        };
        let kept: Vec<bool> = signs.iter().map(|it| is_kept(it.1)).collect();
        let mut kept = kept.into_iter();
        signs.retain(|_| kept.next().unwrap_or(true));
        for (at, _) in &mut signs {
            *at -= start;
        }
        Form {
            signs,
            part_order: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_know_their_numbers() {
        let ending = Endings::new([3, 1]).unwrap().unwrap();
        assert_eq!(ending.to_string(), "1,3");
        assert_eq!((ending.first(), ending.last()), (1, 3));
        assert!(ending.contains(3) && !ending.contains(2) && !ending.contains(33));
        assert_eq!(Endings::new([]), Ok(None));
        assert!(Endings::new([33]).is_err() && Endings::new([0]).is_err());
    }

    #[test]
    fn signs_keep_their_order_and_the_fuller_bar_line() {
        let mut form = Form::default();
        let at = Quarters::from(8);
        for sign in [
            FormSign::RepeatStart,
            FormSign::DoubleBar,
            FormSign::RepeatEnd(Times::TWICE),
            FormSign::FinalBar,
            FormSign::RepeatStart,
        ] {
            form.add(at, sign);
        }
        let signs: Vec<FormSign> = form.at(at).iter().map(|it| it.1).collect();
        assert_eq!(
            signs,
            [FormSign::RepeatEnd(Times::TWICE), FormSign::RepeatStart]
        );
    }

    #[test]
    fn an_ending_reaches_to_what_closes_it() {
        let mut form = Form::default();
        let time = Quarters::from;
        let ending = |number| FormSign::Ending(Endings::new([number]).unwrap().unwrap());
        form.add(time(4), ending(1));
        form.add(time(8), FormSign::RepeatEnd(Times::TWICE));
        form.add(time(8), ending(2));
        form.add(time(12), FormSign::DoubleBar);
        form.add(time(16), ending(3));
        let spans: Vec<_> = form
            .endings(time(20))
            .into_iter()
            .map(|(span, _)| span)
            .collect();
        assert_eq!(
            spans,
            [time(4)..time(8), time(8)..time(12), time(16)..time(20)]
        );
    }
}
