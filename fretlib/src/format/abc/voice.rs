//! Choosing the voice of a tune.

use super::decoding::decode;
use super::field::VoiceField;
use crate::format::limits::MOST_VOICES;

/// The voices of a tune: the one wanted and the current one.
#[derive(Clone, Debug)]
pub(super) struct Voices {
    wanted: Option<String>,
    named: Vec<Voice>,
    /// None until the first `V:` in the body.
    current: Option<usize>,
}

#[derive(Clone, Debug)]
struct Voice {
    id: Vec<u8>,
    name: Option<String>,
    octave: i8,
}

/// More voices than `MOST_VOICES`.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct TooManyVoices;

impl Voices {
    pub fn new(wanted: Option<&str>) -> Voices {
        Voices {
            wanted: wanted.map(str::to_owned),
            named: Vec::new(),
            current: None,
        }
    }

    /// Registers a voice and gives its index in the list.
    pub fn declare(&mut self, field: VoiceField) -> Result<usize, TooManyVoices> {
        let index = match self.named.iter().position(|voice| voice.id == field.id) {
            Some(index) => index,
            None if self.named.len() == MOST_VOICES => return Err(TooManyVoices),
            None => {
                self.named.push(Voice {
                    id: field.id.to_vec(),
                    name: None,
                    octave: 0,
                });
                self.named.len() - 1
            }
        };
        let voice = &mut self.named[index];
        if let Some(name) = field.name {
            voice.name = Some(decode(name).0.into_owned());
        }
        voice.octave = field.octave.unwrap_or(voice.octave);
        Ok(index)
    }

    /// The following music is in this voice.
    pub fn enter(&mut self, index: usize) {
        self.current = Some(index);
    }

    /// The index of the voice that is read: the one wanted, by id or name, or else the first.
    fn chosen(&self) -> Option<usize> {
        match &self.wanted {
            None => (!self.named.is_empty()).then_some(0),
            Some(wanted) => self
                .named
                .iter()
                .position(|voice| voice.id == wanted.as_bytes())
                .or_else(|| {
                    self.named
                        .iter()
                        .position(|voice| voice.name.as_ref() == Some(wanted))
                }),
        }
    }

    /// Whether the following music is read. Music before any `V:` in the body belongs to the first voice.
    pub fn is_heard(&self) -> bool {
        match (self.current, self.chosen()) {
            (current, Some(chosen)) => current.unwrap_or(0) == chosen,
            (_, None) => self.wanted.is_none(),
        }
    }

    /// Whether a following field applies to the voice that is read: its own fields do, and those before any voice.
    pub fn is_field_heard(&self) -> bool {
        self.current.is_none() || self.is_heard()
    }

    /// The octaves by which the voice that is read is moved.
    pub fn octave(&self) -> i8 {
        self.chosen().map_or(0, |chosen| self.named[chosen].octave)
    }

    /// The voice that was wanted but does not exist.
    pub fn missing(&self) -> Option<&str> {
        self.wanted.as_deref().filter(|_| self.chosen().is_none())
    }

    pub fn count(&self) -> usize {
        self.named.len()
    }

    /// The name of the voice that is read.
    pub fn chosen_name(&self) -> String {
        self.chosen()
            .map_or_else(String::new, |chosen| self.named[chosen].label())
    }

    /// All voices, as a list to choose from.
    pub fn list(&self) -> String {
        let labels: Vec<String> = self.named.iter().map(Voice::label).collect();
        labels.join(", ")
    }
}

impl Voice {
    fn label(&self) -> String {
        let id = super::decoding::quote(&self.id);
        match &self.name {
            Some(name) => format!("{id} ({})", super::decoding::visible(name)),
            None => id,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::field;
    use super::*;

    fn voices(wanted: Option<&str>, fields: &[&str]) -> Voices {
        let mut voices = Voices::new(wanted);
        for value in fields {
            voices.declare(field::voice(value.as_bytes())).unwrap();
        }
        voices
    }

    /// Whether music is read before any voice, and in each voice.
    fn heard(mut voices: Voices) -> Vec<bool> {
        let mut heard = vec![voices.is_heard()];
        for index in 0..voices.count() {
            voices.enter(index);
            heard.push(voices.is_heard());
        }
        heard
    }

    #[test]
    fn one_voice_is_read() {
        let two = ["1 name=\"Melody line\"", "2"];
        assert_eq!(heard(voices(None, &[])), [true]);
        assert_eq!(heard(voices(None, &two)), [true, true, false]);
        assert_eq!(heard(voices(Some("2"), &two)), [false, false, true]);
        assert_eq!(
            heard(voices(Some("Melody line"), &two)),
            [true, true, false]
        );
        assert_eq!(heard(voices(Some("3"), &two)), [false, false, false]);
        assert_eq!(voices(Some("3"), &two).list(), "`1` (Melody line), `2`");
    }

    #[test]
    fn settings_of_a_voice_add_up() {
        let voices = voices(None, &["1 octave=-1", "1 name=a", "1"]);
        assert_eq!((voices.count(), voices.octave()), (1, -1));
    }

    #[test]
    fn voices_without_end_are_refused() {
        let mut voices = Voices::new(None);
        let results: Vec<_> = (0..=MOST_VOICES)
            .map(|number| {
                voices
                    .declare(field::voice(number.to_string().as_bytes()))
                    .is_ok()
            })
            .collect();
        assert_eq!(results.iter().filter(|it| **it).count(), MOST_VOICES);
    }
}
