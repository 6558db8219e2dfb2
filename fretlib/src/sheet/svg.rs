//! A page as SVG.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::drawing::{Anchor, Ink, Mark, Page, Point, Segment, Stroke, Subject};
use super::font::Face;
use crate::one_line::is_in_xml;

/// A page as a complete SVG document with its fonts.
///
/// Signs of notation are drawn as outlines; text is text, so that it can be searched and read aloud.
pub fn svg(page: &Page, title: &str) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let (width, height) = (Number(page.width), Number(page.height));
    push(
        &mut out,
        format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\"><title>{}</title><style>{}</style>",
            Escaped(title),
            font_faces(page.flat())
        ),
    );
    write_signs(&mut out, page.flat());
    write_marks(&mut out, page);
    out.push_str("</svg>");
    out.push('\n');
    out
}

/// Writes an `<svg>` element for a document that already has the fonts and the signs.
pub(super) fn write_svg(out: &mut String, page: &Page, title: &str, class: &str) {
    let (width, height) = (Number(page.width), Number(page.height));
    push(
        out,
        format_args!(
            "<svg class=\"{class}\" role=\"group\" aria-label=\"{}\" width=\"{width}mm\" height=\"{height}mm\" \
             viewBox=\"0 0 {width} {height}\">",
            Escaped(title)
        ),
    );
    write_marks(out, page);
    out.push_str("</svg>");
}

fn write_marks(out: &mut String, page: &Page) {
    out.push_str("<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n");
    for mark in &page.marks {
        write_mark(out, mark);
    }
}

/// A definition of every sign used in these marks, to be drawn by reference.
pub(super) fn write_signs<'a>(out: &mut String, marks: impl Iterator<Item = &'a Mark>) {
    let signs: BTreeSet<char> = marks
        .filter_map(|mark| match mark {
            Mark::Sign { sign, .. } => Some(sign.character()),
            _ => None,
        })
        .collect();
    out.push_str("<defs>");
    for character in signs {
        let code = u32::from(character);
        push(out, format_args!("<path id=\"s{code:x}\" d=\""));
        write_path(out, &Face::Music.outline(character), 1000.0);
        out.push_str("\"/>");
    }
    out.push_str("</defs>\n");
}

fn write_mark(out: &mut String, mark: &Mark) {
    match mark {
        Mark::Shape { path, fill, stroke } => {
            out.push_str("<path d=\"");
            write_path(out, path, 1.0);
            push(out, format_args!("\" fill=\"{}\"", Paint(*fill)));
            if let Some(Stroke { width, ink, dash }) = stroke {
                let (paint, width) = (Paint(Some(*ink)), Number(*width));
                push(
                    out,
                    format_args!(" stroke=\"{paint}\" stroke-width=\"{width}\""),
                );
                if let Some(dash) = dash {
                    push(out, format_args!(" stroke-dasharray=\"{}\"", Number(*dash)));
                }
            }
            out.push_str("/>\n");
        }
        Mark::Sign {
            sign,
            at,
            space,
            ink,
        } => {
            let (x, y, scale) = (Number(at.x), Number(at.y), Fine(space * 4.0 / 1000.0));
            let code = u32::from(sign.character());
            push(
                out,
                format_args!(
                    "<use href=\"#s{code:x}\" transform=\"translate({x} {y}) scale({scale})\" fill=\"{}\"/>\n",
                    Paint(Some(*ink))
                ),
            );
        }
        Mark::Text(text) => {
            let anchor = match text.anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let (family, weight, style) = css(text.face);
            push(
                out,
                format_args!(
                    "<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-family=\"{family}\" font-weight=\"{weight}\" \
                     font-style=\"{style}\" text-anchor=\"{anchor}\" fill=\"{}\">{}</text>\n",
                    Number(text.at.x),
                    Number(text.at.y),
                    Number(text.size),
                    Paint(Some(text.ink)),
                    Escaped(&text.text)
                ),
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
            for mark in marks {
                write_mark(out, mark);
            }
            out.push_str("</g>\n");
        }
    }
}

fn write_path(out: &mut String, path: &[Segment], scale: f64) {
    let pair = |point: Point| (Number(point.x * scale), Number(point.y * scale));
    for segment in path {
        match *segment {
            Segment::Move(to) => {
                let (x, y) = pair(to);
                push(out, format_args!("M{x} {y}"));
            }
            Segment::Line(to) => {
                let (x, y) = pair(to);
                push(out, format_args!("L{x} {y}"));
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

/// `@font-face` rules for the faces that these marks use.
pub(super) fn font_faces<'a>(marks: impl Iterator<Item = &'a Mark>) -> String {
    let mut used = [false; Face::ALL.len()];
    for mark in marks {
        if let Mark::Text(text) = mark {
            used[text.face as usize] = true;
        }
    }
    let mut out = String::from("text{font-kerning:none;font-variant-ligatures:none}");
    for face in Face::ALL.into_iter().filter(|face| used[*face as usize]) {
        let data: &[u8] = match face {
            Face::Music => continue,
            Face::Text => include_bytes!("../../fonts/text.woff2"),
            Face::Italic => include_bytes!("../../fonts/italic.woff2"),
            Face::Bold => include_bytes!("../../fonts/bold.woff2"),
            Face::Label => include_bytes!("../../fonts/label.woff2"),
            Face::Figure => include_bytes!("../../fonts/figure.woff2"),
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
        let hundredths = (self.0 * 100.0).round() as i64;
        let (whole, part) = (hundredths.abs() / 100, hundredths.abs() % 100);
        if hundredths < 0 {
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
        write!(f, "{:.6}", self.0)
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
