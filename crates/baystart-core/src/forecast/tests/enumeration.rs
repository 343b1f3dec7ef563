//! Every answer against the enumeration of all outcomes of small cases.

use proptest::prelude::*;

use super::{super::*, source, sum_of_parts};

const DAYS: usize = 4;
const TOLERANCE: f64 = 1e-9;

/// An arrival as masses on days 0..4; the last mass has no date.
#[derive(Debug, Clone)]
struct Arrival {
    offset: usize,
    masses: [f64; DAYS + 1],
}

impl Arrival {
    fn source(&self) -> Source {
        let mut sum = 0.0;
        let mut cdf = Vec::new();
        for mass in &self.masses[..DAYS] {
            sum += mass;
            cdf.push(sum);
        }
        source(u32::try_from(self.offset).unwrap(), cdf)
    }

    /// The earliest start that it allows, if it arrives on `day`; none if that is no date.
    fn start(&self, day: usize) -> Option<usize> {
        (day < DAYS).then(|| day.saturating_sub(self.offset))
    }
}

fn arrival() -> impl Strategy<Value = Arrival> {
    // Small whole weights, so that empty days, ties and certain arrivals are frequent.
    (0..DAYS, prop::array::uniform5(0_u8..4)).prop_filter_map("no mass", |(offset, weights)| {
        let total: f64 = weights.iter().copied().map(f64::from).sum();
        (total > 0.0).then(|| Arrival { offset, masses: weights.map(|w| f64::from(w) / total) })
    })
}

/// All outcomes: the start that each source allows, and the probability.
fn outcomes(arrivals: &[Arrival]) -> Vec<(Vec<Option<usize>>, f64)> {
    let mut all = vec![(Vec::new(), 1.0)];
    for arrival in arrivals {
        let mut longer = Vec::new();
        for (starts, p) in &all {
            for (day, mass) in arrival.masses.iter().enumerate() {
                let mut starts = starts.clone();
                starts.push(arrival.start(day));
                longer.push((starts, p * mass));
            }
        }
        all = longer;
    }
    all
}

/// The start of an outcome, or none if some source has no date.
fn start_of(starts: &[Option<usize>]) -> Option<usize> {
    starts.iter().copied().try_fold(0, |latest, start| Some(latest.max(start?)))
}

fn start_cdf_of(arrivals: &[Arrival]) -> Vec<f64> {
    let mut cdf = vec![0.0; DAYS];
    for (starts, p) in outcomes(arrivals) {
        for (s, cell) in cdf.iter_mut().enumerate() {
            *cell += if start_of(&starts).is_some_and(|start| start <= s) { p } else { 0.0 };
        }
    }
    cdf
}

/// The enumerated quantile, or nothing to compare where rounding decides.
fn quantile_of(cdf: &[f64], p: f64) -> Option<Option<usize>> {
    let knife_edge = cdf.iter().any(|value| (value - p).abs() < 1e-9 && (value - p).abs() > 1e-13);
    (!knife_edge).then(|| first_reaching(cdf, p))
}

