//! Pages as a PDF document with embedded fonts, selectable text and tags for screen readers.

use fretlib::sheet::{Face, Ink, Mark, Page, Point, Segment, Stroke, Subject};
use std::num::NonZeroU16;

use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::configure::{ConfigurationBuilder, PdfVersion};
use krilla::geom::{Path, PathBuilder};
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::paint::{Fill, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Node, SpanTag, Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};

/// Tagged documents of PDF 1.6 and 1.7 say `/Suspects false`, which is the default and right, and which Poppler reports as
/// a syntax error on every page it opens; PDF 1.5 has no such entry, and all that these pages need.
const VERSION: PdfVersion = PdfVersion::Pdf15;
/// Points to the millimetre.
const SCALE: f64 = 72.0 / 25.4;

/// Writes pages as one PDF document; each is dropped once it is drawn.
///
/// # Errors
///
/// When a page has no size, or the document cannot be assembled.
pub fn pdf(pages: Vec<Page>, title: &str) -> Result<Vec<u8>, String> {
    let fonts = Fonts::load()?;
    let version = ConfigurationBuilder::new().with_version(VERSION).finish();
    let mut document = Document::new_with(SerializeSettings {
        enable_tagging: true,
        configuration: version.map_err(|error| format!("{error:?}"))?,
        ..SerializeSettings::default()
    });
    document.set_metadata(
        Metadata::new()
            .title(title.to_string())
            .language("en".to_string())
            .creator("neckline".to_string()),
    );
    let mut tags = TagTree::new().with_lang(Some("en".to_string()));
    for page in pages {
        let size = ((page.width * SCALE) as f32, (page.height * SCALE) as f32);
        let settings = PageSettings::from_wh(size.0, size.1)
            .ok_or_else(|| format!("a page of {} by {} mm", page.width, page.height))?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        for mark in &page.marks {
            let (kind, content) = meaning(mark);
            let identifier = surface.start_tagged(content);
            for mark in mark.flat() {
                draw(&mut surface, mark, &fonts);
            }
            surface.end_tagged();
            if let Some(kind) = kind {
                tags.push(TagGroup::with_children(kind, vec![Node::from(identifier)]));
            }
        }
        surface.finish();
        sheet.finish();
    }
    document.set_tag_tree(tags);
    document.finish().map_err(|error| format!("{error:?}"))
}

/// The role of a mark for screen readers: a heading, a described picture, a paragraph, or nothing.
fn meaning(mark: &Mark) -> (Option<TagKind>, ContentTag<'_>) {
    let layout = ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout));
    let figure = |words: String| (Some(Tag::Figure(Some(words)).into()), ContentTag::Other);
    match mark {
        Mark::Group { subject, .. } => match subject {
            Subject::Heading(level) => {
                let level = NonZeroU16::new((*level).into()).unwrap_or(NonZeroU16::MIN);
                (Some(Tag::Hn(level, None).into()), ContentTag::Other)
            }
            Subject::Figure(words) | Subject::Place(_, words) => figure(words.clone()),
            Subject::Note(_, words) => figure(words.to_string()),
            Subject::Artifact => {
                let kind = ArtifactType::PaginationOther;
                (None, ContentTag::Artifact(Artifact::with_kind(kind)))
            }
        },
        Mark::Text(_) => (Some(Tag::P.into()), ContentTag::Span(SpanTag::empty())),
        Mark::Shape { .. } | Mark::Sign(_) => (None, layout),
    }
}

struct Fonts([Font; Face::ALL.len()]);

impl Fonts {
    fn load() -> Result<Fonts, String> {
        let mut fonts = Vec::with_capacity(Face::ALL.len());
        for face in Face::ALL {
            let data = face.data().to_vec().into();
            fonts.push(Font::new(data, 0).ok_or_else(|| format!("the font {face:?}"))?);
        }
        fonts
            .try_into()
            .map(Fonts)
            .map_err(|_| "a font is missing".to_string())
    }
}

fn draw(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Shape { path, fill, stroke } => {
            let Some(path) = build(path) else { return };
            surface.set_fill(fill.map(filled));
            surface.set_stroke(stroke.map(stroked));
            surface.draw_path(&path);
            surface.set_stroke(None);
        }
        Mark::Sign(it) => {
            let text = String::from(it.sign.character());
            surface.set_fill(Some(filled(it.ink)));
            text_at(surface, &text, it.at, it.size(), Face::Music, fonts);
        }
        Mark::Text(it) => {
            surface.set_fill(Some(filled(it.ink)));
            text_at(surface, &it.text, it.start(), it.size, it.face, fonts);
        }
        Mark::Group { .. } => {}
    }
}

fn text_at(surface: &mut Surface<'_>, text: &str, at: Point, size: f64, face: Face, fonts: &Fonts) {
    let glyphs: Vec<KrillaGlyph> = text
        .char_indices()
        .map(|(from, character)| {
            let glyph = GlyphId::new(face.glyph(character).into());
            let range = from..from + character.len_utf8();
            let advance = face.advance(character) as f32;
            KrillaGlyph::new(glyph, advance, 0.0, 0.0, 0.0, range, None)
        })
        .collect();
    let font = fonts.0[face as usize].clone();
    surface.draw_glyphs(point(at), &glyphs, font, text, (size * SCALE) as f32, false);
}

fn point(at: Point) -> krilla::geom::Point {
    krilla::geom::Point::from_xy((at.x * SCALE) as f32, (at.y * SCALE) as f32)
}

fn build(path: &[Segment]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for segment in path {
        match *segment {
            Segment::Move(to) => {
                let to = point(to);
                builder.move_to(to.x, to.y);
            }
            Segment::Line(to) => {
                let to = point(to);
                builder.line_to(to.x, to.y);
            }
            Segment::Cubic(first, second, to) => {
                let (first, second, to) = (point(first), point(second), point(to));
                builder.cubic_to(first.x, first.y, second.x, second.y, to.x, to.y);
            }
            Segment::Close => builder.close(),
        }
    }
    builder.finish()
}

fn color(ink: Ink) -> rgb::Color {
    let (red, green, blue) = ink.rgb();
    rgb::Color::new(red, green, blue)
}

fn filled(ink: Ink) -> Fill {
    Fill {
        paint: color(ink).into(),
        ..Fill::default()
    }
}

fn stroked(stroke: Stroke) -> krilla::paint::Stroke {
    krilla::paint::Stroke {
        paint: color(stroke.ink).into(),
        width: (stroke.width * SCALE) as f32,
        dash: stroke.dash.map(|dash| StrokeDash {
            array: vec![(dash * SCALE) as f32; 2],
            offset: 0.0,
        }),
        ..krilla::paint::Stroke::default()
    }
}
