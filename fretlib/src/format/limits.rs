//! How much of a file is read: a small file must not be able to ask for much memory or time.
//!
//! Every bound here is far above any tune; a file beyond one is refused with a diagnostic that names it. What a melody may
//! hold is bounded by [`Melody`](crate::melody::Melody) itself.

/// The largest file that is read, in bytes: 64 MiB.
pub const LARGEST_FILE: usize = 64 << 20;

/// The largest number a count or a length may be written with.
pub(super) const LARGEST_NUMBER: u32 = 1_000_000;
/// Tunes in one book.
pub(super) const MOST_TUNES: usize = 100_000;
/// Notes and rests in one voice of a tune.
pub(super) const MOST_EVENTS: usize = 1_000_000;
/// Voices in one tune.
pub(super) const MOST_VOICES: usize = 64;
/// Voices in one part of a score, where voices are counted anew on every staff.
pub(super) const MOST_PART_VOICES: usize = 256;
/// Parts in one score.
pub(super) const MOST_PARTS: usize = 1000;
/// Files in one archive.
pub(super) const MOST_ARCHIVED: usize = 1000;
