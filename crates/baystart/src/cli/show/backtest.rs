//! A backtest, as a parts manager reads it.

use super::backtest_tables as tables;
use super::text::{counted, day};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Heights of the bars of a PIT histogram, from nothing to a fifth or more.
const BARS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// Share that fills a bar: twice what is right.
const SHARE_FULL: f64 = 0.2;
/// Correlations that are alike to a hundredth are the same setting.
const CORRELATION_STEP: f64 = 0.01;

/// The whole report.
#[must_use]
pub fn text(console: Console, report: &v1::BacktestReport) -> String {
    let kept = report.kept.unwrap_or_default();
    if report.first.is_none() || kept.orders == 0 {
        return too_short(report);
    }
    let mut text = format!("{}\n", kept_sentence(&kept));
    let _ = writeln!(
        text,
        "At 50 %: {} came, {:.0} were said to. At 90 %: {} came, {:.0} were said to.",
        kept.by_50, kept.said_50, kept.by_90, kept.said_90
    );
    let _ = writeln!(
        text,
        "Each order once, on the first forecast day that found it open: every {} from {} to {},\n\
         with what was on record on that day. Arrivals within {} count.",
        counted(report.step_days.into(), "day", "days"),
        day(report.first.as_ref()),
        day(report.last.as_ref()),
        counted(report.horizon_days.into(), "day", "days"),
    );
    text.push_str(&tables::ages(console, report));
    text.push_str(&tables::suppliers(console, report));
    text.push_str(&tables::methods(console, report));
    text.push_str(&super::backtest_tuning::text(report));
    text.push_str(&pit(report));
    text.push_str(&tables::builds(console, report));
    text.push_str(&correlation(report));
    text.push_str(&not_scored(report));
    text
}

/// The one sentence that everybody should know.
#[must_use]
pub fn kept_sentence(kept: &v1::BacktestKept) -> String {
    let share = percent(f64::from(kept.by_80) / f64::from(kept.orders.max(1)));
    let orders = counted(kept.orders.into(), "past order", "past orders");
    let (by, said) = (kept.by_80, kept.said_80);
    format!(
        "Of {orders}, {by} ({share}) came by the 80 % date; it was said of them that {said:.0} would."
    )
}

fn too_short(report: &v1::BacktestReport) -> String {
    let lines = counted(report.lines.into(), "order line", "order lines");
    let horizon = counted(report.horizon_days.into(), "day", "days");
    format!(
        "The past is too short to judge by: {lines} on record, and no order was open on a forecast day\n\
         that lies {horizon} back. Ask for fewer days with --horizon-days, or bring older orders in:\n\
         baystart import history FILE\n"
    )
}

/// Where in its own forecast each order came.
fn pit(report: &v1::BacktestReport) -> String {
    let all = tables::slice_of(report, v1::BacktestMethod::Learned, tables::is_all);
    let Some(shares) = all.map(|scores| scores.pit.as_slice()).filter(|shares| !shares.is_empty())
    else {
        return String::new();
    };
    let bar = |share: &f64| {
        let full = (BARS.len() - 1) as f64;
        let height = (share / SHARE_FULL * full).round().clamp(0.0, full);
        BARS.get(height as usize).copied().unwrap_or(' ')
    };
    let bars: String = shares.iter().map(bar).collect();
    let figures: Vec<String> = shares.iter().map(|share| format!("{:.0}", share * 100.0)).collect();
    format!(
        "\nWhere in its own forecast each order came, ten steps from the soonest to the latest:\n  \
         {bars}   {} %\n\
         Level, 10 % a step, is right. High on the right: dates too hopeful; on the left: too careful;\n\
         at both ends: too sure of themselves.\n",
        figures.join(" ")
    )
}

/// How the delays of one supplier go together, and how to set it.
fn correlation(report: &v1::BacktestReport) -> String {
    if report.builds.is_empty() {
        return String::new();
    }
    let set = report.correlation;
    let Some(suggested) = report.correlation_suggested else {
        return format!(
            "Delays within a supplier: forecast with a correlation of {set:.2}; too few orders to suggest another.\n"
        );
    };
    if (suggested - set).abs() < CORRELATION_STEP {
        return format!(
            "Delays within a supplier: the correlation that is set, {set:.2}, fits this past.\n"
        );
    }
    format!(
        "Delays within a supplier: forecast with a correlation of {set:.2}; this past suggests {suggested:.2}.\n\
         next: baystart shop set --correlation {suggested:.2}\n"
    )
}

fn not_scored(report: &v1::BacktestReport) -> String {
    let reasons: Vec<String> = [
        (report.were_here, "were here and only not booked yet"),
        (report.cancelled, "were cancelled later"),
        (report.unresolved, "have no known outcome"),
    ]
    .into_iter()
    .filter(|(count, _)| *count > 0)
    .map(|(count, what)| format!("{count} {what}"))
    .collect();
    if reasons.is_empty() {
        return String::new();
    }
    format!("\nForecasts not judged: {}.\n", reasons.join(", "))
}

#[cfg(test)]
#[path = "backtest_tests.rs"]
mod tests;
