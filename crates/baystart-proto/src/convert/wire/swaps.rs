//! Swap proposals.

use super::{date, decimal};
use crate::v1;
use baystart_core::plan::{LateAgainst, Lateness, SwapLoan, SwapProposal, SwapSide, Swaps, Words};

/// What could be exchanged, as it was seen at a revision of the shop.
#[must_use]
pub fn swaps(words: &Words<'_>, found: &Swaps, revision: i64) -> v1::ProposeSwapsResponse {
    v1::ProposeSwapsResponse {
        proposals: found.proposals.iter().map(|row| proposal(words, row)).collect(),
        late: found.late.iter().map(|row| lateness(words, row)).collect(),
        revision,
    }
}

fn proposal(words: &Words<'_>, row: &SwapProposal) -> v1::SwapProposal {
    v1::SwapProposal {
        loans: row.loans.iter().map(|row| loan(words, row)).collect(),
        sides: row.sides.iter().map(|row| side(words, row)).collect(),
        days_gained: i32::try_from(row.days_gained).unwrap_or(i32::MAX),
    }
}

fn loan(words: &Words<'_>, row: &SwapLoan) -> v1::SwapLoan {
    let part = words.book().parts.get(&row.part);
    v1::SwapLoan {
        from_build_number: words.book().build_number(row.from_build).to_owned(),
        from_line_number: row.from_line,
        to_build_number: words.book().build_number(row.to_build).to_owned(),
        to_line_number: row.to_line,
        part_number: words.book().part_number(row.part).to_owned(),
        part_description: part.map_or(String::new(), |part| part.description.clone()),
        quantity: Some(decimal(row.quantity)),
    }
}

fn side(words: &Words<'_>, row: &SwapSide) -> v1::SwapSide {
    v1::SwapSide {
        before: Some(lateness(words, &row.before)),
        after: Some(lateness(words, &row.after)),
        days_later: row.later.and_then(|days| i32::try_from(days).ok()),
    }
}

fn lateness(words: &Words<'_>, row: &Lateness) -> v1::Lateness {
    let against = match row.against {
        None => v1::LateAgainst::Unspecified,
        Some(LateAgainst::PlannedStart) => v1::LateAgainst::PlannedStart,
        Some(LateAgainst::Promise) => v1::LateAgainst::Promise,
        Some(LateAgainst::RequiredBy) => v1::LateAgainst::RequiredBy,
        Some(LateAgainst::Bay) => v1::LateAgainst::Bay,
    };
    v1::Lateness {
        build_number: words.book().build_number(row.build).to_owned(),
        priority: row.priority,
        against: against.into(),
        due_on: row.due.map(date),
        date: row.date.map(date),
        start_on: row.start.map(date),
        days: row.days.and_then(|days| i32::try_from(days).ok()),
        undated_parts: row.undated.iter().map(|thing| words.name(thing)).collect(),
    }
}
