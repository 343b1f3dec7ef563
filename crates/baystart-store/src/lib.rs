//! Load, decide inside one transaction, append: the only crate that knows the
//! database. Entities stay inside it.
//!
//! A command joins its shop's queue; a worker takes what waits, locks the
//! shop's row, takes the shop's warm book or loads one slice for all of them, lets
//! the core decide each, and commits once (see `work`, `warm`). Reads see one
//! consistent snapshot.

mod api;
mod convert;
mod database;
mod entity;
mod error;
mod existing;
mod export;
mod files;
mod history;
mod list;
mod load;
mod past;
mod store;
mod txn;
mod verify;
mod warm;
mod work;
mod write;

pub use api::{
    Actor, Answer, Bulk, BulkAnswer, BulkDecide, BulkDecision, BulkRefusal, Caller, ImportedKeys,
    Listed, NewToken, OfferFilter, OrderFilter, Render, Rendered, Snapshot, StoreOptions,
    Submission,
};
pub use baystart_core::invariants::Violation;
pub use baystart_core::refs::RefKind;
pub use error::StoreError;
pub use export::Exported;
pub use history::{
    AcceptedBuilds, HistoryChanges, HistoryRead, LineChange, LineLabel, OtherWaits, ShopHistory,
};
pub use list::changes::{ChangeRow, ChangesAfter, ChangesAsked, ChangesOf};
pub use past::{
    Entered, FirstRow, HISTORY_STEP_ROWS_MAX, HistoryAnswer, HistoryCounts, HistoryDone,
    HistoryEvent, HistoryImport, HistoryStep, PastRow,
};
pub use store::{Store, Watch};
pub use warm::ShopState;
