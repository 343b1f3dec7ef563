//! How far back a shop's past is believed, in words.

use super::backtest_tables as tables;
use super::text::{counted, day};
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Weight from which one half-life counts most by far.
const MOSTLY: f64 = 0.5;
/// Weights that differ by less from each other are equal.
const ALIKE: f64 = 0.02;
/// A pace that differs by less from 1 is not worth a word.
const PACE_MIN: f64 = 0.05;

/// The half-lives that a past can be believed by, with the method that forecasts by one alone.
const HALF_LIVES: [(v1::BacktestMethod, &str); 4] = [
    (v1::BacktestMethod::HalfLife60, "last two months"),
    (v1::BacktestMethod::HalfLife180, "last half year"),
    (v1::BacktestMethod::HalfLife540, "last year and a half"),
    (v1::BacktestMethod::HalfLife1620, "last four or five years"),
];

/// How far back the past is believed, what that gains, and what else was learned.
#[must_use]
pub fn text(report: &v1::BacktestReport) -> String {
    let Some(tuning) = &report.tuning else {
        return String::new();
    };
    let mut text = format!("\n{}\n", believed(tuning));
    if let Some(gain) = gain(report) {
        let _ = writeln!(text, "{gain}");
    }
    if tuning.growth_per_year != 0.0 {
        let share = percent(tuning.growth_per_year.abs());
        let (grew, longer) = match tuning.growth_per_year > 0.0 {
            true => ("grew", "longer"),
            false => ("shrank", "shorter"),
        };
        let _ = writeln!(
            text,
            "Waits {grew} by {share} in a year, so past orders count as that much {longer}."
        );
    }
    let (came, none) = (tuning.pace_when_others_came, tuning.pace_when_none_came);
    if (came - 1.0).abs() >= PACE_MIN || (none - 1.0).abs() >= PACE_MIN {
        let _ = writeln!(
            text,
            "Of three lines placed together, one that is missing while two are here comes {came:.1} times\n\
             as fast as its age says; while none is here, {none:.1} times."
        );
    }
    text
}

/// `How far back this past counts: the last half year most (60 days 5 %, ...), by 4,212 forecasts.`
fn believed(tuning: &v1::LeadTimeTuning) -> String {
    let weights: Vec<f64> = tuning.experts.iter().map(|expert| expert.lead_times).collect();
    let alike = weights.iter().all(|weight| (weight - 1.0 / weights.len() as f64).abs() < ALIKE);
    if tuning.judged == 0 || alike {
        return "How far back this past counts: too little was judged yet, so that long and short \
                memories count alike."
            .to_owned();
    }
    let named = weights.iter().zip(HALF_LIVES);
    let most = named.max_by(|a, b| a.0.total_cmp(b.0));
    let what = most.map_or("", |(_, (_, name))| name);
    let how =
        if most.is_some_and(|(weight, _)| *weight >= MOSTLY) { "by far the most" } else { "most" };
    let shares: Vec<String> = tuning
        .experts
        .iter()
        .map(|expert| {
            let days = counted(expert.half_life_days.into(), "day", "days");
            format!("{days} {}", percent(expert.lead_times))
        })
        .collect();
    let judged = counted(tuning.judged.into(), "forecast", "forecasts");
    format!(
        "How far back this past counts: the shop's {what} counts {how}.\n\
         Half-lives and their weights: {}, by {judged} judged up to {}.",
        shares.join(", "),
        day(tuning.landmark.as_ref()),
    )
}

/// What the tuning gains against the best half-life that somebody could have set, by the CRPS.
fn gain(report: &v1::BacktestReport) -> Option<String> {
    let crps = |method| {
        let scores = tables::slice_of(report, method, tables::is_all)?;
        Some(scores.crps?.value)
    };
    let own = crps(v1::BacktestMethod::Learned)?;
    let fixed = HALF_LIVES.iter().zip([60, 180, 540, 1_620]);
    let fixed = fixed.filter_map(|((method, _), days)| Some((crps(*method)?, days)));
    let (best, days) = fixed.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let off = (own / best - 1.0) * 100.0;
    let side = if off <= 0.0 { "nearer" } else { "farther off" };
    let days = counted(days, "day", "days");
    Some(format!(
        "Against the half-life that was best in hindsight, {days} alone, the whole forecast is {:.1} % {side}.",
        off.abs()
    ))
}
