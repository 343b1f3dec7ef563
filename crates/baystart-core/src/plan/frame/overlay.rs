//! A copy of the book in which commands are decided that nobody records.

use crate::book::Book;
use crate::command::Command;
use crate::decide::{Context, Decision, decide};
use crate::ids::CountingIds;
use crate::refusal::Refusal;
use jiff::Timestamp;
use jiff::civil::Date;

/// The copy, and the day that it plays on.
pub(in crate::plan) struct Overlay {
    pub(in crate::plan) book: Book,
    as_of: Date,
    ids: CountingIds,
}

impl Overlay {
    pub(in crate::plan) fn of(book: &Book, as_of: Date) -> Self {
        // Ids that no database gives: version 7 ids never have this high half.
        Self { book: book.clone(), as_of, ids: CountingIds(u128::MAX << 64) }
    }

    /// Decides a command as the shop would.
    ///
    /// # Errors
    /// The command is refused; the copy is as it was.
    pub(in crate::plan) fn decide(&mut self, command: &Command) -> Result<Decision, Refusal> {
        let mut context = Context {
            ids: &mut self.ids,
            today: self.as_of,
            recorded_at: Timestamp::MAX,
            by: "",
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision: 0,
        };
        decide(&mut self.book, &mut context, command)
    }
}
