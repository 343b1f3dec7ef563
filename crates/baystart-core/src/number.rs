//! Part, build and order numbers as people write them.

use crate::text::{self, Lines, Mixed, Odd};
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// Most characters in a number or code.
pub const NUMBER_CHARS_MAX: usize = 64;

/// A number as it was written, with the normal form that is unique in a shop.
/// Two numbers are equal when their normal forms are.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Number {
    written: String,
    normal: String,
}

/// Why a text is no number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NumberError {
    /// Nothing but white space.
    #[error("is empty")]
    Empty,
    /// Over [`NUMBER_CHARS_MAX`].
    #[error("is longer than 64 characters")]
    TooLong,
    /// A character that nobody sees, that controls, or that means nothing.
    #[error("{0}")]
    Odd(Odd),
    /// Letters of several alphabets, which look alike.
    #[error("{0}")]
    Mixed(Mixed),
}

impl Number {
    /// Reads a number: white space around it is dropped, inner runs of white
    /// space become one space; it is kept in Normalization Form C. The normal
    /// form is that of [`text::normal`]: upper case, full-width and ordinary
    /// characters alike.
    ///
    /// # Errors
    /// Empty, over 64 characters, with a character that no text may hold, or
    /// with letters of several alphabets.
    pub fn parse(text: &str) -> Result<Self, NumberError> {
        let clean = text::clean(text, Lines::One).map_err(NumberError::Odd)?;
        let written = clean.split_whitespace().collect::<Vec<_>>().join(" ");
        if written.is_empty() {
            return Err(NumberError::Empty);
        }
        if written.chars().count() > NUMBER_CHARS_MAX {
            return Err(NumberError::TooLong);
        }
        if let Some(mixed) = text::mixed(&written) {
            return Err(NumberError::Mixed(mixed));
        }
        let normal = text::normal(&written);
        // Some letters become two: what is kept in its normal form must read again.
        if normal.chars().count() > NUMBER_CHARS_MAX {
            return Err(NumberError::TooLong);
        }
        Ok(Self { written, normal })
    }

    /// A number as it was kept before, whatever is asked of new ones today.
    #[must_use]
    pub fn kept(written: String, normal: String) -> Self {
        Self { written, normal }
    }

    /// As it was written.
    #[must_use]
    pub fn written(&self) -> &str {
        &self.written
    }

    /// The normal form: stored, compared and unique in a shop.
    #[must_use]
    pub fn normal(&self) -> &str {
        &self.normal
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.written)
    }
}

impl PartialEq for Number {
    fn eq(&self, other: &Self) -> bool {
        self.normal == other.normal
    }
}
impl Eq for Number {}
impl PartialOrd for Number {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Number {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.normal.cmp(&other.normal)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn case_and_space_do_not_make_another_number() {
        let a = Number::parse("  hd-10  a ").unwrap();
        assert_eq!(a, Number::parse("HD-10 A").unwrap());
        assert_eq!(a.written(), "hd-10 a");
        assert_eq!(a.normal(), "HD-10 A");
    }

    #[test]
    fn what_is_no_number() {
        assert_eq!(Number::parse("  "), Err(NumberError::Empty));
        assert_eq!(Number::parse(&"x".repeat(65)), Err(NumberError::TooLong));
        // Found by the fuzzer: a lot of 40 of these was exported as 80 letters, which no import took.
        assert_eq!(Number::parse(&"\u{df}".repeat(40)), Err(NumberError::TooLong));
        for odd in ["A\nB", "A\tB", "HD\u{200b}10", "\u{202e}01-DH", "HD-10\u{e0031}", "HD\u{ad}10"]
        {
            assert!(matches!(Number::parse(odd), Err(NumberError::Odd(_))), "{odd:?}");
        }
        assert!(matches!(Number::parse("HD-\u{410}1"), Err(NumberError::Mixed(_))));
    }

    /// However an accent is put together and however wide the digits are, it is one number.
    #[test]
    fn look_alikes_are_one_number() {
        for (a, b) in [
            ("\u{c9}VIER-1", "e\u{301}vier-1"),
            ("HD-10", "\u{ff28}\u{ff24}\u{ff0d}\u{ff11}\u{ff10}"),
            ("HD 10", "hd\u{a0}10"),
            ("R 10 \u{3a9}", "R 10 \u{2126}"),
        ] {
            assert_eq!(Number::parse(a).unwrap(), Number::parse(b).unwrap(), "{a} {b}");
        }
        assert_eq!(Number::parse("e\u{301}").unwrap().written(), "\u{e9}");
    }

    #[test]
    fn what_was_kept_reads_though_it_would_be_refused() {
        let old = Number::kept("hd\u{200b}10".into(), "HD\u{200b}10".into());
        assert_eq!((old.written(), old.normal()), ("hd\u{200b}10", "HD\u{200b}10"));
    }
}
