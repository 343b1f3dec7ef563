//! Means with standard errors that do not take orders of one supplier and month for independent.

use std::collections::BTreeMap;

/// A mean over many outcomes, kept by cluster.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ClusteredMean {
    clusters: BTreeMap<u64, (f64, f64)>,
}

/// A mean and how far it can be trusted.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Estimate {
    /// The mean.
    pub mean: f64,
    /// Its standard error; NaN with fewer than two clusters.
    pub standard_error: f64,
    /// Outcomes.
    pub count: usize,
    /// Clusters.
    pub clusters: usize,
}

impl ClusteredMean {
    /// Adds an outcome of a cluster, say (supplier, month).
    pub fn add(&mut self, cluster: (u32, u32), value: f64) {
        let key = u64::from(cluster.0) << 32 | u64::from(cluster.1);
        let (count, sum) = self.clusters.entry(key).or_default();
        *count += 1.0;
        *sum += value;
    }

    /// The mean with its cluster-robust standard error,
    /// `sqrt(G / (G - 1) * sum over clusters of (sum of residuals)^2) / n`, the sandwich estimator of
    /// a mean (Liang and Zeger 1986) with the usual correction for few clusters.
    #[must_use]
    pub fn estimate(&self) -> Estimate {
        let (mut count, mut sum) = (0.0, 0.0);
        for (n, s) in self.clusters.values() {
            count += n;
            sum += s;
        }
        let clusters = self.clusters.len();
        if count == 0.0 {
            return Estimate { standard_error: f64::NAN, ..Estimate::default() };
        }
        let mean = sum / count;
        let squares: f64 = self.clusters.values().map(|(n, s)| (s - n * mean).powi(2)).sum();
        let g = clusters as f64;
        let standard_error =
            if clusters < 2 { f64::NAN } else { (g / (g - 1.0) * squares).sqrt() / count };
        // Counts are whole and far below 2^52.
        Estimate { mean, standard_error, count: count as usize, clusters }
    }
}