/// The mean over the confidences that `with` reaches of the days by which `without` reaches them sooner,
/// confidence by confidence.
fn mean_gain(with: &[f64], without: &[f64]) -> f64 {
    const LEVELS: usize = 4_000;
    let last = with[with.len() - 1];
    let mut sum = 0.0;
    for level in 0..LEVELS {
        let p = last * (level as f64 + 0.5) / LEVELS as f64;
        if let (Some(a), Some(b)) = (first_reaching(with, p), first_reaching(without, p)) {
            sum += a as f64 - b as f64;
        }
    }
    sum / LEVELS as f64
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn all_answers_agree_with_the_enumeration(
        arrivals in prop::collection::vec(arrival(), 1..=4),
        planned in 0..DAYS,
        work in 0..DAYS,
    ) {
        let sources: Vec<Source> = arrivals.iter().map(Arrival::source).collect();
        let forecast = forecast(&sources, DAYS);
        let wanted = start_cdf_of(&arrivals);
        let mut gating = vec![0.0; arrivals.len()];
        let mut stalls = 0.0;
        let mut finished = [0.0; 2 * DAYS];
        for (starts, p) in outcomes(&arrivals) {
            let start = start_of(&starts);
            if start.is_none_or(|start| start > planned) {
                stalls += p;
            }
            let Some(start) = start else { continue };
            for cell in &mut finished[start.max(planned) + work..] {
                *cell += p;
            }
            let last: Vec<usize> = (0..starts.len()).filter(|j| starts[*j] == Some(start)).collect();
            if start > 0 {
                for j in &last {
                    gating[*j] += p / last.len() as f64;
                }
            }
        }
        for (s, value) in wanted.iter().enumerate() {
            prop_assert!((forecast.startable_by(s) - value).abs() < TOLERANCE);
        }
        prop_assert!((forecast.mass_without_date() - (1.0 - wanted[DAYS - 1])).abs() < TOLERANCE);
        prop_assert!((forecast.stall(planned) - stalls).abs() < TOLERANCE);
        for (by, value) in finished.iter().enumerate() {
            prop_assert!((forecast.finished_by(by, planned, work) - value).abs() < TOLERANCE);
        }
        prop_assert!((sum_of_parts(&forecast) - 1.0).abs() < TOLERANCE);
        for (j, one) in forecast.sources().iter().enumerate() {
            prop_assert!((one.gating - gating[j]).abs() < TOLERANCE, "{} {}", one.gating, gating[j]);
            let others: Vec<Arrival> =
                arrivals.iter().enumerate().filter(|(k, _)| *k != j).map(|(_, a)| a.clone()).collect();
            let with = quantile_of(&wanted, 0.8);
            let without = quantile_of(&start_cdf_of(&others), 0.8);
            if let (Some(with), Some(without)) = (with, without) {
                prop_assert_eq!(forecast.quantile(0.8), with);
                prop_assert_eq!(one.start_80_if_here, without);
            }
            let gained = mean_gain(&wanted, &start_cdf_of(&others));
            prop_assert!((one.days_gained - gained).abs() < 0.01, "{} {gained}", one.days_gained);
        }
    }

    /// FC-2: if one source's distribution function rises at every day, no quantile becomes later.
    #[test]
    fn an_earlier_arrival_never_makes_a_date_later(
        arrivals in prop::collection::vec(arrival(), 1..=4),
        better in arrival(),
        which in any::<prop::sample::Index>(),
        planned in 0..DAYS,
        p in 0.01_f64..0.99,
    ) {
        let sources: Vec<Source> = arrivals.iter().map(Arrival::source).collect();
        let j = which.index(sources.len());
        let mut improved = sources.clone();
        let raised = sources[j].cdf().iter().zip(better.source().cdf()).map(|(a, b)| a.max(*b)).collect();
        improved[j] = source(sources[j].offset_days(), raised);
        let (before, after) = (forecast(&sources, DAYS), forecast(&improved, DAYS));
        let later = |start: Option<usize>| start.unwrap_or(usize::MAX);
        for p in [0.5, 0.8, 0.95, p] {
            prop_assert!(later(after.quantile(p)) <= later(before.quantile(p)));
            let finish = |forecast: &Forecast| later(forecast.finish_quantile(p, planned, 2));
            prop_assert!(finish(&after) <= finish(&before));
        }
        for s in 0..DAYS {
            prop_assert!(after.startable_by(s) >= before.startable_by(s));
        }
    }

    /// On the shelf is the best that can happen to a source: the days gained are those of a certain
    /// arrival today, and never negative.
    #[test]
    fn days_gained_are_those_of_a_source_that_is_here(
        arrivals in prop::collection::vec(arrival(), 1..=4),
        which in any::<prop::sample::Index>(),
    ) {
        let mut sources: Vec<Source> = arrivals.iter().map(Arrival::source).collect();
        let j = which.index(sources.len());
        let as_it_is = forecast(&sources, DAYS);
        sources[j] = source(0, vec![1.0; DAYS]);
        let here = forecast(&sources, DAYS);
        prop_assert_eq!(as_it_is.sources()[j].start_80_if_here, here.quantile(0.8));
    }
}
