//! What is on hand, and the bookings that made it so.

use super::{date, decimal, timestamp};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::{Account, Entry, Line, Movement, MovementKind, Part};
use baystart_core::quantity::Quantity;
use std::collections::BTreeMap;

/// One part's quantities over all bins; with `detail` its bins and bindings.
/// The book holds everything that binds the part.
#[must_use]
pub fn on_hand(book: &Book, part: &Part, detail: bool) -> v1::OnHand {
    let mut totals = [Quantity::ZERO; 3];
    for (_, stock) in book.stock.iter().filter(|(key, _)| key.part == part.id) {
        totals[0] += stock.usable;
        totals[1] += stock.reserved;
        totals[2] += stock.quarantined;
    }
    let [usable, reserved, quarantined] = totals;
    let mut on_order = Quantity::ZERO;
    let mut pegged = Quantity::ZERO;
    for line in book.order_lines.values().filter(|line| line.part == part.id) {
        on_order += line.on_order();
        pegged += book.pegged_on(line.id);
    }
    v1::OnHand {
        part_number: part.number.written().to_owned(),
        description: part.description.clone(),
        unit_code: part.unit.code().to_owned(),
        on_hand: Some(decimal(usable + quarantined)),
        quarantined: Some(decimal(quarantined)),
        reserved: Some(decimal(reserved)),
        available: Some(decimal(usable - reserved)),
        on_order: Some(decimal(on_order)),
        pegged: Some(decimal(pegged)),
        short: Some(decimal(short(book, part))),
        bins: if detail { bins(book, part) } else { Vec::new() },
        bindings: if detail { bindings(book, part) } else { Vec::new() },
        shortages: shortages(book, part),
    }
}

/// The part's lines in holding builds, in the order in which they are served.
fn served_lines<'a>(book: &'a Book, part: &'a Part) -> Vec<&'a Line> {
    let mut lines: Vec<&Line> = holding_lines(book, part).collect();
    lines.sort_by_cached_key(|line| {
        let key = book.builds.get(&line.build).map(|build| book.service_key(build));
        (key, line.number)
    });
    lines
}

fn shortages(book: &Book, part: &Part) -> Vec<v1::Shortage> {
    if part.consumable {
        return Vec::new();
    }
    let mut out = Vec::new();
    for line in served_lines(book, part) {
        let short = book.short_of(line);
        if short.is_zero() {
            continue;
        }
        let build = book.builds.get(&line.build).map_or("?", |build| build.number.written());
        let stage = book.stages.get(&line.stage).map_or("?", |stage| stage.name.written());
        out.push(v1::Shortage {
            build_number: build.to_owned(),
            stage_name: stage.to_owned(),
            line_number: line.number,
            quantity: Some(decimal(short)),
        });
    }
    out
}

fn holding_lines<'a>(book: &'a Book, part: &'a Part) -> impl Iterator<Item = &'a Line> {
    book.lines.values().filter(|line| {
        line.part == part.id
            && book.builds.get(&line.build).is_some_and(|b| b.state.keeps_bindings())
    })
}

fn short(book: &Book, part: &Part) -> Quantity {
    if part.consumable {
        return Quantity::ZERO;
    }
    holding_lines(book, part).map(|line| book.short_of(line)).sum()
}

fn bins(book: &Book, part: &Part) -> Vec<v1::BinBalance> {
    let mut out = Vec::new();
    for ((key, bin), balance) in &book.balances {
        let empty = balance.usable.is_zero() && balance.quarantined.is_zero();
        if key.part != part.id || empty {
            continue;
        }
        out.push(v1::BinBalance {
            bin_code: book.bin_code(*bin).to_owned(),
            lot: key.lot.to_string(),
            usable: Some(decimal(balance.usable)),
            quarantined: Some(decimal(balance.quarantined)),
            expires_on: book.stock.get(key).and_then(|stock| stock.expires_on).map(date),
        });
    }
    out.sort_by(|a, b| (&a.bin_code, &a.lot).cmp(&(&b.bin_code, &b.lot)));
    out
}

