//! The order in which a tune is played, by its form.

use crate::error::is_error;
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::form::{BackTo, Endings, Form, FormSign, Jump, Until};
use super::{Draft, Melody, Quarters, Syllable, Timeline};

/// Part of the tune played without a jump.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Pass {
    /// Where it begins, in written order.
    pub start: Quarters,
    /// Where it ends, in written order.
    pub end: Quarters,
    /// When it begins to sound, from the start of the playing.
    pub sounds_at: Quarters,
}

/// A note of the melody as it is played in one pass.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct PlayedNote {
    /// Its index in the melody.
    pub index: usize,
    /// Which time it is played: 1 for the first time, 2 for the second.
    pub time: u32,
    /// When it sounds, from the start of the playing.
    pub onset: Quarters,
    /// How long; shorter than written where a jump cuts it.
    pub duration: Quarters,
}

/// A fault of a form, and its place.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct FormError {
    /// The time of the sign in written order.
    pub at: Quarters,
    /// What is wrong with it.
    pub fault: FormFault,
}

impl fmt::Display for FormError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.fault.fmt(f)
    }
}

is_error!(FormError);

/// The faults of a form.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[non_exhaustive]
pub enum FormFault {
    /// `|:` without `:|`
    RepeatWithoutEnd,
    /// D.S. without a segno
    NoSegno,
    /// `al Fine` without a fine
    NoFine,
    /// `al Coda` without the sign that leads there
    NoToCoda,
    /// "To Coda" without a coda
    NoCoda,
    /// Longer than any tune.
    TooLong,
    /// An order of parts names a part that the tune does not have.
    NoPart(char),
}

impl fmt::Display for FormFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            FormFault::RepeatWithoutEnd => {
                f.write_str("a repeat begins here (`|:`) and never ends")
            }
            FormFault::NoSegno => {
                f.write_str("D.S. stands here, and there is no segno to go back to")
            }
            FormFault::NoFine => f.write_str("`al Fine` stands here, and there is no Fine"),
            FormFault::NoToCoda => {
                f.write_str("`al Coda` stands here, and there is no `To Coda` to leave by")
            }
            FormFault::NoCoda => f.write_str("`To Coda` stands here, and there is no coda"),
            FormFault::NoPart(letter) => write!(
                f,
                "the order of parts names part {letter}, and no section of the tune has that name"
            ),
            FormFault::TooLong => write!(
                f,
                "with this repeat the tune is played longer than {} quarter notes or with more than {} jumps",
                Melody::LONGEST,
                PlayingOrder::MOST_PASSES
            ),
        }
    }
}

is_error!(FormFault);

/// The passes of a tune, in the order in which they are played.
///
/// Code that *shows* a tune works in written order, with the notes and bars of the [`Melody`]. Code that *plays*
/// or listens follows the playing order, in one of three ways:
///
/// * [`PlayingOrder::notes`]: every note each time it is played, with its index in the melody, which time it is, and
///   its onset. Use it to schedule notes and to align a recording with the written notes.
/// * [`Melody::played_out`]: another melody, with the bars, chords and tempos written out as they are played.
/// * [`PlayingOrder::passes`] and [`PlayingOrder::sounds_at`]: to convert any written time to the
///   times at which it is played.
///
/// Rules, common practice: a strain is played twice unless the sign says more, each time with the ending of that
/// number. `:|` goes back to the last `|:`, else to the end of the previous repeat, else to the start. After D.C. or
/// D.S., repeats are not taken again and the last ending is played, unless it says "with repeats". Repeats inside the
/// coda are taken. Where an order of parts is given, each part is played with its own repeats, and it stands for D.C. and D.S.
///
/// ```
/// use fretlib::melody::{Draft, FormSign, Melody, Quarters, Times};
///
/// let mut draft = Draft::default();
/// for name in ["C4", "D4", "E4"] {
///     draft.note(name.parse()?, Quarters::from(1))?;
/// }
/// draft.form.add(Quarters::from(2), FormSign::RepeatEnd(Times::TWICE));
/// let melody = Melody::new(draft)?;
/// let played = melody.playing_order().notes(&melody);
/// let order: Vec<(usize, u32)> = played.iter().map(|it| (it.index, it.time)).collect();
/// assert_eq!(order, [(0, 1), (1, 1), (0, 2), (1, 2), (2, 1)]);
/// assert_eq!(played[4].onset, Quarters::from(4));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct PlayingOrder {
    passes: Vec<Pass>,
}

