//! Exact time.

use std::cmp::Ordering;
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Rem, Sub, SubAssign};
use std::str::FromStr;

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedDiv, CheckedMul, CheckedSub};

use crate::error::ParseError;

/// A time or a duration in quarter notes, exactly: an eighth note is 1/2, a dotted quarter 3/2.
///
/// A fraction in lowest terms with a positive denominator. The operators panic when a result does not fit 64 bits;
/// times of a [`Melody`](super::Melody) are too small for that. For other values use [`Quarters::checked_add`] and
/// the other checked methods.
///
/// ```
/// use fretlib::melody::Quarters;
///
/// let triplet = Quarters::new(1, 3);
/// assert_eq!(triplet * 3, Quarters::from(1));
/// assert_eq!("1.5".parse::<Quarters>()?, Quarters::new(3, 2));
/// assert_eq!(Quarters::new(6, 4).to_string(), "3/2");
/// # Ok::<(), fretlib::ParseError>(())
/// ```
#[derive(Clone, Copy, Default, Eq, Hash, PartialEq)]
pub struct Quarters(
    // Invariant: in lowest terms, the denominator positive.
    Ratio<i64>,
);

impl Quarters {
    /// Zero.
    pub const ZERO: Quarters = Quarters(Ratio::new_raw(0, 1));
    /// A quarter note.
    pub const ONE: Quarters = Quarters(Ratio::new_raw(1, 1));
    /// The most decimal places that are read.
    const MOST_DECIMALS: usize = 6;

    /// `numer`/`denom` quarter notes.
    ///
    /// # Panics
    ///
    /// When `denom` is zero.
    pub fn new(numer: i64, denom: i64) -> Quarters {
        Quarters(Ratio::new(numer, denom))
    }

    /// A whole number of quarter notes, for constants; elsewhere use `From`.
    pub const fn from_integer(whole: i64) -> Quarters {
        Quarters(Ratio::new_raw(whole, 1))
    }

    /// The numerator; it carries the sign.
    pub const fn numer(self) -> i64 {
        *self.0.numer()
    }

    /// The denominator; positive.
    pub const fn denom(self) -> i64 {
        *self.0.denom()
    }

    /// The nearest floating-point number.
    pub fn to_f64(self) -> f64 {
        self.numer() as f64 / self.denom() as f64
    }

    /// The whole part, rounded towards zero.
    pub fn to_integer(self) -> i64 {
        self.0.to_integer()
    }

    /// True for a whole number of quarter notes.
    pub fn is_integer(self) -> bool {
        self.denom() == 1
    }

    /// True for zero.
    pub fn is_zero(self) -> bool {
        self.numer() == 0
    }

    /// True when above zero.
    pub fn is_positive(self) -> bool {
        self.numer() > 0
    }

    /// True when below zero.
    pub fn is_negative(self) -> bool {
        self.numer() < 0
    }

    /// The largest whole number that is not larger.
    #[must_use]
    pub fn floor(self) -> Quarters {
        Quarters(self.0.floor())
    }

    /// The smallest whole number that is not smaller.
    #[must_use]
    pub fn ceil(self) -> Quarters {
        Quarters(self.0.ceil())
    }

    /// The nearest whole number, halves away from zero.
    #[must_use]
    pub fn round(self) -> Quarters {
        Quarters(self.0.round())
    }

    /// The fraction above the whole part.
    #[must_use]
    pub fn fract(self) -> Quarters {
        Quarters(self.0.fract())
    }

    /// A whole number of quarter notes, counted in the parts that the denominator makes.
    const fn in_parts(self, whole: i64) -> i64 {
        whole * self.denom()
    }

    /// The sum; `None` on overflow.
    pub fn checked_add(self, other: Quarters) -> Option<Quarters> {
        self.0.checked_add(&other.0).map(Quarters)
    }

    /// The difference; `None` on overflow.
    pub fn checked_sub(self, other: Quarters) -> Option<Quarters> {
        self.0.checked_sub(&other.0).map(Quarters)
    }

