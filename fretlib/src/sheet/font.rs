//! The fonts of a page and the metrics of their glyphs.

use once_cell::sync::Lazy;
use ttf_parser::{GlyphId, OutlineBuilder};

use super::drawing::{Point, Segment};

/// A font that comes with the library; `fonts/README.md` says where each is from.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Face {
    /// Signs of notation, at the code points of SMuFL.
    Music,
    /// Running text.
    Text,
    /// Titles of parts, tempo words.
    Italic,
    /// Titles and chord symbols.
    Bold,
    /// Small print.
    Label,
    /// Figures on strings and necks.
    Figure,
}

impl Face {
    /// Every face.
    pub const ALL: [Face; 6] = [
        Face::Music,
        Face::Text,
        Face::Italic,
        Face::Bold,
        Face::Label,
        Face::Figure,
    ];

    /// The font file, OpenType.
    pub const fn data(self) -> &'static [u8] {
        match self {
            Face::Music => include_bytes!("../../fonts/music.otf"),
            Face::Text => include_bytes!("../../fonts/text.otf"),
            Face::Italic => include_bytes!("../../fonts/italic.otf"),
            Face::Bold => include_bytes!("../../fonts/bold.otf"),
            Face::Label => include_bytes!("../../fonts/label.otf"),
            Face::Figure => include_bytes!("../../fonts/figure.otf"),
        }
    }

    /// The glyph number of a character; 0 is the box for a missing glyph.
    pub fn glyph(self, character: char) -> u16 {
        self.parsed()
            .glyph_index(character)
            .map_or(0, |glyph| glyph.0)
    }

    /// The advance of a character, in units of the type size.
    pub fn advance(self, character: char) -> f64 {
        let glyph = GlyphId(self.glyph(character));
        f64::from(self.parsed().glyph_hor_advance(glyph).unwrap_or(0)) / self.units()
    }

    /// The width of a line of text at a type size, in the unit of the size.
    ///
    /// No format kerns pairs, so that all of them break and centre lines alike.
    pub fn width(self, text: &str, size: f64) -> f64 {
        size * text.chars().map(|it| self.advance(it)).sum::<f64>()
    }

    /// The outline of a character in units of the type size, y downwards from the base line.
    pub fn outline(self, character: char) -> Vec<Segment> {
        let mut pen = Pen {
            scale: 1.0 / self.units(),
            path: Vec::new(),
        };
        self.parsed()
            .outline_glyph(GlyphId(self.glyph(character)), &mut pen);
        pen.path
    }

    /// The edges of a character's ink around its origin in units of the type size, y downwards: left, top, right, bottom;
    /// `None` for a space.
    pub(super) fn ink(self, character: char) -> Option<(f64, f64, f64, f64)> {
        let ink = self
            .parsed()
            .glyph_bounding_box(GlyphId(self.glyph(character)))?;
        let units = self.units();
        let scaled = |edge: i16| f64::from(edge) / units;
        Some((
            scaled(ink.x_min),
            -scaled(ink.y_max),
            scaled(ink.x_max),
            -scaled(ink.y_min),
        ))
    }

    fn units(self) -> f64 {
        f64::from(self.parsed().units_per_em())
    }

    fn parsed(self) -> &'static ttf_parser::Face<'static> {
        static PARSED: Lazy<[ttf_parser::Face<'static>; 6]> = Lazy::new(|| {
            Face::ALL.map(|face| match ttf_parser::Face::parse(face.data(), 0) {
                Ok(parsed) => parsed,
                Err(error) => unreachable!("{face:?} ships with the library: {error}"),
            })
        });
        &PARSED[self as usize]
    }
}

struct Pen {
    scale: f64,
    path: Vec<Segment>,
}

