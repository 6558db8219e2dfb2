//! A page as a picture in greys; nothing on a page depends on colour alone.

use std::collections::HashMap;

use fretlib::sheet::{Face, Ink, Mark, Page, Point, Segment, Stroke};
use tiny_skia::{
    Color, FillRule, LineCap, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform,
};

/// Draws a page as PNG, at this many dots to the inch.
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
    let mut painter = Painter {
        pixmap,
        scale: scale as f32,
        outlines: HashMap::new(),
    };
    for mark in page.flat() {
        painter.draw(mark);
    }
    encode(&painter.pixmap).map_err(|error| error.to_string())
}

/// The picture in 8 bits of grey: a quarter of the bytes, and it compresses well.
fn encode(pixmap: &Pixmap) -> Result<Vec<u8>, png::EncodingError> {
    let greys: Vec<u8> = pixmap.data().chunks_exact(4).map(grey).collect();
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, pixmap.width(), pixmap.height());
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    encoder.write_header()?.write_image_data(&greys)?;
    Ok(bytes)
}

/// Luma of an opaque pixel.
///
/// Source: ITU-R BT.601, from memory: 0.299 R + 0.587 G + 0.114 B; here in 256ths.
fn grey(pixel: &[u8]) -> u8 {
    const WEIGHTS: [u32; 3] = [77, 150, 29];
    let sum: u32 = WEIGHTS
        .iter()
        .zip(pixel)
        .map(|(weight, value)| weight * u32::from(*value))
        .sum();
    (sum >> 8) as u8
}

struct Painter {
    pixmap: Pixmap,
    /// Dots to the millimetre.
    scale: f32,
    /// Outlines of the characters met so far, at size 1.
    outlines: HashMap<(Face, char), Option<Path>>,
}

impl Painter {
    fn draw(&mut self, mark: &Mark) {
        match mark {
            Mark::Shape { path, fill, stroke } => {
                let Some(path) = build(path) else {
                    return;
                };
                let transform = Transform::from_scale(self.scale, self.scale);
                if let Some(ink) = fill {
                    let rule = FillRule::Winding;
                    self.pixmap
                        .fill_path(&path, &paint(*ink), rule, transform, None);
                }
                if let Some(Stroke { width, ink, dash }) = stroke {
                    let stroke = tiny_skia::Stroke {
                        width: *width as f32,
                        line_cap: LineCap::Butt,
                        dash: dash.and_then(|dash| StrokeDash::new(vec![dash as f32; 2], 0.0)),
                        ..tiny_skia::Stroke::default()
                    };
                    self.pixmap
                        .stroke_path(&path, &paint(*ink), &stroke, transform, None);
                }
            }
            Mark::Sign(it) => {
                self.glyph(Face::Music, it.sign.character(), it.at, it.size(), it.ink);
            }
            Mark::Text(text) => {
                for (character, at) in text.characters() {
                    self.glyph(text.face, character, at, text.size, text.ink);
                }
            }
            Mark::Group { .. } => {}
        }
    }

    fn glyph(&mut self, face: Face, character: char, at: Point, size: f64, ink: Ink) {
        let outline = self.outlines.entry((face, character));
        if let Some(path) = outline.or_insert_with(|| build(&face.outline(character))) {
            let size = size as f32 * self.scale;
            let (x, y) = (at.x as f32 * self.scale, at.y as f32 * self.scale);
            let transform = Transform::from_row(size, 0.0, 0.0, size, x, y);
            self.pixmap
                .fill_path(path, &paint(ink), FillRule::Winding, transform, None);
        }
    }
}

fn build(path: &[Segment]) -> Option<Path> {
    let place = |point: Point| (point.x as f32, point.y as f32);
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
