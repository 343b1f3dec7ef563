//! Order suggestions.

use super::{date, decimal, money};
use crate::v1;
use baystart_core::ordering::WhyNot;
use baystart_core::plan::{
    SuggestedFor, SuggestedLine, SuggestedStock, Suggestions, SupplierSuggestion, Timing,
    TimingBasis, Unordered,
};

/// Suggestions, made of the shop at a revision.
#[must_use]
pub fn suggestions(found: &Suggestions, revision: i64) -> v1::SuggestOrdersResponse {
    v1::SuggestOrdersResponse {
        as_of: Some(date(found.as_of)),
        confidence: found.confidence,
        next_ordering_day: found.next_ordering_day.map(date),
        suppliers: found.suppliers.iter().map(supplier).collect(),
        not_ordered: found.unordered.iter().map(unordered).collect(),
        revision,
    }
}

fn supplier(row: &SupplierSuggestion) -> v1::SupplierSuggestion {
    v1::SupplierSuggestion {
        supplier_code: row.code.clone(),
        supplier_name: row.name.clone(),
        order_by: row.order_by.map(date),
        lines: row.lines.iter().map(line).collect(),
        sums: row.sums.iter().copied().map(money).collect(),
        lines_without_price: i32::try_from(row.unpriced).unwrap_or(i32::MAX),
    }
}

fn line(row: &SuggestedLine) -> v1::SuggestedOrderLine {
    let (draft_order_number, draft_line_number) = row.draft.clone().unwrap_or_default();
    v1::SuggestedOrderLine {
        part_number: row.part.clone(),
        part_description: row.description.clone(),
        unit_code: row.unit.to_owned(),
        item_number: row.item_number.clone(),
        needed: Some(decimal(row.needed)),
        quantity: Some(decimal(row.quantity)),
        pack_size: row.pack_size.map(decimal),
        minimum_quantity: row.minimum_quantity.map(decimal),
        price: row.price.map(money),
        amount: row.amount.map(money),
        draft_order_number,
        draft_line_number,
        timing: Some(timing(&row.timing)),
        uses: row.uses.iter().map(use_).collect(),
        superseded_by: row.superseded_by.clone(),
        stock: row.stock.as_ref().map(stock),
    }
}

fn stock(row: &SuggestedStock) -> v1::SuggestedStock {
    v1::SuggestedStock {
        on_hand: Some(decimal(row.on_hand)),
        on_order: Some(decimal(row.on_order)),
        reorder_at: Some(decimal(row.reorder_at)),
        basis: row.basis.clone(),
    }
}

fn use_(row: &SuggestedFor) -> v1::SuggestedUse {
    v1::SuggestedUse {
        build_number: row.build.clone(),
        line_number: row.line,
        stage_name: row.stage.clone(),
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

fn unordered(row: &Unordered) -> v1::NotOrdered {
    let label = |(build, line): &(String, i32)| v1::BuildLineLabel {
        build_number: build.clone(),
        line_number: *line,
    };
    let reason = match row.why {
        WhyNot::NoOffer => v1::NotOrderedReason::NoOffer,
        WhyNot::Made => v1::NotOrderedReason::Made,
    };
    v1::NotOrdered {
        part_number: row.part.clone(),
        part_description: row.description.clone(),
        unit_code: row.unit.to_owned(),
        quantity: Some(decimal(row.quantity)),
        reason: reason.into(),
        uses: row.uses.iter().map(label).collect(),
    }
}
