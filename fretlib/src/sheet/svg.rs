//! A page as SVG.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::drawing::{Anchor, Ink, Mark, Page, Point, Segment, Subject};
use super::font::Face;
use crate::one_line::is_in_xml;

/// A page as a complete SVG document with its fonts.
///
/// Signs of notation are drawn as outlines; text is text, so that it can be searched and read aloud.
pub fn svg(page: &Page, title: &str) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let shared = Shared::of([page]);
    let (width, height) = (Number(page.width), Number(page.height));
    push(
        &mut out,
        format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\"><title>{}</title><style>{}{}</style>",
            Escaped(title),
            shared.font_faces(),
            shared.looks.rules()
        ),
    );
    shared.write_signs(&mut out);
    out.push_str(PAPER);
    write_marks(&mut out, &page.marks, &shared.looks);
    out.push_str("</svg>");
    out.push('\n');
    out
}

/// The paper of a drawing.
const PAPER: &str = "<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n";

/// Writes an `<svg>` element for a document that already has the fonts, the signs and the rules of the looks.
///
/// `hand_on` gets the text after each mark of the page, and may take it.
pub(super) fn write_svg<E>(
    out: &mut String,
    page: &Page,
    title: &str,
    class: &str,
    looks: &Looks,
    mut hand_on: impl FnMut(&mut String) -> Result<(), E>,
) -> Result<(), E> {
    let (width, height) = (Number(page.width), Number(page.height));
    push(
        out,
        format_args!(
            "<svg class=\"{class}\" role=\"group\" aria-label=\"{}\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\">",
            Escaped(title)
        ),
    );
    out.push_str(PAPER);
    for run in runs(&page.marks) {
        write_run(out, run, looks);
        hand_on(out)?;
    }
    out.push_str("</svg>");
    Ok(())
}

/// Writes marks in their order; lines of one look that follow each other are one path.
fn write_marks(out: &mut String, marks: &[Mark], looks: &Looks) {
    for run in runs(marks) {
        write_run(out, run, looks);
    }
}

/// Marks in their order: lines of one look that follow each other, or a single mark.
fn runs(marks: &[Mark]) -> impl Iterator<Item = &[Mark]> {
    let line = |mark: &Mark| Look::of(mark).filter(Look::is_line);
    marks.chunk_by(move |one, next| line(one).is_some() && line(one) == line(next))
}

fn write_run(out: &mut String, marks: &[Mark], looks: &Looks) {
    match Look::of(&marks[0]) {
        Some(look @ Look::Shape { .. }) => {
            push(
                out,
                format_args!("<path class=\"{}\" d=\"", looks.name(look)),
            );
            for mark in marks {
                if let Mark::Shape { path, .. } = mark {
                    write_path(out, path, 1.0);
                }
            }
            out.push_str("\"/>\n");
        }
        _ => write_mark(out, &marks[0], looks),
    }
}

/// What the drawings of a document share, and its head defines.
#[derive(Default)]
pub(super) struct Shared {
    pub looks: Looks,
    /// How much of each font is used.
    fonts: [Option<Script>; Face::ALL.len()],
    /// The signs of notation.
    signs: BTreeSet<char>,
}

