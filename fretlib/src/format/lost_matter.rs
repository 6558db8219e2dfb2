//! What a tune may hold that a format has no place for: the one list that help, warnings and reports ask.

use super::Format;
use crate::melody::{Melody, NoteValue};
use crate::theory::{Key, Mode};

/// Something that not every format has a place for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LostMatter {
    /// Where phrases begin.
    Phrases,
    /// A tempo that counts something no single note lasts.
    TempoOfTiedNotes,
    /// Repeats, endings and jumps: MIDI plays them out.
    Form,
    /// The order of parts, which MusicXML and MIDI play out.
    PartOrder,
    /// Chord symbols.
    Chords,
    /// The spelling of notes outside the key.
    Spelling,
    /// Modes other than major and minor.
    Modes,
    /// Bars that are not as long as the meter says, and free meter.
    BarLengths,
    /// Where the source broke its lines.
    LineBreaks,
    /// Verses after the first.
    Verses,
    /// Words printed after the tune.
    WordsAfter,
}

impl LostMatter {
    /// All there is.
    pub const ALL: [LostMatter; 11] = [
        LostMatter::Phrases,
        LostMatter::TempoOfTiedNotes,
        LostMatter::Form,
        LostMatter::PartOrder,
        LostMatter::Chords,
        LostMatter::Spelling,
        LostMatter::Modes,
        LostMatter::BarLengths,
        LostMatter::LineBreaks,
        LostMatter::Verses,
        LostMatter::WordsAfter,
    ];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            LostMatter::Phrases => "phrases",
            LostMatter::TempoOfTiedNotes => "tempos that count tied notes",
            LostMatter::Form => "the signs of repeats and jumps",
            LostMatter::PartOrder => "the order of parts",
            LostMatter::Chords => "chord symbols",
            LostMatter::Spelling => "the spelling of chromatic notes",
            LostMatter::Modes => "modes other than major and minor",
            LostMatter::BarLengths => "bars against the meter",
            LostMatter::LineBreaks => "line breaks",
            LostMatter::Verses => "verses after the first",
            LostMatter::WordsAfter => "words after the tune",
        }
    }

    /// Whether a format has no place for it.
    pub const fn is_lost_in(self, format: Format) -> bool {
        match format {
            Format::TuneRon => false,
            Format::Abc => matches!(self, LostMatter::Phrases),
            Format::MusicXml | Format::CompressedMusicXml => {
                matches!(
                    self,
                    LostMatter::Phrases | LostMatter::TempoOfTiedNotes | LostMatter::PartOrder
                )
            }
            Format::Midi => !matches!(self, LostMatter::TempoOfTiedNotes),
        }
    }

    /// Everything a format has no place for.
    ///
    /// ```
    /// use fretlib::format::{Format, LostMatter};
    ///
    /// assert_eq!(LostMatter::of_format(Format::Abc), [LostMatter::Phrases]);
    /// assert!(LostMatter::of_format(Format::TuneRon).is_empty());
    /// ```
    pub fn of_format(format: Format) -> Vec<LostMatter> {
        let all = LostMatter::ALL.into_iter();
        all.filter(|it| it.is_lost_in(format)).collect()
    }

    /// What a melody loses when it is written in a format.
    pub fn of_melody(melody: &Melody, format: Format) -> Vec<LostMatter> {
        let all = LostMatter::of_format(format).into_iter();
        all.filter(|it| it.is_in(melody)).collect()
    }

    fn is_in(self, melody: &Melody) -> bool {
        match self {
            LostMatter::Phrases => !melody.phrase_starts().is_empty(),
            LostMatter::TempoOfTiedNotes => melody
                .tempos()
                .iter()
                .any(|(_, tempo)| NoteValue::of(tempo.unit()).is_none_or(|it| it.dots() > 2)),
            LostMatter::Form => !melody.form().signs().is_empty(),
            LostMatter::PartOrder => melody.form().part_order().is_some(),
            LostMatter::Chords => !melody.chords().is_empty(),
            LostMatter::Spelling => has_spelling_of_its_own(melody),
            LostMatter::Modes => melody
                .keys()
                .iter()
                .any(|(_, key)| !matches!(key.mode(), Mode::Major | Mode::Minor)),
            LostMatter::BarLengths => melody.bars().iter().skip(1).any(|bar| {
                let meter = melody.meters().at(bar.onset).copied().flatten();
                let is_last = bar.end == melody.length();
                meter.is_none_or(|meter| meter.bar_length() != bar.length() && !is_last)
            }),
            LostMatter::LineBreaks => !melody.line_breaks().is_empty(),
            LostMatter::Verses => melody.lyrics().iter().any(|it| it.verse > 1),
            LostMatter::WordsAfter => !melody.words().is_empty(),
        }
    }
}

