//! The sufficient statistics of one level of evidence, by whole days.

use super::smooth::{Scale, Seeing, kernel, width_of};

/// Weights below this are rounding left by a subtraction, not evidence.
const WEIGHT_FLOOR: f64 = 1e-9;

/// Longest wait that is told apart, in days; what lasted longer counts as still open then.
pub(super) const DAYS_MAX: u32 = 2_000;

/// One wait, over or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// The wait was not watched up to and including this day: it is at risk on later days only.
    /// `None`: watched from day 0.
    pub entry_day: Option<u32>,
    /// The day of the event, or the last day at whose end it was known to have not happened.
    pub day: u32,
    /// Whether the event happened on `day`; otherwise the wait is right-censored there.
    pub event: bool,
    /// Weight, above 0; 1 for a full observation.
    pub weight: f64,
}

/// Sums of one place, one for each way of weighting.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cell<const E: usize> {
    events: [f64; E],
    /// Weight that leaves the risk set after this day, by event or censoring, less what joins it.
    leaves: [f64; E],
    leaves_squared: [f64; E],
    /// Of the events, those of waits that were watched from their first day: only these may be
    /// spread over other days, for none of them was unwatched there.
    spread: [f64; E],
    spread_squared: [f64; E],
}

/// Weighted events, exits and entries by day: enough to refit a level, to add or take away one
/// observation in O(log days), and to leave a child's evidence out of its parent. `E` ways of weighting are
/// kept beside each other, for a wait falls on the same days under all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightedCounts<const E: usize> {
    /// Only the places at which anything happened, in no order.
    cells: Vec<(u16, Cell<E>)>,
    /// Where among the cells each place is, from 1 on; 0: nowhere.
    slots: Vec<u16>,
}

/// Counts of one weight each.
pub type Counts = WeightedCounts<1>;

/// Who was at risk and what happened, by day.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AtRisk {
    /// Weighted events d(t).
    pub events: Vec<f64>,
    /// Weight at risk n(t): entered before t, event or censoring on t or later.
    pub at_risk: Vec<f64>,
    /// Sum of squared weights at risk.
    pub squared: Vec<f64>,
}

/// A part of an observation of weight 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub events: f64,
    pub leaves: f64,
    /// Whether the wait was watched from its first day, so that its event may spread.
    pub watched: bool,
}

impl<const E: usize> Default for Cell<E> {
    fn default() -> Self {
        let none = [0.0; E];
        Self {
            events: none,
            leaves: none,
            leaves_squared: none,
            spread: none,
            spread_squared: none,
        }
    }
}

impl<const E: usize> Cell<E> {
    fn sums(&mut self) -> [&mut [f64; E]; 5] {
        let Self { events, leaves, leaves_squared, spread, spread_squared } = self;
        [events, leaves, leaves_squared, spread, spread_squared]
    }
}

impl<const E: usize> Default for WeightedCounts<E> {
    fn default() -> Self {
        Self { cells: Vec::new(), slots: Vec::new() }
    }
}

impl Counts {
    /// Adds an observation; one that left before it was watched adds nothing.
    ///
    /// Ties: failure precedes censoring, so a wait censored on a day is at risk on it.
    pub fn add(&mut self, seen: &Observation) {
        self.change(seen, 1.0, &[seen.weight]);
    }

    /// Takes away an observation that was added before.
    pub fn remove(&mut self, seen: &Observation) {
        self.change(seen, -1.0, &[seen.weight]);
    }

    /// The risk set by day, without the evidence of `child` (a part of this level), all weights
    /// times `scale`.
    ///
    /// Sums run from the last day back, so that the few at risk in the tail carry no rounding of the
    /// many at the start.
    #[must_use]
    pub fn at_risk(&self, child: Option<&Self>, scale: f64) -> AtRisk {
        self.seen(0, child, scale, Seeing::PLAIN)
    }
}