impl Shared {
    pub fn of<'a>(pages: impl IntoIterator<Item = &'a Page>) -> Shared {
        let mut shared = Shared::default();
        for mark in pages.into_iter().flat_map(Page::flat) {
            if let Some(look) = Look::of(mark) {
                shared.looks.add(look);
            }
            match mark {
                Mark::Text(text) => {
                    let used = &mut shared.fonts[text.face as usize];
                    *used = (*used).max(Some(Script::of(&text.text)));
                }
                Mark::Sign(it) => drop(shared.signs.insert(it.sign.character())),
                Mark::Shape { .. } | Mark::Group { .. } => {}
            }
        }
        shared
    }

    /// What these drawings share with others.
    pub fn with(mut self, others: Shared) -> Shared {
        for look in others.looks.0 {
            self.looks.add(look);
        }
        for (used, other) in self.fonts.iter_mut().zip(others.fonts) {
            *used = (*used).max(other);
        }
        self.signs.extend(others.signs);
        self
    }

    /// A definition of every sign, to be drawn by reference.
    pub fn write_signs(&self, out: &mut String) {
        out.push_str("<defs>");
        for character in &self.signs {
            let code = u32::from(*character);
            push(out, format_args!("<path id=\"s{code:x}\" d=\""));
            write_path(out, &Face::Music.outline(*character), 1000.0);
            out.push_str("\"/>");
        }
        out.push_str("</defs>\n");
    }

    /// `@font-face` rules for the faces in use.
    pub fn font_faces(&self) -> String {
        let mut out = String::from("text{font-kerning:none;font-variant-ligatures:none}");
        for face in Face::ALL {
            let Some(script) = self.fonts[face as usize] else {
                continue;
            };
            macro_rules! woff2 {
                ($name:literal) => {
                    match script {
                        Script::Basic => {
                            include_bytes!(concat!("../../fonts/", $name, "_basic.woff2"))
                        }
                        Script::Any => include_bytes!(concat!("../../fonts/", $name, ".woff2")),
                    }
                };
            }
            let data: &[u8] = match face {
                Face::Music => continue,
                Face::Text => woff2!("text"),
                Face::Italic => woff2!("italic"),
                Face::Bold => woff2!("bold"),
                Face::Label => woff2!("label"),
                Face::Figure => woff2!("figure"),
            };
            let (family, weight, style) = css(face);
            let family = family.split(',').next().unwrap_or(family);
            push(
                &mut out,
                format_args!(
                    "@font-face{{font-family:{family};font-weight:{weight};font-style:{style};src:url(data:font/woff2;base64,"
                ),
            );
            write_base64(&mut out, data);
            out.push_str(") format('woff2')}");
        }
        out
    }
}

fn write_mark(out: &mut String, mark: &Mark, looks: &Looks) {
    match mark {
        Mark::Shape { .. } => {}
        Mark::Sign(it) => {
            let (x, y, scale) = (Number(it.at.x), Number(it.at.y), Fine(it.size() / 1000.0));
            let code = u32::from(it.sign.character());
            push(
                out,
                format_args!(
                    "<use href=\"#s{code:x}\" transform=\"translate({x} {y}) scale({scale})\""
                ),
            );
            if it.ink != Ink::Black {
                push(out, format_args!(" fill=\"{}\"", Paint(Some(it.ink))));
            }
            out.push_str("/>\n");
        }
        Mark::Text(text) => {
            let (x, y) = (Number(text.at.x), Number(text.at.y));
            let class = Look::of(mark)
                .map(|look| looks.name(look))
                .unwrap_or_default();
            let text = Escaped(&text.text);
            push(
                out,
                format_args!("<text class=\"{class}\" x=\"{x}\" y=\"{y}\">{text}</text>\n"),
            );
        }
        Mark::Group { subject, marks } => {
            match subject {
                Subject::Heading(level) => push(
                    out,
                    format_args!("<g role=\"heading\" aria-level=\"{level}\">\n"),
                ),
                Subject::Artifact => out.push_str("<g aria-hidden=\"true\">\n"),
                Subject::Figure(words) => push(
                    out,
                    format_args!("<g role=\"group\" aria-label=\"{}\">\n", Escaped(words)),
                ),
                Subject::Note(number, words) => push(
                    out,
                    format_args!(
                        "<g class=\"note\" data-notes=\"{number}\" aria-label=\"{}\">\n",
                        Escaped(words)
                    ),
                ),
                Subject::Place(numbers, words) => {
                    let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
                    push(
                        out,
                        format_args!(
                            "<g class=\"place\" data-notes=\"{}\" aria-label=\"{}\">\n",
                            numbers.join(" "),
                            Escaped(words)
                        ),
                    );
                }
            }
            write_marks(out, marks, looks);
            out.push_str("</g>\n");
        }
    }
}

