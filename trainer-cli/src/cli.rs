//! The command line: all code that uses clap. Arguments become a [`CommandRequest`], which knows nothing of options.

mod arrange_args;
mod convert_args;
mod drill_args;
mod fingering_args;
mod generated;
mod hand_args;
mod history_args;
mod instrument_args;
mod listen_args;
mod map_args;
mod octave_args;
mod placement_args;
mod play_args;
mod played_args;
mod progress_args;
mod ranges;
mod set_args;
mod settings_args;
mod sheet_args;
mod shelf_args;
mod today_args;
mod transcribe_args;
mod tune_args;
mod tunes_args;
mod warm_up_args;

use std::ffi::OsString;

use clap::{ArgAction, CommandFactory, Parser, Subcommand, ValueEnum};

use crate::commands::CommandRequest;

/// Own a melody everywhere on the neck before you arrange it.
#[derive(Debug, Parser)]
#[command(
    name = "neckline",
    version,
    about,
    arg_required_else_help = true,
    max_term_width = 100,
    disable_help_subcommand = true,
    disable_version_flag = true,
    help_template = "{about}\n{usage-heading} {usage}\n\n{all-args}{after-help}",
    after_long_help = "\
Examples:
  neckline map                      where the first built-in tune lies
  neckline map my-tune.ron          a tune of your own
  neckline map tune.abc --position V
  neckline fingering tune.abc       the best way through it along the neck
  neckline drill tune.abc           questions about it, wherever it lies
  neckline sheet tune.abc -o t.pdf  a page for the music stand
  neckline tunes                    the built-in tunes

Exit codes: 0 done, 1 could not, 2 wrong usage or unreadable input."
)]
struct Args {
    /// Print the version
    #[arg(short = 'V', long, action = ArgAction::Version, hide_short_help = true)]
    version: Option<bool>,

    #[command(subcommand)]
    command: Command,

