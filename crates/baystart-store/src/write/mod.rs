//! Writing what was decided: every change of all commands that share a commit,
//! gathered first (the last state of a row wins, quantities are summed), then
//! written with few statements.

mod apply;
mod deltas;
mod ledger;
mod log;
mod plan;
mod put;
mod staged;

pub(crate) use apply::apply;
pub(crate) use log::{LogRow, set_revision, write_imported, write_log, write_log_rows};
pub(crate) use plan::Plan;
pub(crate) use put::{add, add_missing, put};
pub(crate) use staged::Pass;
