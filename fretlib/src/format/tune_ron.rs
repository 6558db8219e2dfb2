//! The project's own form of a tune: RON, to be typed from a lead sheet in five minutes.
//!
//! ```ron
//! (
//!     title: "Gulls over Breakfast",
//!     key: "G major",
//!     meter: "3/4",
//!     tempo: 132,
//!     lines: [
//!         (
//!             chords: "-             | G      | Am7 q D7 | Gmaj7           | %",
//!             notes:  "[pickup] D4 q | B h A q | G E F#  | B h., | r q r D",
//!         ),
//!     ],
//! )
//! ```
//!
//! # The fields
//!
//! | field | what | when left out |
//! |---|---|---|
//! | `title`, `composer` | any text | none |
//! | `source`, `transcriber` | the book or player it comes from, who wrote it down | none |
//! | `key` | `"Eb major"`, `"E minor"`, `"A dorian"` | not declared; it can be estimated |
//! | `meter` | `"6/8"`, or `"free"` | bars are as long as they are |
//! | `tempo` | quarter notes a minute, `104`, or another value, `"q. = 70"` | not declared |
//! | `feel` | `"straight"`, `"swing"` or `"swing 16ths"` | not declared |
//! | `parts` | the order in which sections named by one letter are played: `"AABA"`, `"(AB)2C"` | as the signs in the notes say |
//! | `words` | a list of lines printed after the tune, such as further verses | none |
//! | `lines` | the music, line by line as on the sheet | must be there |
//!
//! A line has `notes` and may have `chords`. It holds as many bars as you like, and begins and ends at a bar line.
//!
//! # Notes
//!
//! Words are separated by spaces, bars by `|`.
//!
//! | word | what |
//! |---|---|
//! | `E4`, `F#5`, `Bb3`, `G##4` | a note, written pitch, its octave in scientific pitch notation (C4 is middle C). The key signature adds nothing: F sharp is always `F#` |
//! | `G`, `Bb` | the same octave number as the note before it in the line |
//! | `r` | a rest |
//! | `~` | a tie: the note before it sounds on, over bar lines too |
//! | `w` `h` `q` `e` `s` `t` | the value of the word before it: whole, half, quarter, eighth, sixteenth, thirty-second note |
//! | `q.` `h..` | dotted, double-dotted |
//! | `e3` `q3` `s5` | one of three in the time of two, of five in the time of four: in general, in the time of the next lower power of two |
//! | `3/16` | any other value, as a part of a whole note |
//! | `,` | a breath: the next phrase begins here |
//! | `[section B]` | a section begins here |
//! | `\|:` `:\|` `::` `::\|` | a repeat begins, ends, both; one more colon is one time more |
//! | `[1` `[2` `:\|2` `[1,3` | an ending and its numbers |
//! | `\|\|` `\|]` | a double bar line, a final one inside the tune |
//! | `[segno]` `[coda]` `[to coda]` `[fine]` `[D.C. al Fine]` `[D.S. al Coda]` | jumps; `with repeats` behind one plays the repeats again |
//! | `[key F major]` `[meter 2/4]` `[tempo 90]` | a change from here on, written like the field of that name |
//! | `[pickup]` | the first bar is a pickup |
//! | `[irregular]` | this bar is as long as it is, whatever the meter says |
//!
//! A word without a value has the value of the word before it. Octaves and values are not carried from one line to the
//! next, so a line can be copied and moved.
//!
//! Every bar must be as long as its meter says. A pickup may be short, and then the last bar may be short by as much.
//!
//! # Lyrics
//!
//! A line may have `lyrics: ["Lan-terns on the wa-ter", "…"]`, one text a verse and one syllable a note: `-` parts the syllables
//! of a word, `_` holds a syllable over one more note, `~` is a space and `\-` a hyphen inside one, `|` goes on to the next
//! bar. Rests and ties take none.
//!
//! # Chords
//!
//! As many bars as the line has, separated by `|`.
//!
//! | word | what |
//! |---|---|
//! | `Am7b5`, `C/E`, `N.C.` | a chord symbol, or "no chord" |
//! | `%` | the same as the bar before |
//! | `-` | the chord before sounds on |
//! | `h` `q.` `3/8` | the value of the chord before it, as for notes; the last in a bar takes what is left |
//!
//! Chords without values share the bar equally, in whole beats: `Dm7 G7` in 4/4 is half a bar each. When that does not
//! work out, give values: `Dm7 h G7` in 3/4.

mod chords;
mod file;
mod notes;
mod read;
#[cfg(test)]
mod tests;
mod value;
mod word;
mod write_tune_ron;

pub use read::read;
pub use write_tune_ron::write;

/// Whether a file is a tune in this form, judged by how it begins.
///
/// ```
/// use fretlib::format::tune_ron;
///
/// assert!(tune_ron::looks_like(b"// for Sunday\n(title: \"Gulls over Breakfast\","));
/// assert!(!tune_ron::looks_like(b"X: 1\nT: Jetty at Dusk\n"));
/// ```
pub fn looks_like(bytes: &[u8]) -> bool {
    // An opening bracket, perhaps named, followed by the name of a field.
    let start = String::from_utf8_lossy(&bytes[..bytes.len().min(4096)]);
    let rest = without_comments(start.trim_start_matches('\u{feff}'));
    let rest = rest.strip_prefix("Tune").unwrap_or(rest);
    let Some(rest) = without_comments(rest).strip_prefix('(') else {
        return false;
    };
    let rest = without_comments(rest);
    let name_end = rest
        .find(|c: char| c != '_' && !c.is_ascii_lowercase())
        .unwrap_or(rest.len());
    let (name, rest) = rest.split_at(name_end);
    rest.is_empty() || (!name.is_empty() && without_comments(rest).starts_with(':'))
}

/// What follows white space and comments.
fn without_comments(text: &str) -> &str {
    let mut rest = text.trim_start();
    loop {
        let after = if rest.starts_with("//") {
            rest.split_once('\n').map_or("", |(_, after)| after)
        } else if rest.starts_with("/*") {
            rest.split_once("*/").map_or("", |(_, after)| after)
        } else {
            return rest;
        };
        rest = after.trim_start();
    }
}