impl PlayingOrder {
    /// The most jumps.
    pub const MOST_PASSES: usize = 10_000;

    /// The playing order of a form.
    ///
    /// # Errors
    ///
    /// When a sign has no target, a repeat has no end, a part is missing, or the tune gets too long.
    pub(super) fn of(
        form: &Form,
        sections: &Timeline<String>,
        length: Quarters,
    ) -> Result<PlayingOrder, FormError> {
        let Some(order) = form.part_order() else {
            return PlayingOrder::by_signs(form, length);
        };
        let mut played = PlayingOrder { passes: Vec::new() };
        let mut by_start: BTreeMap<Quarters, PlayingOrder> = BTreeMap::new();
        for part in order.stretches(sections, length)? {
            let own = match by_start.entry(part.start) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => {
                    let form = form.of_part(part.start, part.end);
                    new.insert(PlayingOrder::by_signs(&form, part.end - part.start)?)
                }
            };
            for pass in &own.passes {
                let (start, end) = (part.start + pass.start, part.start + pass.end);
                played.add(start, end)?;
            }
        }
        Ok(played)
    }

    fn by_signs(form: &Form, length: Quarters) -> Result<PlayingOrder, FormError> {
        check(form)?;
        let mut walk = Walk {
            form,
            length,
            groups: groups(form),
            ending_ends: form
                .endings(length)
                .into_iter()
                .map(|(span, _)| (span.start, span.end))
                .collect(),
            next: 0,
            from: Quarters::ZERO,
            repeat_start: Quarters::ZERO,
            time: 1,
            ending: None,
            jumped: None,
            taken: BTreeSet::new(),
            order: PlayingOrder { passes: Vec::new() },
        };
        walk.run()?;
        Ok(walk.order)
    }

    /// Adds a pass; one that goes on where the last one ends is the same pass.
    fn add(&mut self, start: Quarters, end: Quarters) -> Result<(), FormError> {
        let sounds_at = self.length();
        match self.passes.last_mut() {
            Some(last) if last.end == start => last.end = end,
            _ => self.passes.push(Pass {
                start,
                end,
                sounds_at,
            }),
        }
        match self.passes.len() > PlayingOrder::MOST_PASSES
            || self.length() > Quarters::from(Melody::LONGEST)
        {
            true => Err(FormError {
                at: end,
                fault: FormFault::TooLong,
            }),
            false => Ok(()),
        }
    }

    /// The passes.
    pub fn passes(&self) -> &[Pass] {
        &self.passes
    }

    /// How long the tune lasts when it is played.
    pub fn length(&self) -> Quarters {
        self.passes.last().map_or(Quarters::ZERO, |pass| {
            pass.sounds_at + (pass.end - pass.start)
        })
    }

    /// All times at which a written time is played.
    pub fn sounds_at(&self, written: Quarters) -> impl Iterator<Item = Quarters> + '_ {
        let passes = self
            .passes
            .iter()
            .filter(move |pass| (pass.start..pass.end).contains(&written));
        passes.map(move |pass| pass.sounds_at + (written - pass.start))
    }

    /// The written time of a moment of the performance, or the end of the last pass after it has
    /// ended.
    pub fn written_at(&self, sounding: Quarters) -> Quarters {
        let after = self
            .passes
            .partition_point(|pass| pass.sounds_at <= sounding);
        let pass = self.passes[after.saturating_sub(1)];
        (pass.start + (sounding - pass.sounds_at)).min(pass.end)
    }

    /// The notes of the melody as they are played.
    ///
    /// A note cut by a jump is shorter than written. A note tied over from before a jump's target is struck at the
    /// target.
    pub fn notes(&self, melody: &Melody) -> Vec<PlayedNote> {
        let mut times: Vec<u32> = vec![0; melody.notes().len()];
        let mut played = Vec::with_capacity(times.len());
        for pass in &self.passes {
            let first = melody
                .notes()
                .partition_point(|note| note.end() <= pass.start);
            for (index, note) in melody.notes().iter().enumerate().skip(first) {
                if note.onset >= pass.end {
                    break;
                }
                times[index] += 1;
                let onset = note.onset.max(pass.start);
                played.push(PlayedNote {
                    index,
                    time: times[index],
                    onset: pass.sounds_at + (onset - pass.start),
                    duration: note.end().min(pass.end) - onset,
                });
            }
        }
        played
    }
}

