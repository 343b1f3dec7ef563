//! Evidence in ratio to the quote: the common scale on which offers with different quotes compare.
//!
//! A wait of T whole days against a quote of q days is taken as uniform over the ratios
//! ((T - 1/2) / q, (T + 1/2) / q], the day that was rounded (a quote of 0 counts as half a day). The
//! ratios are binned: one bin up to 1/16, then 24 bins to each doubling (3 % wide) up to 64 times
//! the quote. The hazards of the bins are estimated as those of days are, and go back to the days of
//! any quote through the cumulative hazard, interpolated inside a bin in proportion to the default
//! law's, so that without evidence the default comes back exactly.

use std::sync::OnceLock;

use super::{
    AtRisk, Counts, Observation, Scale, Strength, WeightedCounts, counts::Part, posterior,
};
use crate::leadtime::DayLaw;

const PER_DOUBLING: usize = 24;
const DOUBLINGS: usize = 10;
const BINS: usize = 1 + PER_DOUBLING * DOUBLINGS;
/// The scale of the bins.
pub const SCALE: Scale = Scale::Bins { per_doubling: PER_DOUBLING as u16, count: BINS as u16 };
const FIRST_EDGE: f64 = 1.0 / 16.0;
/// Largest hazard of a bin: a bin in which everybody came must leave somebody to speak of.
const BIN_HAZARD_MAX: f64 = 1.0 - 1e-9;
const GRID_DAYS: u32 = 1_095;

/// Hazards of the ratio bins.
#[derive(Debug, Clone, PartialEq)]
pub struct RatioLaw {
    hazards: Vec<f64>,
    shape: u32,
}

/// Upper edges of the bins.
fn edges() -> &'static [f64; BINS] {
    static EDGES: OnceLock<[f64; BINS]> = OnceLock::new();
    EDGES.get_or_init(|| {
        std::array::from_fn(|bin| FIRST_EDGE * (bin as f64 / PER_DOUBLING as f64).exp2())
    })
}

/// The bin that holds a ratio; `BINS` past the last edge.
fn bin_of(ratio: f64) -> usize {
    if ratio <= FIRST_EDGE {
        return 0;
    }
    let edges = edges();
    let guess = ((ratio / FIRST_EDGE).log2() * PER_DOUBLING as f64).ceil();
    // At least 0 and finite; rounding may put it one bin off.
    let mut bin = (guess as usize).clamp(1, BINS);
    while bin < BINS && edges.get(bin).is_some_and(|edge| *edge < ratio) {
        bin += 1;
    }
    while bin > 0 && edges.get(bin - 1).is_some_and(|edge| *edge >= ratio) {
        bin -= 1;
    }
    bin
}

fn lower_edge(bin: usize) -> f64 {
    bin.checked_sub(1).and_then(|below| edges().get(below)).copied().unwrap_or(0.0)
}

fn scale(quoted_days: u32) -> f64 {
    f64::from(quoted_days).max(0.5)
}

/// The bin in which a wait of `age_days` whole days against a quote stands.
#[must_use]
pub fn bin_at_age(quoted_days: u32, age_days: usize) -> usize {
    bin_of((age_days as f64 - 0.5).max(0.0) / scale(quoted_days)).min(BINS - 1)
}

/// By how many bins waits move that grow by the logarithm `log_growth`.
#[must_use]
pub fn bins_of_growth(log_growth: f64) -> i64 {
    (log_growth / std::f64::consts::LN_2 * PER_DOUBLING as f64).round() as i64
}

/// Adds to `counts` (by bin) a wait in whole days; one that ended before it was watched adds
/// nothing. A negative weight takes it away again.
pub fn add_seen(counts: &mut Counts, quoted_days: u32, seen: &Observation) {
    change(counts, quoted_days, seen, seen.weight.signum(), &[seen.weight.abs()]);
}

/// Adds to `counts` (by bin) a wait watched from its first day: an event on `day`, or known not to
/// have happened by the end of `day`. `weight` is negative to take the wait away again.
pub fn add(counts: &mut Counts, quoted_days: u32, day: u32, event: bool, weight: f64) {
    add_seen(counts, quoted_days, &Observation { entry_day: None, day, event, weight });
}

/// Adds (`sign` 1) or takes away (-1) a wait at its weights; its own is passed over.
pub fn change<const E: usize>(
    counts: &mut WeightedCounts<E>,
    quoted_days: u32,
    seen: &Observation,
    sign: f64,
    weights: &[f64; E],
) {
    let wait = Wait { quoted_days, sign, weights, watched: seen.entry_day.is_none() };
    match seen.entry_day {
        Some(entry) if entry >= seen.day => {}
        Some(entry) => {
            wait.put(counts, seen.day, seen.event, 1.0);
            // Not at risk up to the end of the entry day.
            wait.put(counts, entry, false, -1.0);
        }
        None => wait.put(counts, seen.day, seen.event, 1.0),
    }
}

struct Wait<'a, const E: usize> {
    quoted_days: u32,
    sign: f64,
    weights: &'a [f64; E],
    watched: bool,
}

