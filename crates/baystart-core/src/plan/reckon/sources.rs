//! What a build waits for: lines that hang on one thing are one source.

use crate::book::model::{Awaited, Line, Made, Offer, OrderLine, StageState};
use crate::ids::{AwaitedId, BuildId, LineId, OrderLineId, PartId, StageId, SupplierId};
use crate::leadtime::{ArrivalLaw, on_axis};
use crate::plan::frame::needs::{Finishers, Need, need_of, need_of_making, ready};
use crate::plan::frame::placed::{Placed, find};
use crate::plan::frame::view::View;
use crate::plan::ground::{Awaiting, StandsOn, Thing, WaitsFor};
use crate::plan::reckon::arrivals::{self, Arrival};
use crate::quantity::Quantity;
use std::collections::{BTreeMap, BTreeSet};

/// What makes two waits the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::plan) enum Key {
    /// Both come with this order line.
    OrderLine(OrderLineId),
    /// Both would be ordered in one go.
    NotOrdered(PartId, Option<SupplierId>),
    /// It is made in the shop, or waits to be sent to its finisher.
    ToMake(LineId),
    /// It is at its finisher.
    AtFinisher(LineId),
    /// No order brings it.
    Awaited(AwaitedId),
    /// The customer brings it and gave no date.
    Customer(LineId),
}

/// One line's wait for a quantity.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct Wait<'a> {
    pub(in crate::plan) line: &'a Line,
    pub(in crate::plan) quantity: Quantity,
    pub(in crate::plan) key: Key,
}

/// One source with the lines that hang on it.
#[derive(Debug)]
pub(in crate::plan) struct Outstanding<'a> {
    pub(in crate::plan) key: Key,
    pub(in crate::plan) thing: Thing,
    /// In the order of line numbers.
    pub(in crate::plan) waits: Vec<Wait<'a>>,
    /// What has to happen after it arrived, for each use.
    pub(in crate::plan) needs: Vec<Need>,
    /// The stage that needs it first.
    pub(in crate::plan) stage: Option<StageId>,
    pub(in crate::plan) supplier: Option<SupplierId>,
    pub(in crate::plan) waits_for: WaitsFor,
    /// What passes through the same finisher with it.
    pub(in crate::plan) joined: Vec<Awaiting>,
    /// P(arrived by axis index i); None: nothing dates it.
    pub(in crate::plan) arrival: Option<Vec<f64>>,
    /// Whose past orders the law stands on.
    pub(in crate::plan) evidence: Option<StandsOn>,
}

impl Outstanding<'_> {
    pub(in crate::plan) fn awaiting(&self) -> Awaiting {
        Awaiting { thing: self.thing.clone(), waits_for: self.waits_for.clone() }
    }

    /// Least working days after the start over its uses; negative: before the start.
    pub(in crate::plan) fn offset_days(&self) -> i32 {
        self.needs.iter().map(|need| need.offset_days).min().unwrap_or(0)
    }

    fn finished(&self) -> BTreeSet<LineId> {
        self.needs.iter().flat_map(Need::finished).collect()
    }
}

/// The supplier and offer from which a line's shortage would come: those of a draft for it, else of one
/// for nobody in particular that is large enough, else the best offer.
fn offer_for<'a>(view: &View<'a>, line: &Line) -> (Option<&'a Offer>, Option<OrderLineId>) {
    let own = view.drafts(line.part).find(|draft| draft.for_line == Some(line.id));
    let short = view.book.short_of(line);
    let offered = |draft: &OrderLine| {
        let order = view.book.orders.get(&draft.order)?;
        view.book.offer_of(order.supplier, line.part)
    };
    let drafted = own.or_else(|| {
        let mut common = view.drafts(line.part).filter(|draft| draft.for_line.is_none());
        common.find(|draft| draft.outstanding() >= short && offered(draft).is_some())
    });
    // A draft at a supplier who quotes nothing is dated as if it were placed where somebody does.
    let offer = drafted.and_then(offered).or_else(|| view.book.best_offer(line.part));
    (offer, drafted.map(|draft| draft.id))
}

/// Everything that a line waits for: its pegs, its making, the customer, and
/// what is bound to nothing.
pub(in crate::plan) fn waits<'a>(view: &View<'a>, line: &'a Line) -> Vec<Wait<'a>> {
    if !view.book.gates(line) {
        return Vec::new();
    }
    let mut waits = Vec::new();
    for peg in view.book.pegs_of(line.id) {
        let key = Key::OrderLine(peg.order_line);
        waits.push(Wait { line, quantity: peg.quantity, key });
    }
    if let Some(making) = &line.making {
        if making.out.is_positive() {
            waits.push(Wait { line, quantity: making.out, key: Key::AtFinisher(line.id) });
        }
        let here = (making.open() - making.out).or_zero();
        if here.is_positive() {
            waits.push(Wait { line, quantity: here, key: Key::ToMake(line.id) });
        }
    }
    let short = view.book.short_of(line);
    if short.is_positive() {
        let key = match line.customer_supplied {
            true => customers(view, line),
            false => {
                let supplier = offer_for(view, line).0.map(|offer| offer.supplier);
                Key::NotOrdered(line.part, supplier)
            }
        };
        waits.push(Wait { line, quantity: short, key });
    }
    waits
}

