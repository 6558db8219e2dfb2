//! What is read of a file, and what is guessed, on one page.

use std::io::Write;
use std::path::Path;

use fretlib::format::{Format, LostMatter, Reading, detect};
use fretlib::melody::{KeyProfile, Melody, Quarters, estimate_keys};
use unicode_width::UnicodeWidthStr;

use crate::failure::Failure;
use crate::input::built_in_tunes::built_in;
use crate::input::bytes_of;
use crate::input::tune::read_bytes;
use crate::report::heading::title_or_untitled;
use crate::report::wrap::wrap;
use crate::request::TuneRequest;
use crate::terminal::Streams;

/// Columns of the names on the left.
const NAMES: usize = 10;
/// The most of one kind that is listed: passes, sections, changes of meter.
const MOST_LISTED: usize = 16;

/// Reads a tune and prints the page.
pub fn run(request: &TuneRequest, streams: &mut Streams) -> Result<(), Failure> {
    let name = request.source.as_deref().unwrap_or("-");
    let bytes = match built_in(name) {
        Some(tune) if !Path::new(name).exists() => tune.source().as_bytes().to_vec(),
        _ => bytes_of(name, streams)?,
    };
    let format = detect(&bytes);
    let reading = read_bytes(name, bytes, request)?;
    let width = streams.width.clamp(40, 100);
    for line in page(&reading, name, format, width) {
        writeln!(streams.stdout, "{line}")?;
    }
    Ok(())
}

fn page(reading: &Reading, name: &str, format: Option<Format>, width: usize) -> Vec<String> {
    let melody = &reading.melody;
    let mut lines = vec![title_or_untitled(melody.title()).to_owned(), String::new()];
    let format_name = format.map_or("", Format::name);
    let facts = [
        ("file", format!("{name}, {format_name}")),
        ("by", by(melody)),
        ("key", key(melody)),
        ("meter", meter(melody)),
        ("tempo", tempo(melody)),
        ("bars", bars(melody)),
        ("played", played(melody)),
        ("sections", sections(melody)),
        ("notes", notes(melody)),
        ("chords", counted(melody.chords().iter().len(), "symbol")),
        ("phrases", phrases(melody)),
        ("lyrics", lyrics(melody)),
    ];
    for (name, fact) in facts {
        lines.extend(entry(name, &fact, width));
    }
    lines.push(String::new());
    if reading.warnings.is_empty() {
        lines.push("Nothing was left out.".to_owned());
    } else {
        lines.push("Look over:".to_owned());
    }
    for warning in &reading.warnings {
        let heads = std::iter::once("  - ").chain(std::iter::repeat("    "));
        let wrapped = heads.zip(wrap(warning, width - 4));
        lines.extend(wrapped.map(|(head, line)| format!("{head}{line}")));
    }
    lines.extend([
        String::new(),
        "What is lost when it is written as".to_owned(),
    ]);
    for target in [Format::TuneRon, Format::Abc, Format::MusicXml, Format::Midi] {
        let lost = LostMatter::of_melody(melody, target);
        let names: Vec<&str> = lost.iter().map(|it| it.name()).collect();
        let names = if names.is_empty() {
            "nothing".to_owned()
        } else {
            names.join(", ")
        };
        lines.extend(entry(target.name(), &names, width));
    }
    lines
}

/// A name and what it stands for, wrapped beside it.
fn entry(name: &str, fact: &str, width: usize) -> Vec<String> {
    let pad = " ".repeat(NAMES.saturating_sub(name.width()));
    let head = format!("  {name}{pad}");
    let heads = std::iter::once(head).chain(std::iter::repeat(" ".repeat(NAMES + 2)));
    heads
        .zip(wrap(fact, width - NAMES - 2))
        .map(|(head, line)| format!("{head}{line}"))
        .collect()
}

/// `none`, `1 symbol`, `4 symbols`.
fn counted(count: usize, noun: &str) -> String {
    match count {
        0 => "none".to_owned(),
        1 => format!("1 {noun}"),
        _ => format!("{count} {noun}s"),
    }
}