impl<const E: usize> Wait<'_, E> {
    fn part(&self, counts: &mut WeightedCounts<E>, bin: usize, events: f64, leaves: f64) {
        let place = u16::try_from(bin).unwrap_or(u16::MAX);
        let part = Part { events, leaves, watched: self.watched };
        counts.add_part(place, part, self.sign, self.weights);
    }

    fn put(&self, counts: &mut WeightedCounts<E>, day: u32, event: bool, times: f64) {
        let q = scale(self.quoted_days);
        let low = ((f64::from(day) - 0.5) / q).max(0.0);
        let high = (f64::from(day) + 0.5) / q;
        if !event {
            // Known open up to `high`: part of a bin counts as that part of a wait at risk in it.
            let bin = bin_of(high);
            if bin >= BINS {
                self.part(counts, BINS - 1, 0.0, times);
                return;
            }
            let width = edges().get(bin).copied().unwrap_or(high) - lower_edge(bin);
            let part = ((high - lower_edge(bin)) / width).clamp(0.0, 1.0);
            self.part(counts, bin, 0.0, times * part);
            if let Some(before) = bin.checked_sub(1) {
                self.part(counts, before, 0.0, times * (1.0 - part));
            }
            return;
        }
        let mut left = 1.0;
        for bin in bin_of(low)..=bin_of(high) {
            let Some(edge) = edges().get(bin) else {
                break;
            };
            let part =
                ((edge.min(high) - lower_edge(bin).max(low)) / (high - low)).clamp(0.0, left);
            self.part(counts, bin, times * part, times * part);
            left -= part;
        }
        // Later than every bin, but for rounding of the parts.
        if left > 1e-9 {
            self.part(counts, BINS - 1, 0.0, times * left);
        }
    }
}

impl RatioLaw {
    /// The log-logistic default around the quote: F(r) = r^shape / (1 + r^shape).
    #[must_use]
    pub fn log_logistic(shape: u32) -> Self {
        let power = i32::try_from(shape.clamp(1, 64)).unwrap_or(1);
        let mut hazards = Vec::with_capacity(BINS);
        let mut odds_before = 0.0;
        for edge in edges() {
            let odds = edge.powi(power);
            hazards.push((odds - odds_before) / (1.0 + odds));
            odds_before = odds;
        }
        Self { hazards, shape }
    }

    /// This law, moved by the evidence of a level below it.
    #[must_use]
    pub fn moved_by(&self, seen: &AtRisk, strength: Strength) -> Self {
        let mut hazards = posterior(&self.hazards, 0, seen, strength);
        for hazard in &mut hazards {
            *hazard = hazard.min(BIN_HAZARD_MAX);
        }
        Self { hazards, shape: self.shape }
    }

    /// The law in whole days of an offer with this quote.
    #[must_use]
    pub fn in_days(&self, quoted_days: u32) -> DayLaw {
        self.in_first_days(quoted_days, u32::MAX)
    }

    /// [`in_days`](Self::in_days), right up to the day `until` only: the last hazard goes on.
    #[must_use]
    pub fn in_first_days(&self, quoted_days: u32, until: u32) -> DayLaw {
        let q = scale(quoted_days);
        let power = i32::try_from(self.shape.clamp(1, 64)).unwrap_or(1);
        // ln and exp cost a third of ln_1p and exp_m1, and what they lose is of 1e-16.
        let default = |ratio: f64| (1.0 + ratio.powi(power)).ln();
        let days = GRID_DAYS.max(quoted_days.saturating_mul(4)).min(until.saturating_add(1));
        let mut hazards = Vec::with_capacity(usize::try_from(days).unwrap_or(0));
        let mut bin = 0;
        let mut bins = self.pieces(default);
        let mut piece = bins.next().unwrap_or_default();
        let mut before = 0.0;
        for day in 0..days {
            let ratio = (f64::from(day) + 0.5) / q;
            while bin + 1 < BINS && edges().get(bin).is_some_and(|edge| *edge < ratio) {
                bin += 1;
                piece = bins.next().unwrap_or(piece);
            }
            let cumulative =
                piece.at_start + piece.slope * (default(ratio) - piece.default_at_start);
            hazards.push(1.0 - (-(cumulative - before).max(0.0)).exp());
            before = cumulative;
        }
        let tail_hazard =
            hazards.last().copied().unwrap_or(1.0).max(super::hazard::TAIL_HAZARD_MIN);
        DayLaw::proper(hazards, tail_hazard)
    }

    /// The cumulative hazard bin by bin, as a multiple of the default's inside each.
    fn pieces(&self, default: impl Fn(f64) -> f64) -> impl Iterator<Item = Piece> {
        let (mut cumulative, mut default_before) = (0.0, 0.0);
        self.hazards.iter().zip(edges()).map(move |(hazard, edge)| {
            let default_now = default(*edge);
            let step = -(-hazard).ln_1p();
            let slope = step / (default_now - default_before);
            let piece = Piece { at_start: cumulative, default_at_start: default_before, slope };
            cumulative += step;
            default_before = default_now;
            piece
        })
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Piece {
    at_start: f64,
    default_at_start: f64,
    slope: f64,
}
