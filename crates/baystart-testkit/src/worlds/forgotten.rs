//! The trap of forgotten orders, as a row beside the others: laws that take every open order for
//! truly open until yesterday, however long nothing was heard of it.

use std::ops::ControlFlow;

use baystart_core::{
    backtest::{BacktestPlan, Event, Forecasted, LEVELS, run},
    forecast::RhoError,
    leadtime::{
        OpenSupply,
        learn::{LearnSettings, LearnedLaws},
    },
    score::{ClusteredMean, Estimate, crps, pinball, stated_quantile},
};
use jiff::civil::Date;

use super::World;

/// Scores of the trap on the orders and outcomes of a backtest's learned row.
#[derive(Debug, Clone)]
pub struct Forgotten {
    /// Forecasts scored.
    pub orders: usize,
    /// How often the order came by the date stated for 50, 80 and 90 %.
    pub hit: [Estimate; 3],
    /// How often it was said to.
    pub stated: [Estimate; 3],
    /// Pinball loss of the 80 % date in days.
    pub pinball_80: Estimate,
    /// CRPS in days.
    pub crps: Estimate,
}

/// Every order and day that the plan's walk scores, forecast by laws that believe forgotten orders.
///
/// # Errors
/// [`RhoError`] if the plan's correlation cannot be used.
pub fn forgotten_believed(
    world: &World,
    plan: &BacktestPlan,
    settings: &LearnSettings,
) -> Result<Forgotten, RhoError> {
    let believing = LearnSettings { stale_after_days: u32::MAX, ..*settings };
    let plan = BacktestPlan { baselines: false, ..*plan };
    let mut known: Option<(Date, LearnedLaws)> = None;
    let (mut hit, mut stated) = (<[ClusteredMean; 3]>::default(), <[ClusteredMean; 3]>::default());
    let (mut pinball_80, mut all) = (ClusteredMean::default(), ClusteredMean::default());
    run(&world.history, &plan, settings, &mut |event| {
        let Event::Forecasted(found) = event else {
            return ControlFlow::Continue(());
        };
        let laws = match known.take().filter(|(day, _)| *day == found.as_of) {
            Some((_, laws)) => laws,
            None => LearnedLaws::learn(&world.history, found.as_of, &believing),
        };
        let cdf = forecast(world, &laws, &found, plan.horizon_days);
        known = Some((found.as_of, laws));
        let Some(cdf) = cdf else {
            return ControlFlow::Continue(());
        };
        let month = u32::try_from(found.as_of.year()).unwrap_or(0) * 12
            + u32::try_from(found.as_of.month()).unwrap_or(0);
        let cluster = (found.keys.supplier.unwrap_or(0), month);
        let outcome = found.came.unwrap_or(cdf.len());
        let never = (cdf.len().saturating_sub(1), cdf.last().copied().unwrap_or(0.0));
        for ((hit, stated), level) in hit.iter_mut().zip(&mut stated).zip(LEVELS) {
            let (day, said) = stated_quantile(&cdf, level).unwrap_or(never);
            hit.add(cluster, f64::from(u8::from(outcome <= day)));
            stated.add(cluster, said);
        }
        let day_80 = stated_quantile(&cdf, 0.8).unwrap_or(never).0;
        pinball_80.add(cluster, pinball(0.8, day_80 as f64, outcome as f64));
        all.add(cluster, crps(&cdf, found.came));
        ControlFlow::Continue(())
    })?;
    let crps = all.estimate();
    Ok(Forgotten {
        orders: crps.count,
        hit: hit.each_ref().map(ClusteredMean::estimate),
        stated: stated.each_ref().map(ClusteredMean::estimate),
        pinball_80: pinball_80.estimate(),
        crps,
    })
}

fn forecast(
    world: &World,
    laws: &LearnedLaws,
    found: &Forecasted<'_>,
    horizon_days: u32,
) -> Option<Vec<f64>> {
    let line = world.history.lines.get(found.line)?;
    let supply = OpenSupply::of_line(line, found.as_of);
    let law = laws.arrival(found.keys, &supply, found.as_of, horizon_days)?;
    Some(law.cdf().to_vec())
}