impl Pen {
    fn point(&self, x: f32, y: f32) -> Point {
        Point::new(f64::from(x) * self.scale, -f64::from(y) * self.scale)
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.path.push(Segment::Move(self.point(x, y)));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.path.push(Segment::Line(self.point(x, y)));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        // A quadratic curve is the cubic whose handles lie two thirds of the way to its one control point.
        let control = self.point(x1, y1);
        let to = self.point(x, y);
        let from = match self.path.last() {
            Some(Segment::Move(at) | Segment::Line(at) | Segment::Cubic(_, _, at)) => *at,
            Some(Segment::Close) | None => control,
        };
        let handle = |end: Point| end.toward(control, 2.0 / 3.0);
        self.path.push(Segment::Cubic(handle(from), handle(to), to));
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (first, second, to) = (self.point(x1, y1), self.point(x2, y2), self.point(x, y));
        self.path.push(Segment::Cubic(first, second, to));
    }

    fn close(&mut self) {
        self.path.push(Segment::Close);
    }
}

/// A sign of notation.
///
/// Source: the code points are those of SMuFL 1.4, the Standard Music Font Layout (W3C Music Notation Community Group).
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
#[allow(missing_docs)]
pub enum Sign {
    TrebleClef,
    TrebleClefOctaveDown,
    BassClef,
    BassClefOctaveDown,
    Segno,
    Coda,
    TimeDigit(u8),
    CommonTime,
    CutTime,
    NoteheadBreve,
    NoteheadWhole,
    NoteheadHalf,
    NoteheadBlack,
    Dot,
    /// The number of flags, 1 to 4, on a stem that points up.
    FlagUp(u8),
    /// The number of flags, 1 to 4, on a stem that points down.
    FlagDown(u8),
    Flat,
    Natural,
    Sharp,
    DoubleSharp,
    DoubleFlat,
    RestBreve,
    RestWhole,
    RestHalf,
    RestQuarter,
    /// The number of hooks, 1 to 4: an eighth rest has one.
    RestHooked(u8),
    TupletDigit(u8),
    TupletColon,
    MetronomeHalf,
    MetronomeQuarter,
    MetronomeEighth,
    MetronomeDot,
}

impl Sign {
    /// The accidental for an alteration, up to the four that a chord tone may carry.
    pub(super) const fn of_alteration(alteration: i8) -> &'static [Sign] {
        match alteration {
            ..=-4 => &[Sign::DoubleFlat, Sign::DoubleFlat],
            -3 => &[Sign::Flat, Sign::DoubleFlat],
            -2 => &[Sign::DoubleFlat],
            -1 => &[Sign::Flat],
            0 => &[Sign::Natural],
            1 => &[Sign::Sharp],
            2 => &[Sign::DoubleSharp],
            3 => &[Sign::Sharp, Sign::DoubleSharp],
            4.. => &[Sign::DoubleSharp, Sign::DoubleSharp],
        }
    }

    /// The character of the music font.
    pub const fn character(self) -> char {
        let code = match self {
            Sign::TrebleClef => 0xE050,
            Sign::TrebleClefOctaveDown => 0xE052,
            Sign::BassClef => 0xE062,
            Sign::BassClefOctaveDown => 0xE064,
            Sign::Segno => 0xE047,
            Sign::Coda => 0xE048,
            Sign::TimeDigit(digit) => 0xE080 + (digit % 10) as u32,
            Sign::CommonTime => 0xE08A,
            Sign::CutTime => 0xE08B,
            Sign::NoteheadBreve => 0xE0A0,
            Sign::NoteheadWhole => 0xE0A2,
            Sign::NoteheadHalf => 0xE0A3,
            Sign::NoteheadBlack => 0xE0A4,
            Sign::Dot => 0xE1E7,
            Sign::FlagUp(count) => 0xE240 + 2 * hooks(count),
            Sign::FlagDown(count) => 0xE241 + 2 * hooks(count),
            Sign::Flat => 0xE260,
            Sign::Natural => 0xE261,
            Sign::Sharp => 0xE262,
            Sign::DoubleSharp => 0xE263,
            Sign::DoubleFlat => 0xE264,
            Sign::RestBreve => 0xE4E2,
            Sign::RestWhole => 0xE4E3,
            Sign::RestHalf => 0xE4E4,
            Sign::RestQuarter => 0xE4E5,
            Sign::RestHooked(count) => 0xE4E6 + hooks(count),
            Sign::TupletDigit(digit) => 0xE880 + (digit % 10) as u32,
            Sign::TupletColon => 0xE88A,
            Sign::MetronomeHalf => 0xECA3,
            Sign::MetronomeQuarter => 0xECA5,
            Sign::MetronomeEighth => 0xECA7,
            Sign::MetronomeDot => 0xECB7,
        };
        match char::from_u32(code) {
            Some(character) => character,
            None => char::REPLACEMENT_CHARACTER,
        }
    }

    /// How far its ink extends below its origin, in staff spaces.
    pub(super) fn bottom(self) -> f64 {
        let ink = Face::Music.ink(self.character());
        ink.map_or(0.0, |(_, _, _, bottom)| 4.0 * bottom)
    }

    /// Its advance in staff spaces.
    pub fn advance(self) -> f64 {
        // SMuFL: the type size of a music font is four staff spaces.
        4.0 * Face::Music.advance(self.character())
    }
}

