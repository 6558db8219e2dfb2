//! Values in JSON as text, in their usual notation: `"1/16"`, `"-m3"`, `"Bb"`.

use std::fmt::Display;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serializer, de::Error};

pub fn serialize<T: Display, S: Serializer>(
    value: &Option<T>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => serializer.collect_str(value),
        None => serializer.serialize_none(),
    }
}

pub fn deserialize<'de, T, D>(deserializer: D) -> Result<Option<T>, D::Error>
where
    T: FromStr<Err: Display>,
    D: Deserializer<'de>,
{
    let text: Option<String> = Option::deserialize(deserializer)?;
    text.map(|text| text.parse().map_err(D::Error::custom))
        .transpose()
}
