//! Repeats, endings and jumps, as they are written.

use super::ScoreWriter;
use crate::melody::{BackTo, FormSign, Quarters};
use crate::notation::rhythm::WrittenBar;

impl ScoreWriter<'_> {
    fn form_at(&self, time: Quarters) -> impl Iterator<Item = FormSign> + use<'_> {
        self.melody.form().at(time).iter().map(|(_, sign)| *sign)
    }

    /// The bar line at the start of a measure, if it is not a plain one.
    pub(super) fn write_left_bar_line(&mut self, onset: Quarters) {
        let begins_repeat = self
            .form_at(onset)
            .any(|sign| sign == FormSign::RepeatStart);
        let ending = self.form_at(onset).find_map(|sign| match sign {
            FormSign::Ending(numbers) => Some(numbers),
            _ => None,
        });
        if !begins_repeat && ending.is_none() {
            return;
        }
        self.xml.open("barline", &[("location", "left")]);
        if begins_repeat {
            self.xml.text("bar-style", "heavy-light");
        }
        if let Some(numbers) = ending {
            let number = numbers.to_string();
            self.xml
                .empty("ending", &[("number", &number), ("type", "start")]);
        }
        if begins_repeat {
            self.xml.empty("repeat", &[("direction", "forward")]);
        }
        self.xml.close("barline");
    }

    /// The bar line at the end of a measure; the last one of the tune is always final.
    pub(super) fn write_right_bar_line(&mut self, bar: &WrittenBar, is_last: bool) {
        let end = bar.onset + bar.length;
        let mut style = if is_last { Some("light-heavy") } else { None };
        let mut times = None;
        let mut closes_ending = is_last;
        for sign in self.form_at(end) {
            match sign {
                FormSign::DoubleBar => style = Some("light-light"),
                FormSign::FinalBar => style = Some("light-heavy"),
                FormSign::RepeatEnd(count) => {
                    style = Some("light-heavy");
                    times = Some(count.get().to_string());
                }
                _ => {}
            }
            closes_ending = true;
        }
        // The ending that is open up to here.
        let endings = self.melody.form().endings(self.melody.length());
        let ending = endings
            .iter()
            .find(|(span, _)| closes_ending && span.end == end);
        if bar.is_cut_off {
            style = style.or(Some("none"));
        }
        if style.is_none() && ending.is_none() {
            return;
        }
        self.xml.open("barline", &[("location", "right")]);
        if let Some(style) = style {
            self.xml.text("bar-style", style);
        }
        if let Some((_, numbers)) = ending {
            let number = numbers.to_string();
            // A bracket without a final stroke, since no bar line closes it.
            let kind = if times.is_some() {
                "stop"
            } else {
                "discontinue"
            };
            self.xml
                .empty("ending", &[("number", &number), ("type", kind)]);
        }
        match times.as_deref() {
            Some("2") => self.xml.empty("repeat", &[("direction", "backward")]),
            Some(times) => self
                .xml
                .empty("repeat", &[("direction", "backward"), ("times", times)]),
            None => {}
        }
        self.xml.close("barline");
    }

    /// The segno and the coda at an onset.
    pub(super) fn write_signs(&mut self, onset: Quarters) {
        let signs: Vec<FormSign> = self.form_at(onset).filter(|sign| !sign.ends()).collect();
        for sign in signs {
            match sign {
                FormSign::Segno => self.write_direction(None, Some("segno"), ("segno", "segno")),
                FormSign::Coda => self.write_direction(None, Some("coda"), ("coda", "coda")),
                _ => {}
            }
        }
    }

    /// The signs at the end of a measure.
    pub(super) fn write_jumps(&mut self, end: Quarters) {
        let signs: Vec<FormSign> = self.form_at(end).filter(|sign| sign.ends()).collect();
        for sign in signs {
            match sign {
                FormSign::ToCoda => self.write_direction(Some("To Coda"), None, ("tocoda", "coda")),
                FormSign::Fine => self.write_direction(Some("Fine"), None, ("fine", "yes")),
                FormSign::Jump(jump) => {
                    let sound = match jump.back_to {
                        BackTo::Start => ("dacapo", "yes"),
                        BackTo::Segno => ("dalsegno", "segno"),
                    };
                    self.write_direction(Some(&jump.to_string()), None, sound);
                }
                _ => {}
            }
        }
    }

    fn write_direction(&mut self, words: Option<&str>, symbol: Option<&str>, sound: (&str, &str)) {
        self.xml.open("direction", &[("placement", "above")]);
        self.xml.open("direction-type", &[]);
        if let Some(words) = words {
            self.xml.text("words", words);
        }
        if let Some(symbol) = symbol {
            self.xml.empty(symbol, &[]);
        }
        self.xml.close("direction-type");
        self.xml.empty("sound", &[sound]);
        self.xml.close("direction");
    }
}
