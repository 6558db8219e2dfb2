//! `neckline tunes`.

use crate::commands::tunes::TunesRequest;
use crate::request::TuneRequest;

/// List the built-in tunes, or the tunes of a file.
#[derive(Debug, clap::Args)]
pub struct TunesArgs {
    /// A tune book in ABC, whose tunes are listed with their numbers; with --check any tune
    #[arg(value_name = "FILE")]
    file: Option<String>,

    /// Tell on one page what is read of FILE and what is guessed
    #[arg(long, requires = "file")]
    check: bool,

    /// With --check, the tune of a book
    #[arg(long, value_name = "N", requires = "check")]
    tune: Option<u32>,

    /// Print the text of a built-in tune, to start one of your own from
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    show: Option<String>,
}

impl From<TunesArgs> for TunesRequest {
    fn from(args: TunesArgs) -> Self {
        match (args.show, args.file) {
            (Some(name), _) => TunesRequest::Show(name),
            (None, Some(file)) if args.check => TunesRequest::Check(TuneRequest {
                source: Some(file),
                number: args.tune,
                ..TuneRequest::default()
            }),
            (None, Some(file)) => TunesRequest::OfBook(file),
            (None, None) => TunesRequest::BuiltIn,
        }
    }
}
