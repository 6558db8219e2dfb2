//! Changes in RON text that leave all else as it stands: comments, spaces, the order of fields.

use std::ops::Range;

/// What became of one entry of a list.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum ListEntry {
    /// It stands there already as it is to be, as the entry with this index.
    Same(usize),
    /// It takes the place of the entry with this index.
    Changed(usize),
    /// It comes after the one before it.
    New,
}

/// Where the fields of a struct stand: `(name: value, …)`, perhaps named.
struct Fields<'a> {
    text: &'a str,
    /// After the opening bracket.
    start: usize,
    fields: Vec<EntryField>,
}

#[derive(Clone)]
struct EntryField {
    whole: Range<usize>,
    name: Range<usize>,
    value: Range<usize>,
}

/// The entries of the list in a field of the outermost struct; empty when there is none.
pub(super) fn entries(text: &str, list: &str) -> Vec<Range<usize>> {
    let fields = Fields::read(text, 0..text.len());
    let field = fields.and_then(|fields| fields.named(list).cloned());
    field
        .and_then(|field| elements(text, &field.value))
        .unwrap_or_default()
}

/// `old` made to say what `new` says. Both are a struct of simple fields and one list of structs; `entries` says where each
/// entry of the new list comes from. `None` when a text is not of that kind.
pub(super) fn changed(old: &str, new: &str, list: &str, entries: &[ListEntry]) -> Option<String> {
    let before = Fields::read(old, 0..old.len())?;
    let now = Fields::read(new, 0..new.len())?;
    let new_list = now.named(list)?;
    let new_entries = elements(new, &new_list.value)?;
    if new_entries.len() != entries.len() {
        return None;
    }
    let mut edits = Edits::default();
    before.change(&now, Some(list), &mut edits);
    let Some(old_list) = before.named(list) else {
        edits.add_field(&before, &new[new_list.whole.clone()]);
        return edits.made(old);
    };
    let old_entries = elements(old, &old_list.value)?;
    let mut after = None;
    for (entry, range) in entries.iter().zip(&new_entries) {
        match entry {
            ListEntry::Same(at) => after = Some(*at),
            ListEntry::Changed(at) => {
                let one = Fields::read(old, old_entries.get(*at)?.clone())?;
                let other = Fields::read(new, range.clone())?;
                one.change(&other, None, &mut edits);
                after = Some(*at);
            }
            ListEntry::New => edits.add_entry(
                old,
                &old_list.value,
                after.map(|at: usize| &old_entries[at]),
                &new[range.clone()],
            ),
        }
    }
    let stays = |at: usize| {
        (entries.iter())
            .any(|it| matches!(it, ListEntry::Same(it) | ListEntry::Changed(it) if *it == at))
    };
    let gone = old_entries.iter().enumerate().filter(|(at, _)| !stays(*at));
    for (_, range) in gone {
        edits.remove(old, range);
    }
    // What was written on one line ends on a line of its own.
    let end = old_list.value.end - 1;
    let tail = &old[old_entries
        .last()
        .map_or(old_list.value.start, |last| last.end)..end];
    if entries.contains(&ListEntry::New) && !tail.contains('\n') {
        edits.put(end..end, "\n    ");
    }
    edits.made(old)
}