fn customers(view: &View<'_>, line: &Line) -> Key {
    let row = view.book.awaited_for(line.id).find(|row| row.is_open());
    row.map_or(Key::Customer(line.id), |row| Key::Awaited(row.id))
}

/// The arrival of a wait, its supplier, and where it comes from.
pub(in crate::plan) fn describe(
    view: &View<'_>,
    wait: &Wait<'_>,
) -> (Option<Arrival>, Option<SupplierId>, WaitsFor) {
    match wait.key {
        Key::OrderLine(id) => {
            let line = view.book.order_lines.get(&id);
            let order = line.and_then(|line| view.book.orders.get(&line.order));
            let supposed_days = view.book.supposed_days.get(&id).copied();
            let waits_for = WaitsFor::OrderLine { line: id, supposed_days };
            let arrival = line.and_then(|line| arrivals::of_order_line(view, line));
            (arrival, order.map(|order| order.supplier), waits_for)
        }
        Key::NotOrdered(..) => {
            let (offer, draft) = offer_for(view, wait.line);
            let arrival = offer.and_then(|offer| arrivals::of_offer(view, offer));
            let waits_for = WaitsFor::NotOrdered { offer: offer.map(|offer| offer.id), draft };
            (arrival, offer.map(|offer| offer.supplier), waits_for)
        }
        Key::ToMake(_) | Key::AtFinisher(_) => {
            let making = wait.line.making.as_ref();
            let how = making.map_or(Made::Listed, |making| making.how);
            let supplier = match how {
                Made::AtFinisher { supplier, .. } => Some(supplier),
                _ => None,
            };
            let (Key::AtFinisher(_), Some(making), Some(by)) = (wait.key, making, supplier) else {
                return (None, supplier, WaitsFor::ToMake(how));
            };
            let promised_on = making.promises.last().map(|promise| promise.promised_on);
            let waits_for =
                WaitsFor::AtFinisher { supplier: by, sent_on: making.sent_on, promised_on };
            (arrivals::of_making(view, wait.line, making), supplier, waits_for)
        }
        Key::Awaited(id) => match view.book.awaited.get(&id) {
            Some(row) => (arrivals::of_awaited(view, row), None, awaited_from(row)),
            None => (None, None, WaitsFor::Customer),
        },
        Key::Customer(_) => (None, None, WaitsFor::Customer),
    }
}

/// Where a thing comes from that no order brings.
pub(in crate::plan) fn awaited_from(row: &Awaited) -> WaitsFor {
    WaitsFor::Awaited {
        kind: row.kind,
        source: row.source.clone(),
        asked_on: row.asked_on,
        quoted_days: row.quoted_days,
        expected_on: row.promises.last().map(|promise| promise.promised_on),
    }
}

/// What gates a build that is neither a part nor a stage.
pub(in crate::plan) struct Gates<'a> {
    /// The sources of the stages that are not done.
    pub(in crate::plan) sources: Vec<Outstanding<'a>>,
    /// Lines of finished stages that never got all their parts, and that nothing dates.
    pub(in crate::plan) left_behind: Vec<&'a Line>,
    /// What gates handover only: awaited things, and what finished stages still lack.
    pub(in crate::plan) handover: Vec<Outstanding<'a>>,
}

/// The sources of a build.
pub(in crate::plan) fn of_build<'a>(
    view: &View<'a>,
    build: BuildId,
    placed: &[Placed<'a>],
) -> Gates<'a> {
    let mut sources: BTreeMap<Key, Outstanding<'a>> = BTreeMap::new();
    // What finished stages still lack: lines that hang on one source are one arrival.
    let mut late: BTreeMap<Key, Outstanding<'a>> = BTreeMap::new();
    let (mut handover, mut left_behind) = (Vec::new(), Vec::new());
    for line in view.book.lines_of(build) {
        let Some(stage) = find(placed, line.stage) else { continue };
        let waits = waits(view, line);
        if stage.state == StageState::Done {
            for wait in waits {
                let need = late_need(view, placed, &wait);
                match late.get_mut(&wait.key) {
                    Some(known) => {
                        known.waits.push(wait);
                        known.needs.push(need);
                    }
                    None => {
                        late.insert(wait.key, found(view, wait, need, stage));
                    }
                }
            }
            continue;
        }
        for wait in waits {
            let need = match wait.key {
                Key::ToMake(_) => need_of_making(view, placed, line),
                _ => need_of(view, placed, line),
            };
            let Some(need) = need else { continue };
            if let Some(found) = sources.get_mut(&wait.key) {
                if need.offset_days < found.offset_days() {
                    found.stage = Some(stage.stage.id);
                }
                found.waits.push(wait);
                found.needs.push(need);
                continue;
            }
            sources.insert(wait.key, found(view, wait, need, stage));
        }
    }
    for row in view.book.awaited_of(build).iter().filter(|row| row.is_open() && row.line.is_none())
    {
        let stage = row.stage.and_then(|stage| find(placed, stage));
        match (row.stage, stage) {
            (Some(_), Some(stage)) if stage.state == StageState::Waiting => {
                sources.insert(Key::Awaited(row.id), awaited(view, row, Some(stage)));
            }
            // The stage went ahead without it: it still has to come.
            _ => handover.push(awaited(view, row, None)),
        }
    }
    let finishers = Finishers::default();
    for (key, mut row) in late {
        match row.arrival {
            None => left_behind.extend(row.waits.iter().map(|wait| wait.line)),
            // What gates the start is not waited for a second time.
            Some(_) if sources.contains_key(&key) => {}
            Some(by) => {
                row.arrival = Some(ready(view, &finishers, &by, &row.needs).in_time);
                handover.push(row);
            }
        }
    }
    left_behind.sort_by_key(|line: &&Line| line.number);
    left_behind.dedup_by_key(|line| line.id);
    let sources = joined(sources.into_values().collect());
    Gates { sources, left_behind, handover }
}

