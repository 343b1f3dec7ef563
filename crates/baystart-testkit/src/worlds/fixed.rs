//! Tuned lead times beside every half-life that somebody could have set by hand.

use std::{fmt::Write as _, ops::ControlFlow};

use baystart_core::{
    backtest::{BacktestPlan, Method, Report, Slice, run},
    leadtime::learn::LearnSettings,
};

use super::{Kind, World, generate, generate_in_batches, plan};

/// One world's scores over all forecasts: CRPS in days, and how the 80 % date was kept.
#[derive(Debug, Clone)]
pub struct Beside {
    /// Forecasts scored.
    pub orders: usize,
    /// Tuned: 80 % hit, said, CRPS.
    pub tuned: [f64; 3],
    /// By half-life, as [`baystart_core::leadtime::learn::HALF_LIVES_DAYS`]: CRPS.
    pub fixed: [f64; 4],
    /// The default before: a half-life of 730 days with a test for drift, unsmoothed.
    pub before: [f64; 3],
}

impl Beside {
    /// By how much the tuned CRPS is above that of the best half-life (.01: by 1 %).
    #[must_use]
    pub fn above_best(&self) -> f64 {
        let [_, _, tuned] = self.tuned;
        tuned / self.fixed.iter().copied().fold(f64::INFINITY, f64::min) - 1.0
    }
}

/// The scores of one world, forecast every `step_days` days; `None` where nothing was forecast.
#[must_use]
pub fn compare(world: &World, step_days: u32) -> Option<Beside> {
    let plan = BacktestPlan { builds: false, ..plan(world, step_days) };
    let walk = |plan: &BacktestPlan, settings: &LearnSettings| -> Option<Report> {
        run(&world.history, plan, settings, &mut |_| ControlFlow::Continue(())).ok()
    };
    let tuned = walk(&plan, &LearnSettings::default())?;
    let by_hand = LearnSettings { tuned: false, smoothed: false, ..LearnSettings::default() };
    let before = walk(&BacktestPlan { baselines: false, ..plan }, &by_hand)?;
    let scores = |report: &Report, method| {
        let found = report.scores(method, Slice::All)?;
        Some([found.hit[1].mean, found.stated[1].mean, found.crps.mean])
    };
    let mut fixed = [f64::NAN; 4];
    for (at, kept) in fixed.iter_mut().enumerate() {
        let [_, _, crps] = scores(&tuned, Method::Fixed(at))?;
        *kept = crps;
    }
    Some(Beside {
        orders: tuned.scores(Method::Learned, Slice::All)?.orders,
        tuned: scores(&tuned, Method::Learned)?,
        fixed,
        before: scores(&before, Method::Learned)?,
    })
}

/// Every world with single orders and with orders in batches, as a Markdown table.
#[must_use]
pub fn beside_fixed(orders: u32, step_days: u32, seed: u64) -> String {
    let mut text = String::new();
    text.push_str(
        "| world | n | tuned: 80 % hit / said | CRPS | 60 d | 180 d | 540 d | 1,620 d | against the best | 730 d and drift, before: hit / said | CRPS |\n\
         |---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for batched in [false, true] {
        for kind in Kind::ALL {
            let suppliers = if kind == Kind::CommonCause { 4 } else { 25 };
            let world = match batched {
                true => generate_in_batches(kind, orders, suppliers, seed),
                false => generate(kind, orders, suppliers, seed),
            };
            let Some(found) = compare(&world, step_days) else {
                continue;
            };
            let ([hit, said, crps], [hit_0, said_0, crps_0]) = (found.tuned, found.before);
            let [a, b, c, d] = found.fixed;
            let name = if batched { ", in batches" } else { "" };
            // Writing to a String cannot fail.
            let _ = writeln!(
                text,
                "| {}{name} | {} | {hit:.3} / {said:.3} | {crps:.2} | {a:.2} | {b:.2} | {c:.2} | {d:.2} \
                 | {:+.1} % | {hit_0:.3} / {said_0:.3} | {crps_0:.2} |",
                kind.text(),
                found.orders,
                100.0 * found.above_best(),
            );
        }
    }
    text
}