/// Whether a note is not spelled as its key would spell it.
fn has_spelling_of_its_own(melody: &Melody) -> bool {
    let Ok(c_major) = Key::from_signature(0, Mode::Major) else {
        return false;
    };
    melody.notes().iter().any(|note| {
        let key = melody.keys().at(note.onset).copied().unwrap_or(c_major);
        key.spell(note.pitch.midi()) != note.pitch
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::{abc, midi, musicxml, tune_ron};
    use crate::melody::{Form, Quarters};
    use crate::neck::Instrument;

    /// What comes back from a format is what the table says of it.
    #[test]
    fn the_table_says_what_the_writers_do() {
        let text = "X:1\nT:Ferry\nM:3/4\nL:1/4\nQ:1/4 1/16=90\nK:Ddor\n\"Dm\"D^D^C|1 D3:|2 F3|\n\
                    w:a b c d e\nw:f g h\nG2|A3|]\nW:more\n";
        let read = abc::read(text.as_bytes(), &abc::AbcOptions::default());
        let mut draft = read.unwrap().melody.into_draft();
        draft.phrase_starts = vec![Quarters::ZERO, Quarters::from(3)];
        draft.sections.set(Quarters::ZERO, "A".to_owned());
        let melody = Melody::new(draft.clone()).unwrap();
        let (parts, others) = LostMatter::ALL
            .into_iter()
            .partition(|it| *it == LostMatter::PartOrder);
        check(&melody, others);
        // A tune with an order of parts loses its signs, too, where it is played out.
        draft.form = Form::default();
        draft.form.set_part_order("AA".parse().unwrap());
        check(&Melody::new(draft).unwrap(), parts);
    }

    fn check(melody: &Melody, matters: Vec<LostMatter>) {
        let guitar = Instrument::default();
        let ron = tune_ron::write(melody);
        let ron = tune_ron::read(ron.as_bytes()).unwrap().melody;
        let abc = abc::write(melody);
        let abc = abc::read(abc.as_bytes(), &abc::AbcOptions::default());
        let xml = musicxml::write(melody, &guitar, &[]);
        let xml = musicxml::read(xml.as_bytes(), &musicxml::MusicXmlOptions::default());
        let bytes = midi::write(melody, &guitar).unwrap();
        let bytes = midi::read(&bytes, &midi::MidiOptions::default());
        for (format, read) in [
            (Format::TuneRon, ron),
            (Format::Abc, abc.unwrap().melody),
            (Format::MusicXml, xml.unwrap().melody),
            (Format::Midi, bytes.unwrap().melody),
        ] {
            for matter in &matters {
                assert!(matter.is_in(melody), "{matter:?}");
                let is_kept = match matter {
                    LostMatter::Phrases => read.phrase_starts() == melody.phrase_starts(),
                    LostMatter::TempoOfTiedNotes => read.tempos() == melody.tempos(),
                    LostMatter::Form => read.form() == melody.form(),
                    LostMatter::PartOrder => read.form().part_order() == melody.form().part_order(),
                    LostMatter::Chords => read.chords() == melody.chords(),
                    LostMatter::Spelling => read.notes().iter().eq(melody.notes().iter()),
                    LostMatter::Modes => read.keys() == melody.keys(),
                    LostMatter::BarLengths => read.bars() == melody.bars(),
                    LostMatter::LineBreaks => read.line_breaks() == melody.line_breaks(),
                    LostMatter::Verses => read.lyrics() == melody.lyrics(),
                    LostMatter::WordsAfter => read.words() == melody.words(),
                };
                assert_eq!(
                    is_kept,
                    !matter.is_lost_in(format),
                    "{matter:?} in {format:?}"
                );
            }
        }
    }
}
