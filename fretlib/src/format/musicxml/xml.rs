//! Reading the elements of an XML text one by one, with places for errors.

use std::borrow::Cow;

use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

use crate::format::{Diagnostic, Location};

/// Turns the bytes of an XML file into text: UTF-8, UTF-16 with a byte order mark, or Latin-1 where the file says so.
///
/// Source: XML 1.0 (fifth edition), appendix F, on telling encodings apart.
pub(super) fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, Diagnostic> {
    let utf_16 = |rest: &[u8], unit: fn([u8; 2]) -> u16| {
        let units = rest.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
        Cow::Owned(
            char::decode_utf16(units)
                .map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER))
                .collect(),
        )
    };
    match bytes {
        [0xFE, 0xFF, rest @ ..] => return Ok(utf_16(rest, u16::from_be_bytes)),
        [0xFF, 0xFE, rest @ ..] => return Ok(utf_16(rest, u16::from_le_bytes)),
        _ => {}
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(_) if declares_latin_1(bytes) => {
            Ok(bytes.iter().map(|byte| char::from(*byte)).collect())
        }
        Err(error) => Err(Diagnostic {
            at: Location::Byte(error.valid_up_to()),
            problem: "this is not text: the bytes are not UTF-8".into(),
            hint: Some("save the file again as MusicXML, in UTF-8 or UTF-16".into()),
        }),
    }
}

fn declares_latin_1(bytes: &[u8]) -> bool {
    let declaration = &bytes[..bytes.len().min(100)];
    let end = declaration
        .windows(2)
        .position(|pair| pair == b"?>")
        .unwrap_or(0);
    declaration.starts_with(b"<?xml")
        && String::from_utf8_lossy(&declaration[..end])
            .to_lowercase()
            .contains("iso-8859-1")
}

/// A reader of elements, their children and their text.
///
/// Nothing outside the text is ever fetched; only the five entities of XML and characters by number are expanded.
/// Nesting uses no stack: skipped elements are counted.
pub(super) struct Xml<'a> {
    text: &'a str,
    reader: Reader<&'a [u8]>,
}

impl<'a> Xml<'a> {
    pub(super) fn new(text: &'a str) -> Xml<'a> {
        let mut reader = Reader::from_str(text);
        let config = reader.config_mut();
        config.expand_empty_elements = true;
        config.allow_dangling_amp = true;
        Xml { text, reader }
    }

    /// The root element.
    pub(super) fn root(&mut self) -> Result<BytesStart<'a>, Diagnostic> {
        self.child()?
            .ok_or_else(|| self.fault("there is no element in it", "is this a MusicXML file?"))
    }

    /// The next child of the element that is open; `None` when the element ends.
    ///
    /// A child must be read or skipped before the next one is requested.
    pub(super) fn child(&mut self) -> Result<Option<BytesStart<'a>>, Diagnostic> {
        loop {
            match self.event()? {
                Event::Start(start) => return Ok(Some(start)),
                Event::End(_) => return Ok(None),
                Event::Eof => return Err(self.cut()),
                _ => {}
            }
        }
    }

    /// Skips an element whose start was just read.
    pub(super) fn skip(&mut self, start: &BytesStart) -> Result<(), Diagnostic> {
        self.reader
            .read_to_end(start.name())
            .map(|_| ())
            .map_err(|error| self.broken(&error))
    }

    /// The text of the element whose start was just read, without the white space around it; child elements are skipped.
    pub(super) fn text(&mut self) -> Result<Cow<'a, str>, Diagnostic> {
        let mut text: Cow<'a, str> = Cow::Borrowed("");
        let mut add = |part: Cow<'a, str>| {
            if text.is_empty() {
                text = part;
            } else {
                text.to_mut().push_str(&part);
            }
        };
        loop {
            match self.event()? {
                Event::Text(part) => add(part.into_inner()),
                Event::CData(part) => add(part.into_inner()),
                Event::GeneralRef(name) => match (
                    name.resolve_char_ref(),
                    quick_xml::escape::resolve_predefined_entity(&name),
                ) {
                    (Ok(Some(character)), _) => add(Cow::Owned(character.into())),
                    (_, Some(character)) => add(Cow::Borrowed(character)),
                    _ => {}
                },
                Event::Start(start) => self.skip(&start)?,
                Event::End(_) => break,
                Event::Eof => return Err(self.cut()),
                _ => {}
            }
        }
        Ok(match text {
            Cow::Borrowed(text) => Cow::Borrowed(text.trim()),
            Cow::Owned(text) => Cow::Owned(text.trim().to_owned()),
        })
    }

    /// The value of an attribute, when it is there and well formed.
    pub(super) fn attribute<'s>(start: &'s BytesStart, name: &str) -> Option<Cow<'s, str>> {
        let attribute = start.try_get_attribute(name).ok()??;
        attribute.normalized_value(XmlVersion::Implicit1_0).ok()
    }

    /// An error at the current place.
    pub(super) fn fault(&self, problem: impl Into<String>, hint: &str) -> Diagnostic {
        self.fault_at(self.reader.buffer_position(), problem, hint)
    }

    fn fault_at(&self, offset: u64, problem: impl Into<String>, hint: &str) -> Diagnostic {
        let mut offset = usize::try_from(offset).unwrap_or(0).min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = &self.text[..offset];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        Diagnostic {
            at: Location::Text {
                line: before.bytes().filter(|byte| *byte == b'\n').count() + 1,
                column: before[line_start..].chars().count() + 1,
            },
            problem: problem.into(),
            hint: (!hint.is_empty()).then(|| hint.into()),
        }
    }

    fn event(&mut self) -> Result<Event<'a>, Diagnostic> {
        self.reader
            .read_event()
            .map_err(|error| self.broken(&error))
    }

    fn broken(&self, error: &quick_xml::Error) -> Diagnostic {
        self.fault_at(
            self.reader.error_position(),
            format!("the XML is broken here: {error}"),
            "export the score again, or take the file from where it came from once more",
        )
    }

    fn cut(&self) -> Diagnostic {
        self.fault(
            "the file ends in the middle of the score",
            "it was cut short: take it from where it came from once more",
        )
    }
}
