//! The sufficient statistics of one level of evidence, by whole days.

use super::smooth::{Scale, Seeing, kernel};

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

#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Cell {
    events: f64,
    /// Weight that leaves the risk set after this day, by event or censoring.
    exits: f64,
    /// Weight that joins the risk set after this day.
    entries: f64,
    exits_squared: f64,
    entries_squared: f64,
    /// Of the events, those of waits that were watched from their first day: only these may be
    /// spread over other days, for none of them was unwatched there.
    spread: f64,
    spread_squared: f64,
}

/// Weighted events, exits and entries by day: enough to refit a level, to add or take away one
/// observation in O(1), and to leave a child's evidence out of its parent.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Counts {
    cells: Vec<Cell>,
}

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

impl Cell {
    fn add(&mut self, other: &Self, sign: f64) {
        self.events += sign * other.events;
        self.exits += sign * other.exits;
        self.entries += sign * other.entries;
        self.exits_squared += sign * other.exits_squared;
        self.entries_squared += sign * other.entries_squared;
        self.spread += sign * other.spread;
        self.spread_squared += sign * other.spread_squared;
    }
}

/// A part of an observation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub events: f64,
    pub exits: f64,
    pub squared: f64,
}

impl Counts {
    /// Adds an observation; one that left before it was watched adds nothing.
    ///
    /// Ties: failure precedes censoring, so a wait censored on a day is at risk on it.
    pub fn add(&mut self, seen: &Observation) {
        self.change(seen, 1.0);
    }

    /// Takes away an observation that was added before.
    pub fn remove(&mut self, seen: &Observation) {
        self.change(seen, -1.0);
    }

    fn change(&mut self, seen: &Observation, sign: f64) {
        let entered = seen.entry_day.is_none_or(|entry| entry < seen.day.min(DAYS_MAX));
        if !entered || seen.weight <= 0.0 {
            return;
        }
        let event = if seen.event && seen.day <= DAYS_MAX { seen.weight } else { 0.0 };
        let squared = seen.weight * seen.weight;
        let last = self.cell(seen.day.min(DAYS_MAX));
        last.events += sign * event;
        last.exits += sign * seen.weight;
        last.exits_squared += sign * squared;
        if seen.entry_day.is_none() && event > 0.0 {
            last.spread += sign * event;
            last.spread_squared += sign * squared;
        }
        if let Some(entry) = seen.entry_day {
            let before = self.cell(entry);
            before.entries += sign * seen.weight;
            before.entries_squared += sign * squared;
        }
    }

    /// Adds a part of an observation: `exits` of its weight and `squared` of its square leave at
    /// `place`, where `events` of it happened; `watched`: from the first day, so that it may spread.
    pub(super) fn add_part(&mut self, place: usize, part: Part, watched: bool) {
        let Part { events, exits, squared } = part;
        if place >= self.cells.len() {
            self.cells.resize(place + 1, Cell::default());
        }
        if let Some(cell) = self.cells.get_mut(place) {
            cell.events += events;
            cell.exits += exits;
            cell.exits_squared += squared;
            if watched && events != 0.0 {
                cell.spread += events;
                cell.spread_squared += squared;
            }
        }
    }

    fn cell(&mut self, day: u32) -> &mut Cell {
        let at = usize::try_from(day).unwrap_or(usize::MAX);
        if at >= self.cells.len() {
            self.cells.resize(at + 1, Cell::default());
        }
        // Just made long enough.
        &mut self.cells[at]
    }

    /// Adds `sign` times the statistics of `other`.
    pub fn merge(&mut self, other: &Self, sign: f64) {
        if other.cells.len() > self.cells.len() {
            self.cells.resize(other.cells.len(), Cell::default());
        }
        for (mine, theirs) in self.cells.iter_mut().zip(&other.cells) {
            mine.add(theirs, sign);
        }
    }

    /// The risk set by day, without the evidence of `child` (a part of this level), all weights
    /// times `scale`.
    ///
    /// Sums run from the last day back, so that the few at risk in the tail carry no rounding of the
    /// many at the start.
    #[must_use]
    pub fn at_risk(&self, child: Option<&Self>, scale: f64) -> AtRisk {
        self.seen(child, scale, Seeing::PLAIN)
    }

    /// [`at_risk`](Self::at_risk) with all waits longer by a growth, and each event spread over the
    /// places about its own; its exit moves along, censorings stay. Events of waits that were not
    /// watched from their first day stay.
    #[must_use]
    pub fn seen(&self, child: Option<&Self>, scale: f64, seeing: Seeing) -> AtRisk {
        let cells: Vec<Cell> = (0..self.cells.len())
            .map(|t| {
                let mut mine = self.cells.get(t).copied().unwrap_or_default();
                if let Some(theirs) = child.and_then(|child| child.cells.get(t)) {
                    mine.add(theirs, -1.0);
                }
                mine
            })
            .collect();
        let cells = if seeing.growth == 0.0 { cells } else { grown(&cells, seeing) };
        let cells = if seeing.smoothed { spread_events(cells, seeing.scale) } else { cells };
        let days = cells.len();
        let mut found =
            AtRisk { events: vec![0.0; days], at_risk: vec![0.0; days], squared: vec![0.0; days] };
        let (mut weight, mut squared) = (0.0, 0.0);
        for t in (0..days).rev() {
            let cell = cells.get(t).copied().unwrap_or_default();
            weight += cell.exits - cell.entries;
            squared += cell.exits_squared - cell.entries_squared;
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

    /// Whether nothing was ever added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }
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

/// The cells of waits that have grown.
fn grown(cells: &[Cell], seeing: Seeing) -> Vec<Cell> {
    let mut found = vec![Cell::default(); cells.len()];
    for (place, cell) in cells.iter().enumerate() {
        let place = seeing.grown(place);
        if place >= found.len() {
            found.resize(place + 1, Cell::default());
        }
        if let Some(kept) = found.get_mut(place) {
            kept.add(cell, 1.0);
        }
    }
    found
}

/// The cells with their spreadable events spread.
fn spread_events(mut cells: Vec<Cell>, scale: Scale) -> Vec<Cell> {
    let moved: Vec<(usize, f64, f64)> = cells
        .iter()
        .enumerate()
        .filter(|(_, cell)| cell.spread > WEIGHT_FLOOR)
        .map(|(at, cell)| (at, cell.spread, cell.spread_squared))
        .collect();
    for (at, weight, squared) in moved {
        if let Some(cell) = cells.get_mut(at) {
            cell.take(-1.0, weight, squared);
        }
        let (first, shares) = kernel(at, scale);
        if cells.len() < first + shares.len() {
            cells.resize(first + shares.len(), Cell::default());
        }
        for (cell, share) in cells.iter_mut().skip(first).zip(&shares) {
            cell.take(*share, weight, squared);
        }
    }
    cells
}

impl Cell {
    /// Adds a share of events of `weight`, with their exits.
    fn take(&mut self, share: f64, weight: f64, squared: f64) {
        self.events += share * weight;
        self.exits += share * weight;
        self.exits_squared += share * squared;
    }
}
