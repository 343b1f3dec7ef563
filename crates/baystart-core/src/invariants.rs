//! The invariant registry (design, section 3): ids, sentences, predicates.
//!
//! Predicates look at a whole book with its ledger; a slice proves nothing.
//! LG-3, ID-1, ID-2 and TN-1 are rules about the database: the store checks them.

use crate::book::model::{Account, BinBalance, Made, OrderLine, Stock, StockKey};
use crate::book::{Book, index_faults};
use crate::ids::{BinId, LineId, SupplierId};
use crate::quantity::Quantity;
use std::collections::BTreeMap;

/// One rule that always holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Invariant {
    /// Stable id.
    pub id: &'static str,
    /// One sentence.
    pub sentence: &'static str,
}

/// Every rule, with the sentence that people are shown.
pub const REGISTRY: &[Invariant] = &[
    Invariant { id: "LG-1", sentence: "Every movement sums to zero over its accounts." },
    Invariant { id: "LG-2", sentence: "No bin, lot or quarantine balance is negative." },
    Invariant { id: "LG-3", sentence: "Entries are never changed or removed." },
    Invariant { id: "LG-4", sentence: "Every balance is the sum of its entries." },
    Invariant { id: "RS-1", sentence: "Reserved is at most usable on hand, per part and lot." },
    Invariant { id: "RS-2", sentence: "Made = held + issued + released + moved, per reservation." },
    Invariant { id: "RS-3", sentence: "A line is bound to at most what it still needs." },
    Invariant {
        id: "PO-1",
        sentence: "Received + cancelled is at most ordered + over-delivery accepted by name.",
    },
    Invariant { id: "PO-2", sentence: "Pegged is at most what is still on order, per order line." },
    Invariant {
        id: "PO-3",
        sentence: "A package counts as received as far as its pieces make it up.",
    },
    Invariant {
        id: "MK-1",
        sentence: "What is made for a line, done and out, is at most what was to be made.",
    },
    Invariant { id: "IX-1", sentence: "Every look-up says what a scan over all rows says." },
    Invariant { id: "ID-1", sentence: "A request id takes effect at most once in a shop." },
    Invariant {
        id: "ID-2",
        sentence: "A repeat answers what the first answered; another command under the same id is refused.",
    },
    Invariant { id: "TN-1", sentence: "No read or write crosses a shop." },
];

/// A rule that does not hold, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// Id in the registry.
    pub id: &'static str,
    /// What was found.
    pub text: String,
}

/// Every violation in a whole book. The ledger is checked where the book
/// keeps it.
#[must_use]
pub fn check(book: &Book) -> Vec<Violation> {
    let mut found = Vec::new();
    balances(book, &mut found);
    reservations(book, &mut found);
    lines(book, &mut found);
    orders(book, &mut found);
    found.extend(index_faults(book).into_iter().map(|text| Violation { id: "IX-1", text }));
    if book.keep_ledger {
        ledger(book, &mut found);
    }
    found
}

fn note(found: &mut Vec<Violation>, id: &'static str, text: String) {
    found.push(Violation { id, text });
}

fn balances(book: &Book, found: &mut Vec<Violation>) {
    let mut sums: BTreeMap<&StockKey, BinBalance> = BTreeMap::new();
    for ((key, bin), balance) in &book.balances {
        if balance.usable.is_negative() || balance.quarantined.is_negative() {
            let (part, bin) = (book.part_number(key.part), book.bin_code(*bin));
            note(found, "LG-2", format!("{part} in bin {bin}: {balance:?}"));
        }
        let sum = sums.entry(key).or_default();
        sum.usable += balance.usable;
        sum.quarantined += balance.quarantined;
    }
    for (key, stock) in &book.stock {
        let part = book.part_number(key.part);
        if stock.reserved.is_negative() || stock.reserved > stock.usable {
            let Stock { usable, reserved, .. } = stock;
            note(found, "RS-1", format!("{part} {}: {reserved} of {usable}", key.lot));
        }
        let sum = sums.get(key).copied().unwrap_or_default();
        if (sum.usable, sum.quarantined) != (stock.usable, stock.quarantined) {
            note(found, "LG-4", format!("{part} {}: bins {sum:?}, total {stock:?}", key.lot));
        }
    }
    for key in sums.keys().filter(|key| !book.stock.contains_key(**key)) {
        let part = book.part_number(key.part);
        note(found, "LG-4", format!("{part} {} lies in bins but has no total", key.lot));
    }
}

