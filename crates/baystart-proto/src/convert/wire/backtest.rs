//! What a backtest found.

use super::date;
use super::lead_times::count;
use crate::v1;
use baystart_core::backtest::{
    AGE_BAND_ENDS, BacktestPlan, BuildRow, DatesKept, LEVELS, Method, MethodScores, Report, Slice,
    Summary,
};
use baystart_core::forecast::{LateTogether, RHO_DEFAULT, estimate_rho};
use baystart_core::leadtime::learn::{Beside, HALF_LIVES_DAYS, Tuning};
use baystart_core::score::Estimate;
use std::collections::BTreeMap;

/// Comparisons that the default correlation counts as: a shop with fewer pairs of
/// orders than this hears mostly the default.
const PRIOR_COMPARISONS: f64 = 100.0;
/// Fewer comparisons than this say nothing.
const COMPARISONS_MIN: usize = 20;

/// A backtest's report; `codes`: each supplier's code by its key.
#[must_use]
pub fn backtest_report(
    report: &Report,
    plan: &BacktestPlan,
    lines: usize,
    codes: &BTreeMap<u32, String>,
    revision: i64,
) -> v1::BacktestReport {
    let days = plan.forecast_days();
    v1::BacktestReport {
        first: days.first().copied().map(date),
        last: days.last().copied().map(date),
        horizon_days: i32::try_from(plan.horizon_days).unwrap_or(i32::MAX),
        step_days: i32::try_from(plan.step_days).unwrap_or(i32::MAX),
        lines: count(lines),
        kept: Some(kept(&report.kept)),
        rows: report.rows.iter().map(|found| row(found, codes)).collect(),
        builds: report.builds.iter().map(build).collect(),
        were_here: count(report.were_here),
        cancelled: count(report.cancelled),
        unresolved: count(report.unresolved),
        correlation: plan.rho,
        correlation_suggested: suggested(&report.late_together),
        revision,
        tuning: report.tuning.as_ref().map(tuning),
    }
}

/// What past forecasts taught of the settings.
fn tuning(found: &Tuning) -> v1::LeadTimeTuning {
    let others = |arrived| Beside { others: 2, arrived, ..Beside::default() };
    let weights = found.lead.iter().zip(&found.slips).zip(&found.transit);
    let expert = |(half_life, ((lead, slips), transit)): (&f64, ((&f64, &f64), &f64))| {
        // Half-lives are whole days.
        let half_life_days = *half_life as i32;
        v1::LeadTimeExpert { half_life_days, lead_times: *lead, slips: *slips, transits: *transit }
    };
    v1::LeadTimeTuning {
        landmark: found.landmark.map(date),
        judged: count(found.judged),
        experts: HALF_LIVES_DAYS.iter().zip(weights).map(expert).collect(),
        growth_per_year: found.growth.exp_m1(),
        pace_when_others_came: found.power(&others(2)),
        pace_when_none_came: found.power(&others(0)),
    }
}

/// How far one forecast day's walk has come.
#[must_use]
pub fn backtest_progress(done: usize, days: usize) -> v1::BacktestProgress {
    v1::BacktestProgress { days_done: count(done), days_total: count(days) }
}

fn kept(kept: &DatesKept) -> v1::BacktestKept {
    let [by_50, by_80, by_90] = kept.by.map(count);
    let [said_50, said_80, said_90] = kept.said;
    v1::BacktestKept { orders: count(kept.orders), by_50, by_80, by_90, said_50, said_80, said_90 }
}

fn suggested(orders: &[LateTogether]) -> Option<f64> {
    let mut spells: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for order in orders {
        *spells.entry((order.supplier, order.spell)).or_default() += 1;
    }
    let comparisons: usize = spells.values().map(|orders| orders.saturating_sub(1)).sum();
    (comparisons >= COMPARISONS_MIN).then(|| estimate_rho(orders, RHO_DEFAULT, PRIOR_COMPARISONS))
}

fn row(row: &MethodScores, codes: &BTreeMap<u32, String>) -> v1::BacktestRow {
    use v1::backtest_row::Slice as Wire;
    let method = match row.method {
        Method::Learned => v1::BacktestMethod::Learned,
        Method::Fixed(0) => v1::BacktestMethod::HalfLife60,
        Method::Fixed(1) => v1::BacktestMethod::HalfLife180,
        Method::Fixed(2) => v1::BacktestMethod::HalfLife540,
        Method::Fixed(_) => v1::BacktestMethod::HalfLife1620,
        Method::CompletedOnly => v1::BacktestMethod::CompletedOnly,
        Method::PooledKaplanMeier => v1::BacktestMethod::Pooled,
        Method::SupplierMedian => v1::BacktestMethod::SupplierMedian,
        Method::BarePromise => v1::BacktestMethod::Promise,
        Method::Quote => v1::BacktestMethod::Quote,
    };
    let slice = match row.slice {
        Slice::All => Wire::All(true),
        Slice::AgeBand(band) => Wire::AgeBand(age_band(band)),
        Slice::Supplier(key) => Wire::SupplierCode(codes.get(&key).cloned().unwrap_or_default()),
    };
    v1::BacktestRow { method: method.into(), slice: Some(slice), scores: Some(scores(&row.scores)) }
}

fn age_band(band: usize) -> v1::BacktestAgeBand {
    let days = |days: i64| i32::try_from(days).unwrap_or(i32::MAX);
    let below = band.checked_sub(1).and_then(|below| AGE_BAND_ENDS.get(below));
    v1::BacktestAgeBand {
        from_days: below.map_or(0, |end| days(end + 1)),
        to_days: AGE_BAND_ENDS.get(band).map(|end| days(*end)),
    }
}

fn build(row: &BuildRow) -> v1::BacktestBuildRow {
    v1::BacktestBuildRow {
        orders: count(row.orders),
        with_common_cause: Some(scores(&row.with_common_cause)),
        independent: Some(scores(&row.independent)),
    }
}

fn scores(found: &Summary) -> v1::BacktestScores {
    let mut levels = Vec::with_capacity(LEVELS.len());
    let parts = LEVELS.iter().zip(&found.hit).zip(&found.stated).zip(&found.gap);
    for ((((level, hit), stated), gap), pinball) in parts.zip(&found.pinball) {
        levels.push(v1::BacktestLevel {
            level: *level,
            hit: Some(figure(hit)),
            stated: Some(figure(stated)),
            gap: Some(figure(gap)),
            pinball: Some(figure(pinball)),
        });
    }
    v1::BacktestScores {
        forecasts: count(found.orders),
        levels,
        crps: Some(figure(&found.crps)),
        interval: Some(figure(&found.interval)),
        pit: found.pit.to_vec(),
    }
}

fn figure(found: &Estimate) -> v1::BacktestFigure {
    let error = Some(found.standard_error).filter(|error| error.is_finite());
    v1::BacktestFigure { value: found.mean, standard_error: error }
}
