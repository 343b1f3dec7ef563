//! Settings and closed days.

use super::effect::{Caution, Effect, ShopEffect};
use super::words::{span, who};
use super::work::Work;
use super::{Subject, check};
use crate::book::model::{Closure, LearningSettings, NEWS_DEFAULT, Settings};
use crate::book::{CLOSURE_DAYS_MAX, Change};
use crate::calendar::{HORIZON_DAYS, days_between};
use crate::command::{KeptSettings, NewClosure};
use crate::forecast::RHO_MAX;
use crate::refusal::{Faults, FieldPath, Reason, Refusal, nth};
use std::fmt::Display;
use std::ops::RangeInclusive;

/// Most working days of the reserve window.
const RESERVE_WINDOW_DAYS_MAX: u32 = 730;
/// Confidences of a shop's suggestions: nobody can order for a surer one, nor means a lower one.
const CONFIDENCE: RangeInclusive<f64> = 0.01..=0.999;
/// Most bays of a shop.
const BAYS_MAX: u32 = 10_000;

pub(super) fn update(
    work: &mut Work<'_, '_>,
    settings: &Settings,
    keep: KeptSettings,
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
    if settings.bays > BAYS_MAX {
        let message = format!("{} is beyond {BAYS_MAX} bays", settings.bays);
        faults.push("shop.bays", Reason::ValueInvalid, message);
    }
    let old = work.book.settings.as_ref();
    let kept = old.filter(|_| keep.learning).map(|old| old.learning);
    let learned_by = kept.unwrap_or(settings.learning);
    learning(&mut faults, &learned_by);
    let kept = old.filter(|_| keep.ways).map(|old| old.ways);
    let mut decides = kept.unwrap_or(settings.ways);
    // Nobody sets it: it is learned, or judged.
    decides.news = old.map_or(NEWS_DEFAULT, |old| old.ways.news);
    // What stays as it was is nobody's fault now.
    if kept.is_none() && !CONFIDENCE.contains(&decides.confidence) {
        let (least, most) = CONFIDENCE.into_inner();
        let message = format!("{} is not within {least} to {most}", decides.confidence);
        faults.push("shop.rules.confidence", Reason::ValueInvalid, message);
    }
    faults.check()?;
    let version = work.book.settings.as_ref().map_or(0, |old| old.version);
    check::same_etag(version, etag, "the shop's settings")?;
    let (version, learning) = (version + 1, learned_by);
    let settings = Settings { version, learning, ways: decides, ..settings.clone() };
    work.change(Change::Settings(settings));
    work.effect(Effect::Shop(ShopEffect::SettingsChanged));
    Ok(Subject::Settings)
}

/// Every setting of learning that is out of its range.
fn learning(faults: &mut Faults, settings: &LearningSettings) {
    let LearningSettings { notice_days: [short, medium], .. } = *settings;
    if let Some(days) = settings.half_life_days {
        within(
            faults,
            "half_life_days",
            days,
            30..=36_500,
            " days; 0 leaves it to the shop's past",
        );
    }
    for (field, value, range) in [
        ("drift_half_life_days", settings.drift_half_life_days, 30..=36_500),
        ("horizon_days", settings.horizon_days, 30..=HORIZON_DAYS),
        ("stale_after_days", settings.stale_after_days, 1..=3_650),
        ("short_notice_days", short, 0..=364),
        ("medium_notice_days", medium, short.saturating_add(1)..=365),
    ] {
        within(faults, field, value, range, " days");
    }
    for (field, value, range) in [
        ("prior_strength", settings.prior_strength, 0.0..=1_000.0),
        ("tail_exponent", settings.tail_exponent, 0.0..=1.0),
        ("correlation", settings.correlation, 0.0..=RHO_MAX),
    ] {
        within(faults, field, value, range, "");
    }
}

/// Notes a setting of learning outside its range.
fn within<T: PartialOrd + Display>(
    faults: &mut Faults,
    field: &'static str,
    value: T,
    range: RangeInclusive<T>,
    unit: &str,
) {
    if !range.contains(&value) {
        let (least, most) = range.into_inner();
        let message = format!("{value} is not within {least} to {most}{unit}");
        faults.push(FieldPath::from("shop.learning").then(field), Reason::ValueInvalid, message);
    }
}

