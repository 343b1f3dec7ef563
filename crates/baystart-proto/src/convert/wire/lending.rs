//! Both sides of a loan.

use super::date;
use super::forecast::date_at;
use crate::v1;
use baystart_core::book::Book;
use baystart_core::decide::words::sentence;
use baystart_core::plan::{Lending, LentBuild};

/// A loan as it would be, seen at a revision of the shop.
#[must_use]
pub fn lending(book: &Book, seen: &Lending, revision: i64) -> v1::PreviewLendingResponse {
    v1::PreviewLendingResponse {
        from: Some(lent_build(book, &seen.from)),
        to: Some(lent_build(book, &seen.to)),
        effects: seen.effects.iter().map(|effect| sentence(book, effect)).collect(),
        revision,
    }
}

fn lent_build(book: &Book, side: &LentBuild) -> v1::LentBuild {
    v1::LentBuild {
        build_number: book.build_number(side.build).to_owned(),
        planned_start: side.planned_start.map(date),
        before: side.before.iter().map(date_at).collect(),
        after: side.after.iter().map(date_at).collect(),
        days_later_80: side.later_80.and_then(|days| i32::try_from(days).ok()),
    }
}
