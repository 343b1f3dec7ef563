//! What look-ups must say, found by scans over all rows: the check of the indexes.

use super::Book;
use super::table::{Row, Table};
use crate::refs::Ref;
use std::collections::BTreeMap;
use std::fmt::Debug;

/// Where a look-up says other than a scan, or an index other than its rows make it.
#[must_use]
pub fn index_faults(book: &Book) -> Vec<String> {
    let mut found = Vec::new();
    follow(book, &mut found);
    numbers(book, &mut found);
    of_builds(book, &mut found);
    of_orders(book, &mut found);
    of_parts(book, &mut found);
    of_lines(book, &mut found);
    found
}

fn follow(book: &Book, found: &mut Vec<String>) {
    let mut table = |name: &str, follows: bool| {
        if !follows {
            found.push(format!("the index of {name} is not what its rows make it"));
        }
    };
    table("parts", book.parts.index_follows());
    table("suppliers", book.suppliers.index_follows());
    table("offers", book.offers.index_follows());
    table("bins", book.bins.index_follows());
    table("builds", book.builds.index_follows());
    table("stages", book.stages.index_follows());
    table("lines", book.lines.index_follows());
    table("awaited", book.awaited.index_follows());
    table("reservations", book.reservations.index_follows());
    table("orders", book.orders.index_follows());
    table("order lines", book.order_lines.index_follows());
    table("pegs", book.pegs.index_follows());
}

/// Rows by what `group` says of them, in the order of their keys.
fn grouped<R: Row, G: Ord>(
    table: &Table<R>,
    group: impl Fn(&R) -> Option<G>,
) -> BTreeMap<G, Vec<&R>> {
    let mut groups: BTreeMap<G, Vec<&R>> = BTreeMap::new();
    for row in table.values() {
        if let Some(group) = group(row) {
            groups.entry(group).or_default().push(row);
        }
    }
    groups
}

fn same<T: PartialEq + Debug>(found: &mut Vec<String>, what: &str, looked_up: &T, scanned: &T) {
    if looked_up != scanned {
        found.push(format!("{what}: {looked_up:?} is looked up, {scanned:?} is there"));
    }
}

fn numbers(book: &Book, found: &mut Vec<String>) {
    macro_rules! first_of {
        ($map:ident, $number:ident, $find:ident) => {
            for rows in grouped(&book.$map, |row| Some(row.$number.clone())).into_values() {
                let Some(first) = rows.first() else { continue };
                let looked_up = book.$find(&Ref::Number(first.$number.clone())).ok();
                same(found, stringify!($find), &looked_up, &Some(*first));
            }
        };
    }
    first_of!(parts, number, find_part);
    first_of!(suppliers, code, find_supplier);
    first_of!(bins, code, find_bin);
    first_of!(builds, number, find_build);
    first_of!(orders, number, find_order);
}

fn of_builds(book: &Book, found: &mut Vec<String>) {
    let mut stages = grouped(&book.stages, |row| Some(row.build));
    let mut lines = grouped(&book.lines, |row| Some(row.build));
    let mut awaited = grouped(&book.awaited, |row| Some(row.build));
    let in_bay: Vec<_> = book.builds.values().filter(|build| build.is_in_bay()).collect();
    same(found, "builds_in_bay", &book.builds_in_bay(), &in_bay);
    for build in book.builds.values() {
        let mut scanned = stages.remove(&build.id).unwrap_or_default();
        scanned.sort_by_key(|row| row.ordinal);
        same(found, "stages_of", &book.stages_of(build.id), &scanned);
        let mut scanned = lines.remove(&build.id).unwrap_or_default();
        scanned.sort_by_key(|row| row.number);
        same(found, "lines_of", &book.lines_of(build.id), &scanned);
        for line in &scanned {
            let first = scanned.iter().find(|row| row.number == line.number).copied();
            same(found, "find_line", &book.find_line(build, line.number).ok(), &first);
        }
        let mut scanned = awaited.remove(&build.id).unwrap_or_default();
        scanned.sort_by_key(|row| row.number);
        same(found, "awaited_of", &book.awaited_of(build.id), &scanned);
    }
}

fn of_orders(book: &Book, found: &mut Vec<String>) {
    let mut lines = grouped(&book.order_lines, |row| Some(row.order));
    for order in book.orders.values() {
        let mut scanned = lines.remove(&order.id).unwrap_or_default();
        scanned.sort_by_key(|row| row.number);
        same(found, "lines_of_order", &book.lines_of_order(order.id), &scanned);
        for line in &scanned {
            let first = scanned.iter().find(|row| row.number == line.number).copied();
            same(found, "find_order_line", &book.find_order_line(order, line.number).ok(), &first);
        }
    }
    let mut pegs = grouped(&book.pegs, |row| Some(row.order_line));
    for id in book.order_lines.keys() {
        let scanned = pegs.remove(id).unwrap_or_default();
        same(found, "pegs_on", &book.pegs_on(*id).collect(), &scanned);
    }
}

fn of_parts(book: &Book, found: &mut Vec<String>) {
    let mut lines = grouped(&book.lines, |row| Some(row.part));
    let mut order_lines = grouped(&book.order_lines, |row| Some(row.part));
    let mut reservations = grouped(&book.reservations, |row| Some(row.key.part));
    let mut offers = grouped(&book.offers, |row| Some(row.part));
    for id in book.parts.keys() {
        let scanned = lines.remove(id).unwrap_or_default();
        same(found, "lines_for_part", &book.lines_for_part(*id).collect(), &scanned);
        let scanned = order_lines.remove(id).unwrap_or_default();
        same(found, "order_lines_for_part", &book.order_lines_for_part(*id).collect(), &scanned);
        let scanned = reservations.remove(id).unwrap_or_default();
        same(found, "reservations_for_part", &book.reservations_for_part(*id).collect(), &scanned);
        let mut scanned = offers.remove(id).unwrap_or_default();
        for offer in &scanned {
            let first = scanned.iter().find(|row| row.supplier == offer.supplier).copied();
            same(found, "offer_of", &book.offer_of(offer.supplier, *id), &first);
        }
        scanned.sort_by_key(|offer| (offer.supplier, offer.id));
        same(found, "offers_for_part", &book.offers_for_part(*id).collect(), &scanned);
        let stock = book.stock.iter().filter(|(key, _)| key.part == *id);
        same(found, "stock_of", &book.stock_of(*id).collect::<Vec<_>>(), &stock.collect());
    }
}

fn of_lines(book: &Book, found: &mut Vec<String>) {
    let mut reservations = grouped(&book.reservations, |row| Some(row.line));
    let mut ordered = grouped(&book.order_lines, |row| row.for_line);
    let mut awaited = grouped(&book.awaited, |row| row.line);
    for id in book.lines.keys() {
        let scanned = reservations.remove(id).unwrap_or_default();
        same(found, "reservations_of", &book.reservations_of(*id).collect(), &scanned);
        let scanned = ordered.remove(id).unwrap_or_default();
        same(found, "ordered_for", &book.ordered_for(*id).collect(), &scanned);
        let scanned = awaited.remove(id).unwrap_or_default();
        same(found, "awaited_for", &book.awaited_for(*id).collect(), &scanned);
    }
}