impl<'a> Fields<'a> {
    fn read(text: &'a str, range: Range<usize>) -> Option<Fields<'a>> {
        let text = &text[..range.end];
        let at = after_blanks(text, range.start);
        let at = after_blanks(text, after_name(text, at));
        if byte(text, at) != Some(b'(') {
            return None;
        }
        let start = at + 1;
        let mut fields = Vec::new();
        let mut at = after_blanks(text, start);
        while byte(text, at)? != b')' {
            let name = at..after_name(text, at);
            let colon = after_blanks(text, name.end);
            if name.is_empty() || byte(text, colon)? != b':' {
                return None;
            }
            let begin = after_blanks(text, colon + 1);
            let value = begin..value_end(text, begin)?;
            at = after_blanks(text, value.end);
            fields.push(EntryField {
                whole: name.start..value.end,
                name,
                value,
            });
            if byte(text, at)? == b',' {
                at = after_blanks(text, at + 1);
            }
        }
        Some(Fields {
            text,
            start,
            fields,
        })
    }

    fn named(&self, name: &str) -> Option<&EntryField> {
        let is_it = |field: &&EntryField| &self.text[field.name.clone()] == name;
        self.fields.iter().find(is_it)
    }

    /// Changes these fields into those, all but one.
    fn change(&self, now: &Fields, but: Option<&str>, edits: &mut Edits) {
        for field in &now.fields {
            let name = &now.text[field.name.clone()];
            let value = &now.text[field.value.clone()];
            match self.named(name) {
                _ if but == Some(name) => {}
                Some(old) if bare(&self.text[old.value.clone()]) == bare(value) => {}
                Some(old) => edits.put(old.value.clone(), value),
                None => edits.add_field(self, &now.text[field.whole.clone()]),
            }
        }
        for field in &self.fields {
            let name = &self.text[field.name.clone()];
            if but != Some(name) && now.named(name).is_none() {
                edits.remove(self.text, &field.whole);
            }
        }
    }
}

/// Pieces of text and what comes in their place.
#[derive(Default)]
struct Edits {
    pieces: Vec<(Range<usize>, String)>,
    /// Where a comma was put in that was missing.
    comma: Option<usize>,
}

impl Edits {
    fn put(&mut self, range: Range<usize>, text: &str) {
        self.pieces.push((range, text.to_owned()));
    }

    /// Adds a field: before the first one where each has a line, else after the last.
    fn add_field(&mut self, fields: &Fields, field: &str) {
        let Some(first) = fields.fields.first() else {
            return self.put(fields.start..fields.start, &format!("{field},"));
        };
        if fields.text[fields.start..first.whole.start].contains('\n') {
            self.put(
                first.whole.start..first.whole.start,
                &format!("{field},\n    "),
            );
        } else if let Some(last) = fields.fields.last() {
            self.put(last.whole.end..last.whole.end, &format!(", {field}"));
        }
    }

    /// Adds an entry on a line of its own, after another one or at the beginning of the list.
    fn add_entry(
        &mut self,
        text: &str,
        list: &Range<usize>,
        after: Option<&Range<usize>>,
        entry: &str,
    ) {
        let mut at = match after {
            None => list.start + 1,
            Some(after) => {
                let comma = after_blanks(text, after.end);
                if byte(text, comma) == Some(b',') {
                    comma + 1
                } else {
                    // Several entries may come after the one that has no comma.
                    if self.comma.replace(after.end) != Some(after.end) {
                        self.put(after.end..after.end, ",");
                    }
                    after.end
                }
            }
        };
        // A comment at the end of the line belongs to what stands before it.
        let line_end = text[at..]
            .find('\n')
            .map_or(text.len(), |length| at + length);
        let rest = text[at..line_end].trim_start();
        if line_end < list.end && (rest.is_empty() || rest.starts_with("//")) {
            at = line_end;
        }
        self.put(at..at, &format!("\n        {entry},"));
    }

    /// Takes a field or an entry out with its comma, and its line where nothing else stands on it.
    fn remove(&mut self, text: &str, range: &Range<usize>) {
        let comma = after_blanks(text, range.end);
        let has_comma = byte(text, comma) == Some(b',');
        let is_beside = has_comma && text[range.end..comma].trim().is_empty();
        let mut end = if is_beside { comma + 1 } else { range.end };
        if has_comma && !is_beside {
            self.put(comma..comma + 1, "");
        }
        let mut start = range.start;
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = text[end..]
            .find('\n')
            .map_or(text.len(), |length| end + length + 1);
        let is_alone = text[line_start..start].trim().is_empty()
            && text[end..line_end].trim().is_empty()
            && line_end > end;
        if is_alone {
            (start, end) = (line_start, line_end);
        } else if text[end..].starts_with(' ') {
            end += 1;
        } else if !has_comma && text[..start].ends_with(", ") {
            start -= 2;
        }
        self.put(start..end, "");
    }