impl Melody {
    /// The order in which the tune is played; see [`PlayingOrder`] for how to use it.
    ///
    /// It always exists: the form was checked when the melody was made.
    pub fn playing_order(&self) -> PlayingOrder {
        PlayingOrder::of(self.form(), self.sections(), self.length()).unwrap_or_else(|_| {
            PlayingOrder {
                passes: vec![Pass {
                    start: Quarters::ZERO,
                    end: self.length(),
                    sounds_at: Quarters::ZERO,
                }],
            }
        })
    }

    /// The tune as it is played: every pass written out, with its bars, chords, keys and tempos, and no form.
    pub fn played_out(&self) -> Melody {
        if self.form().is_empty() {
            return self.clone();
        }
        let order = self.playing_order();
        let mut draft = Draft {
            title: self.title().to_owned(),
            composer: self.composer().map(str::to_owned),
            source: self.source().map(str::to_owned),
            transcriber: self.transcriber().map(str::to_owned),
            feel: self.feel(),
            now: order.length(),
            ..Draft::default()
        };
        // How far into its bar the previous pass ended.
        let mut filled = Quarters::ZERO;
        for pass in order.passes() {
            let moved = |at: Quarters| pass.sounds_at + (at - pass.start);
            self.keys()
                .copy_part(pass.start, pass.end, pass.sounds_at, &mut draft.keys);
            self.meters()
                .copy_part(pass.start, pass.end, pass.sounds_at, &mut draft.meters);
            self.tempos()
                .copy_part(pass.start, pass.end, pass.sounds_at, &mut draft.tempos);
            self.chords()
                .copy_part(pass.start, pass.end, pass.sounds_at, &mut draft.chords);
            for (onset, name) in self.sections().within(pass.start, pass.end) {
                draft.sections.set(moved(*onset), name.clone());
            }
            let starts = self
                .phrase_starts()
                .iter()
                .filter(|at| (pass.start..pass.end).contains(at));
            draft.phrase_starts.extend(starts.map(|at| moved(*at)));
            for bar in self
                .bars()
                .iter()
                .filter(|bar| bar.end > pass.start && bar.onset < pass.end)
            {
                let onset = bar.onset.max(pass.start);
                let goes_on = bar.offset + (onset - bar.onset) == filled && !filled.is_zero();
                if !goes_on {
                    draft.bars.push(moved(onset));
                }
                filled = bar.offset + (bar.end.min(pass.end) - bar.onset);
                let full = self
                    .meters()
                    .at(bar.onset)
                    .copied()
                    .flatten()
                    .map(|meter| meter.bar_length());
                if full.is_none_or(|full| filled >= full) {
                    filled = Quarters::ZERO;
                }
            }
        }
        draft.lyrics = self.sung(&order);
        draft.words = self.words().to_vec();
        let notes = order.notes(self).into_iter().map(|it| super::Note {
            pitch: self.notes()[it.index].pitch,
            onset: it.onset,
            duration: it.duration,
        });
        draft.notes.extend(notes);
        Melody::new(draft).unwrap_or_else(|_| self.clone())
    }

