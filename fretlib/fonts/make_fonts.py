"""Cuts the fonts of the sheet out of their originals: the glyphs needed, outlines only, under names of our own.

Both originals are under the SIL Open Font License 1.1 with reserved names, so what is cut from them is renamed.

    pip install fonttools brotli
    python make_fonts.py BRAVURA.otf METADATA.json LIBERTINE_FOLDER

BRAVURA.otf and METADATA.json are Bravura 1.392 (Steinberg); LIBERTINE_FOLDER is the folder of .otf files in the
Debian package fonts-linuxlibertine 5.3.0.
"""

import json
import sys
from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.misc.transform import Transform
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.transformPen import TransformPen
from fontTools.subset import Options, Subsetter, load_font, save_font
from fontTools.ttLib import TTFont

# SMuFL names and code points; src/sheet/font.rs has the same list.
MUSIC = {
    "segno": 0xE047, "coda": 0xE048,
    "gClef": 0xE050, "gClef8vb": 0xE052, "fClef": 0xE062, "fClef8vb": 0xE064,
    **{f"timeSig{digit}": 0xE080 + digit for digit in range(10)},
    "timeSigCommon": 0xE08A, "timeSigCutCommon": 0xE08B,
    "noteheadDoubleWhole": 0xE0A0, "noteheadWhole": 0xE0A2, "noteheadHalf": 0xE0A3, "noteheadBlack": 0xE0A4,
    "augmentationDot": 0xE1E7,
    "flag8thUp": 0xE240, "flag8thDown": 0xE241, "flag16thUp": 0xE242, "flag16thDown": 0xE243,
    "flag32ndUp": 0xE244, "flag32ndDown": 0xE245, "flag64thUp": 0xE246, "flag64thDown": 0xE247,
    "accidentalFlat": 0xE260, "accidentalNatural": 0xE261, "accidentalSharp": 0xE262,
    "accidentalDoubleSharp": 0xE263, "accidentalDoubleFlat": 0xE264,
    "restDoubleWhole": 0xE4E2, "restWhole": 0xE4E3, "restHalf": 0xE4E4, "restQuarter": 0xE4E5,
    "rest8th": 0xE4E6, "rest16th": 0xE4E7, "rest32nd": 0xE4E8, "rest64th": 0xE4E9,
    **{f"tuplet{digit}": 0xE880 + digit for digit in range(10)},
    "tupletColon": 0xE88A,
    "metNoteHalfUp": 0xECA3, "metNoteQuarterUp": 0xECA5, "metNote8thUp": 0xECA7, "metAugmentationDot": 0xECB7,
}
FACES = {
    "text": ("LinLibertine_R", "Neckline Text", "Regular"),
    "italic": ("LinLibertine_RI", "Neckline Text", "Italic"),
    "bold": ("LinLibertine_RZ", "Neckline Text", "Bold"),
    "label": ("LinBiolinum_R", "Neckline Label", "Regular"),
    "figure": ("LinBiolinum_RB", "Neckline Label", "Bold"),
}
TEXT = (
    list(range(0x20, 0x7F)) + list(range(0xA0, 0x180)) + list(range(0x218, 0x21C)) + list(range(0x370, 0x400))
    + list(range(0x400, 0x460)) + list(range(0x2010, 0x2027)) + [0x2030, 0x2032, 0x2033, 0x2039, 0x203A, 0x2044]
    + [0x20AC, 0x2116, 0x2190, 0x2191, 0x2192, 0x2193, 0x2206, 0x2212, 0x2260, 0x2264, 0x2265, 0x25B3]
)
# src/sheet/svg.rs has the same list.
BASIC = list(range(0x20, 0x7F)) + [ord(sign) for sign in "\u00a0°·×ø–—‘’“”…←↑→↓−△♭♮♯"]
ACCIDENTALS = {0x266D: "accidentalFlat", 0x266E: "accidentalNatural", 0x266F: "accidentalSharp"}


def outline(glyphs, name, transform=None):
    pen = T2CharStringPen(glyphs[name].width, glyphs)
    glyphs[name].draw(TransformPen(pen, transform) if transform else pen)
    return pen.getCharString()


