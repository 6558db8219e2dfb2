//! A sheet as one HTML file: pages for wide screens and printers, a strip for phones, the notes in words.

use std::convert::Infallible;

use super::drawing::Ink;
use super::page::{Answers, Paper, Sheet, pages, strip};
use super::page_score::score;
use super::svg::{Escaped, Shared, push, write_svg};
use super::words;

/// Width of the strip in millimetres, and of the screen below which it is shown in CSS pixels.
const STRIP_WIDTH: f64 = 100.0;
const NARROW: u32 = 700;

/// Writes a sheet as one HTML file that needs nothing else.
///
/// A click on a note, or Enter when it has the focus, frames it on the staff, in the tablature and on every neck. Arrow
/// keys go from note to note, Escape removes the frames.
pub fn html(sheet: &Sheet<'_>, paper: Paper) -> String {
    let mut out = String::new();
    let written: Result<(), Infallible> = html_in_pieces(sheet, paper, |piece| {
        out.push_str(piece);
        Ok(())
    });
    match written {
        Ok(()) => out,
    }
}

/// Like [`html()`], handed on in pieces: the file of a long tune has more than a kilobyte a note.
///
/// # Errors
///
/// What `piece` gives; nothing is handed on after that.
pub fn html_in_pieces<E>(
    sheet: &Sheet<'_>,
    paper: Paper,
    mut piece: impl FnMut(&str) -> Result<(), E>,
) -> Result<(), E> {
    let mut hand_on = |out: &mut String| {
        if out.len() < PIECE {
            return Ok(());
        }
        let handed_on = piece(out);
        out.clear();
        handed_on
    };
    // The strip is laid out again when its turn comes: in memory, drawings are larger than their text.
    let of_strip = Shared::of([&strip(sheet, STRIP_WIDTH)]);
    let pages = pages(sheet, paper);
    let shared = Shared::of(&pages).with(of_strip);
    let title = match sheet.tune.melody.title() {
        "" => "Untitled",
        title => title,
    };
    let mut out = String::with_capacity(2 * PIECE);
    push(
        &mut out,
        format_args!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none';style-src 'unsafe-inline';\
             script-src 'unsafe-inline';font-src data:\">\n<title>{}</title>\n<style>\n",
            Escaped(title)
        ),
    );
    out.push_str(&shared.font_faces());
    push(
        &mut out,
        format_args!("{}\n{}", shared.looks.rules(), style(paper)),
    );
    out.push_str("</style>\n</head>\n<body>\n");
    push(&mut out, format_args!("<h1>{}</h1>\n", Escaped(title)));
    out.push_str(HINT);
    let score = score(sheet);
    if score.is_some() {
        out.push_str(PLAYER);
    }
    // The signs, shared by all drawings.
    out.push_str("<svg width=\"0\" height=\"0\" aria-hidden=\"true\" class=\"signs\">");
    shared.write_signs(&mut out);
    out.push_str("</svg>\n<main>\n<div class=\"pages\">\n");
    let count = pages.len();
    for (index, page) in pages.into_iter().enumerate() {
        let name = format!("{title}, page {} of {count}", index + 1);
        push(
            &mut out,
            format_args!("<h2>Page {} of {count}</h2>\n", index + 1),
        );
        write_svg(&mut out, &page, &name, "page", &shared.looks, &mut hand_on)?;
        out.push('\n');
    }
    out.push_str("</div>\n<div class=\"strip\">\n");
    let strip = strip(sheet, STRIP_WIDTH);
    write_svg(&mut out, &strip, title, "", &shared.looks, &mut hand_on)?;
    drop(strip);
    out.push_str("\n</div>\n");
    if sheet.answers == Answers::Printed {
        write_table(&mut out, sheet, &mut hand_on)?;
    }
    out.push_str("</main>\n<p id=\"said\" aria-live=\"polite\"></p>\n");
    if let Some(score) = score {
        push(
            &mut out,
            format_args!("<script type=\"application/json\" id=\"score\">{score}</script>\n"),
        );
    }
    out.push_str("<script>\n\"use strict\";\n");
    out.push_str(SOUND_SCRIPT);
    out.push_str(SCRIPT);
    out.push_str("</script>\n</body>\n</html>\n");
    piece(&out)
}

/// The bytes that are gathered before they are handed on.
const PIECE: usize = 1 << 16;

const HINT: &str = "<p class=\"hint\">Click a note, or walk with the arrow keys and press Enter, to see where it lies on \
                    every neck. Escape takes the frames away.</p>\n";

