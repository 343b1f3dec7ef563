//! Past order lines: the imported ones while they are read, and the shop's own
//! closed ones between them, in one order.

use super::sheet::{Cell, Sheet, Unwritable, maybe, pairs};
use crate::import::HISTORY_COLUMNS;
use baystart_core::book::Book;
use baystart_core::book::model::{Order, OrderLine};
use baystart_core::leadtime::history::CancelledBy;
use baystart_store::{Entered, PastRow};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Supplier's code, order, line and part, all in normal form: the order of rows.
type Key = (String, String, u32, String);

/// The file while its rows come in.
pub(crate) struct History {
    sheet: Sheet,
    /// Code of each supplier, normal and written.
    codes: BTreeMap<baystart_core::ids::SupplierId, (String, String)>,
    /// The shop's own closed lines that are still to be written, sorted.
    own: VecDeque<(Key, PastRow)>,
    /// Supplier, order and part of every own line, with its number.
    known: BTreeSet<Key>,
}

impl History {
    pub(crate) fn new(book: &Book) -> Result<Self, Unwritable> {
        let code = |row: &baystart_core::book::model::Supplier| {
            (row.id, (row.code.normal().to_owned(), row.code.written().to_owned()))
        };
        let mut history = Self {
            sheet: Sheet::new(HISTORY_COLUMNS)?,
            codes: book.suppliers.values().map(code).collect(),
            own: VecDeque::new(),
            known: BTreeSet::new(),
        };
        let mut own = Vec::new();
        for line in book.order_lines.values().filter(|line| !line.package) {
            let Some(order) = book.orders.get(&line.order) else { continue };
            let Some(row) = own_row(book, order, line) else { continue };
            let key = history.key(&row);
            history.known.insert(key.clone());
            if line.outstanding().is_zero() && line.closed_on.is_some() {
                own.push((key, row));
            }
        }
        own.sort_by(|(a, _), (b, _)| a.cmp(b));
        history.own = own.into();
        Ok(history)
    }

    fn key(&self, row: &PastRow) -> Key {
        let code = self.codes.get(&row.supplier).map(|(normal, _)| normal.clone());
        let (order, part) = (row.order.normal().to_owned(), row.part.normal().to_owned());
        (code.unwrap_or_default(), order, row.line, part)
    }

    /// Takes imported rows, which come sorted, and gives the bytes so far. A row
    /// that the shop's own orders know better is left out.
    pub(crate) fn take(&mut self, rows: &[PastRow]) -> Result<Vec<u8>, Unwritable> {
        for row in rows {
            let key = self.key(row);
            self.own_before(Some(&key))?;
            if !self.knows(&key) {
                self.write(row)?;
            }
        }
        self.sheet.take()
    }

    /// The rest of the bytes, and how many rows there are.
    pub(crate) fn finish(mut self) -> Result<(Vec<u8>, i64), Unwritable> {
        self.own_before(None)?;
        Ok((self.sheet.take()?, self.sheet.rows()))
    }

    /// Whether an own line is the same once more; a row without a line number is
    /// any line of its order and part.
    fn knows(&self, key: &Key) -> bool {
        let (code, order, line, part) = key;
        if *line != 0 {
            return self.known.contains(key);
        }
        let first = (code.clone(), order.clone(), 0, String::new());
        let of_order = self.known.range(first..).take_while(|k| k.0 == *code && k.1 == *order);
        of_order.into_iter().any(|known| known.3 == *part)
    }

    fn own_before(&mut self, key: Option<&Key>) -> Result<(), Unwritable> {
        while let Some((own, _)) = self.own.front() {
            if key.is_some_and(|key| own > key) {
                return Ok(());
            }
            if let Some((_, row)) = self.own.pop_front() {
                self.write(&row)?;
            }
        }
        Ok(())
    }

    fn write(&mut self, row: &PastRow) -> Result<(), Unwritable> {
        let by = row.cancelled.map(|(by, _)| match by {
            CancelledBy::Us => "us",
            CancelledBy::Supplier => "supplier",
        });
        let code = self.codes.get(&row.supplier).map(|(_, written)| written.clone());
        let entered = row.entered;
        let cells: [Cell; 19] = [
            ("supplier", code.unwrap_or_default()),
            ("part", row.part.normal().to_owned()),
            ("order", row.order.normal().to_owned()),
            ("line", maybe(Some(row.line).filter(|line| *line > 0))),
            ("quantity", row.quantity.to_string()),
            ("quoted_lead_time_days", maybe(row.quoted_days)),
            ("placed_on", row.placed_on.to_string()),
            ("promises", pairs(row.promises.iter().copied())),
            ("despatched_on", maybe(row.despatched_on)),
            ("received_on", maybe(row.received_on)),
            ("cancelled_on", maybe(row.cancelled.map(|(_, on)| on))),
            ("cancelled_by", maybe(by)),
            ("last_known_open_on", maybe(row.last_known_open_on)),
            ("recorded_on", maybe(row.recorded_on)),
            ("placed_recorded_on", maybe(entered.placed)),
            ("despatched_recorded_on", maybe(entered.despatched)),
            ("received_recorded_on", maybe(entered.received)),
            ("cancelled_recorded_on", maybe(entered.cancelled)),
            ("rejected", maybe(Some(row.rejected).filter(|quantity| quantity.is_positive()))),
        ];
        self.sheet.row(&cells)
    }
}

/// An own line as a row of history; None for one that was never placed.
fn own_row(book: &Book, order: &Order, line: &OrderLine) -> Option<PastRow> {
    let placed_on = line.placed_on?;
    let part = book.parts.get(&line.part)?;
    let end = line.closed_on.filter(|_| line.outstanding().is_zero());
    let by_supplier = line.cancelled_by_supplier.is_positive();
    let cancelled = by_supplier || line.cancelled_by_us.is_positive();
    let by = if by_supplier { CancelledBy::Supplier } else { CancelledBy::Us };
    let before_end =
        |day: &jiff::civil::Date| *day >= placed_on && end.is_none_or(|end| *day <= end);
    Some(PastRow {
        file_line: 0,
        supplier: order.supplier,
        order: order.number.clone(),
        line: u32::try_from(line.number).unwrap_or(0),
        part: part.number.clone(),
        quantity: line.ordered,
        quoted_days: line.quoted_days,
        placed_on,
        promises: line.promises.iter().map(|p| (p.promised_on, p.known_on)).collect(),
        despatched_on: line.despatched_on.filter(before_end),
        received_on: end.filter(|_| !cancelled),
        cancelled: end.filter(|_| cancelled).map(|on| (by, on)),
        last_known_open_on: line.last_contact_on.filter(before_end),
        recorded_on: None,
        entered: Entered::default(),
        rejected: line.rejected,
    })
}
