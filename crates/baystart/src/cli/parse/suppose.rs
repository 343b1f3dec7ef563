//! Orders that are supposed to come at another time.

use super::quantity::line_number;
use baystart_proto::v1;

/// Reads `P-2007=7`, `P-2007=-3`, or with one of its lines `P-2007:2=7`. An order number may hold a
/// colon itself.
///
/// # Errors
/// The order or the whole number of days is missing.
pub fn later(text: &str) -> Result<v1::SupposeOrderLater, String> {
    let wrong = || "is not ORDER[:LINE]=DAYS; write for example P-2007=7 or P-2007:2=-3".to_owned();
    let (order, days) = text.rsplit_once('=').ok_or_else(wrong)?;
    let days = days.trim().trim_start_matches('+').parse().map_err(|_| wrong())?;
    let (order, line_number) = match order.rsplit_once(':') {
        Some((order, line)) => match line_number(line.trim()) {
            Ok(line) => (order, line),
            Err(_) => (text.rsplit_once('=').map_or(order, |(order, _)| order), 0),
        },
        None => (order, 0),
    };
    if order.trim().is_empty() {
        return Err(wrong());
    }
    Ok(v1::SupposeOrderLater { order: super::order(order.trim()), line_number, days })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn orders_lines_and_days() {
        let read = |text: &str| later(text).unwrap();
        let order = |fact: &v1::SupposeOrderLater| fact.order.clone();
        let whole = read("P-2007=7");
        assert_eq!(
            (order(&whole), whole.line_number, whole.days),
            (crate::cli::parse::order("P-2007"), 0, 7)
        );
        let line = read("P-2007:2=-3");
        assert_eq!(
            (order(&line), line.line_number, line.days),
            (crate::cli::parse::order("P-2007"), 2, -3)
        );
        let colon = read("GLEN:A=+14");
        assert_eq!(
            (order(&colon), colon.line_number, colon.days),
            (crate::cli::parse::order("GLEN:A"), 0, 14)
        );
        for wrong in ["P-2007", "P-2007=", "P-2007=soon", "=7", ":2=7", "P-2007=1.5"] {
            assert!(later(wrong).is_err(), "{wrong}");
        }
    }
}