/// Code points follow each other from the eighth to the sixty-fourth.
const fn hooks(count: u8) -> u32 {
    match count {
        0 | 1 => 0,
        2 => 1,
        3 => 2,
        _ => 3,
    }
}

/// Where an upward stem meets a notehead, in staff spaces: x and height above its middle.
///
/// Source: the font's own metadata, `stemUpSE` and `stemDownNW` of noteheadBlack and noteheadHalf (fonts/music.json).
pub(super) const STEM_UP: (f64, f64) = (1.18, 0.168);
/// Where a downward stem meets a notehead: x and height below its middle.
pub(super) const STEM_DOWN: (f64, f64) = (0.0, 0.168);

/// Thicknesses and distances in staff spaces.
///
/// Source: the font's own metadata, `engravingDefaults` (fonts/music.json).
pub(super) mod defaults {
    pub const STAFF_LINE: f64 = 0.13;
    pub const STEM: f64 = 0.12;
    pub const BEAM: f64 = 0.5;
    pub const BEAM_GAP: f64 = 0.25;
    pub const LEDGER_LINE: f64 = 0.16;
    pub const LEDGER_EXTENSION: f64 = 0.4;
    pub const THIN_BAR_LINE: f64 = 0.16;
    pub const THICK_BAR_LINE: f64 = 0.5;
    pub const BAR_LINE_GAP: f64 = 0.4;
    pub const TIE_MIDDLE: f64 = 0.22;
    pub const TIE_END: f64 = 0.1;
    pub const TUPLET_BRACKET: f64 = 0.16;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metadata() -> serde_json::Value {
        serde_json::from_str(include_str!("../../fonts/music.json")).unwrap()
    }

    const NAMED: [(Sign, &str); 30] = [
        (Sign::Segno, "segno"),
        (Sign::Coda, "coda"),
        (Sign::TrebleClef, "gClef"),
        (Sign::TrebleClefOctaveDown, "gClef8vb"),
        (Sign::BassClef, "fClef"),
        (Sign::BassClefOctaveDown, "fClef8vb"),
        (Sign::TimeDigit(0), "timeSig0"),
        (Sign::TimeDigit(9), "timeSig9"),
        (Sign::NoteheadBreve, "noteheadDoubleWhole"),
        (Sign::NoteheadWhole, "noteheadWhole"),
        (Sign::NoteheadHalf, "noteheadHalf"),
        (Sign::NoteheadBlack, "noteheadBlack"),
        (Sign::Dot, "augmentationDot"),
        (Sign::FlagUp(1), "flag8thUp"),
        (Sign::FlagDown(1), "flag8thDown"),
        (Sign::FlagUp(2), "flag16thUp"),
        (Sign::FlagDown(4), "flag64thDown"),
        (Sign::Flat, "accidentalFlat"),
        (Sign::Natural, "accidentalNatural"),
        (Sign::Sharp, "accidentalSharp"),
        (Sign::DoubleSharp, "accidentalDoubleSharp"),
        (Sign::DoubleFlat, "accidentalDoubleFlat"),
        (Sign::RestBreve, "restDoubleWhole"),
        (Sign::RestWhole, "restWhole"),
        (Sign::RestHalf, "restHalf"),
        (Sign::RestQuarter, "restQuarter"),
        (Sign::RestHooked(1), "rest8th"),
        (Sign::RestHooked(4), "rest64th"),
        (Sign::MetronomeQuarter, "metNoteQuarterUp"),
        (Sign::MetronomeDot, "metAugmentationDot"),
    ];

