//! A page as a picture.

use fretlib::sheet::{Face, Ink, Mark, Page, Point, Segment, Stroke};
use tiny_skia::{
    Color, FillRule, LineCap, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform,
};

/// Draws a page as PNG, with so many dots to the inch.
///
/// # Errors
///
/// When the picture would have no size, or too great a one for the memory.
pub fn png(page: &Page, dots_per_inch: f64) -> Result<Vec<u8>, String> {
    let scale = dots_per_inch / 25.4;
    let (width, height) = (page.width * scale, page.height * scale);
    let mut pixmap = Pixmap::new(width.round() as u32, height.round() as u32)
        .ok_or_else(|| format!("a picture of {width:.0} by {height:.0} dots cannot be made"))?;
    pixmap.fill(Color::WHITE);
    for mark in page.flat() {
        draw(&mut pixmap, mark, scale as f32);
    }
    pixmap.encode_png().map_err(|error| error.to_string())
}

fn draw(pixmap: &mut Pixmap, mark: &Mark, scale: f32) {
    match mark {
        Mark::Shape { path, fill, stroke } => {
            let Some(path) = build(path, 1.0, Point::new(0.0, 0.0)) else {
                return;
            };
            let transform = Transform::from_scale(scale, scale);
            if let Some(ink) = fill {
                pixmap.fill_path(&path, &paint(*ink), FillRule::Winding, transform, None);
            }
            if let Some(Stroke { width, ink, dash }) = stroke {
                let stroke = tiny_skia::Stroke {
                    width: *width as f32,
                    line_cap: LineCap::Butt,
                    dash: dash
                        .and_then(|dash| StrokeDash::new(vec![dash as f32, dash as f32], 0.0)),
                    ..tiny_skia::Stroke::default()
                };
                pixmap.stroke_path(&path, &paint(*ink), &stroke, transform, None);
            }
        }
        Mark::Sign {
            sign,
            at,
            space,
            ink,
        } => glyph(
            pixmap,
            Face::Music,
            sign.character(),
            *at,
            space * 4.0,
            *ink,
            scale,
        ),
        Mark::Text {
            text,
            at,
            size,
            face,
            anchor,
            ink,
        } => {
            let mut pen = anchor.start(text, *at, *size, *face);
            for character in text.chars() {
                glyph(pixmap, *face, character, pen, *size, *ink, scale);
                pen.x += face.advance(character) * size;
            }
        }
        Mark::Group { .. } => {}
    }
}

fn glyph(
    pixmap: &mut Pixmap,
    face: Face,
    character: char,
    at: Point,
    size: f64,
    ink: Ink,
    scale: f32,
) {
    if let Some(path) = build(&face.outline(character), size, at) {
        let transform = Transform::from_scale(scale, scale);
        pixmap.fill_path(&path, &paint(ink), FillRule::Winding, transform, None);
    }
}

fn build(path: &[Segment], size: f64, at: Point) -> Option<Path> {
    let place = |point: Point| {
        (
            (at.x + point.x * size) as f32,
            (at.y + point.y * size) as f32,
        )
    };
    let mut builder = PathBuilder::new();
    for segment in path {
        match *segment {
            Segment::Move(to) => {
                let (x, y) = place(to);
                builder.move_to(x, y);
            }
            Segment::Line(to) => {
                let (x, y) = place(to);
                builder.line_to(x, y);
            }
            Segment::Cubic(first, second, to) => {
                let ((x1, y1), (x2, y2), (x, y)) = (place(first), place(second), place(to));
                builder.cubic_to(x1, y1, x2, y2, x, y);
            }
            Segment::Close => builder.close(),
        }
    }
    builder.finish()
}

fn paint(ink: Ink) -> Paint<'static> {
    let (red, green, blue) = ink.rgb();
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, 255);
    paint
}