    /// The product; `None` on overflow.
    pub fn checked_mul(self, other: Quarters) -> Option<Quarters> {
        self.0.checked_mul(&other.0).map(Quarters)
    }

    /// The quotient; `None` on overflow or when `other` is zero.
    pub fn checked_div(self, other: Quarters) -> Option<Quarters> {
        self.0.checked_div(&other.0).map(Quarters)
    }
}

impl From<i64> for Quarters {
    fn from(whole: i64) -> Quarters {
        Quarters::from_integer(whole)
    }
}

impl Ord for Quarters {
    fn cmp(&self, other: &Quarters) -> Ordering {
        // Exact and without a division, which the comparison of Ratio needs.
        let product = |numer: i64, denom: i64| i128::from(numer) * i128::from(denom);
        product(self.numer(), other.denom()).cmp(&product(other.numer(), self.denom()))
    }
}

impl PartialOrd for Quarters {
    fn partial_cmp(&self, other: &Quarters) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

macro_rules! operators {
    ($($operator:ident $method:ident),*) => {$(
        impl $operator for Quarters {
            type Output = Quarters;

            fn $method(self, other: Quarters) -> Quarters {
                Quarters($operator::$method(self.0, other.0))
            }
        }

        impl $operator<i64> for Quarters {
            type Output = Quarters;

            fn $method(self, other: i64) -> Quarters {
                Quarters($operator::$method(self.0, other))
            }
        }
    )*};
}

operators!(Mul mul, Div div, Rem rem);

// A whole number more or less keeps a fraction in lowest terms, which saves a greatest common divisor.
macro_rules! sums {
    ($($operator:ident $method:ident),*) => {$(
        impl $operator for Quarters {
            type Output = Quarters;

            fn $method(self, other: Quarters) -> Quarters {
                match other.is_integer() {
                    true => $operator::$method(self, other.numer()),
                    false => Quarters($operator::$method(self.0, other.0)),
                }
            }
        }

        impl $operator<i64> for Quarters {
            type Output = Quarters;

            fn $method(self, whole: i64) -> Quarters {
                let numer = $operator::$method(self.numer(), self.in_parts(whole));
                Quarters(Ratio::new_raw(numer, self.denom()))
            }
        }
    )*};
}

sums!(Add add, Sub sub);

impl Neg for Quarters {
    type Output = Quarters;

    fn neg(self) -> Quarters {
        Quarters(-self.0)
    }
}

impl AddAssign for Quarters {
    fn add_assign(&mut self, other: Quarters) {
        *self = *self + other;
    }
}

impl SubAssign for Quarters {
    fn sub_assign(&mut self, other: Quarters) {
        *self = *self - other;
    }
}

impl MulAssign for Quarters {
    fn mul_assign(&mut self, other: Quarters) {
        *self = *self * other;
    }
}

impl Sum for Quarters {
    fn sum<I: Iterator<Item = Quarters>>(times: I) -> Quarters {
        times.fold(Quarters::ZERO, |sum, time| sum + time)
    }
}

impl fmt::Display for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl fmt::Debug for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(&self.0, f)
    }
}

impl FromStr for Quarters {
    type Err = ParseError;

    /// Reads `2`, `1.5` or `3/2`, with `-` in front when negative.
    fn from_str(text: &str) -> Result<Quarters, ParseError> {
        let unreadable = || ParseError::unreadable(text, "a number such as 2, 1.5 or 3/2");
        let (sign, digits) = match text.strip_prefix('-') {
            Some(digits) => (-1, digits),
            None => (1, text),
        };
        let size = if let Some((numer, denom)) = digits.split_once('/') {
            let denom = whole_number(denom).filter(|denom| *denom > 0);
            whole_number(numer)
                .zip(denom)
                .map(|(numer, denom)| Quarters::new(numer, denom))
        } else if let Some((whole, decimals)) = digits.split_once('.') {
            decimal(whole, decimals)
        } else {
            whole_number(digits).map(Quarters::from)
        };
        Ok(size.ok_or_else(unreadable)? * sign)
    }
}

