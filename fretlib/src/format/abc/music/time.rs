//! The durations of notes and rests: tuplets, broken rhythm, ties, stacks and rests of whole bars.

use super::Music;
use crate::format::abc::lexer::Staff;
use crate::format::abc::note_length::Length;
use crate::format::abc::problem::Problem;
use crate::format::abc::tuplet_sign::TupletSign;
use crate::format::abc::warnings::WarningKind;
use crate::format::limits::MOST_EVENTS;
use crate::format::lyric_line::SungNote;
use crate::melody::{MelodyError, Tuplet};
use crate::theory::Pitch;

/// The most bars in one rest.
const LONGEST_REST: u32 = 999;

/// A note, the top of a stack, or a rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Event {
    pitch: Option<Pitch>,
    length: Length,
    is_tied: bool,
    at: usize,
}

impl Music<'_> {
    pub(super) fn note(&mut self, staff: Staff, length: Length, at: usize) {
        if self.stack.is_none() {
            self.commit();
        }
        if staff.is_rounded {
            self.warnings.say_once(WarningKind::QuarterTones, || {
                "accidentals finer than a semitone, which no fret can give, go to the semitone nearer the natural note"
                    .to_owned()
            });
        }
        let pitch = self.pitch(staff, at);
        match &mut self.stack {
            None => self.event(pitch, length, at),
            Some(stack) => stack.note(pitch, length),
        }
    }

    /// The pitch of a note; `None`, with an error noted, when it does not exist.
    fn pitch(&mut self, staff: Staff, at: usize) -> Option<Pitch> {
        let octave = staff
            .octave
            .saturating_add(self.key_octave)
            .saturating_add(self.voice_octave);
        let alteration = self.accidentals.alteration(staff);
        let mut semitones = alteration.semitones;
        // Common practice: a tie carries an accidental over the bar line, for this one note.
        if let (Some(tied), None) = (self.tied, staff.accidental)
            && (tied.letter(), tied.octave()) == (staff.letter, octave)
        {
            semitones = tied.alteration();
        } else if alteration.is_from_another_octave {
            self.warnings.say_once(WarningKind::Octaves, || {
                format!(
                    "an accidental is taken to hold in every octave up to the bar line, as for the {}; \
                     `%%propagate-accidentals octave` keeps it to its own",
                    staff.letter
                )
            });
        }
        match Pitch::new(staff.letter, semitones, octave) {
            Ok(pitch) => Some(pitch),
            Err(error) => {
                self.fault(at, error.to_string(), "check the octave marks `,` and `'`");
                None
            }
        }
    }

    pub(super) fn event(&mut self, pitch: Option<Pitch>, written: Length, at: usize) {
        self.commit();
        let share = self.share.take().map_or(Length::ONE, |(share, _)| share);
        if !self.tuplet.is_over() && self.tuplet_start.is_none() {
            self.tuplet_start = Some(self.draft.now);
        }
        let in_tuplet = self.tuplet.next_share();
        let length = self
            .unit
            .times(written)
            .and_then(|it| it.times(in_tuplet))
            .and_then(|it| it.times(share));
        if let Some(length) = self.countable(length, at) {
            self.begin_chord();
            self.pending = Some(Event {
                pitch,
                length,
                is_tied: false,
                at,
            });
        }
    }

    fn countable(&mut self, length: Option<Length>, at: usize) -> Option<Length> {
        if length.is_none() {
            self.fault(
                at,
                "a length beyond counting".to_owned(),
                "check the numbers after the note",
            );
        }
        length
    }

    /// Puts the last note or rest into the draft, once it can no longer change.
    pub(super) fn commit(&mut self) {
        let Some(event) = self.pending.take() else {
            return;
        };
        let Some(duration) = event.length.quarters() else {
            self.countable(None, event.at);
            return;
        };
        if let Some(pitch) = event.pitch {
            self.sung.push(SungNote {
                onset: self.draft.now,
                is_tied: self.tied == Some(pitch),
            });
        }
        let result = match event.pitch {
            Some(pitch) if self.tied == Some(pitch) => self.draft.tie(duration),
            Some(pitch) => self.draft.note(pitch, duration),
            None => self.draft.rest(duration),
        };
        if self.tied.is_some() && self.tied != event.pitch {
            self.slurred();
        }
        self.tied = event.pitch.filter(|_| event.is_tied);
        self.check(result, event.at);
        if self.tuplet.is_over() {
            self.end_tuplet();
        }
    }

    /// A tie that is open here leads nowhere.
    pub(super) fn end_tie(&mut self) {
        if let Some(pitch) = self.tied.take() {
            self.warnings.say_once(WarningKind::OpenTie, || {
                format!("a tie from {pitch} leads to no note and is left out")
            });
        }
    }

    fn slurred(&mut self) {
        self.warnings.say_once(WarningKind::Slurred, || {
            "ties that do not lead to the same pitch are taken as slurs".to_owned()
        });
    }

    pub(super) fn tie(&mut self) {
        match (&mut self.stack, &mut self.pending) {
            (Some(stack), _) => stack.tie(),
            (None, Some(event)) if event.pitch.is_some() => event.is_tied = true,
            _ => self.slurred(),
        }
    }

    pub(super) fn broken(&mut self, signs: i8, at: usize) {
        let (longer, shorter) = Length::broken(signs.unsigned_abs().into());
        let (first, second) = if signs > 0 {
            (longer, shorter)
        } else {
            (shorter, longer)
        };
        match &mut self.pending {
            Some(event) if self.share.is_none() => {
                let length = event.length.times(first);
                event.length = length.unwrap_or(event.length);
                self.share = Some((second, at));
                self.countable(length, at);
            }
            _ => self.fault(
                at,
                "broken rhythm without a note before it".to_owned(),
                "write `>` or `<` between two notes",
            ),
        }
    }

    /// Stores the tuplet bracket as typed.
    fn end_tuplet(&mut self) {
        let Some(start) = self.tuplet_start.take() else {
            return;
        };
        let (count, time_of) = self.tuplet.ratio;
        self.draft.tuplets.push(Tuplet {
            count: count.into(),
            time_of: time_of.into(),
            start,
            end: self.draft.now,
        });
    }

    pub(super) fn begin_tuplet(
        &mut self,
        notes: u32,
        time: Option<u32>,
        span: Option<u32>,
        at: usize,
    ) {
        self.commit();
        if !self.tuplet.is_over() {
            self.tuplet_start = None;
            self.warnings.say_once(WarningKind::Tuplets, || {
                "a tuplet begins before the one ahead of it has all its notes".to_owned()
            });
        }
        match TupletSign::new(notes, time, span, self.meter) {
            Some(tuplet) => self.tuplet = tuplet,
            None => self.fault(
                at,
                format!("a tuplet of {notes} notes"),
                "say in the time of how many notes it is played, as in `(11:8`; at most 99",
            ),
        }
    }

    pub(super) fn bar_rest(&mut self, bars: u32, at: usize) {
        self.commit();
        self.end_tie();
        let Some(meter) = self.meter else {
            self.fault(
                at,
                "a rest of whole bars in free meter".to_owned(),
                "write the rest with `z` and its length",
            );
            return;
        };
        if bars > LONGEST_REST {
            self.fault(
                at,
                format!("a rest of {bars} bars"),
                "rest for at most 999 bars at a time",
            );
            return;
        }
        self.begin_chord();
        for bar in 0..bars {
            if bar > 0 {
                self.draft.bar_line();
            }
            let result = self.draft.rest(meter.bar_length());
            self.check(result, at);
            if self.has_given_up {
                return;
            }
        }
    }

    /// Stops reading when the time leaves its range or the tune is too large.
    fn check(&mut self, result: Result<(), MelodyError>, at: usize) {
        self.events += 1;
        if let Err(error) = result {
            self.give_up(at, error.to_string(), "check the lengths here, and `L:`");
        } else if self.events > MOST_EVENTS {
            let problem = format!("more than {MOST_EVENTS} notes and rests");
            self.give_up(at, problem, "split the tune");
        }
    }

    pub(super) fn end_stack(&mut self, length: Length, at: usize) {
        let Some(stack) = self.stack.take() else {
            self.fault(
                at,
                "`]` without `[`".to_owned(),
                "open the stack of notes with `[`, or take the `]` out",
            );
            return;
        };
        let Some(inner) = stack.length() else {
            self.fault(
                stack.at,
                "a stack without notes".to_owned(),
                "write the notes between `[` and `]`",
            );
            return;
        };
        if let Some(length) = self.countable(inner.times(length), stack.at) {
            self.warnings.say_once(WarningKind::Stacks, || {
                "of notes stacked on each other the top one is the melody".to_owned()
            });
            let (top, is_tied) = stack.top();
            self.event(top, length, stack.at);
            if let Some(event) = &mut self.pending {
                event.is_tied = is_tied;
            }
        }
    }

    /// A stack that is still open at a bar line, at the end of a line or at the next stack is an error.
    pub fn close_stack(&mut self) {
        if let Some(stack) = self.stack.take() {
            let (problem, hint) = Problem::Unclosed('[').explain();
            self.fault(stack.at, problem, hint);
        }
    }
}
