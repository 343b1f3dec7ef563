//! Means over seeds, with intervals that take the seeds for the independent units.

use super::day::Outcome;
use super::jobs::{BuildOutcome, PromiseOutcome};
use baystart_core::forecast::normal_quantile;
use baystart_core::score::ClusteredMean;

/// A measure of a build.
#[derive(Clone, Copy, Debug)]
pub struct Figure {
    /// For people.
    pub name: &'static str,
    /// Of one build.
    pub of: fn(&BuildOutcome) -> f64,
}

/// How the names of figures end that [`super::Policy::alone`] measures.
pub const ALONE: &str = "no builds to come";

/// What is measured, in the order in which it is printed.
pub const FIGURES: [Figure; 28] = [
    Figure { name: "promises kept, share", of: |build| kept(build.promise()) },
    Figure { name: "chance reckoned when it was given", of: |build| build.promise().said },
    Figure { name: "kept less said at 50 %", of: |build| kept_less_said(&build.at[0]) },
    Figure { name: "kept less said at 80 %", of: |build| kept_less_said(&build.at[1]) },
    Figure { name: "kept less said at 95 %", of: |build| kept_less_said(&build.at[2]) },
    Figure { name: "kept at 50 %", of: |build| kept(&build.at[0]) },
    Figure { name: "said at 50 %", of: |build| build.at[0].said },
    Figure { name: "kept at 95 %", of: |build| kept(&build.at[2]) },
    Figure { name: "said at 95 %", of: |build| build.at[2].said },
    Figure { name: "kept at 50 %, no builds to come", of: |build| alone(build.kept_alone[0]) },
    Figure { name: "kept at 80 %, no builds to come", of: |build| alone(build.kept_alone[1]) },
    Figure { name: "kept at 95 %, no builds to come", of: |build| alone(build.kept_alone[2]) },
    Figure { name: "parts in time for the booked start, share", of: in_time },
    Figure { name: "parts in time and promise kept, share", of: in_time_and_kept },
    Figure { name: "promised: days from acceptance", of: |build| build.promise().promised_days },
    Figure { name: "delivered: days from acceptance", of: |build| build.actual_days },
    Figure { name: "days late, 0 where kept", of: |build| build.promise().late_days },
    Figure { name: "into a bay: days from acceptance", of: |build| build.until_bay_days },
    Figure { name: "into a bay: working days after the booked start", of: |b| b.start_late_days },
    Figure {
        name: "may begin, as said: working days from acceptance",
        of: |b| b.said.may_begin_days,
    },
    Figure { name: "may begin: working days later than said", of: later_than_said },
    Figure { name: "said wait from eligible to bay: working days", of: |b| b.said.wait },
    Figure { name: "wait from eligible to bay: working days", of: |b| b.wait },
    Figure { name: "said to be overtaken by builds to come", of: |b| b.said.overtaken },
    Figure { name: "overtaken by builds accepted later", of: |b| b.overtaken },
    Figure { name: "said to stall in a bay: working days", of: |build| build.said.stalled },
    Figure { name: "stalled in a bay: working days", of: |build| build.stalled_days },
    Figure { name: "a part lies: days from receipt to fitting", of: |build| build.stock_days },
];

fn alone(kept: bool) -> f64 {
    f64::from(u8::from(kept))
}

fn kept(at: &PromiseOutcome) -> f64 {
    f64::from(u8::from(at.kept))
}

fn kept_less_said(at: &PromiseOutcome) -> f64 {
    kept(at) - at.said
}

fn later_than_said(build: &BuildOutcome) -> f64 {
    build.may_begin_days - build.said.may_begin_days
}

fn in_time(build: &BuildOutcome) -> f64 {
    f64::from(u8::from(build.parts_in_time))
}

fn in_time_and_kept(build: &BuildOutcome) -> f64 {
    f64::from(u8::from(build.parts_in_time && build.promise().kept))
}

/// A mean and its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    /// The mean over all builds.
    pub mean: f64,
    /// Half of the interval's length; NaN with fewer than two seeds.
    pub half: f64,
    /// Builds.
    pub builds: usize,
}

/// The mean of a measure over the builds of all seeds: mean +- t(.975, seeds - 1) x the standard error that
/// is robust to whatever goes on within a seed ([`ClusteredMean`]).
#[must_use]
pub fn figure(of: fn(&BuildOutcome) -> f64, seeds: &[Outcome]) -> Between {
    let rows = seeds.iter().map(|seed| seed.builds.iter().map(of).collect());
    between(rows.collect())
}

/// The mean of the differences a - b, build by build, of plays of the same seeds.
#[must_use]
pub fn paired(of: fn(&BuildOutcome) -> f64, a: &[Outcome], b: &[Outcome]) -> Between {
    let pairs = a.iter().zip(b).map(|(a, b)| {
        let builds = a.builds.iter().zip(&b.builds).filter(|(a, b)| a.build == b.build);
        builds.map(|(a, b)| of(a) - of(b)).collect()
    });
    between(pairs.collect())
}

/// Values by seed.
pub(super) fn between(seeds: Vec<Vec<f64>>) -> Between {
    let mut mean = ClusteredMean::default();
    for (seed, values) in (0..).zip(seeds) {
        for value in values {
            mean.add((seed, 0), value);
        }
    }
    let found = mean.estimate();
    let freedom = found.clusters.saturating_sub(1) as f64;
    let half = t_quantile(0.975, freedom) * found.standard_error;
    Between { mean: found.mean, half, builds: found.count }
}

/// The quantile of Student's t, by the expansion of Abramowitz and Stegun 26.7.5 from the normal one; to
/// within .002 from 5 degrees of freedom on.
#[must_use]
pub fn t_quantile(p: f64, freedom: f64) -> f64 {
    let x = normal_quantile(p);
    let terms = [
        (x.powi(3) + x) / 4.0,
        (5.0 * x.powi(5) + 16.0 * x.powi(3) + 3.0 * x) / 96.0,
        (3.0 * x.powi(7) + 19.0 * x.powi(5) + 17.0 * x.powi(3) - 15.0 * x) / 384.0,
    ];
    let mut sum = x;
    for (power, term) in (1..).zip(terms) {
        sum += term / freedom.powi(power);
    }
    sum
}