impl<const E: usize> WeightedCounts<E> {
    /// Adds (`sign` 1) or takes away (-1) an observation at its weights; its own is passed over. See
    /// [`Counts::add`].
    pub fn change(&mut self, seen: &Observation, sign: f64, weights: &[f64; E]) {
        let entered = seen.entry_day.is_none_or(|entry| entry < seen.day.min(DAYS_MAX));
        if !entered || seen.weight <= 0.0 {
            return;
        }
        let event = if seen.event && seen.day <= DAYS_MAX { 1.0 } else { 0.0 };
        let watched = seen.entry_day.is_none();
        let last = Part { events: event, leaves: 1.0, watched };
        self.add_part(place_of(seen.day.min(DAYS_MAX)), last, sign, weights);
        if let Some(entry) = seen.entry_day {
            let joins = Part { events: 0.0, leaves: -1.0, watched };
            self.add_part(place_of(entry), joins, sign, weights);
        }
    }

    /// Adds a part of an observation at a place, times `sign`.
    pub(super) fn add_part(&mut self, place: u16, part: Part, sign: f64, weights: &[f64; E]) {
        let cell = self.cell(place);
        let (events, leaves) = (sign * part.events, sign * part.leaves);
        for (sum, weight) in cell.leaves.iter_mut().zip(weights) {
            *sum += leaves * weight;
        }
        for (sum, weight) in cell.leaves_squared.iter_mut().zip(weights) {
            *sum += leaves * weight * weight;
        }
        if part.events == 0.0 {
            return;
        }
        for (sum, weight) in cell.events.iter_mut().zip(weights) {
            *sum += events * weight;
        }
        if part.watched {
            for (sum, weight) in cell.spread.iter_mut().zip(weights) {
                *sum += events * weight;
            }
            for (sum, weight) in cell.spread_squared.iter_mut().zip(weights) {
                *sum += events * weight * weight;
            }
        }
    }

    fn cell(&mut self, place: u16) -> &mut Cell<E> {
        let at = usize::from(place);
        if at >= self.slots.len() {
            self.slots.resize(at + 1, 0);
        }
        // Just made long enough; there are no more cells than places, and places are u16.
        let slot = &mut self.slots[at];
        if *slot == 0 {
            self.cells.push((place, Cell::default()));
            *slot = self.cells.len() as u16;
        }
        &mut self.cells[usize::from(*slot) - 1].1
    }

    /// Adds `sign` times the statistics of `other`.
    pub fn merge(&mut self, other: &Self, sign: f64) {
        for (place, theirs) in &other.cells {
            let mut theirs = *theirs;
            for (mine, theirs) in self.cell(*place).sums().into_iter().zip(theirs.sums()) {
                for (mine, theirs) in mine.iter_mut().zip(theirs) {
                    *mine += sign * *theirs;
                }
            }
        }
    }

    /// [`Counts::at_risk`] by one of the weights, with all waits longer by a growth, and each event
    /// spread over the places about its own; its exit moves along, censorings stay. Events of waits
    /// that were not watched from their first day stay.
    #[must_use]
    pub fn seen(&self, by: usize, child: Option<&Self>, scale: f64, seeing: Seeing) -> AtRisk {
        let mut plain = Vec::new();
        self.lay(by, 1.0, seeing, &mut plain);
        if let Some(child) = child {
            child.lay(by, -1.0, seeing, &mut plain);
        }
        if seeing.smoothed {
            spread_events(&mut plain, seeing.scale);
        }
        let days = plain.len();
        let mut found =
            AtRisk { events: vec![0.0; days], at_risk: vec![0.0; days], squared: vec![0.0; days] };
        let (mut weight, mut squared) = (0.0, 0.0);
        for (t, cell) in plain.iter().enumerate().rev() {
            weight += cell.leaves;
            squared += cell.leaves_squared;
            if weight * scale < WEIGHT_FLOOR {
                continue;
            }
            let events = cell.events.clamp(0.0, weight);
            if let (Some(d), Some(n), Some(n2)) =
                (found.events.get_mut(t), found.at_risk.get_mut(t), found.squared.get_mut(t))
            {
                *d = if events * scale < WEIGHT_FLOOR { 0.0 } else { events * scale };
                *n = weight * scale;
                *n2 = squared.max(0.0) * scale * scale;
            }
        }
        found
    }