const PLAYER: &str = "<p class=\"player\"><button id=\"play\" type=\"button\">Play</button> <label for=\"tempo\">Tempo</label> \
                      <input id=\"tempo\" type=\"range\" min=\"30\" max=\"120\" step=\"5\" value=\"100\"> \
                      <output for=\"tempo\">100%</output> \
                      <label><input id=\"chords\" type=\"checkbox\"> Chords</label> \
                      <label><input id=\"click\" type=\"checkbox\"> Click</label><br>The space bar plays and stops; two framed notes make a loop.</p>\n";

const SCRIPT: &str = include_str!("sheet.js");
const SOUND_SCRIPT: &str = include_str!("sheet_sound.js");

fn style(paper: Paper) -> String {
    let (width, height) = paper.size();
    let (red, green, blue) = Ink::Accent.rgb();
    format!(
        "body{{margin:0;background:#e8e8e8;font:1rem/1.5 'Neckline Text',Georgia,serif}}\n\
         h1,h2{{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}}\n\
         summary h2{{position:static;display:inline;width:auto;height:auto;clip-path:none;font-size:1rem}}\n\
         .hint{{margin:.8rem auto;max-width:40rem;padding:0 1rem;text-align:center;color:#333}}\n\
         .player{{margin:.8rem auto;max-width:40rem;padding:0 1rem;text-align:center;color:#333}}\n\
         .player button{{font:inherit;min-width:5rem}}.player input{{vertical-align:middle}}\n\
         .sounds{{fill:rgb({red},{green},{blue});fill-opacity:.25;stroke:rgb({red},{green},{blue});stroke-width:.4;\
         pointer-events:none}}\n\
         .signs{{position:absolute}}\n\
         svg.page{{display:block;max-width:96vw;height:auto;margin:1rem auto;background:#fff;box-shadow:0 1px 4px #0004}}\n\
         .strip svg{{display:block;width:100%;height:auto}}\n.strip{{display:none}}\n\
         .note,.place{{cursor:pointer}}\n.note:focus,.place:focus{{outline:none}}\n\
         .halo{{fill:none;stroke:rgb({red},{green},{blue});stroke-width:.7;pointer-events:none}}\n\
         .here{{fill:none;stroke:#000;stroke-width:.35;stroke-dasharray:1;pointer-events:none}}\n\
         #said{{position:fixed;left:0;right:0;bottom:0;margin:0;padding:.4rem 1rem;background:#fff;border-top:2px solid \
         rgb({red},{green},{blue});text-align:center}}\n#said:empty{{display:none}}\n\
         details{{max-width:45rem;margin:1rem auto 4rem;padding:0 1rem}}\n\
         table{{border-collapse:collapse;width:100%}}\nth,td{{text-align:left;padding:.1rem .6rem;border-bottom:1px solid #bbb}}\n\
         @media screen and (max-width:{NARROW}px){{.pages{{display:none}}.strip{{display:block}}}}\n\
         @page{{size:{width}mm {height}mm;margin:0}}\n\
         @media print{{body{{background:none}}.hint,.player,.strip,details,#said,.here,.sounds,.signs{{display:none}}\n\
         svg.page{{margin:0;box-shadow:none;max-width:none;width:{width}mm;height:{height}mm;break-after:page}}\n\
         svg.page:last-child{{break-after:auto}}}}\n"
    )
}

fn write_table<E>(
    out: &mut String,
    sheet: &Sheet<'_>,
    mut hand_on: impl FnMut(&mut String) -> Result<(), E>,
) -> Result<(), E> {
    out.push_str(
        "<details>\n<summary><h2>The melody in words</h2></summary>\n<table>\n<thead><tr><th scope=\"col\">Note</th>\
         <th scope=\"col\">Bar</th><th scope=\"col\">Pitch</th><th scope=\"col\">Degree</th>\
         <th scope=\"col\">Place</th></tr></thead>\n<tbody>\n",
    );
    for (index, note) in sheet.tune.notes.iter().enumerate() {
        let place = match sheet.tune.places.get(index).copied().flatten() {
            Some(it) => format!("string {} fret {}", it.place.string, it.place.fret),
            None => String::new(),
        };
        push(
            out,
            format_args!(
                "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{place}</td></tr>\n",
                index + 1,
                note.bar,
                words::spoken(&note.note.pitch.to_string()),
                words::spoken(&note.degree.to_string()),
            ),
        );
        hand_on(out)?;
    }
    out.push_str("</tbody>\n</table>\n</details>\n");
    Ok(())
}
