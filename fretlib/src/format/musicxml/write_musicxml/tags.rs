//! The tags of a score, written to memory.

use crate::one_line::is_in_xml;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// XML being written. Writing to memory does not fail, so results are ignored.
pub(super) struct Tags(Writer<Vec<u8>>);

/// Names of attributes with their values.
pub(super) type Attributes<'a> = &'a [(&'a str, &'a str)];

impl Tags {
    /// A document with its XML declaration.
    pub(super) fn new() -> Tags {
        let mut xml = Writer::new_with_indent(Vec::new(), b' ', 1);
        let _ = xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
        Tags(xml)
    }

    /// What was written since this was last asked for.
    pub(super) fn take(&mut self) -> String {
        // Only text was written.
        String::from_utf8(std::mem::take(self.0.get_mut())).unwrap_or_default()
    }

    pub(super) fn open(&mut self, name: &str, attributes: Attributes<'_>) {
        let start = BytesStart::new(name.to_owned()).with_attributes(attributes.iter().copied());
        let _ = self.0.write_event(Event::Start(start));
    }

    pub(super) fn close(&mut self, name: &str) {
        let _ = self
            .0
            .write_event(Event::End(BytesEnd::new(name.to_owned())));
    }

    pub(super) fn empty(&mut self, name: &str, attributes: Attributes<'_>) {
        let _ = self
            .0
            .create_element(name)
            .with_attributes(attributes.iter().copied())
            .write_empty();
    }

    pub(super) fn text(&mut self, name: &str, text: &str) {
        self.text_with(name, &[], text);
    }

    pub(super) fn text_with(&mut self, name: &str, attributes: Attributes<'_>, text: &str) {
        let _ = self
            .0
            .create_element(name)
            .with_attributes(attributes.iter().copied())
            .write_text_content(BytesText::new(&in_xml(text)));
    }

    pub(super) fn number(&mut self, name: &str, number: impl ToString) {
        self.text(name, &number.to_string());
    }
}

/// Text without the characters that XML cannot hold, even escaped.
fn in_xml(text: &str) -> String {
    text.chars().filter(|c| is_in_xml(*c)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_that_xml_cannot_hold_are_left_out() {
        let mut tags = Tags::new();
        tags.text("title", "Pier\u{fffe} & \u{1b}[2JLamp\u{ffff}\tღ");
        let text = tags.take();
        assert!(
            text.ends_with("<title>Pier &amp; [2JLamp\tღ</title>"),
            "{text}"
        );
    }
}
