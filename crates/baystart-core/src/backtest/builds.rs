//! Builds made up of orders that were open at once: is the latest of them forecast well?

use super::{BUILD_SIZES, report::BuildRow, tally::Tally};
use crate::forecast::{CommonCause, Source, start_cdf, start_cdf_with};

/// An open order of the forecast day.
pub(super) struct OpenOrder {
    /// Its place in the history.
    pub line: usize,
    pub supplier: u32,
    pub cdf: Vec<f64>,
    /// Days until it came; `None`: later than the horizon.
    pub y: Option<usize>,
}

/// Scores of builds of each size; an order is in at most one build of a size.
pub(super) struct Builds {
    cause: CommonCause,
    used: Vec<[bool; BUILD_SIZES.len()]>,
    tallies: Vec<(Tally, Tally)>,
}

impl Builds {
    pub(super) fn new(lines: usize, cause: CommonCause) -> Self {
        let tallies = BUILD_SIZES.iter().map(|_| Default::default()).collect();
        Self { cause, used: vec![[false; BUILD_SIZES.len()]; lines], tallies }
    }

    /// Makes builds of the day's open orders, in a fixed order that looks like a random one.
    pub(super) fn add(&mut self, day: u32, open: &[OpenOrder], builds_max: usize) {
        for (k, size) in BUILD_SIZES.into_iter().enumerate() {
            let fresh = |order: &&OpenOrder| {
                self.used.get(order.line).and_then(|used| used.get(k)).is_some_and(|used| !used)
            };
            let mut unused: Vec<&OpenOrder> = open.iter().filter(fresh).collect();
            unused.sort_by_key(|order| scrambled(order.line as u64 ^ (k as u64) << 48));
            for build in unused.chunks_exact(size).take(builds_max) {
                for order in build {
                    if let Some(used) = self.used.get_mut(order.line).and_then(|u| u.get_mut(k)) {
                        *used = true;
                    }
                }
                self.score(k, day, build);
            }
        }
    }

    fn score(&mut self, k: usize, day: u32, build: &[&OpenOrder]) {
        let days = build.iter().map(|order| order.cdf.len()).max().unwrap_or(0);
        let mut sources = Vec::with_capacity(build.len());
        for order in build {
            match Source::new(0, Some(order.supplier), order.cdf.clone()) {
                Ok(source) => sources.push(source),
                Err(_) => return,
            }
        }
        let latest = build.iter().map(|order| order.y).try_fold(0, |max, y| Some(max.max(y?)));
        if let Some((with, without)) = self.tallies.get_mut(k) {
            with.add((day, 0), &start_cdf_with(&sources, days, &self.cause), latest);
            without.add((day, 0), &start_cdf(&sources, days), latest);
        }
    }

    pub(super) fn rows(&self) -> Vec<BuildRow> {
        let mut rows = Vec::new();
        for (orders, (with, without)) in BUILD_SIZES.into_iter().zip(&self.tallies) {
            let (with_common_cause, independent) = (with.summary(), without.summary());
            if independent.orders > 0 {
                rows.push(BuildRow { orders, with_common_cause, independent });
            }
        }
        rows
    }
}

/// SplitMix64's finaliser (Steele, Lea and Flood 2014): an order without pattern, the same each run.
fn scrambled(key: u64) -> u64 {
    let mut z = key.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
