//! A melody cut at its bar lines: the content of each bar, with ties where a note continues.

use super::{Bar, FormSign, Melody, Meter, Quarters};

/// One bar and its content.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The bar.
    pub bar: Bar,
    /// The meter in force when it begins.
    pub meter: Option<Meter>,
    /// Notes and rests in order, without a gap.
    pub parts: Vec<MeasurePart>,
}

/// A note or rest, or part of one, within one bar.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct MeasurePart {
    /// When it begins, from the start of the tune.
    pub onset: Quarters,
    /// When it ends.
    pub end: Quarters,
    /// The index of the note in the melody; `None` for a rest.
    pub note: Option<usize>,
    /// The note began in the part before.
    pub tied_back: bool,
    /// The note continues in the next part.
    pub tied_on: bool,
}

impl MeasurePart {
    /// How long it lasts.
    pub fn duration(&self) -> Quarters {
        self.end - self.onset
    }
}

impl Melody {
    /// The notes and rests cut at the bar lines and at `cuts`.
    ///
    /// Callers cut where something is written between notes. The cuts must be in order; times outside the melody are
    /// ignored.
    ///
    /// ```
    /// use fretlib::melody::{Draft, Melody, Quarters};
    ///
    /// let mut draft = Draft::default();
    /// draft.meters.set(Quarters::ZERO, Some("2/4".parse()?));
    /// for (name, length) in [("C4", 1), ("D4", 2), ("E4", 1)] {
    ///     draft.note(name.parse()?, Quarters::from(length))?;
    /// }
    /// let lengths: Vec<Vec<String>> = Melody::new(draft)?
    ///     .measures(&[])
    ///     .iter()
    ///     .map(|measure| measure.parts.iter().map(|part| part.duration().to_string()).collect())
    ///     .collect();
    /// assert_eq!(lengths, [["1", "1"], ["1", "1"]]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn measures(&self, cuts: &[Quarters]) -> Vec<Measure> {
        self.measures_of(self.bars(), cuts)
    }

    /// Like [`Melody::measures`], but a bar is cut in two where an ending begins inside it, or a segno or a coda stands.
    ///
    /// What is written down, bar by bar, then has every such sign at the beginning of a measure.
    pub(crate) fn measures_cut_at_signs(&self, cuts: &[Quarters]) -> Vec<Measure> {
        let signs = self.form().signs();
        let mut bars = Vec::with_capacity(self.bars().len());
        for bar in self.bars() {
            let first = signs.partition_point(|(at, _)| *at <= bar.onset);
            let inside = signs[first..].iter().take_while(|(at, _)| *at < bar.end);
            let begins =
                |sign| matches!(sign, FormSign::Ending(_) | FormSign::Segno | FormSign::Coda);
            let mut rest = *bar;
            for (at, _) in inside.filter(|(_, sign)| begins(*sign)) {
                if *at > rest.onset {
                    bars.push(Bar { end: *at, ..rest });
                    rest.offset = bar.offset + (*at - bar.onset);
                    rest.onset = *at;
                }
            }
            bars.push(rest);
        }
        self.measures_of(&bars, cuts)
    }

    fn measures_of(&self, bars: &[Bar], cuts: &[Quarters]) -> Vec<Measure> {
        let mut measures: Vec<Measure> = bars
            .iter()
            .map(|bar| Measure {
                bar: *bar,
                meter: self.meters().at(bar.onset).copied().flatten(),
                parts: Vec::new(),
            })
            .collect();
        let mut edges: Vec<Quarters> = bars
            .iter()
            .map(|bar| bar.onset)
            .chain(cuts.iter().copied())
            .collect();
        edges.sort_unstable();
        edges.dedup();
        let mut measure = 0;
        let mut edge = 0;
        let mut add = |start: Quarters, end: Quarters, note: Option<usize>| {
            let mut onset = start;
            while onset < end {
                while edges.get(edge).is_some_and(|at| *at <= onset) {
                    edge += 1;
                }
                let until = edges.get(edge).map_or(end, |at| end.min(*at));
                while measures
                    .get(measure + 1)
                    .is_some_and(|next| next.bar.onset <= onset)
                {
                    measure += 1;
                }
                measures[measure].parts.push(MeasurePart {
                    onset,
                    end: until,
                    note,
                    tied_back: note.is_some() && onset > start,
                    tied_on: note.is_some() && until < end,
                });
                onset = until;
            }
        };
        let mut now = Quarters::ZERO;
        for (index, note) in self.notes().iter().enumerate() {
            add(now, note.onset, None);
            add(note.onset, note.end(), Some(index));
            now = note.end();
        }
        add(now, self.length(), None);
        measures
    }
}

#[cfg(test)]
mod tests {
    use crate::melody::{Draft, Melody, Quarters};

    #[test]
    fn notes_are_cut_at_bar_lines_and_where_asked() {
        let mut draft = Draft::default();
        draft
            .meters
            .set(Quarters::ZERO, Some("2/4".parse().unwrap()));
        draft.rest(Quarters::ONE).unwrap();
        draft
            .note("E4".parse().unwrap(), Quarters::from(4))
            .unwrap();
        let melody = Melody::new(draft).unwrap();
        let parts: Vec<String> = melody
            .measures(&[Quarters::new(5, 2)])
            .iter()
            .map(|measure| {
                let parts = measure.parts.iter().map(|part| {
                    let tie = |is: bool| if is { "-" } else { "" };
                    let what = part.note.map_or("r", |_| "E");
                    format!(
                        "{}{what}{}{}",
                        tie(part.tied_back),
                        part.duration(),
                        tie(part.tied_on)
                    )
                });
                parts.collect::<Vec<_>>().join(" ")
            })
            .collect();
        assert_eq!(parts, ["r1 E1-", "-E1/2- -E3/2-", "-E1"]);
    }
}
