//! Exact quantities: whole thousandths of a base unit.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};
use thiserror::Error;

/// Decimals that a quantity may have.
pub const QUANTITY_DECIMALS_MAX: u32 = 3;
/// Largest quantity in thousandths: 10^12 of a base unit, so that the sum of
/// nine million of them still fits.
pub const QUANTITY_MILLI_MAX: i64 = 1_000_000_000_000_000;

/// A quantity in thousandths of the part's base unit.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Quantity(i64);

/// Why a number is no quantity.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// Not a plain decimal number.
    #[error("is not a decimal number")]
    NotANumber,
    /// More than three decimals.
    #[error("has more than 3 decimals")]
    TooPrecise,
    /// Beyond 10^12.
    #[error("is beyond 1000000000000")]
    TooLarge,
}

impl Quantity {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// From thousandths of a base unit.
    #[must_use]
    pub const fn from_milli(milli: i64) -> Self {
        Self(milli)
    }

    /// From whole base units.
    #[must_use]
    pub const fn whole(units: i64) -> Self {
        Self(units.saturating_mul(1000))
    }

    /// In thousandths of a base unit.
    #[must_use]
    pub const fn milli(self) -> i64 {
        self.0
    }

    /// Reads a plain decimal number such as `12`, `-0.5` or `2.125`; an
    /// exponent is refused.
    ///
    /// # Errors
    /// Not a number, more than three decimals that are not zero, or beyond
    /// 10^12.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let text = text.trim();
        if text.len() > 40 || text.contains(['_', 'e', 'E']) {
            return Err(QuantityError::NotANumber);
        }
        let decimal: Decimal = text.parse().map_err(|_| QuantityError::NotANumber)?;
        Self::from_decimal(decimal)
    }

    /// From an exact decimal in base units.
    ///
    /// # Errors
    /// More than three decimals that are not zero, or beyond 10^12.
    pub fn from_decimal(decimal: Decimal) -> Result<Self, QuantityError> {
        let decimal = decimal.normalize();
        if decimal.scale() > QUANTITY_DECIMALS_MAX {
            return Err(QuantityError::TooPrecise);
        }
        let milli = decimal
            .checked_mul(Decimal::from(1000))
            .and_then(|d| d.to_i64())
            .ok_or(QuantityError::TooLarge)?;
        if milli.abs() > QUANTITY_MILLI_MAX {
            return Err(QuantityError::TooLarge);
        }
        Ok(Self(milli))
    }

    /// The exact decimal in base units, without trailing zeros.
    #[must_use]
    pub fn to_decimal(self) -> Decimal {
        Decimal::new(self.0, QUANTITY_DECIMALS_MAX).normalize()
    }

    /// Whether it is nothing.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// Whether it is more than nothing.
    #[must_use]
    pub const fn is_positive(self) -> bool {
        self.0 > 0
    }

    /// Whether it is below 0.
    #[must_use]
    pub const fn is_negative(self) -> bool {
        self.0 < 0
    }

    /// This, or nothing where it is negative.
    #[must_use]
    pub fn or_zero(self) -> Self {
        Self(self.0.max(0))
    }

    /// This quantity times another number of units (a kit's components).
    ///
    /// # Errors
    /// The product has more than three decimals or is beyond 10^12.
    pub fn times(self, factor: Self) -> Result<Self, QuantityError> {
        let product =
            self.to_decimal().checked_mul(factor.to_decimal()).ok_or(QuantityError::TooLarge)?;
        Self::from_decimal(product)
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.to_decimal().to_string())
    }
}

// Sums saturate: each quantity is at most 10^15 thousandths, so a sum that
// reaches the edge of i64 is already refused by the invariants.
impl Add for Quantity {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}
impl Sub for Quantity {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}
impl Neg for Quantity {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}
impl AddAssign for Quantity {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}
impl SubAssign for Quantity {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}
impl Sum for Quantity {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn reads_and_writes_exactly() {
        for (text, milli) in [("1", 1000), ("0.125", 125), ("-2.50", -2500), ("3.0000", 3000)] {
            assert_eq!(Quantity::parse(text).unwrap().milli(), milli, "{text}");
        }
        assert_eq!(Quantity::from_milli(12_500).to_string(), "12.5");
        assert_eq!(Quantity::from_milli(-3000).to_string(), "-3");
    }

    #[test]
    fn refuses_what_is_not_exact() {
        assert_eq!(Quantity::parse("0.0005"), Err(QuantityError::TooPrecise));
        assert_eq!(Quantity::parse("1e3"), Err(QuantityError::NotANumber));
        assert_eq!(Quantity::parse("two"), Err(QuantityError::NotANumber));
        assert_eq!(Quantity::parse("1000000000000.001"), Err(QuantityError::TooLarge));
    }

    #[test]
    fn times_is_exact_or_refused() {
        let half = Quantity::from_milli(500);
        assert_eq!(half.times(Quantity::whole(3)).unwrap(), Quantity::from_milli(1500));
        assert_eq!(Quantity::from_milli(1).times(half), Err(QuantityError::TooPrecise));
    }
}
