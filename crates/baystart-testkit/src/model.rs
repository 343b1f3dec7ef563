//! A naive model of a shop: plain maps of numbers, replayed from the accepted
//! commands and never from what the core says that it did.
//!
//! After every command it holds:
//!
//! 1. *Answer.* The command was accepted, or refused for the reason, that the
//!    model foresaw. It foresees every command but a reserve or an issue that
//!    names two lines of one part, where the answer hangs on which lots the
//!    first line takes, and a loan that hangs on which of two supplies is sooner.
//! 2. *Numbers.* On hand and quarantined by part, lot and bin; required, issued
//!    and stage by build line; ordered, received and cancelled by order line;
//!    states of builds, stages and orders: as counted here. Which lots and bins
//!    an issue takes is the core's choice; the model checks that it was one that
//!    the caller allowed and that the sums agree.
//! 3. *Need.* While a line of an open build or one in the bay is short of a
//!    part that is no consumable, no stock of the part is available and every
//!    order line of it that is on order is pegged in full. Excepted are lines
//!    that a person left short: those that the last reserve, release, peg,
//!    unpeg or loan (the line that was helped) of that part named, until the next command that binds the part.
//! 4. *Priority.* If a line stays short (and is not excepted), no line that is
//!    served after it has more bound to it than before the command, unless the
//!    command names that line's build.
//! 5. *Nobody else's.* Nothing that is bound to another build's line shrinks,
//!    unless stock or an order line itself vanished; then those who are served
//!    last lose it first. Stock that is reserved never turns back into a peg. A
//!    kept peg stays until its goods come.
//! 6. *Upgrades.* After a command that binds a part, no line of a near build
//!    keeps a loose peg while stock of the part is available, and none keeps a
//!    loose peg while an order line with an earlier median arrival has something
//!    free. (Medians are the core's own; the rule is what is checked.)
//! 7. *Ledger.* Earlier entries are as they were; the new ones sum to zero and
//!    to the change of the balances.
//!
//! 8. *By hand.* A reserve, release, peg or unpeg changes the lines that it names
//!    by exactly what was asked. A loan gives the one line what the other one had,
//!    by lot and supply, in the quantity that was asked, and no more than it needs.
//! 9. *Far.* A far build that a build command gave stock to had no order line to
//!    peg to.
//!
//! Not held, because the rule does not say it: a far build takes stock only for
//! what no order line covers, and it may still take it before a near build that
//! is served after it; a build on hold keeps what it has and takes nothing.

mod answer;
mod binding;
mod builds;
mod by_hand;
mod catalogue;
mod compare;
mod issue;
mod kept;
mod ledger;
mod orders;
mod passes;
mod receipts;
mod reject;
mod rows;
mod stock;

use crate::generate::kind;
use crate::world::Step;
use baystart_core::book::Book;
use baystart_core::book::model::Role;
use baystart_core::command::Command;
use baystart_core::refusal::{Reason, Refusal};
use jiff::Timestamp;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

pub(crate) use answer::{Answer, Faults};
pub(crate) use binding::Bindings;
use rows::{BuildRow, Cell, OrderRow, PartRow};

use answer::not_here;

/// Part and lot and bin, all in normal form.
pub(crate) type Spot = (String, String, String);
/// A build's number and a line's.
pub(crate) type LineKey = (String, i32);

/// What was played so far, by kind and by reason.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Accepted and refused commands by kind.
    pub kinds: BTreeMap<&'static str, (u64, u64)>,
    /// Refused commands by reason.
    pub reasons: BTreeMap<Reason, u64>,
    /// Commands whose answer the model did not foresee.
    pub unforeseen: u64,
}

/// A rule that a test bends, to see that what is compared with the model is noticed to differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bend {
    /// More may be reserved than is available.
    ReserveBeyondStock,
    /// More may be taken out of a bin than lies there.
    TakeBeyondStock,
    /// A build that is on hold, delivered or cancelled may be bound to.
    AnyBuildBinds,
}

impl Bend {
    /// Each.
    pub const ALL: [Self; 3] =
        [Self::ReserveBeyondStock, Self::TakeBeyondStock, Self::AnyBuildBinds];
}

