//! The answer: when the build can start, and what each source has to do with it.

use super::{
    CommonCause, Source,
    combine::{Table, product_cdf},
    first_reaching,
    gain::{gains, quantile_without},
    grouped::Grouped,
    ties::gating_shares,
};

/// The confidence of the start date without a source.
const GAIN_CONFIDENCE: f64 = 0.8;

/// What one source has to do with the start date.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceForecast {
    /// P(it is the last to arrive), ties shared equally; see [`Forecast`] for the sum.
    pub gating: f64,
    /// Working days by which the start would be earlier if it were on the shelf today: the mean over all
    /// confidences at which the build has a date; 0 where it has none at any.
    pub days_gained: f64,
    /// The 80 % start index if it were on the shelf today; a date here, and none of the build as it
    /// stands, means that this source alone keeps the build from having a date.
    pub start_80_if_here: Option<usize>,
    /// First axis index by which it has arrived with 50 %.
    pub arrival_50: Option<usize>,
    /// First axis index by which it has arrived with 80 %.
    pub arrival_80: Option<usize>,
}

/// The distribution of the earliest start on the axis of working days.
///
/// `startable_today() + mass_without_date() + sum of gating` is 1: either all is here in time for a
/// start today, or some source never comes within the axis, or one of them is the last.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    start_cdf: Vec<f64>,
    sources: Vec<SourceForecast>,
}

/// The forecast of a build that waits for `sources`, on an axis of `days` working days.
///
/// Sources that are here already need not be listed. Without sources the build can start today.
#[must_use]
pub fn forecast(sources: &[Source], days: usize) -> Forecast {
    let table = Table::new(sources, days);
    let start_cdf = product_cdf(&table);
    let shares = gating_shares(&table, &start_cdf);
    let gains = gains(&table, &start_cdf);
    assemble(sources, start_cdf, (shares, gains), |k, start_80| {
        quantile_without(&table, k, GAIN_CONFIDENCE, start_80)
    })
}

/// [`forecast`] where sources of one group share a cause of delay.
///
/// Without a common cause, or with no two sources in a group, it is [`forecast`] itself.
#[must_use]
pub fn forecast_with(sources: &[Source], days: usize, cause: &CommonCause) -> Forecast {
    if cause.rho() == 0.0 || !some_share(sources) {
        return forecast(sources, days);
    }
    let mut grouped = Grouped::new(sources, days, cause);
    let (start_cdf, shares, gains) = grouped.walk();
    assemble(sources, start_cdf, (shares, gains), |k, start_80| {
        grouped.quantile_without(k, GAIN_CONFIDENCE, start_80)
    })
}

fn some_share(sources: &[Source]) -> bool {
    let mut seen = std::collections::BTreeSet::new();
    sources.iter().filter_map(Source::group).any(|group| !seen.insert(group))
}

fn assemble(
    sources: &[Source],
    start_cdf: Vec<f64>,
    (shares, gains): (Vec<f64>, Vec<f64>),
    start_80_without: impl Fn(usize, Option<usize>) -> Option<usize>,
) -> Forecast {
    let start_80 = first_reaching(&start_cdf, GAIN_CONFIDENCE);
    let mut outlooks = Vec::with_capacity(sources.len());
    for (k, ((source, gating), days_gained)) in sources.iter().zip(shares).zip(gains).enumerate() {
        let start_80_if_here = start_80_without(k, start_80);
        outlooks.push(SourceForecast {
            gating,
            days_gained,
            start_80_if_here,
            arrival_50: source.arrival_quantile(0.5),
            arrival_80: source.arrival_quantile(0.8),
        });
    }
    Forecast { start_cdf, sources: outlooks }
}

impl Forecast {
    /// G(s) = P(a start at axis index s does not stall), for every s of the axis.
    #[must_use]
    pub fn start_cdf(&self) -> &[f64] {
        &self.start_cdf
    }

    /// The sources in the order in which they were given.
    #[must_use]
    pub fn sources(&self) -> &[SourceForecast] {
        &self.sources
    }

    /// G(s), which past the axis stays at its last value; 0 on an empty axis.
    #[must_use]
    pub fn startable_by(&self, start: usize) -> f64 {
        self.start_cdf.get(start).or(self.start_cdf.last()).copied().unwrap_or(0.0)
    }

    /// P(a start today does not stall).
    #[must_use]
    pub fn startable_today(&self) -> f64 {
        self.startable_by(0)
    }

    /// P(some source has no date within the axis).
    #[must_use]
    pub fn mass_without_date(&self) -> f64 {
        1.0 - self.startable_by(usize::MAX)
    }

    /// P(the work stalls | it starts at axis index `start`).
    #[must_use]
    pub fn stall(&self, start: usize) -> f64 {
        1.0 - self.startable_by(start)
    }

    /// The first start index with confidence `p`, or `None` if there is no date at that confidence.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<usize> {
        first_reaching(&self.start_cdf, p)
    }

    /// P(finished by axis index `by` | started at `start`), if the work takes its planned
    /// `work_days` working days: [start + work <= by] * G(by - work).
    #[must_use]
    pub fn finished_by(&self, by: usize, start: usize, work_days: usize) -> f64 {
        match by.checked_sub(work_days) {
            Some(latest_start) if start <= latest_start => self.startable_by(latest_start),
            _ => 0.0,
        }
    }

    /// [`Self::finished_by`] for every index of the axis.
    #[must_use]
    pub fn finish_cdf(&self, start: usize, work_days: usize) -> Vec<f64> {
        (0..self.start_cdf.len()).map(|by| self.finished_by(by, start, work_days)).collect()
    }

    /// The first index by which the work is finished with confidence `p` if it starts at `start`:
    /// may lie past the end of the axis, where only the calendar knows its date.
    #[must_use]
    pub fn finish_quantile(&self, p: f64, start: usize, work_days: usize) -> Option<usize> {
        Some(self.quantile(p)?.max(start).saturating_add(work_days))
    }
}
