//! Lists of values in JSON as text, in their usual notation: `["place", "next"]`.

use std::fmt::Display;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serializer, de::Error};

pub fn serialize<T: Display, S: Serializer>(
    values: &[T],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(values.iter().map(ToString::to_string))
}

pub fn deserialize<'de, T, D>(deserializer: D) -> Result<Vec<T>, D::Error>
where
    T: FromStr<Err: Display>,
    D: Deserializer<'de>,
{
    let texts: Vec<String> = Vec::deserialize(deserializer)?;
    let values = texts.iter().map(|text| text.parse());
    values.collect::<Result<_, _>>().map_err(D::Error::custom)
}
