//! Open order lines of which nothing has been heard for long.

use super::table::Rows;
use super::text::{counted, day, quoted};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The lines, the longest silent first, and what to do about them.
#[must_use]
pub fn text(console: Console, orders: &[v1::StaleOrder]) -> String {
    let columns = [
        "supplier",
        "order",
        "#line",
        "part",
        "placed",
        "last news",
        "expected",
        "#days silent",
        "from",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["from", "placed", "expected"]);
    for order in orders {
        rows.row([
            order.supplier_code.clone(),
            order.order_number.clone(),
            // An imported file need not number its lines.
            if order.order_line_number == 0 {
                String::new()
            } else {
                order.order_line_number.to_string()
            },
            order.part_number.clone(),
            day(order.placed_on.as_ref()),
            day(order.last_news_on.as_ref()),
            day(order.expected_on.as_ref()),
            order.silent_days.to_string(),
            if order.imported { "imported history" } else { "open orders" }.to_owned(),
        ]);
    }
    let mut text = rows.text_or("No open order has been without news for long.");
    text.push_str(&advice(orders));
    text
}

fn advice(orders: &[v1::StaleOrder]) -> String {
    let mut text = String::new();
    if orders.is_empty() {
        return text;
    }
    let lines = i64::try_from(orders.len()).unwrap_or(i64::MAX);
    let said = counted(lines, "order line counts", "order lines count");
    let _ = writeln!(
        text,
        "\n{said} as open until the last news, and no longer, when lead times are learned."
    );
    if let Some(order) = orders.iter().find(|order| !order.imported) {
        let (number, line) = (quoted(&order.order_number), order.order_line_number);
        let _ = writeln!(
            text,
            "Chase the supplier, then say what is true; for {} line {line}:\n  \
             baystart order asked {number} --note WHAT_THEY_SAID   it is still to come\n  \
             baystart receive {number} {line} --bin BIN --on DATE   it came and was not booked\n  \
             baystart order cancel {number} {line} --by us|supplier --reason REASON   it will not come",
            order.order_number
        );
    }
    if orders.iter().any(|order| order.imported) {
        text.push_str(
            "Imported lines: complete received_on, cancelled_on or last_known_open_on in the file, then\n  \
             baystart import history FILE\n",
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(month: i32, day: i32) -> Option<v1::Date> {
        Some(v1::Date { year: 2026, month, day })
    }

    fn order(number: &str, imported: bool) -> v1::StaleOrder {
        v1::StaleOrder {
            supplier_code: "CORRIE".into(),
            order_number: number.into(),
            order_line_number: 2,
            part_number: "EL-1050".into(),
            placed_on: date(2, 2),
            last_news_on: date(2, 9),
            expected_on: date(3, 2),
            silent_days: 196,
            imported,
        }
    }

    #[test]
    fn what_is_silent_and_what_to_do() {
        let expected = "\
supplier  order   line  part     placed          last news       expected        days silent  from
--------------------------------------------------------------------------------------------------------------
CORRIE    P-1881     2  EL-1050  Mon 2026-02-02  Mon 2026-02-09  Mon 2026-03-02          196  open orders
CORRIE    H-77       2  EL-1050  Mon 2026-02-02  Mon 2026-02-09  Mon 2026-03-02          196  imported history

2 order lines count as open until the last news, and no longer, when lead times are learned.
Chase the supplier, then say what is true; for P-1881 line 2:
  baystart order asked P-1881 --note WHAT_THEY_SAID   it is still to come
  baystart receive P-1881 2 --bin BIN --on DATE   it came and was not booked
  baystart order cancel P-1881 2 --by us|supplier --reason REASON   it will not come
Imported lines: complete received_on, cancelled_on or last_known_open_on in the file, then
  baystart import history FILE
";
        let shown = text(Console::default(), &[order("P-1881", false), order("H-77", true)]);
        assert_eq!(shown, expected);
        let shown = text(Console::default(), &[order("H-77", true)]);
        assert!(!shown.contains("order asked") && shown.contains("import history"), "{shown}");
    }

    #[test]
    fn nothing_is_silent() {
        let shown = text(Console::default(), &[]);
        assert_eq!(shown, "No open order has been without news for long.\n");
    }
}
