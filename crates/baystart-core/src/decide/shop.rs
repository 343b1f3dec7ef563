//! Settings and closed days.

use super::effect::EffectKind;
use super::work::Work;
use super::{Subject, check};
use crate::book::model::{Closure, LearningSettings, Settings};
use crate::book::{CLOSURE_DAYS_MAX, Change};
use crate::calendar::{HORIZON_DAYS, days_between};
use crate::command::NewClosure;
use crate::forecast::RHO_MAX;
use crate::refusal::{Faults, Reason, Refusal};
use std::ops::RangeInclusive;

/// Most working days of the reserve window.
const RESERVE_WINDOW_DAYS_MAX: u32 = 730;

pub(super) fn update(
    work: &mut Work<'_, '_>,
    settings: &Settings,
    keep_learning: bool,
    etag: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "shop.name", &settings.name, true);
    if !settings.working_days.contains(&true) {
        let message = "the shop works on no day of the week";
        faults.push("shop.working_days", Reason::CalendarEmpty, message);
    }
    if !settings.ordering_days.contains(&true) {
        let message = "the shop orders on no day of the week";
        faults.push("shop.ordering_days", Reason::CalendarEmpty, message);
    }
    if settings.reserve_window_days > RESERVE_WINDOW_DAYS_MAX {
        let message = format!(
            "{} is beyond {RESERVE_WINDOW_DAYS_MAX} working days",
            settings.reserve_window_days
        );
        faults.push("shop.reserve_window_days", Reason::ValueInvalid, message);
    }
    if !(0.0..1.0).contains(&settings.stall_tolerance) {
        let message = format!("{} is no chance from 0 to below 1", settings.stall_tolerance);
        faults.push("shop.stall_tolerance", Reason::ValueInvalid, message);
    }
    let kept = work.book.settings.as_ref().filter(|_| keep_learning).map(|old| old.learning);
    let learned_by = kept.unwrap_or(settings.learning);
    learning(&mut faults, &learned_by);
    faults.check()?;
    let version = work.book.settings.as_ref().map_or(0, |old| old.version);
    check::same_etag(version, etag, "the shop's settings")?;
    let settings = Settings { version: version + 1, learning: learned_by, ..settings.clone() };
    work.change(Change::Settings(settings));
    work.say(EffectKind::State, "Settings changed");
    Ok(Subject::Settings)
}

/// Every setting of learning that is out of its range.
fn learning(faults: &mut Faults, settings: &LearningSettings) {
    let mut whole = |field: &str, value: u32, range: RangeInclusive<u32>| {
        if !range.contains(&value) {
            let (least, most) = range.into_inner();
            let message = format!("{value} is not within {least} to {most} days");
            faults.push(format!("shop.learning.{field}"), Reason::ValueInvalid, message);
        }
    };
    whole("half_life_days", settings.half_life_days, 30..=36_500);
    whole("drift_half_life_days", settings.drift_half_life_days, 30..=36_500);
    whole("horizon_days", settings.horizon_days, 30..=HORIZON_DAYS);
    whole("stale_after_days", settings.stale_after_days, 1..=3_650);
    let [short, medium] = settings.notice_days;
    whole("short_notice_days", short, 0..=364);
    whole("medium_notice_days", medium, short.saturating_add(1)..=365);
    let mut share = |field: &str, value: f64, range: RangeInclusive<f64>| {
        if !range.contains(&value) {
            let (least, most) = range.into_inner();
            let message = format!("{value} is not within {least} to {most}");
            faults.push(format!("shop.learning.{field}"), Reason::ValueInvalid, message);
        }
    };
    share("prior_strength", settings.prior_strength, 0.0..=1_000.0);
    share("tail_exponent", settings.tail_exponent, 0.0..=1.0);
    share("correlation", settings.correlation, 0.0..=RHO_MAX);
}

fn closures(work: &Work<'_, '_>, wanted: &[NewClosure]) -> Result<Vec<Closure>, Refusal> {
    let mut faults = Faults::new();
    check::count(&mut faults, "closures", wanted.len(), true);
    let mut rows = Vec::new();
    for (i, new) in wanted.iter().enumerate() {
        check::text(&mut faults, &format!("closures[{i}].name"), &new.name, false);
        let days = days_between(new.first_day, new.last_day);
        if !(0..CLOSURE_DAYS_MAX).contains(&days) {
            let message = format!(
                "{} to {} is not a run of 1 to {CLOSURE_DAYS_MAX} days",
                new.first_day, new.last_day
            );
            faults.push(format!("closures[{i}].last_day"), Reason::DateInvalid, message);
        }
        let field = format!("closures[{i}].supplier");
        let supplier = match &new.supplier {
            None => Some(None),
            Some(wanted) => faults
                .take(field, work.book.find_supplier(wanted).map(|supplier| Some(supplier.id))),
        };
        if let Some(supplier) = supplier {
            rows.push(Closure {
                supplier,
                first_day: new.first_day,
                last_day: new.last_day,
                name: new.name.trim().to_owned(),
            });
        }
    }
    faults.check()?;
    Ok(rows)
}

fn same_days(work: &Work<'_, '_>, wanted: &Closure) -> Option<Closure> {
    let same = |row: &&Closure| {
        (row.supplier, row.first_day, row.last_day)
            == (wanted.supplier, wanted.first_day, wanted.last_day)
    };
    work.book.closures.iter().find(same).cloned()
}

fn who(work: &Work<'_, '_>, closure: &Closure) -> String {
    let supplier = closure.supplier.and_then(|id| work.book.suppliers.get(&id));
    supplier.map_or("the shop".to_owned(), |supplier| supplier.code.to_string())
}

fn span(closure: &Closure) -> String {
    match closure.first_day == closure.last_day {
        true => closure.first_day.to_string(),
        false => format!("{} to {}", closure.first_day, closure.last_day),
    }
}

pub(super) fn add_closures(
    work: &mut Work<'_, '_>,
    wanted: &[NewClosure],
) -> Result<Subject, Refusal> {
    for closure in closures(work, wanted)? {
        let text = format!("Closed {}: {}", span(&closure), who(work, &closure));
        if let Some(old) = same_days(work, &closure) {
            if old.name == closure.name {
                work.say(EffectKind::Caution, format!("{text} (already known)"));
                continue;
            }
            work.change(Change::ClosureRemoved(old));
        }
        work.change(Change::ClosureAdded(closure));
        work.say(EffectKind::State, text);
    }
    Ok(Subject::None)
}

pub(super) fn remove_closures(
    work: &mut Work<'_, '_>,
    wanted: &[NewClosure],
) -> Result<Subject, Refusal> {
    let wanted = closures(work, wanted)?;
    let mut faults = Faults::new();
    let mut rows = Vec::new();
    for (i, closure) in wanted.iter().enumerate() {
        match same_days(work, closure) {
            Some(row) => rows.push(row),
            None => {
                let message = format!("{} is not closed {}", who(work, closure), span(closure));
                faults.push(format!("closures[{i}]"), Reason::ClosureUnknown, message);
            }
        }
    }
    faults.check()?;
    for row in rows {
        let text = format!("Open again {}: {}", span(&row), who(work, &row));
        work.change(Change::ClosureRemoved(row));
        work.say(EffectKind::State, text);
    }
    Ok(Subject::None)
}