/// How a text or a shape looks, wherever it is. Lengths are in hundredths of a millimetre.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Look {
    Text {
        face: Face,
        size: i64,
        anchor: Anchor,
        ink: Ink,
    },
    Shape {
        fill: Option<Ink>,
        /// Width, ink and dash.
        stroke: Option<(i64, Ink, Option<i64>)>,
    },
}

impl Look {
    fn of(mark: &Mark) -> Option<Look> {
        match mark {
            Mark::Text(text) => Some(Look::Text {
                face: text.face,
                size: hundredths(text.size),
                anchor: text.anchor,
                ink: text.ink,
            }),
            Mark::Shape { fill, stroke, .. } => Some(Look::Shape {
                fill: *fill,
                stroke: stroke.map(|it| (hundredths(it.width), it.ink, it.dash.map(hundredths))),
            }),
            Mark::Sign(_) | Mark::Group { .. } => None,
        }
    }

    /// True for unbroken lines: drawn as one path they look no different.
    fn is_line(&self) -> bool {
        matches!(
            self,
            Look::Shape {
                fill: None,
                stroke: Some((_, _, None))
            }
        )
    }

    /// Its CSS, without what holds anyhow.
    fn write_rule(self, out: &mut String) {
        match self {
            Look::Text {
                face,
                size,
                anchor,
                ink,
            } => {
                let (family, weight, style) = css(face);
                push(
                    out,
                    format_args!("font-family:{family};font-size:{}px", Hundredths(size)),
                );
                if weight != 400 {
                    push(out, format_args!(";font-weight:{weight}"));
                }
                if style != "normal" {
                    push(out, format_args!(";font-style:{style}"));
                }
                match anchor {
                    Anchor::Start => {}
                    Anchor::Middle => out.push_str(";text-anchor:middle"),
                    Anchor::End => out.push_str(";text-anchor:end"),
                }
                if ink != Ink::Black {
                    push(out, format_args!(";fill:{}", Paint(Some(ink))));
                }
            }
            Look::Shape { fill, stroke } => {
                push(out, format_args!("fill:{}", Paint(fill)));
                if let Some((width, ink, dash)) = stroke {
                    let (paint, width) = (Paint(Some(ink)), Hundredths(width));
                    push(out, format_args!(";stroke:{paint};stroke-width:{width}"));
                    if let Some(dash) = dash {
                        push(out, format_args!(";stroke-dasharray:{}", Hundredths(dash)));
                    }
                }
            }
        }
    }
}

/// The looks of a document, each with a class of its own: hundreds of marks share a dozen.
#[derive(Default)]
pub(super) struct Looks(Vec<Look>);

impl Looks {
    fn add(&mut self, look: Look) {
        if !self.0.contains(&look) {
            self.0.push(look);
        }
    }

    /// Their CSS.
    pub(super) fn rules(&self) -> String {
        let mut out = String::new();
        for look in &self.0 {
            push(&mut out, format_args!(".{}{{", self.name(*look)));
            look.write_rule(&mut out);
            out.push('}');
        }
        out
    }

    /// The class of a look.
    fn name(&self, look: Look) -> String {
        let number = self.0.iter().position(|it| *it == look);
        number.map_or(String::new(), |number| format!("m{number}"))
    }
}

