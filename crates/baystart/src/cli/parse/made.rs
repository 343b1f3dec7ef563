//! How a part is made of its components.

use super::date::{Cleared, NONE};
use baystart_proto::v1;

/// Reads working days, or `none` for a part that is not made in the shop.
///
/// # Errors
/// The text is no whole number of days.
pub fn in_shop(text: &str) -> Result<Cleared<v1::part::Made>, String> {
    if text == NONE {
        return Ok(Cleared(None));
    }
    let working_days = days(text)?;
    Ok(Cleared(Some(v1::part::Made::MadeInShop(v1::MadeInShop { working_days }))))
}

/// Reads `SUPPLIER` or `SUPPLIER=DAYS`, the calendar days that the finisher
/// quotes, or `none` for a part that no finisher works on.
///
/// # Errors
/// The supplier is missing, or the days are no whole number.
pub fn by_finisher(text: &str) -> Result<Cleared<v1::part::Made>, String> {
    if text == NONE {
        return Ok(Cleared(None));
    }
    let (code, quoted_lead_time_days) = match text.rsplit_once('=') {
        Some((code, quoted)) => (code, Some(days(quoted)?)),
        None => (text, None),
    };
    if code.trim().is_empty() {
        return Err("is not SUPPLIER[=DAYS]; write for example BEINN=12".to_owned());
    }
    let finished =
        v1::FinishedOutside { supplier: super::supplier(code.trim()), quoted_lead_time_days };
    Ok(Cleared(Some(v1::part::Made::FinishedOutside(finished))))
}

fn days(text: &str) -> Result<i32, String> {
    match text.trim().parse::<i32>() {
        Ok(days) if days >= 0 => Ok(days),
        _ => Err("names no whole number of days; write for example 3".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;

    #[test]
    fn made_in_the_shop() {
        let Some(v1::part::Made::MadeInShop(made)) = in_shop("2").unwrap().0 else {
            panic!("not made in the shop")
        };
        assert_eq!(made.working_days, 2);
        assert_eq!(in_shop("none").unwrap(), Cleared(None));
        for wrong in ["", "two", "-1", "1.5"] {
            assert!(in_shop(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn finished_outside() {
        let read = |text: &str| match by_finisher(text).unwrap().0 {
            Some(v1::part::Made::FinishedOutside(made)) => made,
            other => panic!("{other:?}"),
        };
        assert_eq!(read("BEINN=12").quoted_lead_time_days, Some(12));
        assert_eq!(read("BEINN").quoted_lead_time_days, None);
        assert_eq!(read("BEINN").supplier, super::super::supplier("BEINN"));
        assert_eq!(by_finisher("none").unwrap(), Cleared(None));
        for wrong in ["", "=3", "BEINN=", "BEINN=x"] {
            assert!(by_finisher(wrong).is_err(), "{wrong}");
        }
    }
}
