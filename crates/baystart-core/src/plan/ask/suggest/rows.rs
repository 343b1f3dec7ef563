//! Needs put together by supplier.

use super::{SuggestedFor, SuggestedLine, SuggestedStock, SupplierSuggestion, Unordered};
use crate::book::Book;
use crate::book::model::Offer;
use crate::ids::{LineId, OrderLineId, SupplierId};
use crate::money::Money;
use crate::ordering::{LinePiece, PartNeed, order_quantity};
use crate::plan::reckon::timing::{Clock, Timing, TimingBasis};
use crate::quantity::Quantity;
use std::collections::BTreeMap;

pub(super) fn by_supplier(
    book: &Book,
    clock: &mut Clock<'_, '_>,
    needs: &[PartNeed],
    only: Option<SupplierId>,
    stock: Vec<(SupplierId, SuggestedLine)>,
) -> Vec<SupplierSuggestion> {
    let mut found: BTreeMap<SupplierId, Vec<SuggestedLine>> = BTreeMap::new();
    for need in needs {
        let mut drafts: BTreeMap<OrderLineId, Vec<LinePiece>> = BTreeMap::new();
        let mut fresh = Vec::new();
        for piece in &need.pieces {
            match piece.draft {
                Some(draft) => drafts.entry(draft).or_default().push(*piece),
                None => fresh.push(*piece),
            }
        }
        for (draft, pieces) in drafts {
            let Some(order_line) = book.order_lines.get(&draft) else { continue };
            let Some(order) = book.orders.get(&order_line.order) else { continue };
            if only.is_some_and(|only| only != order.supplier) {
                continue;
            }
            let offer = book.offer_of(order.supplier, need.part);
            let draft = Some(draft);
            let line = row(book, clock, need, offer, &pieces);
            let line = line.map(|line| {
                let (quantity, price) = (order_line.outstanding(), order_line.price);
                let amount = price.and_then(|price| price.times(quantity).ok());
                SuggestedLine { draft, quantity, price, amount, ..line }
            });
            found.entry(order.supplier).or_default().extend(line);
        }
        let offer = need.offer.filter(|_| need.why_not.is_none());
        let Some(offer) = offer.and_then(|id| book.offers.get(&id)) else { continue };
        if fresh.is_empty() || only.is_some_and(|only| only != offer.supplier) {
            continue;
        }
        let line = row(book, clock, need, Some(offer), &fresh);
        found.entry(offer.supplier).or_default().extend(line);
    }
    for (supplier, line) in stock {
        found.entry(supplier).or_default().push(line);
    }
    let mut suppliers: Vec<_> =
        found.into_iter().map(|(id, lines)| supplier(book, id, lines)).collect();
    let code = |row: &SupplierSuggestion| book.supplier_code(row.supplier);
    suppliers.sort_by(|a, b| urgency(&a.lines).cmp(&urgency(&b.lines)).then(code(a).cmp(code(b))));
    suppliers
}

/// Sorts what is late, the longest first, before what is to be ordered soon.
type Urgency = (bool, usize, Option<jiff::civil::Date>);

fn urgency_of(timing: &Timing) -> Urgency {
    // Beyond the horizon is later than any number of days.
    let late = timing.late_days.unwrap_or(usize::MAX);
    (!timing.late, if timing.late { usize::MAX - late } else { 0 }, timing.order_by)
}

fn urgency(lines: &[SuggestedLine]) -> Option<Urgency> {
    lines.iter().map(|line| urgency_of(&line.timing)).min()
}

fn supplier(book: &Book, id: SupplierId, mut lines: Vec<SuggestedLine>) -> SupplierSuggestion {
    lines.sort_by_cached_key(|line| (urgency_of(&line.timing), book.part_number(line.part)));
    SupplierSuggestion {
        supplier: id,
        order_by: lines.iter().filter_map(|line| line.timing.order_by).min(),
        sums: sums(lines.iter().filter_map(|line| line.amount)),
        unpriced: lines.iter().filter(|line| line.amount.is_none()).fold(0, |n, _| n + 1),
        lines,
    }
}

/// Sums by currency, in the order of their codes; what is beyond the largest amount stays there.
pub(crate) fn sums(amounts: impl Iterator<Item = Money>) -> Vec<Money> {
    let mut sums: BTreeMap<&'static str, Money> = BTreeMap::new();
    for amount in amounts {
        let sum = sums
            .entry(amount.currency.code())
            .or_insert(Money { currency: amount.currency, ten_thousandths: 0 });
        sum.ten_thousandths = sum.ten_thousandths.saturating_add(amount.ten_thousandths);
    }
    sums.into_values().collect()
}

fn row(
    book: &Book,
    clock: &mut Clock<'_, '_>,
    need: &PartNeed,
    offer: Option<&Offer>,
    pieces: &[LinePiece],
) -> Option<SuggestedLine> {
    let mut uses = Vec::new();
    for piece in pieces {
        let Some(line) = book.lines.get(&piece.line) else { continue };
        let timing = clock.timing(line, offer);
        uses.push(SuggestedFor { line: line.id, quantity: piece.quantity, timing });
    }
    let timing = uses.iter().map(|use_| use_.timing).min_by_key(urgency_of)?;
    let needed: Quantity = pieces.iter().map(|piece| piece.quantity).sum();
    let quantity = offer.map_or(needed, |offer| order_quantity(offer, needed));
    let price = offer.and_then(|offer| offer.price);
    Some(SuggestedLine {
        part: need.part,
        offer: offer.map(|offer| offer.id),
        needed,
        quantity,
        price,
        amount: price.and_then(|price| price.times(quantity).ok()),
        draft: None,
        timing,
        uses,
        stock: None,
    })
}

/// A row of so much for stock, ordered on the next ordering day.
pub(super) fn stock_row(
    next: Option<jiff::civil::Date>,
    offer: &Offer,
    (needed, quantity): (Quantity, Quantity),
    stock: SuggestedStock,
) -> SuggestedLine {
    let timing = Timing {
        basis: TimingBasis::ForStock,
        needed_on: None,
        order_by: next,
        chance: None,
        late: false,
        late_days: None,
    };
    SuggestedLine {
        part: offer.part,
        offer: Some(offer.id),
        needed,
        quantity,
        price: offer.price,
        amount: offer.price.and_then(|price| price.times(quantity).ok()),
        draft: None,
        timing,
        uses: Vec::new(),
        stock: Some(stock),
    }
}

/// What nobody offers, or what is made here.
pub(super) fn unordered(needs: &[PartNeed]) -> Vec<Unordered> {
    let mut rows = Vec::new();
    for need in needs {
        let Some(why) = need.why_not else { continue };
        let pieces = need.pieces.iter().filter(|piece| piece.draft.is_none());
        let uses: Vec<LineId> = pieces.map(|piece| piece.line).collect();
        if !uses.is_empty() {
            rows.push(Unordered { part: need.part, quantity: need.to_order(), why, uses });
        }
    }
    rows
}
