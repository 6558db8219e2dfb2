//! What to mind, so that the hand does not hurt.

use fretlib::arranging::{Arrangement, VoicingTerm};
use fretlib::melody::Melody;

use crate::report::count::count;

/// Longer than this, a barre tires the hand; chosen by ear.
const BARRE_BARS: u32 = 4;

/// What is said of one grip past comfortable reach. Common practice, no source.
pub const WIDE_GRIP: &str = "past comfortable reach: warm up, stop at the first pain and rest";
/// What is said where a barre has been held for long. Common practice, no source.
pub const BARRE_TOO_LONG: &str =
    "a barre for more than 4 bars: let go where the melody lets you, rest when the hand tires";

/// What is said where the thumb comes over the neck. Common practice, no source.
pub const THUMB: &str =
    "the thumb over the neck bends the wrist: let go at the first strain, and leave `--thumb` out";

/// The cautions of a whole arrangement, a line each.
pub fn cautions(melody: &Melody, arrangement: &Arrangement) -> Vec<String> {
    let mut lines = Vec::new();
    let wide = arrangement
        .struck()
        .filter(|(note, _)| arrangement.notes[*note].amounts[VoicingTerm::Stretch as usize] > 0.0);
    let stretches = wide.count();
    if stretches > 0 {
        lines.push(format!("{} {WIDE_GRIP}", count(stretches, "grip")));
    }
    if arrangement.struck().any(|(_, it)| it.voicing.has_thumb()) {
        lines.push(THUMB.into());
    }
    let since =
        (0..arrangement.notes.len()).find_map(|note| barre_since(melody, arrangement, note));
    if let Some(bar) = since {
        lines.push(format!(
            "from bar {bar} on a barre is held for more than {BARRE_BARS} bars: let go where the melody lets you, and rest \
             when the hand tires"
        ));
    }
    lines
}

/// The bar since which a barre has been held under a note, when that is too long.
pub fn barre_since(melody: &Melody, arrangement: &Arrangement, note: usize) -> Option<u32> {
    let bar = |note: usize| melody.bar_at(melody.notes()[note].onset).number;
    let has_barre = |note: usize| {
        let under = arrangement.notes[note].under.last();
        under.map(|it| it.voicing.barre().is_some())
    };
    let since = (0..=note)
        .rev()
        .take_while(|note| has_barre(*note) != Some(false))
        .filter(|note| has_barre(*note) == Some(true))
        .last()?;
    (bar(note) > bar(since) + BARRE_BARS).then(|| bar(since))
}
