//! The write path: a queue of commands per shop and a worker that commits
//! batches of them.
//!
//! The worker owns the transaction, so a caller that goes away never drops one
//! half way. Nothing in this process serialises a shop's writers: the shop's
//! row does (or SQLite's write lock), for every server on the database.

mod batch;
pub(crate) mod bulk;
mod decide;
pub(crate) mod history_import;
mod queue;
mod requests;
mod retry;

pub(crate) use queue::{Job, Queues};
