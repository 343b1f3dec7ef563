//! What is short, and what of it nobody has ordered or drafted: the one place that says so, for
//! suggestions and for the drafts made of them.

use crate::book::Book;
use crate::book::model::{Line, Offer, OrderLine};
use crate::ids::{LineId, OfferId, OrderLineId, PartId};
use crate::quantity::Quantity;
use std::collections::{BTreeMap, BTreeSet};

/// Why a shortage is not ordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// No supplier offers it.
    NoOffer,
    /// It is made of components, in the shop or at a finisher.
    Made,
}

/// A piece of one build line's shortage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LinePiece {
    /// Whose.
    pub line: LineId,
    /// How much.
    pub quantity: Quantity,
    /// The draft that covers it; None: still to be ordered.
    pub draft: Option<OrderLineId>,
}

/// A part that builds are short of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartNeed {
    /// Which.
    pub part: PartId,
    /// From which offer it would be ordered: preferred first, then as [`Book::best_offer`].
    pub offer: Option<OfferId>,
    /// Why it is not ordered; None: it can be.
    pub why_not: Option<WhyNot>,
    /// In the order of service.
    pub pieces: Vec<LinePiece>,
}

impl PartNeed {
    /// How much is to be ordered, before packs.
    #[must_use]
    pub fn to_order(&self) -> Quantity {
        self.pieces.iter().filter(|piece| piece.draft.is_none()).map(|piece| piece.quantity).sum()
    }

    /// The build line that it is ordered for, if there is only one.
    #[must_use]
    pub fn only_line(&self) -> Option<LineId> {
        let mut lines: Vec<_> =
            self.pieces.iter().filter(|p| p.draft.is_none()).map(|p| p.line).collect();
        lines.dedup();
        match lines.as_slice() {
            [line] => Some(*line),
            _ => None,
        }
    }
}

/// How much of an offer to order for a need: at least the minimum, in whole packs.
#[must_use]
pub fn order_quantity(offer: &Offer, need: Quantity) -> Quantity {
    let least = offer.minimum_quantity.map_or(need, |minimum| minimum.max(need));
    let Some(pack) = offer.pack_size.filter(|pack| pack.is_positive()) else { return least };
    let packs = least.milli() / pack.milli() + i64::from(least.milli() % pack.milli() != 0);
    Quantity::from_milli(packs.saturating_mul(pack.milli()))
}

/// Every part that an open build or one in the bay is short of, by part number.
///
/// Free stock and free supply count first, then drafts: one for a build line covers that line
/// before others, as it will be pegged when it is placed. Builds on hold are not ordered for, but
/// keep their drafts. What the customer brings, and consumables, are left out.
#[must_use]
pub fn part_needs(book: &Book) -> Vec<PartNeed> {
    let binds = |line: &&Line| book.builds.get(&line.build).is_some_and(|b| b.state.binds());
    let mut lines: Vec<&Line> =
        book.lines.values().filter(binds).filter(|line| is_ordered(book, line)).collect();
    lines.sort_by_cached_key(|line| {
        (book.builds.get(&line.build).map(|build| book.service_key(build)), line.number)
    });
    let mut wanted: BTreeMap<PartId, Vec<(LineId, Quantity)>> = BTreeMap::new();
    for line in &lines {
        let quantity = book.short_of(line);
        if quantity.is_positive() {
            wanted.entry(line.part).or_default().push((line.id, quantity));
        }
    }
    let mut free: BTreeMap<PartId, Quantity> = BTreeMap::new();
    for (key, stock) in &book.stock {
        if wanted.contains_key(&key.part) {
            *free.entry(key.part).or_default() += stock.available();
        }
    }
    let mut drafts: BTreeMap<PartId, Vec<&OrderLine>> = BTreeMap::new();
    for line in wanted.keys().flat_map(|part| book.order_lines_for_part(*part)) {
        if line.placed_on.is_some() {
            *free.entry(line.part).or_default() += book.free_on(line).or_zero();
        } else if line.outstanding().is_positive() {
            drafts.entry(line.part).or_default().push(line);
        }
    }
    let mut needs = Vec::new();
    for (part, lines) in wanted {
        let drafts = drafts.remove(&part).unwrap_or_default();
        let free = free.get(&part).copied().unwrap_or_default();
        let pieces = allot(book, &lines, free, &drafts);
        if pieces.is_empty() {
            continue;
        }
        let offer = book.best_offer(part).map(|offer| offer.id);
        let made = book.parts.get(&part).is_some_and(crate::book::model::Part::is_made);
        let why_not = match (made, offer) {
            (true, _) => Some(WhyNot::Made),
            (false, None) => Some(WhyNot::NoOffer),
            (false, Some(_)) => None,
        };
        needs.push(PartNeed { part, offer, why_not, pieces });
    }
    needs.sort_by_cached_key(|need| book.part_number(need.part).to_uppercase());
    needs
}

fn is_ordered(book: &Book, line: &Line) -> bool {
    book.gates(line) && !line.customer_supplied
}

/// Shares free supply and drafts out over lines that are short, in the order of service.
fn allot(
    book: &Book,
    lines: &[(LineId, Quantity)],
    free: Quantity,
    drafts: &[&OrderLine],
) -> Vec<LinePiece> {
    let mut left: BTreeMap<LineId, Quantity> = lines.iter().copied().collect();
    let mut pieces = Vec::new();
    let mut pool = Vec::new();
    // What is ordered for a line goes there first, even if its build waits on hold.
    let known: BTreeSet<LineId> = left.keys().copied().collect();
    let mut on_hold: BTreeMap<LineId, Quantity> = BTreeMap::new();
    for draft in drafts {
        let mut rest = draft.outstanding();
        let line = draft.for_line.and_then(|id| book.lines.get(&id));
        if let Some(line) =
            line.filter(|line| line.part == draft.part && keeps_bindings(book, line))
        {
            let open = match known.contains(&line.id) {
                true => left.entry(line.id).or_default(),
                false => on_hold.entry(line.id).or_insert_with(|| book.short_of(line)),
            };
            let taken = rest.min(*open);
            *open -= taken;
            rest -= taken;
            if taken.is_positive() && known.contains(&line.id) {
                let draft = Some(draft.id);
                pieces.push(LinePiece { line: line.id, quantity: taken, draft });
            }
        }
        pool.push((draft.id, rest));
    }
    let mut free = free;
    for (line, _) in lines {
        let mut open = left.get(line).copied().unwrap_or_default();
        let taken = open.min(free);
        free -= taken;
        open -= taken;
        for (draft, rest) in &mut pool {
            let taken = open.min(*rest);
            if taken.is_positive() {
                *rest -= taken;
                open -= taken;
                pieces.push(LinePiece { line: *line, quantity: taken, draft: Some(*draft) });
            }
        }
        if open.is_positive() {
            pieces.push(LinePiece { line: *line, quantity: open, draft: None });
        }
    }
    pieces
}

fn keeps_bindings(book: &Book, line: &Line) -> bool {
    book.builds.get(&line.build).is_some_and(|build| build.state.keeps_bindings())
}
