//! Tunes that are left out of a plan or a page.

use std::io::{self, Write};

use super::heading::title_or_untitled;
use crate::failure::Failure;
use crate::terminal::Streams;

/// Why a tune is left out.
pub enum Absence {
    /// It has changed since it was practised.
    Changed,
    /// Its file cannot be opened, for this reason.
    CannotBeOpened(String),
}

/// The titles of tunes that are left out, and why.
#[derive(Default)]
pub struct LeftOut(Vec<(String, Absence)>);

impl LeftOut {
    /// How many of several are named.
    const NAMED: usize = 3;

    /// Leaves a tune out.
    pub fn push(&mut self, (title, absence): (String, Absence)) {
        self.0.push((title, absence));
    }

    /// Leaves out a tune that cannot be opened.
    pub fn cannot_be_opened(&mut self, title: &str, failure: &Failure) {
        let absence = Absence::CannotBeOpened(failure.to_string());
        self.push((title.to_owned(), absence));
    }

    /// One note for all that have changed, and one for all that cannot be opened, however many they are.
    pub fn say(&self, streams: &mut Streams) -> io::Result<()> {
        let (mut changed, mut gone, mut reasons) = (Vec::new(), Vec::new(), Vec::new());
        for (title, absence) in &self.0 {
            let title = title_or_untitled(title);
            match absence {
                Absence::Changed => changed.push(title),
                Absence::CannotBeOpened(reason) => {
                    gone.push(title);
                    reasons.push(reason);
                }
            }
        }
        match changed.as_slice() {
            [] => {}
            [title] => writeln!(
                streams.stderr,
                "note: {title} has changed since it was practised; drill it once to begin anew"
            )?,
            titles => writeln!(
                streams.stderr,
                "note: {} tunes have changed since they were practised: {}; drill each once to begin anew",
                titles.len(),
                first_of(titles)
            )?,
        }
        match (gone.as_slice(), reasons.as_slice()) {
            ([title], [reason]) => writeln!(streams.stderr, "note: {title} is left out: {reason}"),
            (titles, [first, ..]) => writeln!(
                streams.stderr,
                "note: {} tunes are left out: {}; of the first: {first}",
                titles.len(),
                first_of(titles)
            ),
            _ => Ok(()),
        }
    }
}

/// The first few titles, and how many more there are.
fn first_of(titles: &[&str]) -> String {
    let named = titles.len().min(LeftOut::NAMED);
    match titles.len() - named {
        0 => titles.join(", "),
        more => format!("{} and {more} more", titles[..named].join(", ")),
    }
}
