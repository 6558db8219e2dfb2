//! Timing and level of a take over its bars, as SVG.

use std::fmt::Write;

use fretlib::hearing::{JudgedNote, NoteVerdict, Take};
use fretlib::melody::Melody;

const WIDTH: f64 = 960.0;
const MARGIN: f64 = 60.0;
/// Height of a panel and the gap above it.
const PANEL: f64 = 150.0;
const GAP: f64 = 46.0;
/// The limits of the scales for timing (milliseconds) and level (dB).
const MOST_MS: f64 = 250.0;
const LEVELS: (f64, f64) = (-60.0, 0.0);

/// Draws the picture: a dot for each note, at its expected time.
pub fn draw(take: &Take, melody: &Melody) -> String {
    let notes: Vec<&JudgedNote> = take.notes().collect();
    let first = notes
        .iter()
        .map(|it| it.expected)
        .fold(f64::INFINITY, f64::min);
    let last = notes
        .iter()
        .map(|it| it.expected)
        .fold(first + 1.0, f64::max);
    let x = |seconds: f64| MARGIN + (WIDTH - 2.0 * MARGIN) * (seconds - first) / (last - first);
    let height = 2.0 * (PANEL + GAP) + 40.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" font-family=\"sans-serif\" \
         font-size=\"12\">\n<title>{}</title>\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"white\"/>\n",
        escaped(melody.title())
    );
    let panels = [
        (GAP, "Timing: early below, late above, in ms"),
        (2.0 * GAP + PANEL, "Level in dB below full scale"),
    ];
    for (top, caption) in panels {
        let _ = writeln!(
            svg,
            "<text x=\"{MARGIN}\" y=\"{}\">{caption}</text>\n<rect x=\"{MARGIN}\" y=\"{top}\" width=\"{}\" \
             height=\"{PANEL}\" fill=\"none\" stroke=\"#888\"/>",
            top - 8.0,
            WIDTH - 2.0 * MARGIN
        );
    }
    bar_lines(&mut svg, take, melody, &x);
    let timing = |offset: f64| {
        GAP + PANEL / 2.0 - (1000.0 * offset / MOST_MS).clamp(-1.0, 1.0) * PANEL / 2.0
    };
    let level = |db: f64| {
        let share = (db.clamp(LEVELS.0, LEVELS.1) - LEVELS.0) / (LEVELS.1 - LEVELS.0);
        2.0 * GAP + 2.0 * PANEL - share * PANEL
    };
    scale(&mut svg, timing(0.0), "0");
    scale(&mut svg, timing(0.1), "+100");
    scale(&mut svg, timing(-0.1), "-100");
    scale(&mut svg, level(-20.0), "-20");
    scale(&mut svg, level(-40.0), "-40");
    for note in notes {
        let at = x(note.expected);
        let Some(heard) = note.heard else {
            // A missing note has neither time nor level: a cross on the line.
            let y = timing(0.0);
            let _ = writeln!(
                svg,
                "<path d=\"M{:.1} {:.1}l8 8m0 -8l-8 8\" stroke=\"#b00\" stroke-width=\"2\"><title>note {} missing</title></path>",
                at - 4.0,
                y - 4.0,
                note.index + 1
            );
            continue;
        };
        let offset = note.offset().unwrap_or(0.0);
        let (fill, word) = look(note);
        let _ = writeln!(
            svg,
            "<circle cx=\"{at:.1}\" cy=\"{:.1}\" r=\"4\" fill=\"{fill}\" stroke=\"black\"><title>note {} {word} {:+.0} \
             ms</title></circle>\n<circle cx=\"{at:.1}\" cy=\"{:.1}\" r=\"3\" fill=\"#36c\"><title>note {} {:.0} \
             dB</title></circle>",
            timing(offset),
            note.index + 1,
            1000.0 * offset,
            level(heard.level_db.into()),
            note.index + 1,
            heard.level_db
        );
    }
    svg.push_str("</svg>\n");
    svg
}

/// A line and a number where a bar begins.
fn bar_lines(svg: &mut String, take: &Take, melody: &Melody, x: &dyn Fn(f64) -> f64) {
    let bar = |note: &JudgedNote| melody.bar_at(melody.notes()[note.index].onset).number;
    for pass in &take.passes {
        let mut before = None;
        let mut numbered = f64::NEG_INFINITY;
        for note in &pass.notes {
            if before.replace(bar(note)) == Some(bar(note)) {
                continue;
            }
            let at = x(note.expected);
            for top in [GAP, 2.0 * GAP + PANEL] {
                let _ = writeln!(
                    svg,
                    "<line x1=\"{at:.1}\" y1=\"{top}\" x2=\"{at:.1}\" y2=\"{}\" stroke=\"#ccc\"/>",
                    top + PANEL
                );
            }
            // Numbers that would run into one another are left out.
            if at > numbered + 22.0 {
                numbered = at;
                let _ = writeln!(
                    svg,
                    "<text x=\"{at:.1}\" y=\"{}\" text-anchor=\"middle\" fill=\"#555\">{}</text>",
                    2.0 * (GAP + PANEL) + 18.0,
                    bar(note)
                );
            }
        }
    }
}

fn scale(svg: &mut String, y: f64, label: &str) {
    let _ = writeln!(
        svg,
        "<line x1=\"{MARGIN}\" y1=\"{y:.1}\" x2=\"{}\" y2=\"{y:.1}\" stroke=\"#ddd\"/>\n<text x=\"{}\" y=\"{:.1}\" \
         text-anchor=\"end\" fill=\"#555\">{label}</text>",
        WIDTH - MARGIN,
        MARGIN - 6.0,
        y + 4.0
    );
}

/// The fill of a dot and its word; faults are dark, right and uncertain notes are light.
fn look(note: &JudgedNote) -> (&'static str, &'static str) {
    match note.verdict {
        NoteVerdict::Right => ("white", "right"),
        _ if !note.sure => ("#ddd", "not sure"),
        NoteVerdict::Wrong => ("black", "wrong"),
        NoteVerdict::Early => ("#e90", "early"),
        NoteVerdict::Late | NoteVerdict::Missing => ("#b00", "late"),
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
