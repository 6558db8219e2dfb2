//! A module for each command.

pub mod convert;
pub mod drill;
pub mod fingering;
pub mod history;
pub mod instruments;
pub mod map;
pub mod progress;
pub mod sheet;
pub mod today;
pub mod tunes;

use crate::args::Command;
use crate::failure::Failure;
use crate::streams::Streams;

/// Runs a command.
pub fn run(command: Command, streams: &mut Streams) -> Result<(), Failure> {
    match command {
        Command::Map(args) => map::run(&args, streams),
        Command::Drill(args) => drill::run(&args, streams),
        Command::Today(args) => today::run(&args, streams),
        Command::Progress(args) => progress::run(&args, streams),
        Command::History(args) => history::run(&args, streams),
        Command::Sheet(args) => sheet::run(&args, streams),
        Command::Convert(args) => convert::run(&args, streams),
        Command::Fingering(args) => fingering::run(&args, streams),
        Command::Tunes(args) => tunes::run(&args, streams),
        Command::Instruments(args) => instruments::run(&args, streams),
    }
}

/// Words as they are typed to a shell: those with anything but letters, figures and plain signs in single quotes.
pub fn shell_words(words: &[String]) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_=+./,:".contains(c);
    let quoted = words.iter().map(|word| {
        if !word.is_empty() && word.chars().all(is_plain) {
            word.clone()
        } else {
            format!("'{}'", word.replace('\'', r"'\''"))
        }
    });
    quoted.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_for_a_shell() {
        let words = ["drill", "my tune.ron", "it's", "--key=E minor", "-x"].map(String::from);
        assert_eq!(
            shell_words(&words),
            r"drill 'my tune.ron' 'it'\''s' '--key=E minor' -x"
        );
    }
}