/// The numbers of one shop.
#[derive(Clone, Debug, Default)]
pub struct Model {
    bend: Option<Bend>,
    parts: BTreeMap<String, PartRow>,
    suppliers: BTreeMap<String, i64>,
    bins: BTreeSet<String>,
    offers: BTreeMap<(String, String), i64>,
    closures: BTreeSet<(Option<String>, Date, Date)>,
    settings_version: i64,
    window_days: u32,
    tokens: BTreeMap<uuid::Uuid, KnownToken>,
    stock: BTreeMap<Spot, Cell>,
    builds: BTreeMap<String, BuildRow>,
    orders: BTreeMap<String, OrderRow>,
    bound: Bindings,
    left_short: BTreeMap<String, BTreeSet<LineKey>>,
    /// Parts of the order lines that the command met.
    met: BTreeSet<String>,
    ledger: ledger::Seen,
    /// What was played so far.
    pub tally: Tally,
}

/// What the model knows beside the command.
pub(crate) struct Now<'a> {
    pub(crate) today: Date,
    pub(crate) recorded_at: Timestamp,
    pub(crate) accepted: bool,
    pub(crate) book: &'a Book,
}

/// A token as the model knows it.
#[derive(Clone, Debug)]
pub(crate) struct KnownToken {
    pub(crate) admin: bool,
    pub(crate) live: bool,
    /// In upper case.
    pub(crate) name: String,
}

impl Model {
    /// A model of a fresh shop: settings and tokens, and nothing else yet.
    #[must_use]
    pub fn of_fresh_shop(book: &Book) -> Self {
        let tokens = book.tokens.values().map(|token| {
            let admin = token.roles.contains(&Role::Admin);
            let name = token.name.to_uppercase();
            (token.id.0, KnownToken { admin, live: token.revoked_at.is_none(), name })
        });
        Self {
            settings_version: book.settings.as_ref().map_or(0, |settings| settings.version),
            window_days: book.settings.as_ref().map_or(0, |row| row.reserve_window_days),
            tokens: tokens.collect(),
            ..Self::default()
        }
    }

    /// The same with one rule bent.
    #[must_use]
    pub fn bent(self, bend: Bend) -> Self {
        Self { bend: Some(bend), ..self }
    }

    /// Takes in a step, what was answered, and the whole book as it is after it.
    ///
    /// # Errors
    /// What does not agree, as a sentence.
    pub fn after(
        &mut self,
        step: &Step,
        result: Result<(), &Refusal>,
        book: &Book,
    ) -> Result<(), String> {
        let accepted = result.is_ok();
        let now = Now { today: step.today, recorded_at: step.recorded_at, accepted, book };
        let before = self.stock.clone();
        self.met.clear();
        let foreseen = self.play(&step.command, &now);
        self.count(&step.command, &foreseen, result);
        match (&foreseen, result) {
            (Answer::Unsure, _) | (Answer::Accepted, Ok(())) => {}
            (Answer::Refused(reason), Err(refusal)) if *reason == refusal.reason => {}
            (Answer::Impossible(text), _) => return Err(text.clone()),
            (_, Ok(())) => return Err(format!("accepted, but the model foresaw {foreseen:?}")),
            (_, Err(refusal)) => {
                let reason = refusal.reason;
                return Err(format!("refused, {reason}: {refusal}; foreseen: {foreseen:?}"));
            }
        }
        self.ledger(book, &before)?;
        if !accepted {
            return Ok(());
        }
        self.compare(book)?;
        self.bindings(&step.command, &now)
    }

    fn play(&mut self, command: &Command, now: &Now<'_>) -> Answer {
        match command {
            Command::Stock(command) => self.play_stock(command, now),
            Command::Build(command) => self.play_build(command, now),
            Command::Bind(command) => self.play_bind(command, now),
            Command::Order(command) => self.play_order(command, now),
            Command::Make(_) => not_here(command),
            other => self.play_catalogue(other, now),
        }
    }

    fn count(&mut self, command: &Command, foreseen: &Answer, result: Result<(), &Refusal>) {
        let counts = self.tally.kinds.entry(kind(command)).or_default();
        match result {
            Ok(()) => counts.0 += 1,
            Err(refusal) => {
                counts.1 += 1;
                *self.tally.reasons.entry(refusal.reason).or_default() += 1;
            }
        }
        if *foreseen == Answer::Unsure {
            self.tally.unforeseen += 1;
        }
    }
}

impl Tally {
    /// Adds another's counts.
    pub fn add(&mut self, other: &Self) {
        for (kind, (accepted, refused)) in &other.kinds {
            let counts = self.kinds.entry(kind).or_default();
            counts.0 += accepted;
            counts.1 += refused;
        }
        for (reason, count) in &other.reasons {
            *self.reasons.entry(*reason).or_default() += count;
        }
        self.unforeseen += other.unforeseen;
    }
}
