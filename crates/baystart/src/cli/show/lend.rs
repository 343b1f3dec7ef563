//! Both sides of a loan, before and after.

use super::table::Rows;
use super::text::{day, day_at};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The dates of both builds, then what would be done.
#[must_use]
pub fn text(console: Console, seen: &v1::PreviewLendingResponse) -> String {
    let columns = ["build", "booked", "", "50 %", "80 %", "95 %", "#days"];
    let mut rows = Rows::new(console, &columns);
    for side in [&seen.from, &seen.to].into_iter().flatten() {
        let booked = side.planned_start.as_ref().map_or(String::new(), |date| day(Some(date)));
        let at =
            |dates: &[v1::DateAtConfidence]| [0.5, 0.8, 0.95].map(|level| day_at(dates, level));
        let [half, most, nearly] = at(&side.before);
        rows.row([
            side.build_number.clone(),
            booked,
            "now".to_owned(),
            half,
            most,
            nearly,
            String::new(),
        ]);
        let [half, most, nearly] = at(&side.after);
        let days = side.days_later_80.map_or(String::new(), |days| format!("{days:+}"));
        rows.row([
            String::new(),
            String::new(),
            "after the loan".to_owned(),
            half,
            most,
            nearly,
            days,
        ]);
    }
    let mut text = String::from("Earliest starts:\n");
    text.push_str(&rows.text_or(""));
    text.push_str("days: working days by which the 80 % start comes later (+) or sooner (-).\n");
    text.push_str("\nThe loan would do this:\n");
    for effect in &seen.effects {
        let _ = writeln!(text, "  {effect}");
    }
    text
}
