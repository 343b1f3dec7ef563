//! What has to happen between an arrival and the work that waits for it.
//!
//! A component of an assembly is needed the assembly's working days earlier. A part that passes
//! through a finisher is ready when it has arrived and come back: F(t) = sum over a of f(a)
//! F_finisher(t | sent on a) (design, section 4).

use crate::book::model::{Line, Made};
use crate::ids::{LineId, PartId, StageId, SupplierId};
use crate::leadtime::on_axis;
use crate::limits::DEPTH_MAX;
use crate::plan::frame::placed::{Placed, find};
use crate::plan::frame::view::View;
use crate::plan::reckon::arrivals;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// Mass of an arrival that is not worth a finisher's law of its own.
const MASS_MIN: f64 = 1e-12;

/// One step between an arrival and its use.
#[derive(Clone, Debug, PartialEq)]
enum Step {
    /// So many working days in the shop.
    Shop(i32),
    /// To a finisher and back, for the made part.
    Finisher { line: LineId, supplier: SupplierId, part: PartId, quoted_days: Option<u32> },
}

/// A use of something that arrives: the steps until it is ready, and when it must be.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Need {
    steps: Vec<Step>,
    /// The stage that needs it.
    pub(in crate::plan) stage: Option<StageId>,
    /// Working days after the start; negative: before it.
    pub(in crate::plan) offset_days: i32,
}

impl Need {
    /// Needed as it arrives, so many working days after the start.
    pub(in crate::plan) fn direct(stage: Option<StageId>, offset_days: i32) -> Self {
        Self { steps: Vec::new(), stage, offset_days }
    }

    /// The same, needed on the day of the start.
    pub(in crate::plan) fn at_start(&self) -> Self {
        Self { offset_days: 0, ..self.clone() }
    }

    /// The same, needed on the day of the start at the latest.
    pub(in crate::plan) fn by_start(&self) -> Self {
        Self { offset_days: self.offset_days.min(0), ..self.clone() }
    }

    /// The lines that pass through a finisher on the way.
    pub(in crate::plan) fn finished(&self) -> impl Iterator<Item = LineId> + '_ {
        self.steps.iter().filter_map(|step| match step {
            Step::Finisher { line, .. } => Some(*line),
            Step::Shop(_) => None,
        })
    }

    /// Whether it needs no finisher.
    pub(in crate::plan) fn is_direct(&self) -> bool {
        self.finished().next().is_none()
    }
}

