//! The kinds of question.

use std::fmt;
use std::str::FromStr;

use crate::error::ParseError;

/// What is asked of a note.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Kind {
    /// Where is this note of the melody, in this position and octave?
    Place,
    /// What is at this place: which note, and which degree of the key?
    Name,
    /// Which degree of the key is this note?
    Degree,
    /// Which interval leads from this note to the next?
    Interval,
    /// What comes next: its name or its place?
    Next,
    /// Is it in the scale and, if not, what is it?
    Scale,
    /// Where is the same note an octave away, in another position?
    Octave,
    /// Which interval was heard?
    IntervalByEar,
    /// After the bars before it, which degree of the key is the note that was heard last?
    DegreeByEar,
    /// After the bars before it, is the note that was heard last in the scale and, if not, what is it?
    ScaleByEar,
    /// After what was heard of a phrase, what comes next: its place or its name?
    NextByEar,
    /// Which of these phrases was heard?
    PhraseByEar,
    /// What lies under this note in the arrangement?
    Under,
    /// Which fingers stay from the voicing before?
    Stays,
    /// Which degrees of the chord are left out?
    LeftOut,
    /// Where does the arrangement play the next note of the melody?
    Line,
    /// The phrase played on the instrument: nothing is asked, a pass through it is heard.
    Play,
}

/// How a question is put.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Presentation {
    /// The note is named or its place is shown.
    Shown,
    /// The note is heard, and nothing of it is named.
    Heard,
}

impl Kind {
    /// The kinds that are asked about, in the order of the summary.
    pub const ASKED: [Kind; 16] = [
        Kind::Place,
        Kind::Name,
        Kind::Degree,
        Kind::Interval,
        Kind::Next,
        Kind::Scale,
        Kind::Octave,
        Kind::IntervalByEar,
        Kind::DegreeByEar,
        Kind::ScaleByEar,
        Kind::NextByEar,
        Kind::PhraseByEar,
        Kind::Under,
        Kind::Stays,
        Kind::LeftOut,
        Kind::Line,
    ];

    /// Every kind: those that are asked about, and what is played.
    pub const ALL: [Kind; 17] = {
        let mut all = [Kind::Play; 17];
        let mut index = 0;
        while index < Kind::ASKED.len() {
            all[index] = Kind::ASKED[index];
            index += 1;
        }
        all
    };

    /// The word used on the command line, on screens and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Place => "place",
            Kind::Name => "name",
            Kind::Degree => "degree",
            Kind::Interval => "interval",
            Kind::Next => "next",
            Kind::Scale => "scale",
            Kind::Octave => "octave",
            Kind::IntervalByEar => "interval-by-ear",
            Kind::DegreeByEar => "degree-by-ear",
            Kind::ScaleByEar => "scale-by-ear",
            Kind::NextByEar => "next-by-ear",
            Kind::PhraseByEar => "phrase-by-ear",
            Kind::Under => "under",
            Kind::Stays => "stays",
            Kind::LeftOut => "left-out",
            Kind::Line => "line",
            Kind::Play => "play",
        }
    }

    /// Whether it depends on the position of the hand; the other kinds are about the melody alone.
    pub const fn is_on_the_neck(self) -> bool {
        matches!(
            self,
            Kind::Place | Kind::Name | Kind::Next | Kind::Octave | Kind::NextByEar | Kind::Play
        )
    }

    /// How the question is put.
    pub const fn presentation(self) -> Presentation {
        match self {
            Kind::IntervalByEar
            | Kind::DegreeByEar
            | Kind::ScaleByEar
            | Kind::NextByEar
            | Kind::PhraseByEar => Presentation::Heard,
            Kind::Place
            | Kind::Name
            | Kind::Degree
            | Kind::Interval
            | Kind::Next
            | Kind::Scale
            | Kind::Octave
            | Kind::Under
            | Kind::Stays
            | Kind::LeftOut
            | Kind::Line
            | Kind::Play => Presentation::Shown,
        }
    }

    /// Whether the question is about an arrangement; it is asked where there is one.
    pub const fn is_of_arrangement(self) -> bool {
        matches!(self, Kind::Under | Kind::Stays | Kind::LeftOut | Kind::Line)
    }

    /// Whether the question is heard.
    pub fn is_by_ear(self) -> bool {
        self.presentation() == Presentation::Heard
    }

    /// The kinds that a player's progress is counted over, who was asked these: those that are shown and, once there was
    /// one by ear, all. A player without sound has nothing untouched that can never be asked. In the same way what is played
    /// counts once something was heard.
    pub fn counted(met: impl IntoIterator<Item = Kind>) -> Vec<Kind> {
        let met: Vec<Kind> = met.into_iter().collect();
        let has_heard = met.iter().any(|kind| kind.is_by_ear());
        let has_played = met.contains(&Kind::Play);
        let kinds = Kind::ALL.into_iter();
        kinds
            .filter(|kind| has_heard || !kind.is_by_ear())
            .filter(|kind| has_played || *kind != Kind::Play)
            .collect()
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Kind {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self, ParseError> {
        Kind::ALL
            .into_iter()
            .find(|kind| kind.name() == text.to_lowercase())
            .ok_or_else(|| {
                ParseError::unreadable(
                    text,
                    "a kind of question: place, name, degree, interval, next, scale, octave, under, stays, left-out, line, or \
                     interval-by-ear, degree-by-ear, scale-by-ear, next-by-ear, phrase-by-ear",
                )
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_read_back() {
        for kind in Kind::ALL {
            assert_eq!(kind.name().parse(), Ok(kind));
        }
        assert!("fret".parse::<Kind>().is_err());
    }

    #[test]
    fn what_was_never_heard_is_not_counted_as_missing() {
        let shown = Kind::counted([Kind::Place]);
        assert!(shown.contains(&Kind::Octave) && !shown.iter().any(|kind| kind.is_by_ear()));
        assert_eq!(shown.len(), Kind::ASKED.len() - 5);
        assert_eq!(Kind::counted([Kind::Place, Kind::NextByEar]), Kind::ASKED);
        let played = Kind::counted([Kind::Place, Kind::Play]);
        assert!(played.contains(&Kind::Play) && !played.contains(&Kind::NextByEar));
    }
}
