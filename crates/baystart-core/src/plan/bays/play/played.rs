//! What all paths together say.

use super::days::{Fate, Lucky, Path};
use super::fleet::{Day, NEVER, Rules};
use super::to_come::ToCome;

/// What became of each vehicle on every path.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Played {
    /// By vehicle, in the order in which they were given.
    pub(in crate::plan) fates: Vec<Vec<Fate>>,
    /// By day: the share of paths on which a bay is left free after the morning's starts.
    pub(in crate::plan) a_bay_free: Vec<f64>,
    /// By day: bays in use, mean over paths; 0 where bays are not recorded.
    pub(in crate::plan) bays_used: Vec<f64>,
}

/// Plays every path. The fleet is in the order of service.
pub(in crate::plan) fn play(fleet: &[&Lucky], rules: &Rules, to_come: &ToCome) -> Played {
    let mut fates: Vec<Vec<Fate>> = vec![Vec::with_capacity(rules.paths); fleet.len()];
    let (mut free, mut used) = (vec![0_u32; rules.days], vec![0_i64; rules.days]);
    let mut path = Path::new(rules, fleet, to_come);
    for p in 0..rules.paths {
        path.play(p);
        for (all, one) in fates.iter_mut().zip(&path.fates) {
            all.push(*one);
        }
        for ((free, used), left) in free.iter_mut().zip(&mut used).zip(&path.left) {
            *free += u32::from(*left > 0);
            *used += i64::from(rules.bays) - left;
        }
    }
    let n = rules.paths.max(1) as f64;
    let bays_used = match rules.bays {
        0 => vec![0.0; rules.days],
        _ => used.into_iter().map(|used| used as f64 / n).collect(),
    };
    let a_bay_free = free.into_iter().map(|free| f64::from(free) / n).collect();
    Played { fates, a_bay_free, bays_used }
}

/// How many paths have come so far on each day.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Spread {
    /// By day; what never comes is in none.
    counts: Vec<u32>,
    paths: usize,
}

impl Spread {
    pub(in crate::plan) fn of(days: impl Iterator<Item = Day>) -> Self {
        let (mut counts, mut paths) = (Vec::new(), 0);
        for day in days {
            paths += 1;
            if day == NEVER {
                continue;
            }
            let at = usize::from(day);
            if at >= counts.len() {
                counts.resize(at + 1, 0);
            }
            if let Some(count) = counts.get_mut(at) {
                *count += 1;
            }
        }
        Self { counts, paths }
    }

    /// The first day by which a share `level` of the paths has come so far; None: not within the horizon.
    pub(in crate::plan) fn quantile(&self, level: f64) -> Option<usize> {
        let needed = (level * self.paths as f64 - 1e-9).ceil().max(1.0) as u32;
        let mut come = 0;
        self.counts.iter().position(|count| {
            come += count;
            come >= needed
        })
    }
}

/// [`Spread::quantile`] of days of which nothing else is asked.
pub(in crate::plan) fn quantile(days: impl Iterator<Item = Day>, level: f64) -> Option<usize> {
    Spread::of(days).quantile(level)
}

/// The share of paths that have come so far by a day.
pub(in crate::plan) fn share_by(days: impl ExactSizeIterator<Item = Day>, by: usize) -> f64 {
    let all = days.len().max(1) as f64;
    days.filter(|day| *day != NEVER && usize::from(*day) <= by).count() as f64 / all
}

/// The chance to have come so far by a day, as it is told: the share of paths. Where all of them have,
/// though they differ, half a path is taken to be later: paths that were drawn make nothing sure. None of
/// them by then is 0 all the same, since work takes its time.
pub(in crate::plan) fn chance_by(
    days: impl ExactSizeIterator<Item = Day> + Clone,
    by: usize,
) -> f64 {
    let (share, half) = (share_by(days.clone(), by), 0.5 / days.len().max(1) as f64);
    let differ = days.clone().min() != days.max();
    if differ { share.min(1.0 - half) } else { share }
}

/// Waiting for a bay, seen over all paths of one vehicle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::plan) struct Waited {
    /// Share of paths on which it waited for a bay after it might have begun.
    pub(in crate::plan) share: f64,
    /// Working days from then to its start, mean over the paths on which it starts.
    pub(in crate::plan) days: f64,
    /// Working days between stages for want of parts, mean over those paths.
    pub(in crate::plan) stalled_days: f64,
    /// Builds to come that begin before it, mean over those paths.
    pub(in crate::plan) overtaken: f64,
    /// The axis index of the first morning on which it might begin, mean over those paths.
    pub(in crate::plan) may_begin_days: f64,
}

/// How long a vehicle waits for a bay, and in it for parts.
pub(in crate::plan) fn waited(fates: &[Fate]) -> Waited {
    let begun: Vec<_> = fates.iter().filter(|fate| fate.start != NEVER).collect();
    let n = begun.len().max(1) as f64;
    let lost = |fate: &&Fate| f64::from(fate.start.saturating_sub(fate.eligible));
    Waited {
        share: begun.iter().filter(|fate| fate.start > fate.eligible).count() as f64 / n,
        days: begun.iter().map(lost).sum::<f64>() / n,
        stalled_days: begun.iter().map(|fate| f64::from(fate.stalled)).sum::<f64>() / n,
        overtaken: begun.iter().map(|fate| f64::from(fate.overtaken)).sum::<f64>() / n,
        may_begin_days: begun.iter().map(|fate| f64::from(fate.eligible)).sum::<f64>() / n,
    }
}