    /// What is sung in this order as one verse: each time round the next of those under the note, and then the last.
    fn sung(&self, order: &PlayingOrder) -> Vec<Syllable> {
        let lyrics = self.lyrics();
        let at_note = |note: PlayedNote| {
            let onset = self.notes()[note.index].onset;
            let first = lyrics.partition_point(|it| it.onset < onset);
            let verses = lyrics[first..].iter().take_while(|it| it.onset == onset);
            let time = note.time.max(1) as usize;
            let syllable = verses.take(time).last()?.clone();
            Some(Syllable {
                onset: note.onset,
                verse: 1,
                ..syllable
            })
        };
        order.notes(self).into_iter().filter_map(at_note).collect()
    }

    /// The indices of the notes that may follow a note: more than one at the end of a repeated strain, none
    /// after the last note.
    ///
    /// They come in the order in which they are first played.
    pub fn continuations(&self, index: usize) -> Vec<usize> {
        let played = self.playing_order().notes(self);
        let mut next: Vec<usize> = Vec::new();
        for pair in played.windows(2) {
            if pair[0].index == index && !next.contains(&pair[1].index) {
                next.push(pair[1].index);
            }
        }
        next
    }
}

/// Looks for signs without a target.
fn check(form: &Form) -> Result<(), FormError> {
    let signs = form.signs();
    let has = |wanted: FormSign| signs.iter().any(|(_, sign)| *sign == wanted);
    let jumps = signs
        .iter()
        .any(|(_, sign)| matches!(sign, FormSign::Jump(_)));
    let mut open = None;
    for (at, sign) in signs {
        let fault = |fault| Err(FormError { at: *at, fault });
        match sign {
            FormSign::RepeatStart => {
                if let Some(at) = open.replace(*at) {
                    return Err(FormError {
                        at,
                        fault: FormFault::RepeatWithoutEnd,
                    });
                }
            }
            FormSign::RepeatEnd(_) => open = None,
            FormSign::Jump(jump) if jump.back_to == BackTo::Segno && !has(FormSign::Segno) => {
                return fault(FormFault::NoSegno);
            }
            FormSign::Jump(jump) if jump.until == Until::Fine && !has(FormSign::Fine) => {
                return fault(FormFault::NoFine);
            }
            FormSign::Jump(jump) if jump.until == Until::Coda && !has(FormSign::ToCoda) => {
                return fault(FormFault::NoToCoda);
            }
            FormSign::ToCoda if jumps && !has(FormSign::Coda) => return fault(FormFault::NoCoda),
            _ => {}
        }
    }
    match open {
        Some(at) => Err(FormError {
            at,
            fault: FormFault::RepeatWithoutEnd,
        }),
        None => Ok(()),
    }
}

/// For each ending, by where it begins, the largest number of those that belong to the same repeat.
fn groups(form: &Form) -> BTreeMap<Quarters, u8> {
    let mut groups: BTreeMap<Quarters, u8> = BTreeMap::new();
    let mut members: Vec<(Quarters, Endings)> = Vec::new();
    let mut close = |members: &mut Vec<(Quarters, Endings)>| {
        let last = members
            .iter()
            .map(|(_, numbers)| numbers.last())
            .max()
            .unwrap_or(1);
        groups.extend(members.drain(..).map(|(at, _)| (at, last)));
    };
    for (at, sign) in form.signs() {
        match sign {
            FormSign::RepeatStart => close(&mut members),
            FormSign::Ending(numbers) => {
                let is_new = |(_, it): &(Quarters, Endings)| {
                    numbers.numbers().any(|number| it.contains(number.into()))
                };
                if members.iter().any(is_new) {
                    close(&mut members);
                }
                members.push((*at, *numbers));
            }
            _ => {}
        }
    }
    close(&mut members);
    groups
}

/// A walk along the signs of a form.
struct Walk<'f> {
    form: &'f Form,
    length: Quarters,
    groups: BTreeMap<Quarters, u8>,
    ending_ends: BTreeMap<Quarters, Quarters>,
    /// The next sign.
    next: usize,
    /// Where this pass began.
    from: Quarters,
    /// Where the next `:|` leads back to.
    repeat_start: Quarters,
    /// Which time the strain is played.
    time: u32,
    /// Where the ending being played began.
    ending: Option<Quarters>,
    /// The jump that has been taken, until the coda.
    jumped: Option<Jump>,
    /// The jumps that have been taken, each once.
    taken: BTreeSet<usize>,
    /// The passes so far.
    order: PlayingOrder,
}

