//! `neckline tunes`.

use crate::commands::tunes::TunesRequest;

/// List the built-in tunes, or the tunes of a file.
#[derive(Debug, clap::Args)]
pub struct TunesArgs {
    /// A tune book in ABC; its tunes are listed with the numbers for `--tune`
    #[arg(value_name = "FILE")]
    file: Option<String>,

    /// Print the text of a built-in tune, to start one of your own from
    #[arg(long, value_name = "NAME", conflicts_with = "file")]
    show: Option<String>,
}

impl From<TunesArgs> for TunesRequest {
    fn from(args: TunesArgs) -> Self {
        match (args.show, args.file) {
            (Some(name), _) => TunesRequest::Show(name),
            (None, Some(file)) => TunesRequest::OfBook(file),
            (None, None) => TunesRequest::BuiltIn,
        }
    }
}
