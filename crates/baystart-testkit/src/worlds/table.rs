//! A world's backtest as text.

use std::{fmt::Write, ops::ControlFlow};

use baystart_core::{
    backtest::{BacktestPlan, Report, Slice, run},
    calendar::add_days,
    forecast::RhoError,
    leadtime::learn::LearnSettings,
    score::Estimate,
};

use super::{Forgotten, World};

/// A walk over a world from its second year on, every `step_days` days.
///
/// # Errors
/// [`RhoError`] if the default correlation cannot be used; it can.
pub fn backtest(
    world: &World,
    step_days: u32,
    settings: &LearnSettings,
) -> Result<Report, RhoError> {
    run(&world.history, &plan(world, step_days), settings, &mut |_| ControlFlow::Continue(()))
}

/// The plan of [`backtest`].
#[must_use]
pub fn plan(world: &World, step_days: u32) -> BacktestPlan {
    let first = add_days(world.first, 400).unwrap_or(world.first);
    BacktestPlan { step_days, ..BacktestPlan::over(first, world.end) }
}

/// Every method over all orders, and the builds, as a Markdown table.
#[must_use]
pub fn table(world: &World, report: &Report, forgotten: &Forgotten) -> String {
    let mut text = format!("### {}\n\n", world.kind.text());
    text.push_str("| forecast | n | 50 % hit / said | 80 % | 90 % | pinball 80 | CRPS ± s.e. |\n");
    text.push_str("|---|---|---|---|---|---|---|\n");
    for row in report.rows.iter().filter(|row| row.slice == Slice::All) {
        let scores = &row.scores;
        let [_, pinball_80, _] = scores.pinball;
        let levels = (&scores.hit, &scores.stated);
        line(&mut text, row.method.text(), scores.orders, levels, pinball_80, scores.crps);
    }
    let (hit, stated) = (&forgotten.hit, &forgotten.stated);
    let (pinball_80, crps) = (forgotten.pinball_80, forgotten.crps);
    let name = "forgotten orders believed";
    line(&mut text, name, forgotten.orders, (hit, stated), pinball_80, crps);
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

fn line(
    text: &mut String,
    name: &str,
    orders: usize,
    (hit, stated): (&[Estimate; 3], &[Estimate; 3]),
    pinball_80: Estimate,
    crps: Estimate,
) {
    // Writing to a String cannot fail.
    let _ = write!(text, "| {name} | {orders} |");
    for (hit, stated) in hit.iter().zip(stated) {
        let _ = write!(text, " {:.3} / {:.3} |", hit.mean, stated.mean);
    }
    let (mean, error) = (crps.mean, crps.standard_error);
    let _ = writeln!(text, " {:.2} | {mean:.2} ± {error:.2} |", pinball_80.mean);
}