fn reservations(book: &Book, found: &mut Vec<Violation>) {
    let mut held: BTreeMap<&StockKey, Quantity> = BTreeMap::new();
    for row in book.reservations.values() {
        let parts = [row.held, row.issued, row.released, row.moved];
        let sum: Quantity = parts.into_iter().sum();
        if row.made != sum || parts.iter().any(|part| part.is_negative()) {
            note(found, "RS-2", format!("{row:?}"));
        }
        *held.entry(&row.key).or_default() += row.held;
    }
    for (key, stock) in &book.stock {
        let sum = held.get(key).copied().unwrap_or_default();
        if sum != stock.reserved {
            let part = book.part_number(key.part);
            let reserved = stock.reserved;
            note(found, "RS-1", format!("{part}: reserved {reserved}, reservations hold {sum}"));
        }
    }
}

fn lines(book: &Book, found: &mut Vec<Violation>) {
    let mut bound: BTreeMap<LineId, Quantity> = BTreeMap::new();
    for row in book.reservations.values() {
        *bound.entry(row.line).or_default() += row.held;
    }
    for peg in book.pegs.values() {
        *bound.entry(peg.line).or_default() += peg.quantity;
    }
    let held = book.reservations.values().filter(|row| row.held.is_positive());
    let held = held.map(|row| (row.line, Some(row.key.part)));
    let part_of = |id| book.order_lines.get(&id).map(|row: &OrderLine| row.part);
    let pegged = book.pegs.values().map(|peg| (peg.line, part_of(peg.order_line)));
    for (line, part) in held.chain(pegged) {
        if book.lines.get(&line).map(|line| line.part) != part {
            note(found, "RS-3", format!("line {line:?} is bound to another part, {part:?}"));
        }
    }
    for line in book.lines.values() {
        let build = book.builds.get(&line.build);
        let label = || {
            let number = build.map_or("?", |build| build.number.written());
            format!("build {number} line {}", line.number)
        };
        let bound = bound.get(&line.id).copied().unwrap_or_default();
        if bound > book.open_need(line) {
            let need = book.open_need(line);
            note(found, "RS-3", format!("{}: bound {bound}, needs {need}", label()));
        }
        if bound.is_positive() && !build.is_some_and(|build| build.state.keeps_bindings()) {
            note(found, "RS-3", format!("{}: bound {bound}, but the build is over", label()));
        }
        if let Some(making) = &line.making {
            let parts = [making.quantity, making.done, making.out];
            let negative = parts.iter().any(|quantity| quantity.is_negative());
            if negative || making.done + making.out > making.quantity {
                note(found, "MK-1", format!("{}: {making:?}", label()));
            }
        }
        if line.issued.is_negative() || line.required.is_negative() {
            note(found, "RS-3", format!("{}: less than nothing: {line:?}", label()));
        }
    }
}

fn orders(book: &Book, found: &mut Vec<Violation>) {
    let mut pegged: BTreeMap<_, Quantity> = BTreeMap::new();
    for peg in book.pegs.values() {
        *pegged.entry(peg.order_line).or_default() += peg.quantity;
        if !peg.quantity.is_positive() {
            note(found, "PO-2", format!("a peg of nothing: {peg:?}"));
        }
    }
    for line in book.order_lines.values() {
        let number = book.orders.get(&line.order).map_or("?", |order| order.number.written());
        let label = format!("order {number} line {}", line.number);
        let gone = line.received + line.cancelled_by_us + line.cancelled_by_supplier;
        if gone > line.ordered + line.over_accepted {
            note(found, "PO-1", format!("{label}: {gone} of {}", line.ordered));
        }
        if line.package {
            package(book, line, &label, found);
        }
        let pegged = pegged.get(&line.id).copied().unwrap_or_default();
        if pegged > line.on_order() {
            note(found, "PO-2", format!("{label}: pegged {pegged} of {}", line.on_order()));
        }
    }
}