/// When a line's part is needed, counted through everything that is made of it; None where its stage
/// is not on the way.
pub(in crate::plan) fn need_of(
    view: &View<'_>,
    placed: &[Placed<'_>],
    line: &Line,
) -> Option<Need> {
    let stage = find(placed, line.stage)?;
    let mut steps = Vec::new();
    let mut made_for = line.made_for;
    for _ in 0..DEPTH_MAX {
        if made_for == 0 {
            break;
        }
        let build = view.book.builds.get(&line.build)?;
        let made = view.book.find_line(build, made_for).ok()?;
        match made.making.as_ref().map(|making| making.how) {
            Some(Made::InShop { working_days }) => {
                steps.push(Step::Shop(i32::try_from(working_days).unwrap_or(i32::MAX)));
            }
            Some(Made::AtFinisher { supplier, quoted_days }) => {
                steps.push(Step::Finisher {
                    line: made.id,
                    supplier,
                    part: made.part,
                    quoted_days,
                });
            }
            Some(Made::Listed) | None => {}
        }
        made_for = made.made_for;
    }
    let mut offset_days = i32::try_from(stage.offset_days).unwrap_or(i32::MAX);
    // Work in the shop after the last finisher only means that it is needed earlier.
    while let Some(Step::Shop(days)) = steps.last() {
        offset_days = offset_days.saturating_sub(*days);
        steps.pop();
    }
    Some(Need { steps, stage: Some(line.stage), offset_days })
}

/// The need of what is made for a line itself: from the day on which everything for it is here.
pub(in crate::plan) fn need_of_making(
    view: &View<'_>,
    placed: &[Placed<'_>],
    made: &Line,
) -> Option<Need> {
    // A component that is here today has the same way to go.
    let component = Line { made_for: made.number, ..(*made).clone() };
    need_of(view, placed, &component)
}

/// Who finishes what, and the axis index of the day on which it is sent out.
type Finishing = (SupplierId, PartId, usize);

/// Finishers' laws by the day of sending out, each reckoned once.
#[derive(Default)]
pub(in crate::plan) struct Finishers {
    rows: RefCell<BTreeMap<Finishing, Rc<Vec<f64>>>>,
}

impl Finishers {
    /// P(back by axis index t | sent out on axis index `sent`).
    fn back(
        &self,
        view: &View<'_>,
        (supplier, part, quoted_days): (SupplierId, PartId, Option<u32>),
        sent: usize,
    ) -> Rc<Vec<f64>> {
        let key = (supplier, part, sent);
        if let Some(row) = self.rows.borrow().get(&key) {
            return Rc::clone(row);
        }
        let law = view
            .axis
            .date(sent)
            .and_then(|date| arrivals::of_finishing(view, supplier, part, date, quoted_days));
        let row = match law {
            Some(arrival) => on_axis(&arrival.law, &view.axis),
            // Nothing dates the finisher: it never comes back.
            None => vec![0.0; view.axis.len()],
        };
        let row = Rc::new(row);
        self.rows.borrow_mut().insert(key, Rc::clone(&row));
        row
    }

    /// P(ready by axis index t) for what arrives on axis index `arrived` and goes through `steps`.
    fn ready(&self, view: &View<'_>, steps: &[Step], arrived: usize) -> Vec<f64> {
        let days = view.axis.len();
        let mut mass = vec![0.0; days];
        if let Some(cell) = mass.get_mut(arrived) {
            *cell = 1.0;
        }
        for step in steps {
            let mut next = vec![0.0; days];
            match step {
                Step::Shop(shift) => {
                    let shift = usize::try_from(*shift).unwrap_or(0);
                    for (cell, before) in next.iter_mut().skip(shift).zip(&mass) {
                        *cell = *before;
                    }
                }
                Step::Finisher { supplier, part, quoted_days, .. } => {
                    for (sent, weight) in mass.iter().enumerate().filter(|(_, w)| **w > MASS_MIN) {
                        let back = self.back(view, (*supplier, *part, *quoted_days), sent);
                        let mut before = 0.0;
                        for (cell, by) in next.iter_mut().zip(back.iter()) {
                            *cell += weight * (by - before);
                            before = *by;
                        }
                    }
                }
            }
            mass = next;
        }
        let mut sum = 0.0;
        for cell in &mut mass {
            sum += *cell;
            *cell = sum;
        }
        mass
    }
}

/// What a source means for a start: by axis index s, the chance that everything that hangs on it is
/// ready in time for a start on s; and the chance that the first thing that people wait for is here.
pub(in crate::plan) struct Ready {
    /// H(s), never falling.
    pub(in crate::plan) in_time: Vec<f64>,
    /// P(here, finished where it is, by axis index t).
    pub(in crate::plan) here: Vec<f64>,
}

/// H of a source: with arrival distribution function `arrival` on the axis and its `needs`, given
/// the arrival all that hangs on it is independent:
/// H(s) = sum over a of f(a) prod over needs of P(ready by s + offset | arrived on a).
pub(in crate::plan) fn ready(
    view: &View<'_>,
    finishers: &Finishers,
    arrival: &[f64],
    needs: &[Need],
) -> Ready {
    let days = view.axis.len();
    let first_direct = needs.iter().filter(|need| need.is_direct()).map(|n| n.offset_days).min();
    let mut finished: Vec<&Need> = Vec::new();
    for need in needs.iter().filter(|need| !need.is_direct()) {
        // The same way twice is one thing: it is needed when the first of them is.
        match finished.iter_mut().find(|other| other.steps == need.steps) {
            Some(other) if need.offset_days < other.offset_days => *other = need,
            Some(_) => {}
            None => finished.push(need),
        }
    }
    if finished.is_empty() {
        let offset = first_direct.unwrap_or(0);
        let in_time = (0..days).map(|s| value_at(arrival, s, offset)).collect();
        return Ready { in_time, here: arrival.to_vec() };
    }
    let mut in_time = vec![0.0; days];
    let mut here = vec![0.0; days];
    let mut before = 0.0;
    for (arrived, by) in arrival.iter().enumerate() {
        let weight = by - before;
        before = *by;
        if weight <= MASS_MIN {
            continue;
        }
        let rows: Vec<(Vec<f64>, i32)> = finished
            .iter()
            .map(|need| (finishers.ready(view, &need.steps, arrived), need.offset_days))
            .collect();
        for s in 0..days {
            let here_for_others = first_direct
                .is_none_or(|offset| at(s, offset).is_some_and(|needed| arrived <= needed));
            if here_for_others {
                let chance: f64 =
                    rows.iter().map(|(row, offset)| value_at(row, s, *offset)).product();
                if let Some(cell) = in_time.get_mut(s) {
                    *cell += weight * chance;
                }
            }
        }
        if let Some((row, _)) = rows.first() {
            for (cell, by) in here.iter_mut().zip(row) {
                *cell += weight * by;
            }
        }
    }
    Ready { in_time, here }
}

/// H of one need at one start: P(ready for a start on axis index `start`).
pub(in crate::plan) fn chance_at(
    view: &View<'_>,
    finishers: &Finishers,
    arrival: &[f64],
    need: &Need,
    start: usize,
) -> f64 {
    if need.is_direct() {
        return value_at(arrival, start, need.offset_days);
    }
    let in_time = ready(view, finishers, arrival, std::slice::from_ref(need)).in_time;
    in_time.get(start).copied().unwrap_or(0.0)
}

/// Axis index of a day `offset` working days after index `s`; None before the axis.
fn at(s: usize, offset: i32) -> Option<usize> {
    let offset = isize::try_from(offset).unwrap_or(isize::MAX);
    s.checked_add_signed(offset)
}

/// A distribution function at `offset` working days after `s`: 0 before the axis, its last value
/// past it.
fn value_at(cdf: &[f64], s: usize, offset: i32) -> f64 {
    match at(s, offset) {
        None => 0.0,
        Some(index) => cdf.get(index).or(cdf.last()).copied().unwrap_or(0.0),
    }
}
