//! Shared by all pages: titles, counts, wrapped lines and JSON.

pub mod count;
pub mod did_you_mean;
pub mod heading;
pub mod instrument_json;
pub mod json;
pub mod left_out;
pub mod phrase_page;
pub mod progress_bar;
pub mod shell_words;
pub mod wrap;