fn found<'a>(view: &View<'a>, wait: Wait<'a>, need: Need, stage: &Placed<'_>) -> Outstanding<'a> {
    let (arrival, supplier, waits_for) = describe(view, &wait);
    // What is to be made is here as soon as its components are: they are sources of their own.
    let here = matches!(wait.key, Key::ToMake(_)).then(|| vec![1.0; view.axis.len()]);
    Outstanding {
        key: wait.key,
        thing: Thing::Part(wait.line.part),
        waits: vec![wait],
        needs: vec![need],
        stage: Some(stage.stage.id),
        supplier,
        waits_for,
        joined: Vec::new(),
        evidence: arrival.as_ref().and_then(|arrival| arrival.evidence),
        arrival: here.or_else(|| arrival.map(|arrival| axis_cdf(view, &arrival.law))),
    }
}

/// How what a finished stage still lacks is needed: it can be fitted as long as the vehicle is here, so that the
/// handover waits for it, made and finished where it has to be.
fn late_need(view: &View<'_>, placed: &[Placed<'_>], wait: &Wait<'_>) -> Need {
    let need = match wait.key {
        Key::ToMake(_) => need_of_making(view, placed, wait.line),
        _ => need_of(view, placed, wait.line),
    };
    need.unwrap_or_else(|| Need::direct(Some(wait.line.stage), 0))
}

fn awaited<'a>(view: &View<'a>, row: &Awaited, stage: Option<&Placed<'_>>) -> Outstanding<'a> {
    let arrival = arrivals::of_awaited(view, row);
    let offset_days = stage.map_or(0, |stage| i32::try_from(stage.offset_days).unwrap_or(i32::MAX));
    Outstanding {
        key: Key::Awaited(row.id),
        thing: Thing::Awaited { kind: row.kind, name: row.name.clone() },
        waits: Vec::new(),
        needs: vec![Need::direct(stage.map(|stage| stage.stage.id), offset_days)],
        stage: stage.map(|stage| stage.stage.id),
        supplier: None,
        waits_for: awaited_from(row),
        joined: Vec::new(),
        evidence: arrival.as_ref().and_then(|arrival| arrival.evidence),
        arrival: arrival.map(|arrival| axis_cdf(view, &arrival.law)),
    }
}

fn axis_cdf(view: &View<'_>, law: &ArrivalLaw) -> Vec<f64> {
    on_axis(law, &view.axis)
}

/// Sources that pass through one finisher together are one: the finisher begins with the last of
/// them. Their arrivals are taken as independent. What only waits to be sent out is left out where a
/// component of it is still awaited, which says the same and more.
fn joined<'a>(sources: Vec<Outstanding<'a>>) -> Vec<Outstanding<'a>> {
    let comes: BTreeSet<LineId> = sources
        .iter()
        .filter(|source| !matches!(source.key, Key::ToMake(_)))
        .flat_map(Outstanding::finished)
        .collect();
    let mut out: Vec<Outstanding<'a>> = Vec::new();
    for source in sources {
        let finished = source.finished();
        if matches!(source.key, Key::ToMake(_)) {
            let waits_anyway = finished.iter().any(|line| comes.contains(line));
            let never_gates = finished.is_empty() && source.offset_days() >= 0;
            if waits_anyway || never_gates {
                continue;
            }
        }
        let with = out.iter_mut().find(|other| !other.finished().is_disjoint(&finished));
        match with {
            Some(other) => join(other, source),
            None => out.push(source),
        }
    }
    out
}

fn join<'a>(one: &mut Outstanding<'a>, other: Outstanding<'a>) {
    one.joined.push(other.awaiting());
    one.arrival = match (&one.arrival, &other.arrival) {
        (Some(a), Some(b)) => Some(a.iter().zip(b).map(|(a, b)| a * b).collect()),
        _ => None,
    };
    one.waits.extend(other.waits);
    one.needs.extend(other.needs);
}