def build(order, cmap, strings, advances, family, style, ascent, descent, note):
    font = FontBuilder(1000, isTTF=False)
    font.setupGlyphOrder(order)
    font.setupCharacterMap(cmap)
    font.setupCFF(family.replace(" ", "") + "-" + style, {"FullName": f"{family} {style}"}, strings, {})
    font.setupHorizontalMetrics({name: (advances[name], 0) for name in order})
    font.setupHorizontalHeader(ascent=ascent, descent=-descent)
    font.setupNameTable({
        "copyright": note, "familyName": family, "styleName": style, "fullName": f"{family} {style}",
        "psName": family.replace(" ", "") + "-" + style,
        "licenseDescription": "SIL Open Font License, Version 1.1",
    })
    font.setupOS2(sTypoAscender=ascent, sTypoDescender=-descent, usWinAscent=ascent, usWinDescent=descent)
    font.setupPost()
    font.font["head"].created = font.font["head"].modified = 0
    return font.font


def music(path, metadata):
    source = TTFont(path)
    glyphs, names = source.getGlyphSet(), source.getBestCmap()
    wanted = {code: names[code] for code in MUSIC.values()}
    order = [".notdef", *wanted.values()]
    font = build(
        order, wanted, {name: outline(glyphs, name) for name in order}, {name: glyphs[name].width for name in order},
        "Neckline Music", "Regular", 1000, 1000,
        "Copyright (c) 2021 Steinberg Media Technologies GmbH; cut down and renamed",
    )
    font.save("music.otf")
    kept = {
        "source": f"{metadata['fontName']} {metadata['fontVersion']}, metadata of the font, cut to the glyphs used",
        "engravingDefaults": {k: v for k, v in metadata["engravingDefaults"].items() if k != "textFontFamily"},
        **{part: {name: metadata[part][name] for name in MUSIC if name in metadata[part]}
           for part in ("glyphAdvanceWidths", "glyphBBoxes", "glyphsWithAnchors")},
    }
    Path("music.json").write_text(json.dumps(kept, indent=1) + "\n")
    return glyphs, names


def text(folder, bravura, bravura_names):
    for file, (original, family, style) in FACES.items():
        source = TTFont(Path(folder) / f"{original}.otf")
        glyphs, names = source.getGlyphSet(), source.getBestCmap()
        cmap = {code: names[code] for code in TEXT if code in names}
        order = [".notdef", *dict.fromkeys(cmap.values())]
        strings = {name: outline(glyphs, name) for name in order}
        advances = {name: round(glyphs[name].width) for name in order}
        for code, name in ACCIDENTALS.items():
            # As tall as a capital and a little more, standing on the line, the way chord symbols are set.
            glyph = bravura_names[MUSIC[name]]
            pen = BoundsPen(bravura)
            bravura[glyph].draw(pen)
            left, bottom, right, top = pen.bounds
            scale = (700 if code == 0x266D else 780) / (top - bottom)
            base = -20 if code == 0x266D else -75
            place = Transform(scale, 0, 0, scale, 30 - left * scale, base - bottom * scale)
            cmap[code] = name
            order.append(name)
            strings[name] = outline(bravura, glyph, place)
            advances[name] = round((right - left) * scale) + 60
        font = build(
            order, cmap, strings, advances, family, style, 894, 246,
            "Copyright (c) 2003-2012 Philipp H. Poll; accidentals (c) 2021 Steinberg Media Technologies GmbH; "
            "cut down and renamed",
        )
        font.save(f"{file}.otf")
        font.flavor = "woff2"
        font.save(f"{file}.woff2")
        basic(file)


def basic(file):
    """The smaller font for pages with no more than ASCII and a few signs."""
    options = Options()
    options.flavor = "woff2"
    options.layout_features = []
    font = load_font(f"{file}.otf", options)
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=BASIC)
    subsetter.subset(font)
    save_font(font, f"{file}_basic.woff2", options)


if __name__ == "__main__":
    bravura_path, metadata_path, libertine = sys.argv[1:]
    text(libertine, *music(bravura_path, json.loads(Path(metadata_path).read_text())))
