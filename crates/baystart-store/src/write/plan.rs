//! What the commands of one commit change, gathered.

use crate::warm::ShopState;
use baystart_core::book::model::{
    Account, Awaited, Bin, Build, BuildState, Closure, Line, Movement, Offer, Order, OrderLine,
    Part, Peg, Reservation, Settings, Stage, StockKey, Supplier, Token,
};
use baystart_core::book::{Book, Change};
use baystart_core::ids::{
    AwaitedId, BinId, BuildId, LineId, OfferId, OrderId, OrderLineId, PartId, ReservationId,
    StageId, SupplierId, TokenId,
};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;
use uuid::Uuid;

/// What a total gains, in thousandths.
#[derive(Clone, Copy, Default)]
pub struct Delta {
    pub usable: i64,
    pub reserved: i64,
    pub quarantined: i64,
}

/// Which state of which row a revision made.
pub type HistoryKey = (i64, &'static str, Uuid, Uuid);

#[derive(Default)]
pub(crate) struct Plan {
    /// The book as it was: what there was decides what is written.
    pub before: Book,
    /// The shop's state as it was.
    pub found: ShopState,
    /// The id that the commit will have.
    pub commit: Uuid,
    pub settings: Option<Settings>,
    pub closures: BTreeMap<Closure, bool>,
    pub suppliers: BTreeMap<SupplierId, Supplier>,
    pub parts: BTreeMap<PartId, Part>,
    pub offers: BTreeMap<OfferId, Offer>,
    pub bins: BTreeMap<BinId, Bin>,
    pub lots: BTreeMap<StockKey, (Option<Date>, Option<Date>)>,
    pub stock: BTreeMap<StockKey, Delta>,
    pub balances: BTreeMap<(StockKey, BinId), Delta>,
    pub builds: BTreeMap<BuildId, Build>,
    pub stages: BTreeMap<StageId, Stage>,
    pub lines: BTreeMap<LineId, Line>,
    pub awaited: BTreeMap<AwaitedId, Awaited>,
    pub reservations: BTreeMap<ReservationId, Reservation>,
    pub orders: BTreeMap<OrderId, Order>,
    pub order_lines: BTreeMap<OrderLineId, (OrderLine, Timestamp)>,
    pub pegs: BTreeMap<(LineId, OrderLineId), Peg>,
    pub tokens: BTreeMap<TokenId, Token>,
    pub movements: Vec<(i64, Movement)>,
    pub history: BTreeMap<HistoryKey, Written>,
}

/// A row's state as it is kept.
pub struct Written {
    /// JSON.
    pub state: String,
    /// It is a wait that no order is.
    pub waits_apart: bool,
}

impl Plan {
    /// An empty plan on a book as it was loaded at a state of the shop.
    pub fn new(book: &Book, found: ShopState) -> Self {
        Self { before: book.clone(), found, commit: Uuid::new_v4(), ..Self::default() }
    }

    /// About how many rows will be written: what was changed has a state each.
    pub fn rows(&self) -> usize {
        self.history.len() + self.movements.len() + self.closures.len() + self.bins.len()
    }

    /// Gathers what one command changes.
    pub fn add(&mut self, revision: i64, recorded_at: Timestamp, changes: &[Change]) {
        for change in changes {
            self.add_change(revision, recorded_at, change);
        }
    }

    fn add_change(&mut self, revision: i64, recorded_at: Timestamp, change: &Change) {
        match change {
            Change::Settings(row) => {
                self.note(revision, "settings", Uuid::nil(), row);
                self.settings = Some(row.clone());
            }
            Change::ClosureAdded(row) => {
                self.closures.insert(row.clone(), true);
            }
            Change::ClosureRemoved(row) => {
                self.closures.insert(row.clone(), false);
            }
            Change::Part(row) => {
                self.note(revision, "part", row.id.0, row);
                self.parts.insert(row.id, row.clone());
            }
            Change::Supplier(row) => {
                self.note(revision, "supplier", row.id.0, row);
                self.suppliers.insert(row.id, row.clone());
            }
            Change::Offer(row) => {
                self.note(revision, "offer", row.id.0, row);
                self.offers.insert(row.id, row.clone());
            }
            Change::Bin(row) => {
                self.bins.insert(row.id, row.clone());
            }
            Change::Lot { key, expires_on, first_received_on } => {
                self.lots.insert(key.clone(), (*expires_on, *first_received_on));
            }
            Change::Moved(movement) => self.book(revision, movement),
            Change::Build(row) => {
                self.note(revision, "build", row.id.0, row);
                self.builds.insert(row.id, row.clone());
            }
            Change::Stage(row) => {
                let away = row.off_site.is_some();
                self.note_wait((revision, "stage", row.id.0, row.id.0), row, away);
                self.stages.insert(row.id, row.clone());
            }
            Change::Line(row) => {
                let sent = row.making.as_ref().is_some_and(|making| making.sent_on.is_some());
                self.note_wait((revision, "build_line", row.id.0, row.id.0), row, sent);
                self.lines.insert(row.id, row.clone());
            }
            Change::Awaited(row) => {
                self.note_wait((revision, "awaited", row.id.0, row.id.0), row, true);
                self.awaited.insert(row.id, row.clone());
            }
            Change::Reservation(row) => {
                self.note(revision, "reservation", row.id.0, row);
                self.reserve(row);
            }
            Change::Order(row) => {
                self.note(revision, "purchase_order", row.id.0, row);
                self.orders.insert(row.id, row.clone());
            }
            Change::OrderLine(row) => {
                self.note(revision, "order_line", row.id.0, row);
                self.order_lines.insert(row.id, (row.clone(), recorded_at));
            }
            Change::Peg(row) => {
                let key = (revision, "peg", row.line.0, row.order_line.0);
                self.note_wait(key, row, false);
                self.pegs.insert((row.line, row.order_line), *row);
            }
            Change::Token(row) => {
                self.tokens.insert(row.id, row.clone());
            }
        }
    }

    fn note(&mut self, revision: i64, kind: &'static str, id: Uuid, row: &impl Serialize) {
        self.note_wait((revision, kind, id, id), row, false);
    }

    fn note_wait(&mut self, key: HistoryKey, row: &impl Serialize, waits_apart: bool) {
        self.history.insert(key, Written { state: json(row), waits_apart });
    }

    /// The only place where a booking becomes totals and balances.
    fn book(&mut self, revision: i64, movement: &Movement) {
        for entry in &movement.entries {
            let milli = entry.quantity.milli();
            let (bin, usable, quarantined) = match entry.account {
                Account::Bin(bin) => (bin, milli, 0),
                Account::Quarantine(bin) => (bin, 0, milli),
                _ => continue,
            };
            let total = self.stock.entry(entry.key.clone()).or_default();
            total.usable += usable;
            total.quarantined += quarantined;
            let balance = self.balances.entry((entry.key.clone(), bin)).or_default();
            balance.usable += usable;
            balance.quarantined += quarantined;
        }
        self.movements.push((revision, movement.clone()));
    }

    fn reserve(&mut self, row: &Reservation) {
        let old = match self.reservations.get(&row.id) {
            Some(old) => old.held,
            None => self.before.reservations.get(&row.id).map(|row| row.held).unwrap_or_default(),
        };
        let total = self.stock.entry(row.key.clone()).or_default();
        total.reserved += row.held.milli() - old.milli();
        self.reservations.insert(row.id, row.clone());
    }

    /// Whether it changes what lead times are learned from, or how. A part may
    /// be the one whose number stands in an imported history.
    pub fn touches_evidence(&self) -> bool {
        // An open stage counts while its build is in the bay only.
        let came_in = |build: &Build| !matches!(build.state, BuildState::Quoted | BuildState::Open);
        let made_outside = |line: &Line| line.making.as_ref().is_some_and(|m| m.sent_on.is_some());
        self.settings.is_some()
            || !self.closures.is_empty()
            || !self.order_lines.is_empty()
            || !self.parts.is_empty()
            || !self.awaited.is_empty()
            || self
                .stages
                .values()
                .any(|stage| stage.off_site.is_some() || stage.begun_on.is_some())
            || self.builds.values().any(came_in)
            || self.lines.values().any(made_outside)
    }

    /// What is pegged more or less on each order line, in thousandths.
    pub fn pegged(&self) -> BTreeMap<OrderLineId, i64> {
        let mut gains: BTreeMap<OrderLineId, i64> = BTreeMap::new();
        for (key, peg) in &self.pegs {
            let old = self.before.pegs.get(key).map(|peg| peg.quantity).unwrap_or_default();
            *gains.entry(peg.order_line).or_default() += peg.quantity.milli() - old.milli();
        }
        gains
    }
}

/// A row as text. Rows have string keys only, so it cannot fail; if it did,
/// the history would say so.
fn json(row: &impl Serialize) -> String {
    serde_json::to_string(row).unwrap_or_else(|error| format!("{{\"error\":\"{error}\"}}"))
}