impl Walk<'_> {
    fn run(&mut self) -> Result<(), FormError> {
        while let Some((at, sign)) = self.form.signs().get(self.next).copied() {
            let number = self.next;
            self.next += 1;
            match sign {
                FormSign::RepeatStart if at != self.repeat_start => self.begin_strain(at),
                FormSign::Ending(numbers) => self.come_to_ending(at, numbers)?,
                FormSign::EndingEnd | FormSign::DoubleBar | FormSign::FinalBar
                    if self.ending.is_some() =>
                {
                    self.begin_strain(at);
                }
                FormSign::RepeatEnd(times) => self.come_to_repeat(at, times.get())?,
                FormSign::Fine if self.jumped.is_some_and(|jump| jump.until != Until::Coda) => {
                    return self.end_pass(at);
                }
                FormSign::ToCoda if self.jumped.is_some_and(|jump| jump.until != Until::Fine) => {
                    let coda = self
                        .form
                        .signs()
                        .iter()
                        .find(|(_, sign)| *sign == FormSign::Coda);
                    if let Some((coda, _)) = coda {
                        self.jumped = None;
                        self.begin_strain(*coda);
                        self.go_to(at, *coda)?;
                    }
                }
                FormSign::Jump(jump) if self.taken.insert(number) => {
                    let segno = self
                        .form
                        .signs()
                        .iter()
                        .find(|(_, sign)| *sign == FormSign::Segno);
                    let target = match jump.back_to {
                        BackTo::Start => Quarters::ZERO,
                        BackTo::Segno => segno.map_or(Quarters::ZERO, |(at, _)| *at),
                    };
                    self.jumped = Some(jump);
                    let mut starts = self.form.signs().iter().rev();
                    let opened =
                        starts.find(|(at, sign)| *at <= target && *sign == FormSign::RepeatStart);
                    self.begin_strain(opened.map_or(target, |(at, _)| *at));
                    self.go_to(at, target)?;
                }
                _ => {}
            }
        }
        self.end_pass(self.length)
    }

    fn leaves_out_repeats(&self) -> bool {
        self.jumped.is_some_and(|jump| !jump.with_repeats)
    }

    fn begin_strain(&mut self, at: Quarters) {
        self.repeat_start = at;
        self.time = 1;
        self.ending = None;
    }

    fn come_to_ending(&mut self, at: Quarters, numbers: Endings) -> Result<(), FormError> {
        let last = self.groups.get(&at).copied().unwrap_or(1);
        let wanted = if self.leaves_out_repeats() {
            last.into()
        } else {
            self.time
        };
        if numbers.contains(wanted) {
            self.ending = Some(at);
            return Ok(());
        }
        self.ending = None;
        let end = self.ending_ends.get(&at).copied().unwrap_or(self.length);
        self.go_to(at, end)
    }

    fn come_to_repeat(&mut self, at: Quarters, times: u8) -> Result<(), FormError> {
        let of_group = self
            .ending
            .and_then(|ending| self.groups.get(&ending))
            .copied();
        let times = u32::from(times.max(of_group.unwrap_or(0)));
        if self.leaves_out_repeats() || self.time >= times {
            self.begin_strain(at);
            return Ok(());
        }
        self.time += 1;
        self.ending = None;
        self.go_to(at, self.repeat_start)
    }

    /// Ends a pass and goes on from somewhere else.
    fn go_to(&mut self, at: Quarters, target: Quarters) -> Result<(), FormError> {
        self.end_pass(at)?;
        self.from = target;
        // Signs that end at the jump's target belong to the bar before it.
        let signs = self.form.signs();
        self.next =
            signs.partition_point(|(at, sign)| *at < target || (*at == target && sign.ends()));
        Ok(())
    }

    fn end_pass(&mut self, at: Quarters) -> Result<(), FormError> {
        match at > self.from {
            true => self.order.add(self.from, at),
            false => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests;
