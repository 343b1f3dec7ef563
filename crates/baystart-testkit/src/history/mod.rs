//! Recorded histories: what several clients asked at once, what each was answered and when, replayed by
//! revision through the naive model.
//!
//! A history is explained when there is one order of its events in which each answer is what the model
//! foresees, and which keeps to time: what ended before another thing began stands before it. Writes that
//! took effect say their place themselves, by their revision, and so do reads. A refusal may stand at any
//! revision between the ones that were surely there when it was asked and those that could be there when
//! it was answered (Herlihy and Wing 1990, with the revision as witness, so that no search is needed).

mod explain;
mod record;

pub use explain::{Explained, explain};
pub use record::{Plan, record};

use crate::world::Step;
use baystart_core::book::{Book, Change};
use baystart_core::refusal::Refusal;

/// What one client did. The instants count events of all clients: no two are equal.
#[derive(Clone, Debug)]
pub struct Event {
    /// When it was asked.
    pub from: u64,
    /// When it was answered.
    pub to: u64,
    /// What was asked and answered.
    pub what: What,
}

/// What was asked and answered.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum What {
    /// A write took effect: what it changed, and the revision that it got.
    Took { step: Step, revision: i64, changes: Vec<Change> },
    /// A write was refused.
    Refused { step: Step, refusal: Refusal },
    /// A read of everything, and the revision that it says.
    Read { revision: i64, book: Box<Book> },
}

impl What {
    /// The revision after it, where it says one.
    #[must_use]
    pub const fn revision(&self) -> Option<i64> {
        match self {
            Self::Took { revision, .. } | Self::Read { revision, .. } => Some(*revision),
            Self::Refused { .. } => None,
        }
    }
}

/// Everything that was asked of a shop.
#[derive(Clone, Debug)]
pub struct History {
    /// The shop before it.
    pub base: Book,
    /// Its revision then.
    pub revision: i64,
    /// In no particular order.
    pub events: Vec<Event>,
}