fn decimal(whole: &str, decimals: &str) -> Option<Quarters> {
    if decimals.len() > Quarters::MOST_DECIMALS || (whole.is_empty() && decimals.is_empty()) {
        return None;
    }
    let whole_number = |digits| {
        if str::is_empty(digits) {
            Some(0)
        } else {
            whole_number(digits)
        }
    };
    let scale = 10i64.pow(decimals.len() as u32);
    let numer = whole_number(whole)?.checked_mul(scale)?;
    Some(Quarters::new(
        numer.checked_add(whole_number(decimals)?)?,
        scale,
    ))
}

/// Digits only: i64 would also accept a sign.
fn whole_number(digits: &str) -> Option<i64> {
    let is_digits = digits.bytes().all(|byte| byte.is_ascii_digit());
    digits.parse().ok().filter(|_| is_digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_read_and_written() {
        for (text, numer, denom, written) in [
            ("3", 3, 1, "3"),
            ("0", 0, 1, "0"),
            ("6/4", 3, 2, "3/2"),
            ("-1/2", -1, 2, "-1/2"),
            ("0.125", 1, 8, "1/8"),
            ("92.50", 185, 2, "185/2"),
            (".5", 1, 2, "1/2"),
            ("2.", 2, 1, "2"),
        ] {
            let time: Quarters = text.parse().unwrap();
            assert_eq!(time, Quarters::new(numer, denom), "{text}");
            assert_eq!(time.to_string(), written);
            assert_eq!(written.parse(), Ok(time));
        }
        for text in [
            "",
            "-",
            "+1",
            "1/",
            "/2",
            "1/0",
            "1/-2",
            "1,5",
            "1/2/3",
            "--1",
            "1e3",
            "9999999999999999999",
            "1.2345678",
            ".",
        ] {
            assert!(text.parse::<Quarters>().is_err(), "{text}");
        }
    }

    #[test]
    fn fractions_are_always_in_lowest_terms() {
        let sum = Quarters::new(1, 6) + Quarters::new(1, 3);
        assert_eq!((sum.numer(), sum.denom()), (1, 2));
        let whole = Quarters::new(-4, -2);
        assert_eq!((whole.numer(), whole.denom()), (2, 1));
        assert!(Quarters::new(-1, 2) < Quarters::ZERO);
    }

    #[test]
    fn overflow_gives_none() {
        let finest = Quarters::new(1, i64::MAX);
        assert_eq!(finest.checked_add(Quarters::new(1, i64::MAX - 1)), None);
        assert_eq!(
            Quarters::from(i64::MAX).checked_mul(Quarters::from(2)),
            None
        );
        assert_eq!(Quarters::ONE.checked_div(Quarters::ZERO), None);
        assert_eq!(
            Quarters::ONE.checked_sub(Quarters::from(2)),
            Some(Quarters::from(-1))
        );
    }

    quickcheck::quickcheck! {
        fn order_is_that_of_the_numbers(one: (i32, u16), other: (i32, u16)) -> bool {
            let of = |(numer, denom): (i32, u16)| Quarters::new(numer.into(), i64::from(denom) + 1);
            let (one, other) = (of(one), of(other));
            one.cmp(&other) == (one - other).numer().cmp(&0)
        }

        fn whole_numbers_keep_lowest_terms(fraction: (i32, u16), whole: i32) -> bool {
            let fraction = Quarters::new(fraction.0.into(), i64::from(fraction.1) + 1);
            let whole = Quarters::from(i64::from(whole));
            // The checked methods reduce every result; `==` would not notice a fraction that is not reduced.
            let terms = |it: Quarters| Some((it.numer(), it.denom()));
            [fraction + whole, fraction + whole.numer()]
                .map(terms)
                .iter()
                .all(|sum| *sum == fraction.checked_add(whole).and_then(terms))
                && [fraction - whole, fraction - whole.numer()]
                    .map(terms)
                    .iter()
                    .all(|rest| *rest == fraction.checked_sub(whole).and_then(terms))
        }
    }
}
