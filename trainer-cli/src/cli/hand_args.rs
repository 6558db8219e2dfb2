//! Whose hand it is.

use fretlib::neck::Hand;

use super::settings_args::SettingsArgs;
use crate::request::HandRequest;

#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Hand")]
pub struct HandArgs {
    /// The fretting hand: small, medium, large, or what it spans in mm in comfort and at most, such as 105/130 [default: the
    /// settings' hand, else medium]
    #[arg(long, value_name = "HAND", value_parser = hand, hide_short_help = true)]
    hand: Option<Hand>,

    #[command(flatten)]
    settings: SettingsArgs,
}

impl From<HandArgs> for HandRequest {
    fn from(args: HandArgs) -> Self {
        HandRequest {
            hand: args.hand,
            settings: args.settings.settings,
        }
    }
}

fn hand(text: &str) -> Result<Hand, String> {
    let expected = || {
        format!(
            "expected small, medium, large or two lengths in mm such as 105/130, found `{text}`"
        )
    };
    match text {
        "small" => Ok(Hand::SMALL),
        "medium" => Ok(Hand::MEDIUM),
        "large" => Ok(Hand::LARGE),
        _ => {
            let (comfortable, utmost) = text.split_once('/').ok_or_else(expected)?;
            let number = |word: &str| word.trim().parse().map_err(|_| expected());
            Hand::new(number(comfortable)?, number(utmost)?).map_err(|error| error.to_string())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_is_read_and_checked() {
        assert_eq!(hand("small"), Ok(Hand::SMALL));
        assert_eq!(hand("105/130"), Ok(Hand::new(105, 130).unwrap()));
        for text in ["", "huge", "130/105", "1/2", "100", "100/900"] {
            assert!(hand(text).is_err(), "{text}");
        }
    }
}
