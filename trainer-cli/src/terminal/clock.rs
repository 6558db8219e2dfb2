//! The time, and the day on the player's calendar.

use fretlib::practice::Moment;
use jiff::Timestamp;

use crate::failure::Failure;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

/// A clock: the system's, or a fixed one for repeatable sessions.
#[derive(Clone, Debug)]
pub struct Clock {
    zone: TimeZone,
    fixed: Option<Timestamp>,
}

impl Clock {
    /// The system's clock in the player's time zone, or a clock fixed at this time.
    fn new(fixed: Option<DateTime>) -> Result<Clock, jiff::Error> {
        let zone = system_zone();
        let fixed = fixed
            .map(|time| zone.to_ambiguous_timestamp(time).compatible())
            .transpose()?;
        Ok(Clock { zone, fixed })
    }

    /// The clock for an option `--now`.
    pub fn from_option(now: Option<DateTime>) -> Result<Clock, Failure> {
        Clock::new(now).map_err(|error| {
            Failure::usage(
                format!("`--now`: {error}"),
                "give a time such as 2026-11-22T18:00",
            )
        })
    }

    /// Now.
    pub fn now(&self) -> Moment {
        self.moment(self.fixed.unwrap_or_else(Timestamp::now))
    }

    /// The date and time of a moment on the player's calendar: `2026-11-22 18:05:00`.
    pub fn written(&self, seconds: i64) -> String {
        let mut text = String::new();
        self.times().push(&mut text, seconds);
        text
    }

    /// Writes many moments on the player's calendar.
    pub fn times(&self) -> Times<'_> {
        Times {
            clock: self,
            date: Date::ZERO,
            written: Date::ZERO.to_string(),
        }
    }

    fn moment(&self, timestamp: Timestamp) -> Moment {
        let date = self.zone.to_datetime(timestamp).date();
        Moment {
            seconds: timestamp.as_second(),
            day: day_number(date),
        }
    }
}

/// The system's time zone.
///
/// Where no variable names another, the zone is read from its own file: to look its name up, all folders of the time zone
/// database are listed, which takes a tenth of the time to the first question.
fn system_zone() -> TimeZone {
    let own = match std::env::var_os("TZ") {
        None => std::fs::read("/etc/localtime").ok(),
        Some(_) => None,
    };
    own.and_then(|file| TimeZone::tzif("Local", &file).ok())
        .unwrap_or_else(TimeZone::system)
}

/// Writes one moment after another; most are of the same day as the one before.
#[derive(Debug)]
pub struct Times<'a> {
    clock: &'a Clock,
    date: Date,
    // The date as text.
    written: String,
}

impl Times<'_> {
    /// Adds the date and time of a moment to a text: `2026-11-22 18:05:00`.
    pub fn push(&mut self, text: &mut String, seconds: i64) {
        let Ok(timestamp) = Timestamp::from_second(seconds) else {
            text.push_str(&seconds.to_string());
            return;
        };
        let time = self.clock.zone.to_datetime(timestamp);
        if time.date() != self.date {
            self.date = time.date();
            self.written = self.date.to_string();
        }
        text.push_str(&self.written);
        for (before, number) in [
            (' ', time.hour()),
            (':', time.minute()),
            (':', time.second()),
        ] {
            let digit = |number: i8| char::from(b'0' + number.unsigned_abs() % 10);
            text.extend([before, digit(number / 10), digit(number)]);
        }
    }
}

/// The date of a day counted from 1970-01-01.
pub fn date_of(day: i32) -> String {
    jiff::Span::new()
        .try_days(day)
        .and_then(|span| Date::constant(1970, 1, 1).checked_add(span))
        .map_or_else(|_| day.to_string(), |date| date.to_string())
}

/// Days since 1970-01-01.
pub fn day_number(date: Date) -> i32 {
    (date - Date::constant(1970, 1, 1)).get_days()
}

/// Reads `2026-11-22T18:00` or `2026-11-22`, which is noon of that day.
pub fn read_time(text: &str) -> Result<DateTime, String> {
    if let Ok(date) = text.parse::<Date>()
        && !text.contains([':', 'T', ' '])
    {
        return Ok(date.at(12, 0, 0, 0));
    }
    text.parse().map_err(|_| {
        format!("expected a time such as 2026-11-22T18:00 or 2026-11-22, found `{text}`")
    })
}

/// A day: `2026-11-29`.
pub fn read_day(text: &str) -> Result<Date, String> {
    let day = text.parse();
    day.map_err(|_| format!("expected a day such as 2026-11-29, found `{text}`"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zone_of_the_system_is_the_one_that_its_file_holds() {
        let (ours, named) = (system_zone(), TimeZone::system());
        for month in 0..24 {
            let time = Timestamp::from_second(1_700_000_000 + month * 2_629_800).unwrap();
            assert_eq!(ours.to_datetime(time), named.to_datetime(time));
        }
    }

    #[test]
    fn a_day_is_a_date() {
        let cases = [
            ("1970-01-01", 0),
            ("1970-02-01", 31),
            ("2026-11-22", 20_779),
            ("1969-12-31", -1),
        ];
        for (date, day) in cases {
            assert_eq!(day_number(date.parse().unwrap()), day);
            assert_eq!(date_of(day), date);
        }
    }

    #[test]
    fn times_are_read_with_and_without_an_hour() {
        assert_eq!(
            read_time("2026-11-22").unwrap().to_string(),
            "2026-11-22T12:00:00"
        );
        assert_eq!(
            read_time("2026-11-22T18:05").unwrap().to_string(),
            "2026-11-22T18:05:00"
        );
        for text in ["", "tomorrow", "2026-13-01", "18:05"] {
            assert!(read_time(text).is_err(), "{text}");
        }
        assert_eq!(read_day("2026-11-29").unwrap().to_string(), "2026-11-29");
        for text in ["", "soon", "2026-13-01", "29.11.2026"] {
            assert!(read_day(text).unwrap_err().contains("such as"), "{text}");
        }
        let clock = Clock::new(Some(read_time("2026-11-22").unwrap())).unwrap();
        assert_eq!(clock.now(), clock.now());
        assert_eq!(clock.now().day, 20_779);
        assert_eq!(clock.written(clock.now().seconds), "2026-11-22 12:00:00");

        let clock = Clock {
            zone: TimeZone::get("Europe/Zurich").unwrap_or(TimeZone::UTC),
            fixed: None,
        };
        let mut times = clock.times();
        for seconds in (-70_000_000_000..70_000_000_000).step_by(7_654_321) {
            let time = clock.zone.to_datetime(Timestamp::constant(seconds, 0));
            let expected = format!("{} {}", time.date(), time.time());
            let mut text = String::new();
            times.push(&mut text, seconds);
            assert_eq!(text, expected);
        }
        assert_eq!(clock.written(i64::MAX), i64::MAX.to_string());
    }
}
