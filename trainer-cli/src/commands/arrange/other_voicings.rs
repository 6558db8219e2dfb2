//! The possible voicings for one note, the cheapest first.

use fretlib::arranging::{Accompaniment, RankedVoicing, Staged, VoicingFilter};
use fretlib::text::{Role, StyledLine, StyledText};

use super::Arranged;
use super::voicing_card::{Card, in_rows};
use crate::failure::Failure;
use crate::report::count::count;

/// What is shown and how.
pub struct OtherVoicings<'a> {
    pub arranged: &'a Arranged<'a>,
    /// The number of the note.
    pub number: usize,
    pub filters: &'a [VoicingFilter],
    pub ascii: bool,
    pub width: usize,
    pub left_handed: bool,
}

/// The most voicings shown.
const SHOWN: usize = 9;

impl OtherVoicings<'_> {
    /// The page.
    ///
    /// # Errors
    ///
    /// When the note has no voicing, or none passes the filters.
    pub fn draw(&self) -> Result<StyledText, Failure> {
        let lattice = self.arranged.lattice;
        let bare = || {
            Failure::could_not(
                format!("note {} has no voicing in this arrangement", self.number),
                "another density may ask for one, such as `--density full`",
            )
        };
        let arrangement = self.arranged.arrangements.first().ok_or_else(bare)?;
        let note = &arrangement.notes[self.number - 1];
        let now = note
            .under
            .iter()
            .find(|it| !it.is_only_held())
            .ok_or_else(bare)?;
        let ranked = lattice.ranked(arrangement, now.moment, self.filters);
        if ranked.is_empty() {
            let words: Vec<String> = self.filters.iter().map(ToString::to_string).collect();
            return Err(Failure::could_not(
                format!(
                    "no voicing for note {} is like `{}`",
                    self.number,
                    words.join(", ")
                ),
                "ask for less in `--filter`",
            ));
        }
        let mut text = StyledText::default();
        let mut head = StyledLine::default();
        let shapes = count(ranked.len(), "voicing");
        head.push(
            &format!(
                "{shapes} for note {}, {} over {}",
                self.number, note.pitch, now.chord
            ),
            Role::Heading,
        );
        text.push(head);
        text.push("What each costs more than the one chosen, all else as it is:");
        text.push("");
        let cards: Vec<Vec<String>> = ranked
            .iter()
            .take(SHOWN)
            .map(|it| self.card(now, it))
            .collect();
        text.append(in_rows(&cards, self.width));
        if ranked.len() > SHOWN {
            text.push(
                format!(
                    "{} more; `--filter` narrows them down",
                    ranked.len() - SHOWN
                )
                .as_str(),
            );
        }
        let shape = ranked[ranked.len().min(2) - 1]
            .voicing
            .shape(lattice.arranger().instrument);
        text.push(
            format!(
                "Take one with `--choose {}={shape}`, keep it with `--save`.",
                self.number
            )
            .as_str(),
        );
        Ok(text)
    }

    fn card(&self, now: &Accompaniment, it: &RankedVoicing) -> Vec<String> {
        let pitch = self.arranged.lattice.pitches()[self.number - 1];
        let is_chosen = it
            .voicing
            .shape(self.arranged.lattice.arranger().instrument)
            == now
                .voicing
                .shape(self.arranged.lattice.arranger().instrument);
        let accompaniment = Accompaniment {
            voicing: it.voicing.clone(),
            staging: if is_chosen {
                now.staging.clone()
            } else {
                Staged::default()
            },
            ..now.clone()
        };
        Card {
            head: if is_chosen {
                "chosen".into()
            } else {
                format!("{:+.1}", it.more)
            },
            accompaniment: &accompaniment,
            melody_degree: now.chord.degree(pitch.class()),
            instrument: self.arranged.lattice.arranger().instrument,
            ascii: self.ascii,
            left_handed: self.left_handed,
        }
        .lines()
    }
}