fn bindings(book: &Book, part: &Part) -> Vec<v1::Binding> {
    let mut out = Vec::new();
    for line in served_lines(book, part) {
        let build = book.builds.get(&line.build).map_or("?", |build| build.number.written());
        let stage = book.stages.get(&line.stage).map_or("?", |stage| stage.name.written());
        let base = v1::Binding {
            build_number: build.to_owned(),
            stage_name: stage.to_owned(),
            line_number: line.number,
            ..v1::Binding::default()
        };
        // Several reservations of one lot are one promise to the reader.
        let mut held_by_lot: BTreeMap<String, Quantity> = BTreeMap::new();
        for held in book.reservations_of(line.id).filter(|r| r.held.is_positive()) {
            *held_by_lot.entry(held.key.lot.to_string()).or_default() += held.held;
        }
        for (lot, held) in held_by_lot {
            out.push(v1::Binding { quantity: Some(decimal(held)), lot, ..base.clone() });
        }
        for peg in book.pegs_of(line.id) {
            let Some(supply) = book.order_lines.get(&peg.order_line) else { continue };
            let order = book.orders.get(&supply.order).map_or("?", |order| order.number.written());
            out.push(v1::Binding {
                quantity: Some(decimal(peg.quantity)),
                order_number: order.to_owned(),
                order_line_number: supply.number,
                ..base.clone()
            });
        }
    }
    out
}

/// A booking; the book names parts, bins, suppliers and builds.
#[must_use]
pub fn movement(book: &Book, movement: &Movement) -> v1::Movement {
    let entry = |entry: &Entry| v1::Entry {
        part_number: book.part_number(entry.key.part).to_owned(),
        lot: entry.key.lot.to_string(),
        account: account(book, entry.account),
        quantity: Some(decimal(entry.quantity)),
    };
    v1::Movement {
        uid: movement.id.to_string(),
        kind: kind(movement.kind).into(),
        occurred_on: Some(date(movement.occurred_on)),
        recorded_at: Some(timestamp(movement.recorded_at)),
        reason: movement.reason.clone(),
        recorded_by: movement.recorded_by.clone(),
        entries: movement.entries.iter().map(entry).collect(),
    }
}

fn account(book: &Book, account: Account) -> String {
    match account {
        Account::Supplier(id) => {
            let code = book.suppliers.get(&id).map_or("?", |supplier| supplier.code.written());
            format!("supplier {code}")
        }
        Account::UnknownSupplier => "supplier not known".to_owned(),
        Account::Bin(bin) => format!("bin {}", book.bin_code(bin)),
        Account::Quarantine(bin) => format!("quarantine {}", book.bin_code(bin)),
        Account::Build(id) => {
            let number = book.builds.get(&id).map_or("?", |build| build.number.written());
            format!("build {number}")
        }
        Account::Finisher(id) => {
            let code = book.suppliers.get(&id).map_or("?", |supplier| supplier.code.written());
            format!("finisher {code}")
        }
        Account::Making => "making".to_owned(),
        Account::Customer(id) => {
            let number = book.builds.get(&id).map_or("?", |build| build.number.written());
            format!("customer of build {number}")
        }
        Account::Scrap => "scrap".to_owned(),
        Account::Variance => "variance".to_owned(),
    }
}

const fn kind(kind: MovementKind) -> v1::MovementKind {
    match kind {
        MovementKind::Opening => v1::MovementKind::Opening,
        MovementKind::Receipt => v1::MovementKind::Receipt,
        MovementKind::Adjustment => v1::MovementKind::Adjustment,
        MovementKind::Found => v1::MovementKind::Found,
        MovementKind::Issue => v1::MovementKind::Issue,
        MovementKind::ReturnToStock => v1::MovementKind::ReturnToStock,
        MovementKind::Transfer => v1::MovementKind::Transfer,
        MovementKind::Scrap => v1::MovementKind::Scrap,
        MovementKind::Quarantine => v1::MovementKind::Quarantine,
        MovementKind::QuarantineRelease => v1::MovementKind::QuarantineRelease,
        MovementKind::SentOut => v1::MovementKind::SentOut,
        MovementKind::CameBack => v1::MovementKind::CameBack,
        MovementKind::Made => v1::MovementKind::Made,
        MovementKind::CustomerReceipt => v1::MovementKind::CustomerReceipt,
        MovementKind::ReturnToSupplier => v1::MovementKind::ReturnToSupplier,
        MovementKind::Picked => v1::MovementKind::Picked,
    }
}
