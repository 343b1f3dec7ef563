//! Promises to customers.

use super::date;
use crate::v1;
use baystart_core::book::model::CustomerPromise;
use baystart_core::plan::{PromiseScore, PromisedBuild, Since, Words};

fn small(days: i64) -> i32 {
    i32::try_from(days).unwrap_or(if days < 0 { i32::MIN } else { i32::MAX })
}

fn count(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

/// A promise as it was given.
#[must_use]
pub fn customer_promise(promise: &CustomerPromise) -> v1::CustomerPromise {
    v1::CustomerPromise {
        delivery_on: Some(date(promise.delivery_on)),
        made_on: Some(date(promise.made_on)),
        stated_chance: promise.stated_chance,
        made_by: promise.made_by.clone(),
        note: promise.note.clone(),
    }
}

/// A build with its promise, as things stand.
#[must_use]
pub fn promised_build(words: &Words<'_>, row: &PromisedBuild) -> v1::PromisedBuild {
    let build = words.book().builds.get(&row.build);
    v1::PromisedBuild {
        build_number: words.book().build_number(row.build).to_owned(),
        vehicle: build.map_or(String::new(), |build| build.vehicle.clone()),
        customer: build.map_or(String::new(), |build| build.customer.clone()),
        state: build.map_or("", |build| build.state.text()).to_owned(),
        promise: Some(customer_promise(&row.promise)),
        times_given: count(row.times_given),
        chance: row.chance,
        handover_80: row.handover_80.map(date),
        days_late_80: row.days_late_80.map(small),
        since: Some(date_since(words, &row.since)),
        undated_parts: row.undated.iter().map(|row| words.name(&row.thing)).collect(),
    }
}

/// What moved a date.
#[must_use]
pub fn date_since(words: &Words<'_>, since: &Since) -> v1::DateSince {
    let events = since.events.iter();
    v1::DateSince {
        day: Some(date(since.day)),
        then: since.then.map(date),
        now: since.now.map(date),
        days: since.days.map(small),
        events: events
            .map(|event| v1::SinceEvent {
                text: words.event(&event.event),
                days: small(event.days),
            })
            .collect(),
    }
}

/// How promises were kept.
#[must_use]
pub fn promise_score(score: &PromiseScore) -> v1::PromiseScore {
    v1::PromiseScore {
        stated_from: score.from,
        stated_below: score.below,
        given: count(score.given),
        kept: count(score.kept),
        mean_stated: score.mean_stated,
    }
}
