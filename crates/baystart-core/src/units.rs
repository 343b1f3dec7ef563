//! Units of measure: UN/CEFACT Recommendation 20 codes.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Codes that a workshop's parts use, with a short name for people. Source:
/// UN/CEFACT Recommendation 20, a public-domain list; PR, SET, KT, RO and NPR
/// are from memory of it.
const UNITS: &[(&str, &str)] = &[
    ("C62", "pcs"),
    ("MTR", "m"),
    ("MMT", "mm"),
    ("CMT", "cm"),
    ("MTK", "m²"),
    ("LTR", "l"),
    ("MLT", "ml"),
    ("KGM", "kg"),
    ("GRM", "g"),
    ("MTQ", "m³"),
    ("PR", "pairs"),
    ("SET", "sets"),
    ("HUR", "h"),
    ("RO", "rolls"),
];

/// What people write for a unit beside its code and its short name.
const WORDS: &[(&str, &str)] = &[
    ("C62", "pc piece pieces each ea one"),
    ("MTR", "metre metres meter meters"),
    ("MTK", "m2 sqm"),
    ("MTQ", "m3 cbm"),
    ("LTR", "litre litres liter liters"),
    ("KGM", "kilo kilos kilogram kilograms"),
    ("GRM", "gram grams"),
    ("PR", "pair"),
    ("HUR", "hour hours"),
    ("RO", "roll"),
];

/// A base unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Unit(usize);

/// The code is not in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error(
    "is not a unit that Baystart knows: pcs, m, l, kg, sets ..., or its UN/CEFACT Recommendation 20 code (C62, MTR, LTR, KGM ...)"
)]
pub struct UnknownUnit;

impl Unit {
    /// Reads a code or a word for it (`MTR`, `m`, `metres`), in upper or lower case.
    ///
    /// # Errors
    /// Neither the code nor the word is known.
    pub fn parse(text: &str) -> Result<Self, UnknownUnit> {
        let lower = text.trim().to_lowercase();
        let of_word = |code: &str| {
            let mut words = WORDS.iter().filter(|(known, _)| *known == code);
            words.any(|(_, words)| words.split(' ').any(|word| word == lower))
        };
        let is = |(code, name): &&(&str, &str)| {
            code.to_lowercase() == lower || *name == lower || of_word(code)
        };
        let found = UNITS.iter().find(is).and_then(|(code, _)| Self::of_code(code));
        found.ok_or(UnknownUnit)
    }

    fn of_code(code: &str) -> Option<Self> {
        UNITS.iter().position(|(known, _)| *known == code).map(Self)
    }

    /// The code, for example `C62`.
    #[must_use]
    pub fn code(self) -> &'static str {
        UNITS.get(self.0).map_or("", |(code, _)| code)
    }

    /// A short name for people, for example `m`.
    #[must_use]
    pub fn short_name(self) -> &'static str {
        UNITS.get(self.0).map_or("", |(_, name)| name)
    }
}

impl TryFrom<String> for Unit {
    type Error = UnknownUnit;
    fn try_from(code: String) -> Result<Self, UnknownUnit> {
        Self::parse(&code)
    }
}
impl From<Unit> for String {
    fn from(unit: Unit) -> Self {
        unit.code().to_owned()
    }
}

/// Whether a GTIN (8, 12, 13 or 14 digits) ends in its GS1 check digit.
/// Formula: GS1 General Specifications, weights 3 and 1 from the right.
#[must_use]
pub fn gtin_is_valid(gtin: &str) -> bool {
    if !matches!(gtin.len(), 8 | 12 | 13 | 14) || !gtin.bytes().all(|b| b.is_ascii_digit()) {
        return false;
    }
    let mut sum = 0;
    for (place, byte) in gtin.bytes().rev().enumerate() {
        let digit = u32::from(byte - b'0');
        sum += if place % 2 == 1 { 3 * digit } else { digit };
    }
    sum % 10 == 0
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Read: UN/CEFACT Rec 20 (public-domain list).
    #[test]
    fn recommendation_20_codes() {
        for code in "C62 MTR MMT CMT MTK LTR MLT KGM".split(' ') {
            assert_eq!(Unit::parse(code).unwrap().code(), code);
        }
        for (word, code) in [
            ("pcs", "C62"),
            ("Each", "C62"),
            ("m", "MTR"),
            ("M2", "MTK"),
            ("Litres", "LTR"),
            ("pair", "PR"),
        ] {
            assert_eq!(Unit::parse(word).unwrap().code(), code, "{word}");
        }
        for word in ["PIECES OF", "", "bottle"] {
            assert!(Unit::parse(word).is_err(), "{word}");
        }
        // No word is told twice, and none is another's code.
        let words: Vec<&str> = WORDS.iter().flat_map(|(_, words)| words.split(' ')).collect();
        for (at, word) in words.iter().enumerate() {
            assert!(!words[..at].contains(word), "{word}");
            assert!(
                !UNITS.iter().any(|(code, name)| code.eq_ignore_ascii_case(word) || name == word),
                "{word}"
            );
        }
    }

    /// Read: check digits on GS1's own pages.
    #[test]
    fn gs1_check_digits() {
        for gtin in ["6291041500213", "8904000210037", "7300011000017"] {
            assert!(gtin_is_valid(gtin), "{gtin}");
        }
        assert!(!gtin_is_valid("6291041500214"));
        assert!(!gtin_is_valid("629104150021"));
    }
}