    /// When to use colour
    #[arg(
        long,
        global = true,
        value_enum,
        default_value_t = Color::Auto,
        value_name = "WHEN",
        help_heading = "Screen",
        hide_short_help = true
    )]
    color: Color,

    /// Draw with ASCII characters only
    #[arg(long, global = true, help_heading = "Screen", hide_short_help = true)]
    ascii: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Show where a melody lies on the neck, by position and octave
    Map(map_args::MapArgs),
    /// Ask where the notes of a melody are, and what they are
    Drill(drill_args::DrillArgs),
    /// Plan what to play again today, and drill it
    Today(today_args::TodayArgs),
    /// Warm up on a tune: five to ten minutes, soft and slow
    WarmUp(Box<warm_up_args::WarmUpArgs>),
    /// Show what of each tune holds, fades or is untouched
    Progress(progress_args::ProgressArgs),
    /// Keep the tunes to be ready on a day together
    Set(set_args::SetArgs),
    /// Back up the practice history, restore it, wipe a tune
    History(history_args::HistoryArgs),
    /// Make a page for the music stand: notation, tablature, necks
    Sheet(sheet_args::SheetArgs),
    /// Write a tune as RON, ABC, MusicXML with tablature, or MIDI
    Convert(convert_args::ConvertArgs),
    /// Find the best way through a melody along the neck
    Fingering(Box<fingering_args::FingeringArgs>),
    /// Prepare what sounds under a melody
    Arrange(Box<arrange_args::ArrangeArgs>),
    /// Play a melody: loops, count-in, click, chords, or into a WAV
    Play(Box<play_args::PlayArgs>),
    /// Hold your playing against the tune, live or in a recording
    Listen(Box<listen_args::ListenArgs>),
    /// Write down the notes of a recording
    Transcribe(transcribe_args::TranscribeArgs),
    /// Rank the tunes of a folder by difficulty, with the reasons
    Shelf(Box<shelf_args::ShelfArgs>),
    /// List the built-in tunes, or the tunes of a file
    Tunes(tunes_args::TunesArgs),
    /// List the built-in instruments
    Instruments(instrument_args::InstrumentsArgs),
    /// Print the completions of a shell, or a manual page
    #[command(hide = true)]
    Generate(generated::GenerateArgs),
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum Color {
    /// If the terminal supports it
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// What was asked for on the command line.
#[derive(Debug)]
pub struct Invocation {
    /// The command and its options.
    pub command: CommandRequest,
    /// Whether to use colour; `None` leaves it to the terminal.
    pub color: Option<bool>,
    /// Whether to draw with ASCII characters only.
    pub ascii: bool,
}

/// Help, the version, completions or an error, to be printed instead of running a command.
#[derive(Debug)]
pub struct Message {
    /// The text, with colours if they were asked for.
    pub text: String,
    /// Whether it is an error; the others are results.
    pub is_error: bool,
}

/// Reads the arguments, the first being the program's name.
///
/// # Errors
///
/// The text to print instead: help, the version, completions, or an error about the arguments.
pub fn parse(args: impl IntoIterator<Item = OsString>, color: bool) -> Result<Invocation, Message> {
    let complaint = |error: clap::Error| {
        let text = error.render();
        Message {
            text: if color {
                text.ansi().to_string()
            } else {
                text.to_string()
            },
            is_error: error.use_stderr(),
        }
    };
    let args = Args::try_parse_from(args).map_err(complaint)?;
    let command = match args.command.request() {
        Ok(command) => command,
        Err(generate) => {
            return Err(Message {
                text: generated::generated(&generate, Args::command()).map_err(complaint)?,
                is_error: false,
            });
        }
    };
    Ok(Invocation {
        command,
        color: match args.color {
            Color::Auto => None,
            Color::Always => Some(true),
            Color::Never => Some(false),
        },
        ascii: args.ascii,
    })
}

impl Command {
    /// The request of the command, unless the command is about the command line itself.
    fn request(self) -> Result<CommandRequest, generated::GenerateArgs> {
        Ok(match self {
            Command::Map(args) => CommandRequest::Map(args.into()),
            Command::Drill(args) => CommandRequest::Drill(args.into()),
            Command::Today(args) => CommandRequest::Today(args.into()),
            Command::Progress(args) => CommandRequest::Progress(args.into()),
            Command::Set(args) => CommandRequest::Set(args.into()),
            Command::History(args) => CommandRequest::History(args.into()),
            Command::Sheet(args) => CommandRequest::Sheet(args.into()),
            Command::Convert(args) => CommandRequest::Convert(args.into()),
            Command::Fingering(args) => CommandRequest::Fingering(Box::new((*args).into())),
            Command::Arrange(args) => CommandRequest::Arrange(Box::new((*args).into())),
            Command::Play(args) => CommandRequest::Play(Box::new((*args).into())),
            Command::WarmUp(args) => CommandRequest::WarmUp(Box::new((*args).into())),
            Command::Listen(args) => CommandRequest::Listen(Box::new((*args).into())),
            Command::Transcribe(args) => CommandRequest::Transcribe(args.into()),
            Command::Shelf(args) => CommandRequest::Shelf(Box::new((*args).into())),
            Command::Tunes(args) => CommandRequest::Tunes(args.into()),
            Command::Instruments(_) => CommandRequest::Instruments,
            Command::Generate(args) => return Err(args),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_well_formed() {
        Args::command().debug_assert();
    }

    #[test]
    fn short_help_fits_a_small_terminal() {
        let mut program = Args::command().term_width(80);
        program.build();
        let names: Vec<String> = program
            .get_subcommands()
            .map(|command| command.get_name().to_owned())
            .collect();
        assert!(program.render_help().to_string().lines().count() <= 24);
        for name in names {
            let command = program.find_subcommand_mut(&name).unwrap();
            let help = command.render_help().to_string();
            assert!(help.lines().count() <= 24, "{name}:\n{help}");
        }
    }

    #[test]
    fn completions_and_manual_pages_know_every_command() {
        let printed = |args: &[&str]| {
            let args = ["neckline", "generate"].iter().chain(args);
            parse(args.map(OsString::from), false).unwrap_err()
        };
        for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
            let completions = printed(&["completions", shell]);
            assert!(!completions.is_error && completions.text.contains("fingering"));
        }
        let program = printed(&["manual"]);
        assert!(
            !program.is_error && program.text.contains("neckline\\-sheet"),
            "{}",
            program.text
        );
        let sheet = printed(&["manual", "sheet"]).text;
        assert!(sheet.contains("from\\-progress"), "{sheet}");
        assert!(printed(&["manual", "no-such"]).is_error);
    }
}
