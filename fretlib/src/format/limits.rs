//! Limits of what is read, so that a small file cannot demand much memory or time.
//!
//! Every limit is far above any tune; a file beyond one is refused with a diagnostic that names it.
//! [`Melody`](crate::melody::Melody) limits its own size.

/// The largest file that is read, in bytes: 64 MiB.
pub const LARGEST_FILE: usize = 64 << 20;

/// The largest number in a count or a length.
pub(super) const LARGEST_NUMBER: u32 = 1_000_000;
/// Tunes in one book.
pub(super) const MOST_TUNES: usize = 100_000;
/// Notes and rests in one voice of a tune.
pub(super) const MOST_EVENTS: usize = 1_000_000;
/// Voices in one tune.
pub(super) const MOST_VOICES: usize = 64;
/// Voices in one part of a score; every staff counts its own.
pub(super) const MOST_PART_VOICES: usize = 256;
/// Parts in one score.
pub(super) const MOST_PARTS: usize = 1000;
/// Files in one archive.
pub(super) const MOST_ARCHIVED: usize = 1000;

/// What to do about a tune of more than [`Melody::MOST_BARS`](crate::melody::Melody::MOST_BARS) bars.
pub(super) const HINT_ABOUT_BARS: &str = "split it into several tunes; where there are few notes, look for a rest or a meter that makes so many bars";
