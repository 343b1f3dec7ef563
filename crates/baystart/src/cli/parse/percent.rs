//! Chances and levels, as people write them.

use std::ops::RangeInclusive;

/// Reads `95%`, `95 %`, `95` or `0.95` as .95: below 1 and without the sign it is a share already.
/// None: no number.
fn share(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain = text.trim_end_matches('%').trim_end();
    let number: f64 = plain.parse().ok()?;
    let is_percent = plain.len() != text.len() || number >= 1.0;
    number.is_finite().then_some(if is_percent { number / 100.0 } else { number })
}

/// A chance above 0 and below 1.
///
/// # Errors
/// It is none.
pub fn chance(text: &str) -> Result<f64, String> {
    let wrong = || format!("\"{text}\" is no chance between 0 and 100 %; write for example 80%");
    share(text).filter(|chance| *chance > 0.0 && *chance < 1.0).ok_or_else(wrong)
}

/// A chance whose limits the server judges.
///
/// # Errors
/// It is no number.
pub fn tolerance(text: &str) -> Result<f64, String> {
    share(text).ok_or_else(|| format!("\"{text}\" is no chance; write for example 5%"))
}

/// A service level.
const LEVELS: RangeInclusive<f64> = 500.0..=999.0;

/// A service level, 50 to 99.9 % in tenths.
///
/// # Errors
/// It is none.
pub fn level(text: &str) -> Result<f64, String> {
    let wrong = || {
        format!("\"{text}\" is not 50 to 99.9 %, in tenths of a per cent; write for example 95%")
    };
    let tenths = share(text).ok_or_else(wrong)? * 1_000.0;
    let whole = tenths.round();
    if LEVELS.contains(&whole) && (tenths - whole).abs() <= 1e-6 {
        Ok(whole / 1_000.0)
    } else {
        Err(wrong())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn as_people_write_them() {
        for (text, wanted) in [("95%", 0.95), ("97.5", 0.975), ("99.9 %", 0.999), ("0.5", 0.5)] {
            assert!((level(text).unwrap() - wanted).abs() < 1e-12, "{text}");
            assert!((chance(text).unwrap() - wanted).abs() < 1e-12, "{text}");
        }
        for (text, wanted) in [("5%", 0.05), ("5 %", 0.05), ("5", 0.05), ("0.05", 0.05), ("0", 0.0)]
        {
            assert!((tolerance(text).unwrap() - wanted).abs() < 1e-12, "{text}");
        }
        for wrong in ["", "%", "some", "NaN", "inf", "100", "0"] {
            assert!(chance(wrong).is_err(), "{wrong}");
            assert!(level(wrong).is_err(), "{wrong}");
        }
        for wrong in ["49.9", "95.55", "0.9555"] {
            assert!(level(wrong).is_err(), "{wrong}");
        }
        for wrong in ["", "%", "some", "NaN", "inf"] {
            assert!(tolerance(wrong).is_err(), "{wrong}");
        }
    }
}
