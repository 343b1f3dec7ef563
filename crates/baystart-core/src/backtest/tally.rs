//! Scores summed up while the walk goes on.

use super::{LEVELS, report::Summary};
use crate::score::{ClusteredMean, PitHistogram, crps, interval_score, pinball, stated_quantile};

/// All scores of one method on one slice of the orders.
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    hit: [ClusteredMean; 3],
    stated: [ClusteredMean; 3],
    gap: [ClusteredMean; 3],
    pinball: [ClusteredMean; 3],
    interval: ClusteredMean,
    crps: ClusteredMean,
    pit: PitHistogram,
}

impl Tally {
    /// Adds a forecast and its outcome; `None`: later than the grid.
    ///
    /// A quantile past the grid is scored as the last day with the probability stated for it.
    pub(super) fn add(&mut self, cluster: (u32, u32), cdf: &[f64], y: Option<usize>) {
        let last = cdf.len().saturating_sub(1);
        let at_last = (last, cdf.last().copied().unwrap_or(0.0));
        let outcome = y.unwrap_or(cdf.len());
        for (k, level) in LEVELS.into_iter().enumerate() {
            let (q, stated) = stated_quantile(cdf, level).unwrap_or(at_last);
            let hit = f64::from(u8::from(outcome <= q));
            let loss = pinball(level, q as f64, outcome as f64);
            for (mean, value) in [
                (self.hit.get_mut(k), hit),
                (self.stated.get_mut(k), stated),
                (self.gap.get_mut(k), hit - stated),
                (self.pinball.get_mut(k), loss),
            ] {
                if let Some(mean) = mean {
                    mean.add(cluster, value);
                }
            }
        }
        let low = stated_quantile(cdf, 0.1).unwrap_or(at_last).0;
        let high = stated_quantile(cdf, 0.9).unwrap_or(at_last).0;
        let interval = interval_score(0.2, low as f64, high as f64, outcome as f64);
        self.interval.add(cluster, interval);
        self.crps.add(cluster, crps(cdf, y));
        self.pit.add(cdf, y);
    }

    pub(super) fn summary(&self) -> Summary {
        let all = |means: &[ClusteredMean; 3]| means.each_ref().map(ClusteredMean::estimate);
        let crps = self.crps.estimate();
        Summary {
            orders: crps.count,
            hit: all(&self.hit),
            stated: all(&self.stated),
            gap: all(&self.gap),
            pinball: all(&self.pinball),
            interval: self.interval.estimate(),
            crps,
            pit: self.pit.shares(),
        }
    }
}
