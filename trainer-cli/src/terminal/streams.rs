//! The streams of a run, and the properties of the terminal and the user behind them.

use std::io::{self, BufRead, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use owo_colors::{OwoColorize, Stream};

use super::{MessageStream, TextStream};
use crate::audio::{Loudspeaker, Microphone, NoMicrophone, NoSound, SoundInput, SoundOutput};

/// Input, results and messages, and how they may look.
pub struct Streams<'a> {
    /// Input, read by commands that ask and by the tune `-`.
    pub stdin: Box<dyn BufRead + 'a>,
    /// Results.
    pub stdout: TextStream<'a>,
    /// Messages.
    pub stderr: TextStream<'a>,
    /// Whether a person may be typing.
    pub stdin_is_terminal: bool,
    /// Whether a person may be reading the results.
    pub stdout_is_terminal: bool,
    /// Whether results may be coloured.
    pub color: bool,
    /// Whether only ASCII characters may be drawn with.
    pub ascii: bool,
    /// Width in columns.
    pub width: usize,
    /// The file of the player's settings, if there is one.
    pub settings: Option<PathBuf>,
    /// Where questions by ear are heard.
    pub sound: Box<dyn SoundOutput + 'a>,
    /// Where the player is heard; opened by commands that listen.
    pub microphone: Box<dyn SoundInput + 'a>,
}

impl<'a> Streams<'a> {
    /// The least and the greatest width of results.
    const WIDTHS: std::ops::RangeInclusive<usize> = 40..=240;

    /// The player's folder for configuration, where the settings are kept.
    pub fn settings_folder(&self) -> Option<&Path> {
        self.settings.as_deref()?.parent()
    }

    /// Streams into and out of memory: no terminal, no colour, 80 columns, no settings, no sound, no
    /// microphone.
    pub fn captured(
        stdin: impl BufRead + 'a,
        stdout: impl Write + 'a,
        stderr: impl Write + 'a,
    ) -> Streams<'a> {
        Streams {
            stdin: Box::new(stdin),
            stdout: TextStream::new(stdout),
            stderr: TextStream::new(stderr),
            stdin_is_terminal: false,
            stdout_is_terminal: false,
            color: false,
            ascii: false,
            width: 80,
            settings: None,
            sound: Box::new(NoSound),
            microphone: Box::new(NoMicrophone),
        }
    }
}

impl Streams<'static> {
    /// The streams of this process.
    ///
    /// Colour follows the terminal, `TERM` and `NO_COLOR`; the width is the terminal's, or `COLUMNS`, or 80; drawing
    /// uses ASCII if the locale names another encoding than UTF-8.
    pub fn of_process() -> Self {
        let stdout_is_terminal = io::stdout().is_terminal();
        let columns = || std::env::var("COLUMNS").ok()?.parse().ok();
        let width = match terminal_size::terminal_size() {
            Some((width, _)) if stdout_is_terminal => Some(usize::from(width.0)),
            _ => columns(),
        };
        let (narrowest, widest) = Streams::WIDTHS.into_inner();
        Streams {
            stdin: Box::new(io::stdin().lock()),
            stdout: TextStream::new(BufWriter::new(io::stdout().lock())),
            stderr: stderr_of_process(),
            stdin_is_terminal: io::stdin().is_terminal(),
            stdout_is_terminal,
            color: supports_color(),
            ascii: !locale_is_utf8(),
            width: width.unwrap_or(80).clamp(narrowest, widest),
            settings: settings(),
            sound: Box::new(Loudspeaker::default()),
            microphone: Box::new(Microphone::default()),
        }
    }
}

/// Standard error; on a terminal messages are as wide as it is.
fn stderr_of_process() -> TextStream<'static> {
    let stderr = io::stderr();
    match terminal_size::terminal_size_of(&stderr).filter(|_| stderr.is_terminal()) {
        Some((width, _)) => {
            let (narrowest, widest) = Streams::WIDTHS.into_inner();
            let width = usize::from(width.0).clamp(narrowest, widest);
            TextStream::new(MessageStream::new(stderr, width))
        }
        None => TextStream::new(stderr),
    }
}

/// Where settings are kept in the user's folder for configuration.
fn settings() -> Option<PathBuf> {
    let base = etcetera::choose_base_strategy().ok()?;
    Some(base.config_dir().join("neckline").join("settings.ron"))
}

/// Whether standard output takes colour, by the rules of `supports-color`.
fn supports_color() -> bool {
    let probe = "x"
        .if_supports_color(Stream::Stdout, |text| text.bold())
        .to_string();
    probe != "x"
}

/// The locale's encoding by POSIX: from the first of `LC_ALL`, `LC_CTYPE` and `LANG` that is set and not empty. A
/// locale without an encoding is taken for UTF-8, as on most systems today.
fn locale_is_utf8() -> bool {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .iter()
        .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()));
    match locale.as_deref().and_then(|value| value.split_once('.')) {
        Some((_, encoding)) => encoding
            .to_ascii_lowercase()
            .replace('-', "")
            .starts_with("utf8"),
        None => true,
    }
}