/// PO-3, reckoned from the pieces' shares of one package.
fn package(book: &Book, row: &OrderLine, label: &str, found: &mut Vec<Violation>) {
    let pieces = book.lines_of_order(row.order);
    let pieces = pieces.into_iter().filter(|piece| piece.package_line == row.number);
    let whole = |piece: &OrderLine| {
        let packages = i128::from(piece.received.milli()) * i128::from(row.ordered.milli() / 1000);
        i64::try_from(packages / i128::from(piece.ordered.milli()).max(1)).unwrap_or(i64::MAX)
    };
    let complete = pieces.map(whole).min().unwrap_or(0).min(row.ordered.milli() / 1000);
    if row.received.milli() != complete * 1000 {
        let text = format!("{label}: {} received, the pieces make up {complete}", row.received);
        note(found, "PO-3", text);
    }
}

fn ledger(book: &Book, found: &mut Vec<Violation>) {
    let mut bins: BTreeMap<(&StockKey, BinId), BinBalance> = BTreeMap::new();
    let mut issued: BTreeMap<LineId, Quantity> = BTreeMap::new();
    let mut outside: BTreeMap<(SupplierId, &StockKey), Quantity> = BTreeMap::new();
    for movement in &book.ledger {
        let mut sums: BTreeMap<&StockKey, Quantity> = BTreeMap::new();
        for entry in &movement.entries {
            *sums.entry(&entry.key).or_default() += entry.quantity;
            match entry.account {
                Account::Bin(bin) => {
                    bins.entry((&entry.key, bin)).or_default().usable += entry.quantity;
                }
                Account::Quarantine(bin) => {
                    bins.entry((&entry.key, bin)).or_default().quarantined += entry.quantity;
                }
                // What is made comes out of making: that is no issue of its line.
                Account::Making if entry.quantity.is_negative() => {}
                // What is used up or sent out left the stock for its component line.
                Account::Build(_) | Account::Making | Account::Finisher(_) => {
                    if let Account::Finisher(supplier) = entry.account {
                        *outside.entry((supplier, &entry.key)).or_default() += entry.quantity;
                    }
                    if let Some(line) = movement.line {
                        *issued.entry(line).or_default() += entry.quantity;
                    }
                }
                _ => {}
            }
        }
        for (key, sum) in sums {
            if !sum.is_zero() {
                let part = book.part_number(key.part);
                note(found, "LG-1", format!("movement {} of {part} sums to {sum}", movement.id));
            }
        }
    }
    for line in book.lines.values() {
        let Some(making) = &line.making else { continue };
        let Made::AtFinisher { supplier, .. } = making.how else { continue };
        for (key, out) in &making.out_stock {
            *outside.entry((supplier, key)).or_default() -= *out;
        }
    }
    for ((_, key), left) in outside.into_iter().filter(|(_, left)| !left.is_zero()) {
        let part = book.part_number(key.part);
        note(found, "LG-4", format!("{part}: lines and entries differ by {left} at a finisher"));
    }
    for ((key, bin), balance) in &book.balances {
        let sum = bins.remove(&(key, *bin)).unwrap_or_default();
        if sum != *balance {
            let (part, bin) = (book.part_number(key.part), book.bin_code(*bin));
            note(found, "LG-4", format!("{part} in bin {bin}: {balance:?}, entries {sum:?}"));
        }
    }
    for ((key, bin), sum) in bins.into_iter().filter(|(_, sum)| *sum != BinBalance::default()) {
        let (part, bin) = (book.part_number(key.part), book.bin_code(bin));
        note(found, "LG-4", format!("{part} in bin {bin}: no balance, entries {sum:?}"));
    }
    for line in book.lines.values() {
        let sum = issued.get(&line.id).copied().unwrap_or_default();
        if sum != line.issued {
            let part = book.part_number(line.part);
            note(found, "LG-4", format!("{part}: issued {}, entries {sum}", line.issued));
        }
    }
}
