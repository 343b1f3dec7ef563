//! What is free to promise of a part, and from when.

use super::table::Rows;
use super::text::{day, quantity};
use crate::cli::console::Console;
use baystart_proto::v1;

/// The rows by date.
#[must_use]
pub fn text(console: Console, response: &v1::GetAvailableToPromiseResponse) -> String {
    let columns = ["from", "#free", "50 % here by", "80 % here by", "#in all by then"];
    let mut rows = Rows::new(console, &columns);
    for row in &response.rows {
        rows.row([
            row.from.clone(),
            quantity(row.quantity.as_ref(), &response.unit_code),
            day(row.by_50.as_ref()),
            day(row.by_80.as_ref()),
            quantity(row.in_all.as_ref(), &response.unit_code),
        ]);
    }
    let head = format!("{}  {}\n", response.part_number, response.part_description);
    head + &rows.text_or("Nothing of it is free, on the shelf or on order.")
}
