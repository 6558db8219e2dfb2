//! The fields of a tune file.

use serde::Deserialize;
use serde::de::{Deserializer, Error, Visitor};

use super::value;
use crate::melody::Tempo;

/// A tune as read from its file. Music is borrowed, so that the place of every word is known.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Tune")]
pub(super) struct TuneFile<'a> {
    #[serde(default)]
    pub(super) title: String,
    pub(super) composer: Option<String>,
    pub(super) source: Option<String>,
    pub(super) transcriber: Option<String>,
    pub(super) key: Option<&'a str>,
    pub(super) meter: Option<&'a str>,
    #[serde(borrow)]
    pub(super) tempo: Option<TempoField<'a>>,
    pub(super) feel: Option<&'a str>,
    pub(super) parts: Option<&'a str>,
    pub(super) lines: Vec<TuneLine<'a>>,
    #[serde(default)]
    pub(super) words: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TuneLine<'a> {
    #[serde(default)]
    pub(super) chords: &'a str,
    pub(super) notes: &'a str,
    #[serde(default, borrow)]
    pub(super) lyrics: Vec<&'a str>,
}

/// A number, or text to be read later.
pub(super) enum TempoField<'a> {
    Number(Tempo),
    Text(&'a str),
}

impl<'de: 'a, 'a> Deserialize<'de> for TempoField<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;

        impl<'de> Visitor<'de> for Either {
            type Value = TempoField<'de>;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("quarter notes a minute such as 104, or text such as \"q. = 70\"")
            }

            fn visit_u64<E: Error>(self, number: u64) -> Result<Self::Value, E> {
                self.visit_f64(number as f64)
            }

            fn visit_i64<E: Error>(self, number: i64) -> Result<Self::Value, E> {
                self.visit_f64(number as f64)
            }

            fn visit_f64<E: Error>(self, number: f64) -> Result<Self::Value, E> {
                value::tempo_of_number(number)
                    .map(TempoField::Number)
                    .map_err(E::custom)
            }

            fn visit_borrowed_str<E: Error>(self, text: &'de str) -> Result<Self::Value, E> {
                Ok(TempoField::Text(text))
            }
        }

        deserializer.deserialize_any(Either)
    }
}
