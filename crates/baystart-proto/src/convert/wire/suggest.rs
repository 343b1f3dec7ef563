//! Order suggestions.

use super::forecast::order_line;
use super::{date, decimal, money};
use crate::v1;
use baystart_core::ids::LineId;
use baystart_core::ordering::WhyNot;
use baystart_core::plan::{
    SuggestedFor, SuggestedLine, SuggestedStock, Suggestions, SupplierSuggestion, Timing,
    TimingBasis, Unordered, Words,
};

/// Suggestions, made of the shop at a revision.
#[must_use]
pub fn suggestions(
    words: &Words<'_>,
    found: &Suggestions,
    revision: i64,
) -> v1::SuggestOrdersResponse {
    v1::SuggestOrdersResponse {
        as_of: Some(date(found.as_of)),
        confidence: found.confidence,
        next_ordering_day: found.next_ordering_day.map(date),
        suppliers: found.suppliers.iter().map(|row| supplier(words, row)).collect(),
        not_ordered: found.unordered.iter().map(|row| unordered(words, row)).collect(),
        revision,
    }
}

fn supplier(words: &Words<'_>, row: &SupplierSuggestion) -> v1::SupplierSuggestion {
    let book = words.book();
    let name = book.suppliers.get(&row.supplier);
    v1::SupplierSuggestion {
        supplier_code: book.supplier_code(row.supplier).to_owned(),
        supplier_name: name.map_or(String::new(), |supplier| supplier.name.clone()),
        order_by: row.order_by.map(date),
        lines: row.lines.iter().map(|row| line(words, row)).collect(),
        sums: row.sums.iter().copied().map(money).collect(),
        lines_without_price: i32::try_from(row.unpriced).unwrap_or(i32::MAX),
    }
}

fn line(words: &Words<'_>, row: &SuggestedLine) -> v1::SuggestedOrderLine {
    let book = words.book();
    let (draft_order_number, draft_line_number) = order_line(book, row.draft);
    let part = book.parts.get(&row.part);
    let offer = row.offer.and_then(|id| book.offers.get(&id));
    let superseded_by = part.and_then(|part| part.superseded_by);
    v1::SuggestedOrderLine {
        part_number: book.part_number(row.part).to_owned(),
        part_description: part.map_or(String::new(), |part| part.description.clone()),
        unit_code: part.map_or("", |part| part.unit.code()).to_owned(),
        item_number: offer.map_or(String::new(), |offer| offer.item_number.clone()),
        needed: Some(decimal(row.needed)),
        quantity: Some(decimal(row.quantity)),
        pack_size: offer.and_then(|offer| offer.pack_size).map(decimal),
        minimum_quantity: offer.and_then(|offer| offer.minimum_quantity).map(decimal),
        price: row.price.map(money),
        amount: row.amount.map(money),
        draft_order_number,
        draft_line_number,
        timing: Some(timing(&row.timing)),
        uses: row.uses.iter().map(|row| use_(words, row)).collect(),
        superseded_by: superseded_by
            .map_or(String::new(), |part| book.part_number(part).to_owned()),
        stock: row.stock.as_ref().map(|row| stock(words, row)),
    }
}

fn stock(words: &Words<'_>, row: &SuggestedStock) -> v1::SuggestedStock {
    v1::SuggestedStock {
        on_hand: Some(decimal(row.on_hand)),
        on_order: Some(decimal(row.on_order)),
        reorder_at: Some(decimal(row.reorder_at)),
        basis: words.reorder_basis(&row.basis),
    }
}

fn use_(words: &Words<'_>, row: &SuggestedFor) -> v1::SuggestedUse {
    let book = words.book();
    let line = book.lines.get(&row.line);
    v1::SuggestedUse {
        build_number: line.map_or("", |line| book.build_number(line.build)).to_owned(),
        line_number: line.map_or(0, |line| line.number),
        stage_name: line.map_or("", |line| book.stage_name(line.stage)).to_owned(),
        quantity: Some(decimal(row.quantity)),
        timing: Some(timing(&row.timing)),
    }
}

fn timing(row: &Timing) -> v1::OrderTiming {
    let basis = match row.basis {
        TimingBasis::InBay => v1::TimingBasis::InBay,
        TimingBasis::PlannedStart => v1::TimingBasis::PlannedStart,
        TimingBasis::RequiredBy => v1::TimingBasis::RequiredBy,
        TimingBasis::NoDate => v1::TimingBasis::NoDate,
        TimingBasis::NoLeadTime => v1::TimingBasis::NoLeadTime,
        TimingBasis::ForStock => v1::TimingBasis::ForStock,
    };
    v1::OrderTiming {
        basis: basis.into(),
        needed_on: row.needed_on.map(date),
        order_by: row.order_by.map(date),
        chance_in_time: row.chance,
        late: row.late,
        late_working_days: row.late_days.map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
    }
}

fn unordered(words: &Words<'_>, row: &Unordered) -> v1::NotOrdered {
    let book = words.book();
    let label = |id: &LineId| {
        let line = book.lines.get(id);
        v1::BuildLineLabel {
            build_number: line.map_or("", |line| book.build_number(line.build)).to_owned(),
            line_number: line.map_or(0, |line| line.number),
        }
    };
    let part = book.parts.get(&row.part);
    let reason = match row.why {
        WhyNot::NoOffer => v1::NotOrderedReason::NoOffer,
        WhyNot::Made => v1::NotOrderedReason::Made,
    };
    v1::NotOrdered {
        part_number: book.part_number(row.part).to_owned(),
        part_description: part.map_or(String::new(), |part| part.description.clone()),
        unit_code: part.map_or("", |part| part.unit.code()).to_owned(),
        quantity: Some(decimal(row.quantity)),
        reason: reason.into(),
        uses: row.uses.iter().map(label).collect(),
    }
}
