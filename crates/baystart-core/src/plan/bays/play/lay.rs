//! Builds of a book as vehicles of a play.

use super::draws::{Key, PATHS};
use super::fleet::{Arrival, Day, NEVER, Rules, Standing, Step, Use, Vehicle};
use super::to_come::ToCome;
use crate::book::model::{Build, BuildState, Line, OrderingWay, StageState};
use crate::ids::{OfferId, StageId, SupplierId};
use crate::leadtime::on_axis;
use crate::plan::frame::needs::{Finishers, ready};
use crate::plan::frame::placed::{Placed, place};
use crate::plan::frame::view::View;
use crate::plan::ground::WaitsFor;
use crate::plan::reckon::arrivals;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::{self, Key as Source, Outstanding};
use crate::plan::reckon::timing::Clock;
use crate::plan::reckon::work::{DayMass, convolved, point};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The first of the numbers by which several arrivals of one name are told apart.
const SAME_NAME: u64 = 16;

/// What a build waits for, and where its stages stand.
struct Parts<'p, 'a> {
    placed: &'p [Placed<'a>],
    dated: &'p [Outstanding<'a>],
    handover: &'p [Outstanding<'a>],
    /// Its start in the middle, bays aside.
    middle: Option<usize>,
}

impl View<'_> {
    /// The rules by which this shop's bays are played.
    pub(in crate::plan) fn rules(&self) -> Rules {
        let settings = self.book.settings.as_ref();
        Rules {
            bays: settings.map_or(0, |settings| settings.bays),
            days: self.axis.len(),
            paths: PATHS,
            start: self.book.start_rule(),
            news: self.book.ways().news,
            cause: self.cause(),
        }
    }

    /// The builds that nobody has accepted yet; none where bays or past builds are not recorded.
    pub(in crate::plan) fn to_come(&self, rules: &Rules) -> ToCome {
        let coming = self.learned.and_then(|learned| learned.coming.as_ref());
        let way = (rules.bays, rules.start, self.book.ways().as_suggested);
        let law = coming.and_then(|coming| coming.law(self.as_of, &self.calendar, way));
        ToCome::draw(law, self.axis.dates(), rules.paths)
    }

    /// A build as a vehicle: from where it stands, with the stages that are not done. What nothing dates
    /// is left out. `row` says how it is booked and served.
    pub(in crate::plan) fn vehicle(&self, row: &Build, reckoned: &Reckoned<'_>) -> Vehicle {
        self.vehicle_ordered(row, reckoned, self.book.ways().ordering())
    }

    /// The same, with what is not ordered yet ordered as `ordering` says.
    pub(in crate::plan) fn vehicle_ordered(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        ordering: OrderingWay,
    ) -> Vehicle {
        let parts = Parts {
            placed: &reckoned.placed,
            dated: &reckoned.dated,
            handover: &reckoned.handover,
            middle: reckoned.forecast.quantile(0.5),
        };
        self.laid(row, &parts, ordering)
    }

    /// [`Self::vehicle`] of a build of which nothing else is asked: without its exact forecast, unless
    /// work off site is dated by it.
    pub(in crate::plan) fn vehicle_alone(&self, row: &Build) -> Vehicle {
        let (placed, _) = place(self, row.id);
        let away = |placed: &Placed<'_>| placed.stage.off_site.is_some();
        if placed.iter().any(away) {
            return self.vehicle(row, &self.reckon(row.id));
        }
        let gates = sources::of_build(self, row.id, &placed);
        let sources = gates.sources.into_iter();
        let dated: Vec<_> = sources.filter(|source| source.arrival.is_some()).collect();
        let parts =
            Parts { placed: &placed, dated: &dated, handover: &gates.handover, middle: None };
        self.laid(row, &parts, self.book.ways().ordering())
    }

    fn laid(&self, row: &Build, parts: &Parts<'_, '_>, ordering: OrderingWay) -> Vehicle {
        let number = self.book.build_number(row.id);
        let standing = match row.state {
            BuildState::ReadyForHandover => Standing::Left,
            _ if row.is_in_bay() => Standing::Begun,
            _ => Standing::Waiting,
        };
        let left: Vec<&Placed<'_>> = match standing {
            Standing::Left => Vec::new(),
            _ => parts.placed.iter().filter(|s| s.state != StageState::Done).collect(),
        };
        let booked = row.planned_start.filter(|_| standing == Standing::Waiting);
        let booked =
            booked.map(|day| self.axis.index_of(day.max(self.as_of)).map_or(NEVER, day_of));
        let off_site_from = booked.map(usize::from).or(parts.middle);
        let mut steps = Vec::new();
        for placed in &left {
            steps.push(Step {
                key: Key::of(&[number, "stage", placed.stage.name.normal()]),
                takes: Arc::new(summed(&self.takes(placed, off_site_from.unwrap_or(0)))),
                away: placed.stage.off_site.is_some(),
                offset: days_of(placed.offset_days),
            });
        }
        let mut clock = match ordering {
            OrderingWay::Suggested(confidence) => Some(Clock::of_build(self, confidence, row)),
            OrderingWay::AtOnce => None,
        };
        let finishers = Finishers::default();
        let mut names = BTreeMap::new();
        let mut arrivals = Vec::new();
        for found in parts.dated {
            let by = self.arrives(found, clock.as_mut());
            let uses = self.uses(found, &by, &left, &finishers);
            if !uses.is_empty() {
                arrivals.push(self.arrival(row, found, uses, &mut names));
            }
        }
        let paper = |found: &Outstanding<'_>| {
            let by = Arc::new(found.arrival.clone()?);
            let uses = vec![Use { by, step: 0, lead: 0 }];
            Some(self.arrival(row, found, uses, &mut names))
        };
        Vehicle {
            build: row.id,
            rank: self.book.service_key(row),
            standing,
            from: day_of(self.starts_from),
            booked,
            steps,
            arrivals,
            papers: parts.handover.iter().map(paper).collect(),
        }
    }

    /// The working days of a stage; off site with what its firm is late, if it leaves as planned after a
    /// start on axis index `start`.
    fn takes(&self, placed: &Placed<'_>, start: usize) -> DayMass {
        match self.late_off_site(std::slice::from_ref(placed), start) {
            Some(late) => convolved(&point(placed.remaining_days as usize), &late, self.axis.len()),
            None => self.stage_days(placed),
        }
    }

    /// P(arrived by axis index i), ordered when the shop orders it.
    fn arrives(&self, found: &Outstanding<'_>, clock: Option<&mut Clock<'_, '_>>) -> Arc<Vec<f64>> {
        let later = match (found.key, &found.waits_for, clock) {
            (Source::NotOrdered(..), WaitsFor::NotOrdered { offer: Some(id), .. }, Some(clock)) => {
                self.ordered_later(found, *id, clock)
            }
            _ => None,
        };
        Arc::new(later.or_else(|| found.arrival.clone()).unwrap_or_default())
    }

    fn ordered_later(
        &self,
        found: &Outstanding<'_>,
        id: OfferId,
        clock: &mut Clock<'_, '_>,
    ) -> Option<Vec<f64>> {
        let offer = self.book.offers.get(&id)?;
        let lines = found.waits.iter().map(|wait| wait.line);
        let day = lines.filter_map(|line| clock.timing(line, Some(offer)).order_by).min()?;
        if Some(day) <= self.ordering_day() {
            return None;
        }
        Some(on_axis(&arrivals::law_of_offer_on(self, offer, day)?, &self.axis))
    }

    fn uses(
        &self,
        found: &Outstanding<'_>,
        by: &Arc<Vec<f64>>,
        left: &[&Placed<'_>],
        finishers: &Finishers,
    ) -> Vec<Use> {
        let mut uses = Vec::new();
        for need in &found.needs {
            let at = |id: StageId| left.iter().position(|placed| placed.stage.id == id);
            let Some(step) = need.stage.and_then(at) else { continue };
            let Some(placed) = left.get(step) else { continue };
            let planned = i32::try_from(placed.offset_days).unwrap_or(i32::MAX);
            let lead = planned.saturating_sub(need.offset_days).max(0);
            let by = match need.is_direct() {
                true => Arc::clone(by),
                false => Arc::new(ready(self, finishers, by, &[need.at_start()]).in_time),
            };
            uses.push(Use { by, step, lead: Day::try_from(lead).unwrap_or(NEVER) });
        }
        uses
    }

    fn arrival(
        &self,
        row: &Build,
        found: &Outstanding<'_>,
        uses: Vec<Use>,
        names: &mut BTreeMap<Key, u64>,
    ) -> Arrival {
        let name = self.named(row, found);
        let count = names.entry(name).or_insert(0);
        let key = if *count == 0 { name } else { name.and(SAME_NAME + *count) };
        *count += 1;
        Arrival { key, supplier: found.supplier.and_then(|id| self.supplier_key(id)), uses }
    }

    fn supplier_key(&self, id: SupplierId) -> Option<Key> {
        let supplier = self.book.suppliers.get(&id)?;
        Some(Key::of(&["supplier", supplier.code.normal()]))
    }

    /// The build line for which it comes, ordered or not; what comes for no line by its own name.
    fn named(&self, row: &Build, found: &Outstanding<'_>) -> Key {
        let of_line = |line: &Line| {
            Key::of(&[self.book.build_number(line.build), "line", &line.number.to_string()])
        };
        match found.key {
            Source::OrderLine(id) => {
                let order_line = self.book.order_lines.get(&id);
                let line = order_line.and_then(|line| line.for_line);
                if let Some(line) = line.and_then(|id| self.book.lines.get(&id)) {
                    return of_line(line);
                }
                let order = order_line.map_or("", |line| self.book.order_number(line.order));
                let number = order_line.map_or(0, |line| line.number).to_string();
                Key::of(&["order", order, &number])
            }
            Source::Awaited(id) => {
                let awaited = self.book.awaited.get(&id);
                let line = awaited.and_then(|row| row.line);
                if let Some(line) = line.and_then(|id| self.book.lines.get(&id)) {
                    return of_line(line);
                }
                let name = awaited.map_or("", |row| row.name.as_str());
                Key::of(&[self.book.build_number(row.id), "awaited", name])
            }
            _ => match found.waits.first() {
                Some(wait) => of_line(wait.line),
                None => Key::of(&[self.book.build_number(row.id), "something"]),
            },
        }
    }
}

/// An axis index as paths keep it.
fn day_of(index: usize) -> Day {
    Day::try_from(index).unwrap_or(NEVER)
}

fn days_of(days: u32) -> Day {
    Day::try_from(days).unwrap_or(NEVER)
}

fn summed(mass: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let add = |p: &f64| {
        sum += p;
        // Rounding must leave no path without an end.
        if sum > 1.0 - 1e-9 { 1.0 } else { sum }
    };
    mass.iter().map(add).collect()
}