    /// The text with everything in its place; `None` when two edits are about the same piece.
    fn made(mut self, text: &str) -> Option<String> {
        // What is put in at one spot keeps its order.
        self.pieces.sort_by_key(|(range, _)| range.start);
        let mut made = String::with_capacity(text.len());
        let mut at = 0;
        for (range, new) in &self.pieces {
            made.push_str(text.get(at..range.start)?);
            made.push_str(new);
            at = range.end;
        }
        made.push_str(text.get(at..)?);
        Some(made)
    }
}

/// Where the entries of a list stand.
fn elements(text: &str, list: &Range<usize>) -> Option<Vec<Range<usize>>> {
    let text = &text[..list.end];
    if byte(text, list.start)? != b'[' {
        return None;
    }
    let mut elements = Vec::new();
    let mut at = after_blanks(text, list.start + 1);
    while byte(text, at)? != b']' {
        let end = value_end(text, at)?;
        elements.push(at..end);
        at = after_blanks(text, end);
        if byte(text, at)? == b',' {
            at = after_blanks(text, at + 1);
        }
    }
    Some(elements)
}

fn byte(text: &str, at: usize) -> Option<u8> {
    text.as_bytes().get(at).copied()
}

/// Behind white space and comments, which in RON may stand in each other.
fn after_blanks(text: &str, mut at: usize) -> usize {
    loop {
        let rest = &text[at..];
        let blank = rest.len() - rest.trim_start().len();
        at += blank;
        let rest = &text[at..];
        if rest.starts_with("//") {
            at += rest.find('\n').unwrap_or(rest.len());
        } else if rest.starts_with("/*") {
            at += block_comment(rest);
        } else if blank == 0 {
            return at;
        }
    }
}

/// The length of the comment that `text` begins with.
fn block_comment(text: &str) -> usize {
    let (mut depth, mut at) = (0u32, 0);
    while at < text.len() {
        if text[at..].starts_with("/*") {
            depth += 1;
            at += 2;
        } else if text[at..].starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
        }
    }
    text.len()
}

fn after_name(text: &str, at: usize) -> usize {
    let is_in_name = |c: char| c.is_alphanumeric() || c == '_';
    let rest = &text[at..];
    at + rest.find(|c| !is_in_name(c)).unwrap_or(rest.len())
}

/// Where a value ends: at the comma or bracket that does not belong to it, blanks before that left out.
fn value_end(text: &str, start: usize) -> Option<usize> {
    let (mut depth, mut at, mut end) = (0u32, start, start);
    loop {
        let behind = after_blanks(text, at);
        if behind > at {
            at = behind;
            continue;
        }
        match byte(text, at)? {
            b',' | b')' | b']' | b'}' if depth == 0 => return (end > start).then_some(end),
            b'(' | b'[' | b'{' => depth += 1,
            b')' | b']' | b'}' => depth -= 1,
            b'"' | b'r' => {
                at += string(&text[at..])?;
                end = at;
                continue;
            }
            _ => {}
        }
        at += text[at..].chars().next().map_or(1, char::len_utf8);
        end = at;
    }
}

/// The length of the text between quotes that `text` begins with, raw or not; one when it begins with none.
fn string(text: &str) -> Option<usize> {
    let raw = text.strip_prefix('r').map(|rest| {
        let hashes = rest.len() - rest.trim_start_matches('#').len();
        (hashes, &rest[hashes..])
    });
    if let Some((hashes, rest)) = raw {
        let Some(inside) = rest.strip_prefix('"') else {
            return Some(1);
        };
        let end = format!("\"{}", "#".repeat(hashes));
        return Some(1 + hashes + 1 + inside.find(&end)? + end.len());
    }
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            '"' if !escaped => return Some(at + 1),
            '\\' => escaped = !escaped,
            _ => escaped = false,
        }
    }
    None
}