fn write_path(out: &mut String, path: &[Segment], scale: f64) {
    let pair = |point: Point| (Number(point.x * scale), Number(point.y * scale));
    let mut pen: Option<Point> = None;
    for segment in path {
        let from = match *segment {
            Segment::Move(to) | Segment::Line(to) | Segment::Cubic(_, _, to) => pen.replace(to),
            Segment::Close => pen.take(),
        };
        match *segment {
            Segment::Move(to) => {
                let (x, y) = pair(to);
                push(out, format_args!("M{x} {y}"));
            }
            Segment::Line(to) => {
                let (x, y) = pair(to);
                match from {
                    Some(from) if from.y == to.y => push(out, format_args!("H{x}")),
                    Some(from) if from.x == to.x => push(out, format_args!("V{y}")),
                    _ => push(out, format_args!("L{x} {y}")),
                }
            }
            Segment::Cubic(first, second, to) => {
                let ((x1, y1), (x2, y2), (x, y)) = (pair(first), pair(second), pair(to));
                push(out, format_args!("C{x1} {y1} {x2} {y2} {x} {y}"));
            }
            Segment::Close => out.push('Z'),
        }
    }
}

/// Family, weight and style of a face.
const fn css(face: Face) -> (&'static str, u16, &'static str) {
    const TEXT: &str = "'Neckline Text','Linux Libertine',Georgia,serif";
    const LABEL: &str = "'Neckline Label','Linux Biolinum',Optima,sans-serif";
    match face {
        Face::Music => ("'Neckline Music'", 400, "normal"),
        Face::Text => (TEXT, 400, "normal"),
        Face::Italic => (TEXT, 400, "italic"),
        Face::Bold => (TEXT, 700, "normal"),
        Face::Label => (LABEL, 400, "normal"),
        Face::Figure => (LABEL, 700, "normal"),
    }
}

/// How much of a font a text needs.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
enum Script {
    /// ASCII and [`Script::SIGNS`]: a third of the bytes.
    Basic,
    Any,
}

impl Script {
    /// What the smaller fonts hold beside ASCII; `fonts/make_fonts.py` has the same list.
    const SIGNS: &[char] = &[
        '\u{a0}', '°', '·', '×', 'ø', '–', '—', '‘', '’', '“', '”', '…', '←', '↑', '→', '↓', '−',
        '△', '♭', '♮', '♯',
    ];

    fn of(text: &str) -> Script {
        let is_basic = |c: char| c.is_ascii() || Script::SIGNS.contains(&c);
        match text.chars().all(is_basic) {
            true => Script::Basic,
            false => Script::Any,
        }
    }
}

/// Source: RFC 4648, section 4.
fn write_base64(out: &mut String, data: &[u8]) {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    out.reserve(data.len().div_ceil(3) * 4);
    for three in data.chunks(3) {
        let bits = three.iter().enumerate().fold(0u32, |bits, (index, byte)| {
            bits | u32::from(*byte) << (16 - 8 * index)
        });
        for index in 0..4 {
            let digit = DIGITS[(bits >> (18 - 6 * index)) as usize & 63];
            out.push(if index <= three.len() {
                char::from(digit)
            } else {
                '='
            });
        }
    }
}

struct Paint(Option<Ink>);

impl std::fmt::Display for Paint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0.map(Ink::rgb) {
            None => f.write_str("none"),
            Some((red, green, blue)) => write!(f, "#{red:02x}{green:02x}{blue:02x}"),
        }
    }
}

/// A number with at most two places after the point: a hundredth of a millimetre is finer than any printer.
struct Number(f64);

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        Hundredths(hundredths(self.0)).fmt(f)
    }
}

fn hundredths(number: f64) -> i64 {
    (number * 100.0).round() as i64
}

struct Hundredths(i64);

impl std::fmt::Display for Hundredths {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (whole, part) = (self.0.abs() / 100, self.0.abs() % 100);
        if self.0 < 0 {
            f.write_char('-')?;
        }
        match part {
            0 => write!(f, "{whole}"),
            part if part % 10 == 0 => write!(f, "{whole}.{}", part / 10),
            part => write!(f, "{whole}.{part:02}"),
        }
    }
}

/// A small number, such as a scale.
struct Fine(f64);

impl std::fmt::Display for Fine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(format!("{:.6}", self.0).trim_end_matches('0'))
    }
}

