//! One suite, run on SQLite and on PostgreSQL. Without PostgreSQL it fails; it
//! does not skip.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[allow(dead_code)]
#[path = "../../../baystart-testkit/src/store.rs"]
mod place;

mod accepted;
mod beside;
mod bulk;
mod changes;
mod day;
mod faults;
mod guards;
mod history;
mod history_import;
mod lists;
mod requests;
mod rivals;
mod round_trip;
mod shops;
mod support;
mod warm;
