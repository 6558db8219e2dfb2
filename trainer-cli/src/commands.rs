//! A module for each command.

pub mod arrange;
pub mod backups;
pub mod convert;
pub mod drill;
pub mod fingering;
pub mod instruments;
pub mod listen;
pub mod map;
pub mod play;
pub mod progress;
pub mod set;
pub mod sheet;
pub mod shelf;
pub mod today;
pub mod transcribe;
pub mod tunes;
pub mod warm_up;

use crate::failure::Failure;
use crate::terminal::Streams;

/// A command with its request.
#[derive(Debug)]
pub enum CommandRequest {
    /// Show where a melody lies.
    Map(map::MapRequest),
    /// Ask about a melody.
    Drill(drill::DrillRequest),
    /// Ask about all tunes practised.
    Today(today::TodayRequest),
    /// Show what holds, fades or is untouched.
    Progress(progress::ProgressRequest),
    /// Keep a set of tunes to be ready on a day.
    Set(set::SetRequest),
    /// Copy the history.
    History(backups::HistoryRequest),
    /// Make a page for the music stand.
    Sheet(sheet::SheetRequest),
    /// Write a tune in another format.
    Convert(convert::ConvertRequest),
    /// Find the best way along the neck.
    Fingering(Box<fingering::FingeringRequest>),
    /// Prepare what sounds under a melody.
    Arrange(Box<arrange::ArrangeRequest>),
    /// Play a melody.
    Play(Box<play::PlayRequest>),
    /// Warm up on a tune.
    WarmUp(Box<warm_up::WarmUpRequest>),
    /// Compare a recording with a melody.
    Listen(Box<listen::ListenRequest>),
    /// Write down the notes of a recording.
    Transcribe(transcribe::TranscribeRequest),
    /// Rank the tunes of a folder.
    Shelf(Box<shelf::ShelfRequest>),
    /// List tunes.
    Tunes(tunes::TunesRequest),
    /// List the built-in instruments.
    Instruments,
}

/// Runs a command.
pub fn run(request: CommandRequest, streams: &mut Streams) -> Result<(), Failure> {
    match request {
        CommandRequest::Map(request) => map::run(&request, streams),
        CommandRequest::Drill(request) => drill::run(&request, streams),
        CommandRequest::Today(request) => today::run(&request, streams),
        CommandRequest::Progress(request) => progress::run(&request, streams),
        CommandRequest::Set(request) => set::run(&request, streams),
        CommandRequest::History(request) => backups::run(&request, streams),
        CommandRequest::Sheet(request) => sheet::run(&request, streams),
        CommandRequest::Convert(request) => convert::run(&request, streams),
        CommandRequest::Fingering(request) => fingering::run(&request, streams),
        CommandRequest::Arrange(request) => arrange::run(&request, streams),
        CommandRequest::Play(request) => play::run(&request, streams),
        CommandRequest::WarmUp(request) => warm_up::run(&request, streams),
        CommandRequest::Listen(request) => listen::run(&request, streams),
        CommandRequest::Transcribe(request) => transcribe::run(&request, streams),
        CommandRequest::Shelf(request) => shelf::run(&request, streams),
        CommandRequest::Tunes(request) => tunes::run(&request, streams),
        CommandRequest::Instruments => instruments::run(streams),
    }
}
