//! A world's backtest as text.

use std::{fmt::Write, ops::ControlFlow};

use baystart_core::{
    backtest::{BacktestPlan, Report, Slice, run},
    calendar::add_days,
    forecast::RhoError,
    leadtime::learn::LearnSettings,
};

use super::World;

/// A walk over a world from its second year on, every `step_days` days.
///
/// # Errors
/// [`RhoError`] if the default correlation cannot be used; it can.
pub fn backtest(
    world: &World,
    step_days: u32,
    settings: &LearnSettings,
) -> Result<Report, RhoError> {
    let first = add_days(world.first, 400).unwrap_or(world.first);
    let plan = BacktestPlan { step_days, ..BacktestPlan::over(first, world.end) };
    run(&world.history, &plan, settings, &mut |_| ControlFlow::Continue(()))
}

/// Every method over all orders, and the builds, as a Markdown table.
#[must_use]
pub fn table(world: &World, report: &Report) -> String {
    let mut text = format!("### {}\n\n", world.kind.text());
    text.push_str("| forecast | n | 50 % hit / said | 80 % | 90 % | pinball 80 | CRPS ± s.e. |\n");
    text.push_str("|---|---|---|---|---|---|---|\n");
    for row in report.rows.iter().filter(|row| row.slice == Slice::All) {
        let scores = &row.scores;
        let pair = |k: usize| {
            let of = |all: &[baystart_core::score::Estimate; 3]| all.get(k).map_or(0.0, |e| e.mean);
            format!("{:.3} / {:.3}", of(&scores.hit), of(&scores.stated))
        };
        let [_, pinball_80, _] = scores.pinball;
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {:.2} | {:.2} ± {:.2} |",
            row.method.text(),
            scores.orders,
            pair(0),
            pair(1),
            pair(2),
            pinball_80.mean,
            scores.crps.mean,
            scores.crps.standard_error,
        );
    }
    text.push_str(
        "\n| builds of | n | 80 % hit / said, common cause | independent |\n|---|---|---|---|\n",
    );
    for row in &report.builds {
        let pair = |scores: &baystart_core::backtest::Summary| {
            let ([_, hit, _], [_, stated, _]) = (&scores.hit, &scores.stated);
            format!("{:.3} / {:.3}", hit.mean, stated.mean)
        };
        let (with, without) = (pair(&row.with_common_cause), pair(&row.independent));
        let n = row.independent.orders;
        let _ = writeln!(text, "| {} | {n} | {with} | {without} |", row.orders);
    }
    let _ = writeln!(
        text,
        "\nNot scored: {} here already but not booked, {} unresolved.\n",
        report.were_here, report.unresolved
    );
    text
}
