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

/// A base unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Unit(usize);

/// The code is not in the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error(
    "is not a UN/CEFACT Recommendation 20 code that Baystart knows (C62 one, MTR metre, LTR litre, KGM kilogram ...)"
)]
pub struct UnknownUnit;

impl Unit {
    /// Reads a code in upper or lower case.
    ///
    /// # Errors
    /// The code is not in the list.
    pub fn parse(code: &str) -> Result<Self, UnknownUnit> {
        let code = code.trim().to_ascii_uppercase();
        UNITS.iter().position(|(known, _)| *known == code).map(Self).ok_or(UnknownUnit)
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
        assert!(Unit::parse("PIECE").is_err());
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
