//! Service levels.

/// Reads `95%`, `95 %` or `97.5` as a share of lead times.
///
/// # Errors
/// It is no number from 50 to 99.9 in tenths.
pub fn percent(text: &str) -> Result<f64, String> {
    let number = text.trim().trim_end_matches('%').trim();
    let wrong =
        || "is not between 50 and 99.9 percent, in tenths; write for example 95%".to_owned();
    let percent: f64 = number.parse().map_err(|_| wrong())?;
    let tenths = (percent * 10.0).round();
    if !(500.0..=999.0).contains(&tenths) || (percent * 10.0 - tenths).abs() > 1e-6 {
        return Err(wrong());
    }
    Ok(tenths / 1000.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::percent;

    #[test]
    fn percents() {
        for (text, level) in [("95%", 0.95), ("97.5", 0.975), ("99.9 %", 0.999), ("50", 0.5)] {
            assert!((percent(text).unwrap() - level).abs() < 1e-12, "{text}");
        }
        for wrong in ["", "0.95", "100", "49.9", "95.55", "high", "%"] {
            assert!(percent(wrong).is_err(), "{wrong}");
        }
    }
}