/// Escapes text, so that it cannot end an element or an attribute.
pub(super) struct Escaped<'a>(pub &'a str);

impl std::fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for character in self.0.chars() {
            match character {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                // Not allowed in XML even when escaped.
                other if other.is_control() || !is_in_xml(other) => f.write_char(' ')?,
                other => f.write_char(other)?,
            }
        }
        Ok(())
    }
}

/// Writing to a string cannot fail.
pub(super) fn push(out: &mut String, text: std::fmt::Arguments<'_>) {
    let written = out.write_fmt(text);
    debug_assert!(written.is_ok());
}

#[cfg(test)]
mod tests {
    use super::super::drawing::Stroke;
    use super::*;

    #[test]
    fn numbers_are_short() {
        let cases = [
            (0.0, "0"),
            (-0.001, "0"),
            (12.0, "12"),
            (1.5, "1.5"),
            (-3.456, "-3.46"),
            (0.05, "0.05"),
            (9.999, "10"),
        ];
        for (number, text) in cases {
            assert_eq!(Number(number).to_string(), text);
        }
    }

    // Source: the test vectors of RFC 4648, section 10.
    #[test]
    fn base64_agrees_with_the_standard() {
        let cases = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foobar", "Zm9vYmFy"),
        ];
        for (data, text) in cases {
            let mut out = String::new();
            write_base64(&mut out, data.as_bytes());
            assert_eq!(out, text);
        }
    }

    #[test]
    fn the_smaller_fonts_hold_what_they_are_said_to() {
        for face in Face::ALL.into_iter().filter(|face| *face != Face::Music) {
            let signs = (' '..='~').chain(Script::SIGNS.iter().copied());
            let missing: String = signs.filter(|sign| face.glyph(*sign) == 0).collect();
            assert_eq!(missing, "", "{face:?}");
        }
        assert_eq!(Script::of("D#m7♭5 – “high”"), Script::Basic);
        assert_eq!(Script::of("Über den See"), Script::Any);
    }

    #[test]
    fn lines_of_one_look_are_one_path() {
        let line = |x: f64, y: f64, width: f64| Mark::Shape {
            path: vec![
                Segment::Move(Point::new(0.0, 0.0)),
                Segment::Line(Point::new(x, y)),
            ],
            fill: None,
            stroke: Some(Stroke::solid(width, Ink::Black)),
        };
        let marks = vec![
            line(9.0, 0.0, 0.2),
            line(0.0, 9.0, 0.2),
            line(9.0, 9.0, 0.3),
        ];
        let mut looks = Looks::default();
        for mark in &marks {
            looks.add(Look::of(mark).unwrap());
        }
        let mut out = String::new();
        write_marks(&mut out, &marks, &looks);
        assert_eq!(
            out,
            "<path class=\"m0\" d=\"M0 0H9M0 0V9\"/>\n<path class=\"m1\" d=\"M0 0L9 9\"/>\n"
        );
        assert_eq!(
            looks.rules(),
            ".m0{fill:none;stroke:#000000;stroke-width:0.2}.m1{fill:none;stroke:#000000;stroke-width:0.3}"
        );
    }

    #[test]
    fn text_from_a_file_is_escaped() {
        let page = Page {
            width: 10.0,
            height: 10.0,
            marks: vec![Mark::text(
                "<script>alert(\"x\")</script>&'",
                Point::new(1.0, 2.0),
                3.0,
                Face::Text,
                Anchor::Start,
            )],
        };
        let out = svg(&page, "</title><script>");
        assert!(!out.contains("<script"), "{out}");
        assert!(out.contains("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&amp;&#39;"));
        assert!(out.contains("<title>&lt;/title&gt;&lt;script&gt;</title>"));
    }

    #[test]
    fn characters_that_xml_cannot_hold_become_spaces() {
        assert_eq!(
            Escaped("Pier\u{fffe}9\u{1b}\u{ffff}").to_string(),
            "Pier 9  "
        );
    }
}