    #[test]
    fn signs_are_as_large_as_the_font_says() {
        let metadata = metadata();
        for (sign, name) in NAMED {
            let points: Vec<Point> = Face::Music
                .outline(sign.character())
                .iter()
                .filter_map(|segment| match segment {
                    Segment::Move(to) | Segment::Line(to) | Segment::Cubic(_, _, to) => Some(*to),
                    Segment::Close => None,
                })
                .collect();
            let corner = |corner: &str, axis: usize| {
                metadata["glyphBBoxes"][name][corner][axis]
                    .as_f64()
                    .unwrap()
            };
            let top = points.iter().map(|it| -4.0 * it.y).fold(f64::MIN, f64::max);
            let right = points.iter().map(|it| 4.0 * it.x).fold(f64::MIN, f64::max);
            // Outlines have points at their extremes, except for some curves of flags.
            assert!((top - corner("bBoxNE", 1)).abs() < 0.1, "{name}: {top}");
            assert!((right - corner("bBoxNE", 0)).abs() < 0.1, "{name}: {right}");
            if let Some(advance) = metadata["glyphAdvanceWidths"][name].as_f64() {
                assert!((sign.advance() - advance).abs() < 0.01, "{name}");
            }
        }
    }

    #[test]
    fn thicknesses_and_anchors_are_the_fonts_own() {
        let metadata = metadata();
        let ours = [
            ("staffLineThickness", defaults::STAFF_LINE),
            ("stemThickness", defaults::STEM),
            ("beamThickness", defaults::BEAM),
            ("beamSpacing", defaults::BEAM_GAP),
            ("legerLineThickness", defaults::LEDGER_LINE),
            ("legerLineExtension", defaults::LEDGER_EXTENSION),
            ("thinBarlineThickness", defaults::THIN_BAR_LINE),
            ("thickBarlineThickness", defaults::THICK_BAR_LINE),
            ("barlineSeparation", defaults::BAR_LINE_GAP),
            ("tieMidpointThickness", defaults::TIE_MIDDLE),
            ("tieEndpointThickness", defaults::TIE_END),
            ("tupletBracketThickness", defaults::TUPLET_BRACKET),
        ];
        for (name, value) in ours {
            let said = metadata["engravingDefaults"][name].as_f64();
            assert_eq!(said, Some(value), "{name}");
        }
        for head in ["noteheadBlack", "noteheadHalf"] {
            let anchors = &metadata["glyphsWithAnchors"][head];
            let point = |name: &str, axis: usize| anchors[name][axis].as_f64().unwrap();
            assert_eq!(STEM_UP, (point("stemUpSE", 0), point("stemUpSE", 1)));
            assert_eq!(STEM_DOWN, (point("stemDownNW", 0), -point("stemDownNW", 1)));
        }
    }

    #[test]
    fn every_face_can_print_names() {
        for face in Face::ALL.into_iter().filter(|face| *face != Face::Music) {
            for character in "AZaz09♯♭♮éøΔž−–…·½".chars() {
                assert_ne!(face.glyph(character), 0, "{character} in {face:?}");
            }
        }
    }
}
