//! Calling the core: today in the shop's zone, fresh ids, and a fault of the
//! core or of the answer kept away from the worker.

use crate::api::{Rendered, Submission};
use crate::convert::micros;
use crate::error::{Fault, StoreError};
use baystart_core::book::Book;
use baystart_core::decide::{Context, Decision, decide};
use baystart_core::ids::FreshIds;
use baystart_core::refusal::Refusal;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::panic::{AssertUnwindSafe, catch_unwind};
use uuid::Uuid;

/// UUID v7: by time, and within this process in the order of asking.
pub struct TimeIds;

impl FreshIds for TimeIds {
    fn fresh(&mut self) -> Uuid {
        Uuid::now_v7()
    }
}

/// The civil date at an instant in the shop's time zone.
pub fn today(book: &Book, now: Timestamp) -> Result<Date, Fault> {
    let zone = book.settings.as_ref().map_or("UTC", |settings| settings.time_zone.as_str());
    let found = TimeZone::get(zone).map_err(|error| {
        let text = format!("the shop's time zone \"{zone}\" is not known here: {error}");
        Fault::Fatal(StoreError::Corrupt(text))
    })?;
    Ok(found.to_datetime(now).date())
}

/// A decision with its answer.
pub struct Decided {
    pub decision: Decision,
    pub response: Vec<u8>,
}

/// Decides one command on the book and makes its answer; `revision` is the one that it gets.
pub fn run(
    book: &mut Book,
    job: &mut Submission,
    revision: i64,
) -> Result<Result<Decided, Refusal>, Fault> {
    let recorded_at = micros(job.now);
    let mut context = Context {
        ids: &mut TimeIds,
        today: today(book, recorded_at)?,
        recorded_at,
        by: &job.actor.name,
        secret_hash: job.secret_hash,
        stated_chance: job.stated_chance,
        stock_points: &job.stock_points,
        revision: revision - 1,
    };
    let command = &job.command;
    let render = &mut job.render;
    guarded(|| {
        let decision = decide(book, &mut context, command)?;
        let rendered = Rendered { book, decision: &decision, revision, recorded_at };
        let response = render(&rendered);
        Ok(Decided { decision, response })
    })
}

/// Runs what is not the store's own; a panic becomes a fault. The book may
/// then be half changed: the transaction must not go on with it.
pub fn guarded<T>(run: impl FnOnce() -> T) -> Result<T, Fault> {
    catch_unwind(AssertUnwindSafe(run)).map_err(|_| {
        Fault::Fatal(StoreError::Corrupt("deciding failed; nothing was changed".to_owned()))
    })
}