    /// Adds `sign` times one weight's sums to places that have grown.
    fn lay(&self, by: usize, sign: f64, seeing: Seeing, plain: &mut Vec<Plain>) {
        for (place, cell) in &self.cells {
            let place = usize::from(*place);
            let place = if seeing.growth == 0.0 { place } else { seeing.grown(place) };
            if place >= plain.len() {
                plain.resize(place + 1, Plain::default());
            }
            let of = |sums: &[f64; E]| sign * sums.get(by).copied().unwrap_or_default();
            if let Some(plain) = plain.get_mut(place) {
                plain.events += of(&cell.events);
                plain.leaves += of(&cell.leaves);
                plain.leaves_squared += of(&cell.leaves_squared);
                plain.spread += of(&cell.spread);
                plain.spread_squared += of(&cell.spread_squared);
            }
        }
    }

    /// Whether nothing was ever added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }
}

/// One weight's sums of one place.
#[derive(Debug, Clone, Copy, Default)]
struct Plain {
    events: f64,
    leaves: f64,
    leaves_squared: f64,
    spread: f64,
    spread_squared: f64,
}

impl Plain {
    /// Adds a share of events of `weight`, with their exits.
    fn take(&mut self, share: f64, weight: f64, squared: f64) {
        self.events += share * weight;
        self.leaves += share * weight;
        self.leaves_squared += share * squared;
    }
}

/// Spreads the events that may be.
fn spread_events(cells: &mut Vec<Plain>, scale: Scale) {
    let moved: Vec<(usize, f64, f64)> = cells
        .iter()
        .enumerate()
        .filter(|(_, cell)| cell.spread > WEIGHT_FLOOR)
        .map(|(at, cell)| (at, cell.spread, cell.spread_squared))
        .collect();
    let width = width_of(moved.iter().copied(), scale);
    if width <= 0.0 {
        return;
    }
    // In bins the middle of the scale has one kernel for all.
    let mut same: Option<(usize, Vec<f64>)> = None;
    for (at, weight, squared) in moved {
        if let Some(cell) = cells.get_mut(at) {
            cell.take(-1.0, weight, squared);
        }
        let known = same.as_ref().filter(|(reach, _)| scale.is_within(at, *reach));
        let (first, shares) = match known {
            Some((reach, shares)) => (at - reach, shares.clone()),
            None => kernel(at, scale, width),
        };
        if cells.len() < first + shares.len() {
            cells.resize(first + shares.len(), Plain::default());
        }
        for (cell, share) in cells.iter_mut().skip(first).zip(&shares) {
            cell.take(*share, weight, squared);
        }
        if same.is_none()
            && matches!(scale, Scale::Bins { .. })
            && shares.len() == 2 * (at - first) + 1
        {
            same = Some((at - first, shares));
        }
    }
}

/// A day as a place; what lies past all days counts on the last.
fn place_of(day: u32) -> u16 {
    u16::try_from(day.min(DAYS_MAX)).unwrap_or(u16::MAX)
}

impl AtRisk {
    /// The number of equally weighted waits that would carry as much evidence on day `t` or later:
    /// `(sum w)^2 / sum w^2` of those at risk (Kish 1965); 0 where nobody was at risk.
    #[must_use]
    pub fn effective_number(&self, t: usize) -> f64 {
        match (self.at_risk.get(t), self.squared.get(t)) {
            (Some(n), Some(squared)) if *squared > 0.0 => n * n / squared,
            _ => 0.0,
        }
    }

    /// Weight at risk on day `t`.
    #[must_use]
    pub fn weight(&self, t: usize) -> f64 {
        self.at_risk.get(t).copied().unwrap_or(0.0)
    }
}
