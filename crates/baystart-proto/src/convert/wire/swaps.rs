//! Swap proposals.

use super::{date, decimal};
use crate::v1;
use baystart_core::plan::{LateAgainst, Lateness, SwapLoan, SwapProposal, SwapSide, Swaps};

/// What could be exchanged, as it was seen at a revision of the shop.
#[must_use]
pub fn swaps(found: &Swaps, revision: i64) -> v1::ProposeSwapsResponse {
    v1::ProposeSwapsResponse {
        proposals: found.proposals.iter().map(proposal).collect(),
        late: found.late.iter().map(lateness).collect(),
        revision,
    }
}

fn proposal(row: &SwapProposal) -> v1::SwapProposal {
    v1::SwapProposal {
        loans: row.loans.iter().map(loan).collect(),
        sides: row.sides.iter().map(side).collect(),
        days_gained: i32::try_from(row.days_gained).unwrap_or(i32::MAX),
    }
}

fn loan(row: &SwapLoan) -> v1::SwapLoan {
    v1::SwapLoan {
        from_build_number: row.from_build.clone(),
        from_line_number: row.from_line,
        to_build_number: row.to_build.clone(),
        to_line_number: row.to_line,
        part_number: row.part.clone(),
        part_description: row.description.clone(),
        quantity: Some(decimal(row.quantity)),
    }
}

fn side(row: &SwapSide) -> v1::SwapSide {
    v1::SwapSide {
        before: Some(lateness(&row.before)),
        after: Some(lateness(&row.after)),
        days_later: row.later.and_then(|days| i32::try_from(days).ok()),
    }
}

fn lateness(row: &Lateness) -> v1::Lateness {
    let against = match row.against {
        None => v1::LateAgainst::Unspecified,
        Some(LateAgainst::PlannedStart) => v1::LateAgainst::PlannedStart,
        Some(LateAgainst::Promise) => v1::LateAgainst::Promise,
        Some(LateAgainst::RequiredBy) => v1::LateAgainst::RequiredBy,
        Some(LateAgainst::Bay) => v1::LateAgainst::Bay,
    };
    v1::Lateness {
        build_number: row.build.clone(),
        priority: row.priority,
        against: against.into(),
        due_on: row.due.map(date),
        date: row.date.map(date),
        start_on: row.start.map(date),
        days: row.days.and_then(|days| i32::try_from(days).ok()),
    }
}