/// The first of a list, and how many more there are.
fn listed(all: &[String]) -> String {
    let shown = all.get(..MOST_LISTED).unwrap_or(all).join(", ");
    match all.len().saturating_sub(MOST_LISTED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

fn by(melody: &Melody) -> String {
    let parts = [
        melody.composer().map(str::to_owned),
        melody.source().map(|source| format!("from {source}")),
        melody
            .transcriber()
            .map(|it| format!("written down by {it}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    match parts.is_empty() {
        true => "unknown".to_owned(),
        false => parts.join(", "),
    }
}

fn key(melody: &Melody) -> String {
    let estimates = estimate_keys(melody, KeyProfile::default());
    let Some(declared) = melody.keys().first() else {
        return match estimates.as_slice() {
            [first, second, ..] => format!(
                "{}, estimated from the notes (then {}); `--key` sets it",
                first.key, second.key
            ),
            _ => "not declared".to_owned(),
        };
    };
    let changes = match melody.keys().iter().len() {
        0 | 1 => String::new(),
        many => format!(", {}", counted(many - 1, "change")),
    };
    let fits = match melody.better_key() {
        Some(better) => format!("; the notes do not fit it and suggest {better}"),
        None => String::new(),
    };
    format!("{declared}, declared{changes}{fits}")
}

fn meter(melody: &Melody) -> String {
    let changes: Vec<String> = melody
        .meters()
        .iter()
        .map(|(onset, meter)| {
            let meter = meter.map_or_else(|| "free".to_owned(), |meter| meter.to_string());
            match onset.is_zero() {
                true => meter,
                false => format!("{meter} from bar {}", melody.bar_at(onset)),
            }
        })
        .collect();
    match changes.is_empty() {
        true => "none: bars end where the file ends them".to_owned(),
        false => listed(&changes),
    }
}

fn tempo(melody: &Melody) -> String {
    let tempo = melody.first_tempo();
    let told = format!("{} {} a minute", tempo.count(), tempo.unit_in_words());
    let feel = match melody.feel() {
        Some(feel) => format!(", {feel}"),
        None => String::new(),
    };
    match melody.tempos().iter().len() {
        0 => format!("none given, so {told}{feel}"),
        1 => format!("{told}{feel}"),
        many => format!("{told}{feel}, {}", counted(many - 1, "change")),
    }
}

fn bars(melody: &Melody) -> String {
    let bars = melody.bars();
    let last = bars.iter().map(|bar| bar.number).max().unwrap_or(0);
    let mut told = last.to_string();
    if let Some(pickup) = bars.first().filter(|bar| bar.number == 0) {
        told += &format!(", and a pickup of {}", pickup.length() / Quarters::from(4));
    }
    let split = bars.iter().filter(|bar| bar.continues()).count();
    if split > 0 {
        let verb = if split == 1 { "is" } else { "are" };
        told += &format!("; {split} {verb} split by a repeat sign or a double bar line");
    }
    told
}

fn played(melody: &Melody) -> String {
    if melody.form().is_empty() {
        return "once through".to_owned();
    }
    let order = melody.playing_order();
    let passes: Vec<String> = order
        .passes()
        .iter()
        .map(|pass| {
            let first = melody.bar_at(pass.start);
            let inside = melody.bars().iter().rfind(|bar| bar.onset < pass.end);
            let last = inside.copied().unwrap_or(first);
            match first.number == last.number {
                true => first.to_string(),
                false => format!("{first}-{last}"),
            }
        })
        .collect();
    format!("bars {}", listed(&passes))
}

fn sections(melody: &Melody) -> String {
    let names: Vec<String> = melody
        .sections()
        .iter()
        .map(|(onset, name)| format!("{name} (bar {})", melody.bar_at(onset)))
        .collect();
    match names.is_empty() {
        true => "none".to_owned(),
        false => listed(&names),
    }
}

fn notes(melody: &Melody) -> String {
    let (low, high) = melody.range();
    format!("{}, from {low} to {high}", melody.notes().len())
}

fn phrases(melody: &Melody) -> String {
    let how = match melody.phrase_starts().is_empty() {
        true => "found from the notes",
        false => "marked",
    };
    format!("{}, {how}", melody.phrases().len())
}

fn lyrics(melody: &Melody) -> String {
    let verses = melody.lyrics().iter().map(|it| it.verse).max().unwrap_or(0);
    let under = counted(verses.into(), "verse");
    match melody.words().len() {
        0 => under,
        lines => format!(
            "{under} under the notes, {} after the tune",
            counted(lines, "line")
        ),
    }
}
