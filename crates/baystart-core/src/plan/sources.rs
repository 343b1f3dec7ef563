//! What a build waits for: lines that hang on one thing are one source.

use super::arrivals::{self, Arrival};
use super::build::SourceKind;
use super::stages::{Placed, find};
use super::view::View;
use super::words;
use crate::book::model::{Line, Offer, StageState};
use crate::ids::{BuildId, OrderLineId, PartId, SupplierId};
use crate::leadtime::ArrivalLaw;
use crate::quantity::Quantity;
use std::collections::BTreeMap;

/// What makes two waits the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    /// Both come with this order line.
    OrderLine(OrderLineId),
    /// Both would be ordered in one go.
    NotOrdered(PartId, Option<SupplierId>),
}

/// One line's wait for a quantity.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wait<'a> {
    pub(super) line: &'a Line,
    pub(super) quantity: Quantity,
    pub(super) key: Key,
}

/// One source with the lines that hang on it.
#[derive(Debug)]
pub(super) struct Found<'a> {
    pub(super) key: Key,
    pub(super) part: PartId,
    /// In the order of line numbers.
    pub(super) waits: Vec<Wait<'a>>,
    /// Least over the lines.
    pub(super) offset_days: u32,
    /// Name of the stage that needs it first.
    pub(super) stage: String,
    pub(super) supplier: Option<SupplierId>,
    pub(super) waits_for: String,
    /// None: nothing dates it.
    pub(super) law: Option<ArrivalLaw>,
    /// Whose past orders the law stands on, in words.
    pub(super) evidence: String,
}

impl Found<'_> {
    pub(super) fn kind(&self) -> SourceKind {
        match self.key {
            Key::OrderLine(_) => SourceKind::OrderLine,
            Key::NotOrdered(..) => SourceKind::NotOrdered,
        }
    }
}

/// The supplier and offer from which a line's shortage would come: those of a
/// draft for it, else the best offer.
fn offer_for<'a>(view: &View<'a>, line: &Line) -> (Option<&'a Offer>, Option<OrderLineId>) {
    for id in view.drafts(line.part) {
        let Some(draft) = view.book.order_lines.get(id) else { continue };
        let Some(order) = view.book.orders.get(&draft.order) else { continue };
        if draft.for_line == Some(line.id) {
            return (view.book.offer_of(order.supplier, line.part), Some(*id));
        }
    }
    (view.book.best_offer(line.part), None)
}

/// Everything that a line waits for: its pegs, and what is bound to nothing.
pub(super) fn waits<'a>(view: &View<'a>, line: &'a Line) -> Vec<Wait<'a>> {
    if !view.book.gates(line) {
        return Vec::new();
    }
    let mut waits = Vec::new();
    for peg in view.pegs(line.id) {
        let key = Key::OrderLine(peg.order_line);
        waits.push(Wait { line, quantity: peg.quantity, key });
    }
    let short = view.short(line);
    if short.is_positive() {
        let supplier = offer_for(view, line).0.map(|offer| offer.supplier);
        let key = Key::NotOrdered(line.part, supplier);
        waits.push(Wait { line, quantity: short, key });
    }
    waits
}

/// The arrival and the words of a wait.
pub(super) fn describe(
    view: &View<'_>,
    wait: &Wait<'_>,
) -> (Option<Arrival>, Option<SupplierId>, String) {
    match wait.key {
        Key::OrderLine(id) => {
            let Some(line) = view.book.order_lines.get(&id) else {
                return (None, None, String::new());
            };
            let supplier = view.book.orders.get(&line.order).map(|order| order.supplier);
            (arrivals::of_order_line(view, line), supplier, words::of_order_line(view, line))
        }
        Key::NotOrdered(..) => {
            let (offer, draft) = offer_for(view, wait.line);
            let arrival = offer.and_then(|offer| arrivals::of_offer(view, offer));
            let words = words::of_shortage(view, offer, draft);
            (arrival, offer.map(|offer| offer.supplier), words)
        }
    }
}

/// The sources of a build's stages that are not done, and the lines of finished
/// stages that never got all their parts.
pub(super) fn of_build<'a>(
    view: &View<'a>,
    build: BuildId,
    placed: &[Placed<'a>],
) -> (Vec<Found<'a>>, Vec<&'a Line>) {
    let mut sources: BTreeMap<Key, Found<'a>> = BTreeMap::new();
    let mut left_behind = Vec::new();
    for line in view.lines(build) {
        let Some(stage) = find(placed, line.stage) else { continue };
        let waits = waits(view, line);
        if stage.state == StageState::Done {
            if !waits.is_empty() {
                left_behind.push(*line);
            }
            continue;
        }
        for wait in waits {
            if let Some(found) = sources.get_mut(&wait.key) {
                found.waits.push(wait);
                if stage.offset_days < found.offset_days {
                    found.offset_days = stage.offset_days;
                    found.stage = stage.stage.name.written().to_owned();
                }
                continue;
            }
            let (arrival, supplier, waits_for) = describe(view, &wait);
            let evidence = arrival.as_ref().and_then(|arrival| arrival.evidence.as_ref());
            let evidence = evidence.map_or(String::new(), |(news, evidence)| {
                words::of_evidence(view, supplier, news, evidence)
            });
            let found = Found {
                key: wait.key,
                part: line.part,
                waits: vec![wait],
                offset_days: stage.offset_days,
                stage: stage.stage.name.written().to_owned(),
                supplier,
                waits_for,
                law: arrival.map(|arrival| arrival.law),
                evidence,
            };
            sources.insert(wait.key, found);
        }
    }
    (sources.into_values().collect(), left_behind)
}