/// A value without the blanks in it, to compare.
fn bare(value: &str) -> String {
    let (mut bare, mut at) = (String::new(), 0);
    loop {
        at = after_blanks(value, at);
        let rest = &value[at..];
        let Some(c) = rest.chars().next() else {
            return bare;
        };
        let length = match c {
            '"' | 'r' => string(rest).unwrap_or(c.len_utf8()),
            _ => c.len_utf8(),
        };
        bare.push_str(&rest[..length]);
        at += length;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: &str = "// my tune\n(\n    octave: 0, // low\n    style: \"a, (b\",\n    notes: [\n        // the start\n        (note: 1, place: \"3:2\"), // ring\n        (note: 2, place: \"3:4\" /* hm */, pin: true),\n        (note: 3, place: \"2:0\")\n    ],\n)\n";

    #[test]
    fn comments_stay_whatever_changes() {
        let new = "(octave: 1, home: \"V\", notes: [(note: 1, place: \"3:2\"), (note: 2, place: \"4:9\"), (note: 4, place: \"1:1\")])";
        let entries = [ListEntry::Same(0), ListEntry::Changed(1), ListEntry::New];
        let expected = "// my tune\n(\n    home: \"V\",\n    octave: 1, // low\n    notes: [\n        // the start\n        (note: 1, place: \"3:2\"), // ring\n        (note: 2, place: \"4:9\" /* hm */),\n        (note: 4, place: \"1:1\"),\n    ],\n)\n";
        assert_eq!(changed(OLD, new, "notes", &entries).unwrap(), expected);
    }

    #[test]
    fn entries_go_in_anywhere() {
        let entry = |number| format!("(note: {number})");
        let check = |old: &str, entries: &[ListEntry], expected: &str| {
            let numbers: Vec<String> = (1..=entries.len()).map(entry).collect();
            let new = format!("(notes: [{}])", numbers.join(", "));
            assert_eq!(changed(old, &new, "notes", entries).unwrap(), expected);
        };
        check(
            "(notes: [])",
            &[ListEntry::New, ListEntry::New],
            "(notes: [\n        (note: 1),\n        (note: 2),\n    ])",
        );
        check(
            "(notes: [\n    (note: 2)\n])",
            &[ListEntry::New, ListEntry::Same(0), ListEntry::New],
            "(notes: [\n        (note: 1),\n    (note: 2),\n        (note: 3),\n])",
        );
        check(
            "(notes: [(note: 1)])",
            &[ListEntry::Same(0), ListEntry::New, ListEntry::New],
            "(notes: [(note: 1),\n        (note: 2),\n        (note: 3),\n    ])",
        );
        check("()", &[ListEntry::New], "(notes: [(note: 1)],)");
        check(
            "(notes: [(note: 1), /* two */ (note: 2)])",
            &[ListEntry::Same(1)],
            "(notes: [/* two */ (note: 2)])",
        );
    }

    #[test]
    fn signs_in_text_and_comments_are_no_signs() {
        let old = "(a: r#\"\"),(\"#, /* ( /* */ [ */ notes: [(b: \"\\\"]\")], // )\n)";
        let new = "(a: \"x\", notes: [(b: \"y\")])";
        let made = changed(old, new, "notes", &[ListEntry::Changed(0)]).unwrap();
        assert_eq!(
            made,
            "(a: \"x\", /* ( /* */ [ */ notes: [(b: \"y\")], // )\n)"
        );
        for text in ["", "(", "(a", "(a:", "(a: \"", "[", "(a: [", "(a: ,)", "x"] {
            assert_eq!(
                changed(text, new, "notes", &[ListEntry::New]),
                None,
                "{text}"
            );
        }
    }
}