fn closures(work: &Work<'_, '_>, wanted: &[NewClosure]) -> Result<Vec<Closure>, Refusal> {
    let mut faults = Faults::new();
    check::count(&mut faults, "closures", wanted.len(), true);
    let mut rows = Vec::new();
    for (i, new) in wanted.iter().enumerate() {
        check::text(&mut faults, nth("closures", i).then("name"), &new.name, false);
        let days = days_between(new.first_day, new.last_day);
        if !(0..CLOSURE_DAYS_MAX).contains(&days) {
            let message = format!(
                "{} to {} is not a run of 1 to {CLOSURE_DAYS_MAX} days",
                new.first_day, new.last_day
            );
            faults.push(nth("closures", i).then("last_day"), Reason::DateInvalid, message);
        }
        let field = nth("closures", i).then("supplier");
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
    work.book.closure_on(wanted.supplier, wanted.first_day, wanted.last_day).cloned()
}

pub(super) fn add_closures(
    work: &mut Work<'_, '_>,
    wanted: &[NewClosure],
) -> Result<Subject, Refusal> {
    for closure in closures(work, wanted)? {
        if let Some(old) = same_days(work, &closure) {
            if old.name == closure.name {
                work.caution(Caution::ClosedAlready(closure));
                continue;
            }
            work.change(Change::ClosureRemoved(old));
        }
        work.change(Change::ClosureAdded(closure.clone()));
        work.effect(Effect::Shop(ShopEffect::Closed(closure)));
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
                let message =
                    format!("{} is not closed {}", who(work.book, closure), span(closure));
                faults.push(nth("closures", i), Reason::ClosureUnknown, message);
            }
        }
    }
    faults.check()?;
    for row in rows {
        work.change(Change::ClosureRemoved(row.clone()));
        work.effect(Effect::Shop(ShopEffect::OpenAgain(row)));
    }
    Ok(Subject::None)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use crate::book::Book;
    use crate::book::model::{LearningSettings, Settings};
    use crate::book::model::{StartWay, Ways};
    use crate::command::{Command, KeptSettings};
    use crate::decide::{Context, decide};
    use crate::ids::CountingIds;
    use crate::money::Currency;
    use crate::refusal::Refusal;
    use jiff::Timestamp;
    use jiff::civil::date;

    fn update(
        book: &mut Book,
        learning: LearningSettings,
        keep: bool,
    ) -> Result<LearningSettings, Refusal> {
        let settings = Settings { learning, ..like() };
        updated(book, settings, KeptSettings { learning: keep, ways: true })
            .map(|settings| settings.learning)
    }

    fn like() -> Settings {
        Settings {
            name: "Glen Orran".into(),
            time_zone: "Europe/London".into(),
            currency: Currency::parse("GBP").unwrap(),
            working_days: [true; 7],
            ordering_days: [true; 7],
            reserve_window_days: 20,
            stall_tolerance: 0.05,
            bays: 0,
            learning: LearningSettings::default(),
            ways: Ways::default(),
            version: 0,
        }
    }

    fn updated(
        book: &mut Book,
        settings: Settings,
        keep: KeptSettings,
    ) -> Result<Settings, Refusal> {
        let version = book.settings.as_ref().map_or(0, |old| old.version);
        let command = Command::UpdateSettings { settings, keep, etag: format!("v{version}") };
        let mut context = Context {
            ids: &mut CountingIds::default(),
            today: date(2026, 9, 14),
            recorded_at: Timestamp::UNIX_EPOCH,
            by: "admin",
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision: 0,
        };
        decide(book, &mut context, &command)?;
        Ok(book.settings.clone().unwrap())
    }

    #[test]
    fn a_client_that_knows_nothing_of_rules_changes_none_of_them() {
        let mut book = Book::default();
        let own = Ways { start: StartWay::BookedDay, as_suggested: true, ..Ways::default() };
        let told = Settings { ways: own, ..like() };
        let all_told = KeptSettings::default();
        let keep = KeptSettings { ways: true, ..all_told };
        assert_eq!(updated(&mut book, told, all_told).unwrap().ways, own);
        assert_eq!(updated(&mut book, like(), keep).unwrap().ways, own);
        assert_eq!(updated(&mut book, like(), all_told).unwrap().ways, Ways::default());
        for confidence in [0.0, 1e-300, 0.999_999_999_999_999_9, 1.0, f64::NAN] {
            let ways = Ways { confidence, ..Ways::default() };
            let told = Settings { ways, ..like() };
            let refusal = updated(&mut book, told, all_told).unwrap_err();
            assert_eq!(refusal.faults[0].field.to_string(), "shop.rules.confidence");
        }
    }

    #[test]
    fn a_client_that_knows_nothing_of_learning_changes_nothing_of_it() {
        let mut book = Book::default();
        let own = LearningSettings { half_life_days: Some(365), ..LearningSettings::default() };
        assert_eq!(update(&mut book, own, false).unwrap(), own);
        assert_eq!(update(&mut book, LearningSettings::default(), true).unwrap(), own);
        let default = LearningSettings::default();
        assert_eq!(update(&mut book, default, false).unwrap(), default);
    }

    #[test]
    fn every_setting_out_of_its_range_is_named_at_once() {
        let wrong = LearningSettings {
            half_life_days: Some(29),
            drift_half_life_days: 36_501,
            prior_strength: -0.1,
            tail_exponent: f64::NAN,
            horizon_days: 731,
            correlation: 0.51,
            notice_days: [30, 30],
            stale_after_days: 0,
            ..LearningSettings::default()
        };
        let refusal = update(&mut Book::default(), wrong, false).unwrap_err();
        let fields: Vec<_> = refusal.faults.iter().map(|fault| fault.field.to_string()).collect();
        let expected = [
            "half_life_days",
            "drift_half_life_days",
            "horizon_days",
            "stale_after_days",
            "medium_notice_days",
            "prior_strength",
            "tail_exponent",
            "correlation",
        ];
        assert_eq!(fields, expected.map(|field| format!("shop.learning.{field}")));
    }
}
