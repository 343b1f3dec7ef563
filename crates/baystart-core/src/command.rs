//! What callers may ask for, already parsed: references, exact quantities,
//! civil dates. Nothing here has been checked against a shop's state.

use crate::book::model::{AwaitedKind, Role, Settings};
use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A command. Each takes effect as a whole or not at all.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Command {
    /// `keep_learning`: how lead times are learned stays as it was, whatever the settings say.
    UpdateSettings {
        settings: Settings,
        keep_learning: bool,
        etag: String,
    },
    AddClosures {
        closures: Vec<NewClosure>,
    },
    RemoveClosures {
        closures: Vec<NewClosure>,
    },
    CreatePart {
        part: NewPart,
    },
    UpdatePart {
        target: Ref,
        part: NewPart,
        etag: String,
    },
    CreateSupplier {
        code: Number,
        name: String,
    },
    UpdateSupplier {
        target: Ref,
        code: Number,
        name: String,
        etag: String,
    },
    PutOffer {
        offer: NewOffer,
        etag: Option<String>,
    },
    CreateBin {
        code: Number,
        description: String,
    },
    Stock(StockCommand),
    Build(BuildCommand),
    Bind(BindCommand),
    Make(MakeCommand),
    Order(OrderCommand),
    IssueToken {
        name: String,
        roles: Vec<Role>,
    },
    RevokeToken {
        token: Uuid,
    },
}

/// A closure as it is asked for; see `Closure`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewClosure {
    pub supplier: Option<Ref>,
    pub first_day: Date,
    pub last_day: Date,
    pub name: String,
}

/// A part's fields; see `Part`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewPart {
    pub number: Number,
    pub description: String,
    pub unit: Unit,
    pub consumable: bool,
    pub safety_related: bool,
    pub lot_tracked: bool,
    pub components: Vec<(Ref, Quantity)>,
    pub made: NewMade,
    pub family: String,
    pub finish: String,
    pub made_to_order: bool,
    pub superseded_by: Option<Ref>,
    pub companions: Vec<Ref>,
    pub gtin: String,
    pub handling_note: String,
}

/// How a part's components become it; see `Made`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum NewMade {
    #[default]
    Listed,
    InShop {
        working_days: u32,
    },
    AtFinisher {
        supplier: Ref,
        quoted_days: Option<u32>,
    },
}

/// An offer's fields; see `Offer`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewOffer {
    pub supplier: Ref,
    pub part: Ref,
    pub item_number: String,
    pub price: Option<Money>,
    pub pack_size: Option<Quantity>,
    pub minimum_quantity: Option<Quantity>,
    pub quoted_days: Option<u32>,
    pub preferred: bool,
}

/// A quantity of one part and lot in one bin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BinQuantity {
    pub part: Ref,
    pub bin: Ref,
    pub lot: String,
    pub quantity: Quantity,
}

/// Bookings that concern no order and no build, and found parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum StockCommand {
    /// `at.quantity` is added; negative takes away. `opening` marks the stock
    /// with which a shop begins, `quarantined` books it as quarantined.
    Adjust {
        at: BinQuantity,
        reason: String,
        expires_on: Option<Date>,
        opening: bool,
        quarantined: bool,
        occurred_on: Option<Date>,
    },
    Move {
        at: BinQuantity,
        to: Ref,
        occurred_on: Option<Date>,
    },
    Scrap {
        at: BinQuantity,
        reason: String,
        from_quarantine: bool,
        occurred_on: Option<Date>,
    },
    Quarantine {
        at: BinQuantity,
        reason: String,
        occurred_on: Option<Date>,
    },
    ReleaseQuarantine {
        at: BinQuantity,
        reason: String,
        occurred_on: Option<Date>,
    },
    Found {
        build: Ref,
        line: i32,
        quantity: Quantity,
        lot: String,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Back to who sold it, without an order line.
    ReturnToSupplier {
        at: BinQuantity,
        supplier: Ref,
        reason: String,
        from_quarantine: bool,
        occurred_on: Option<Date>,
    },
    /// Without an order.
    Receive {
        at: BinQuantity,
        supplier: Option<Ref>,
        reason: String,
        expires_on: Option<Date>,
        occurred_on: Option<Date>,
    },
}

/// A stage as it is asked for; `planned_days` in working days, `off_site` the firm
/// at which the vehicle is meanwhile.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewStage {
    pub name: Number,
    pub planned_days: u32,
    pub off_site: Option<Ref>,
}

/// A thing from outside that no order brings, as it is asked for; see `Awaited`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewAwaited {
    pub kind: AwaitedKind,
    pub name: String,
    pub identification: String,
    pub source: String,
    /// None: it gates handover only.
    pub stage: Option<String>,
    /// Number of the build line that it is, for a customer's part.
    pub line: Option<i32>,
    pub asked_on: Option<Date>,
    pub quoted_days: Option<u32>,
    pub expected_on: Option<Date>,
}

/// A build line as it is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewLine {
    pub stage: String,
    pub part: Ref,
    pub quantity: Quantity,
    pub unit: Option<Unit>,
    /// In the vehicle before the shop began with Baystart: booked from variance
    /// as the line is made, so that the line never asks for it. Only imports
    /// set it; zero otherwise.
    pub fitted_before: Quantity,
    pub customer_supplied: bool,
}

/// What people may change of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BuildFields {
    pub vehicle: String,
    pub customer: String,
    pub priority: i32,
    pub planned_start: Option<Date>,
    pub required_by: Option<Date>,
    /// The shelf on which its picked parts wait.
    pub staging_bin: Option<Ref>,
}

/// A build's life and lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BuildCommand {
    /// `for_stock`: it makes stock, not a vehicle.
    Create {
        number: Number,
        fields: BuildFields,
        stages: Vec<NewStage>,
        lines: Vec<NewLine>,
        for_stock: bool,
    },
    Update {
        build: Ref,
        fields: BuildFields,
        etag: String,
    },
    AddLines {
        build: Ref,
        lines: Vec<NewLine>,
    },
    ChangeLine {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        stage: Option<String>,
    },
    Open {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Hold {
        build: Ref,
        reason: String,
        occurred_on: Option<Date>,
    },
    Resume {
        build: Ref,
        occurred_on: Option<Date>,
    },
    PutInBay {
        build: Ref,
        occurred_on: Option<Date>,
    },
    BeginStage {
        build: Ref,
        stage: String,
        occurred_on: Option<Date>,
    },
    FinishStage {
        build: Ref,
        stage: String,
        occurred_on: Option<Date>,
    },
    MarkReady {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Deliver {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Cancel {
        build: Ref,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Accepts another part for one line.
    Substitute {
        build: Ref,
        line: i32,
        part: Ref,
        approved_by: String,
        reason: String,
        occurred_on: Option<Date>,
    },
    AddAwaited {
        build: Ref,
        items: Vec<NewAwaited>,
    },
    /// News of a thing that is awaited: a date, its identification, or both.
    ExpectAwaited {
        build: Ref,
        item: i32,
        expected_on: Option<Date>,
        identification: Option<String>,
        occurred_on: Option<Date>,
    },
    /// It came; a customer's part goes into `bin` and is reserved for its line.
    ReceiveAwaited {
        build: Ref,
        item: i32,
        bin: Option<Ref>,
        lot: String,
        identification: Option<String>,
        occurred_on: Option<Date>,
    },
    /// It is no longer needed.
    DropAwaited {
        build: Ref,
        item: i32,
        reason: String,
        occurred_on: Option<Date>,
    },
}

/// What is made for a line, in the shop or at a finisher. No quantity: all that
/// is open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum MakeCommand {
    /// The components are used up, the assembly goes into `bin` and is reserved
    /// for the line.
    RecordMade {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        bin: Ref,
        lot: String,
        occurred_on: Option<Date>,
    },
    /// The components leave to the finisher, still ours.
    SendOut {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        promised_on: Option<Date>,
        occurred_on: Option<Date>,
    },
    /// The finisher gives a date.
    PromiseBack { build: Ref, line: i32, promised_on: Option<Date>, occurred_on: Option<Date> },
    /// It came back finished, into `bin`, and is reserved for the line.
    CameBack {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        bin: Ref,
        lot: String,
        occurred_on: Option<Date>,
    },
}

/// What was found in a bin when a line was picked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PickedLine {
    pub line: i32,
    pub bin: Ref,
    pub lot: String,
    pub picked: Quantity,
    /// Not where the ledger says: written off as variance in the same step.
    pub missing: Quantity,
}

/// A quantity of one line; see `LineQuantity` of the API.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LineQuantity {
    pub line: i32,
    pub quantity: Option<Quantity>,
    pub lot: Option<String>,
    pub bin: Option<Ref>,
}

/// What is bound to a build, and what leaves to it and comes back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BindCommand {
    /// No lines: every line of the build that lacks something.
    Reserve {
        build: Ref,
        lines: Vec<LineQuantity>,
    },
    Release {
        build: Ref,
        lines: Vec<LineQuantity>,
    },
    Peg {
        build: Ref,
        line: i32,
        order: Ref,
        order_line: i32,
        quantity: Option<Quantity>,
    },
    Unpeg {
        build: Ref,
        line: i32,
        order: Ref,
        order_line: i32,
    },
    /// No lines: everything reserved, for the stage where one is named.
    Issue {
        build: Ref,
        lines: Vec<LineQuantity>,
        stage: Option<String>,
        occurred_on: Option<Date>,
    },
    Return {
        build: Ref,
        lines: Vec<LineQuantity>,
        occurred_on: Option<Date>,
    },
    /// Reserved stock goes to the build's staging bin.
    Pick {
        build: Ref,
        lines: Vec<PickedLine>,
        occurred_on: Option<Date>,
    },
}

/// An order line as it is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewOrderLine {
    pub part: Ref,
    pub quantity: Quantity,
    pub unit: Option<Unit>,
    pub price: Option<Money>,
    pub for_line: Option<(Ref, i32)>,
}

/// What came of one order line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ReceiptLine {
    pub line: i32,
    pub quantity: Option<Quantity>,
    pub bin: Ref,
    pub lot: String,
    pub expires_on: Option<Date>,
    pub over_accepted_by: Option<String>,
}

/// Who cancelled: two different facts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum CancelledBy {
    Us,
    Supplier,
}

/// What becomes of a rejected quantity of an order line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Settlement {
    /// The supplier delivers again: it is on order again.
    Redelivery,
    /// The supplier will not: it counts as cancelled by the supplier.
    Credit,
}

/// Where a rejected quantity is, or goes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Rejection {
    /// Refused at the door: it never was in stock.
    Refused,
    /// Received before; it goes from the bin back to the supplier.
    SentBack {
        /// Where it lies.
        bin: Ref,
        /// Its lot.
        lot: String,
        /// It lies there in quarantine.
        from_quarantine: bool,
    },
    /// Received before; it stays in the bin, in quarantine.
    Quarantined {
        /// Where it lies.
        bin: Ref,
        /// Its lot.
        lot: String,
    },
}

/// Orders from draft to receipt. Empty `lines` of despatch, contact and cancel
/// mean every open line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum OrderCommand {
    Create {
        number: Number,
        supplier: Ref,
        lines: Vec<NewOrderLine>,
        placed_on: Option<Date>,
    },
    Place {
        order: Ref,
        occurred_on: Option<Date>,
    },
    Acknowledge {
        order: Ref,
        supplier_reference: String,
        promises: Vec<(i32, Option<Date>)>,
        occurred_on: Option<Date>,
    },
    Despatch {
        order: Ref,
        lines: Vec<i32>,
        occurred_on: Option<Date>,
    },
    Contact {
        order: Ref,
        lines: Vec<i32>,
        note: String,
        occurred_on: Option<Date>,
    },
    Receive {
        order: Ref,
        lines: Vec<ReceiptLine>,
        occurred_on: Option<Date>,
    },
    Cancel {
        order: Ref,
        lines: Vec<i32>,
        quantity: Option<Quantity>,
        by: CancelledBy,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Goods of a line that are not as ordered.
    Reject {
        order: Ref,
        line: i32,
        quantity: Quantity,
        how: Rejection,
        settlement: Settlement,
        reason: String,
        occurred_on: Option<Date>,
    },
}

/// What a command needs to have loaded: every part, build and order that it
/// names. The loader adds what hangs on them (see [`crate::book::Book`]).
/// Bins, suppliers, closures and settings are always loaded.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scope {
    /// Parts named (kits bring their components, at every depth).
    pub parts: Vec<Ref>,
    /// Parts of which a line must be there if any is, of builds and orders that are over too.
    pub used: Vec<Ref>,
    /// Builds named (they bring all their lines' parts).
    pub builds: Vec<Ref>,
    /// Orders named (they bring all their lines' parts).
    pub orders: Vec<Ref>,
    /// Tokens are needed.
    pub tokens: bool,
    /// The whole shop.
    pub all: bool,
}

impl Command {
    /// What the command needs to have loaded.
    #[must_use]
    pub fn scope(&self) -> Scope {
        let mut scope = Scope::default();
        let number = |number: &Number| Ref::Number(number.clone());
        match self {
            Self::UpdateSettings { .. }
            | Self::AddClosures { .. }
            | Self::RemoveClosures { .. }
            | Self::CreateSupplier { .. }
            | Self::UpdateSupplier { .. }
            | Self::CreateBin { .. } => {}
            Self::CreatePart { part } => part_scope(part, &mut scope),
            Self::UpdatePart { target, part, .. } => {
                scope.parts.push(target.clone());
                scope.used.push(target.clone());
                part_scope(part, &mut scope);
            }
            Self::PutOffer { offer, .. } => scope.parts.push(offer.part.clone()),
            Self::Stock(command) => stock_scope(command, &mut scope),
            Self::Build(command) => match command {
                BuildCommand::Create { number: n, lines, .. } => {
                    scope.builds.push(number(n));
                    scope.parts.extend(lines.iter().map(|line| line.part.clone()));
                }
                BuildCommand::AddLines { build, lines } => {
                    scope.builds.push(build.clone());
                    scope.parts.extend(lines.iter().map(|line| line.part.clone()));
                }
                BuildCommand::Update { build, .. }
                | BuildCommand::ChangeLine { build, .. }
                | BuildCommand::Open { build, .. }
                | BuildCommand::Hold { build, .. }
                | BuildCommand::Resume { build, .. }
                | BuildCommand::PutInBay { build, .. }
                | BuildCommand::BeginStage { build, .. }
                | BuildCommand::FinishStage { build, .. }
                | BuildCommand::MarkReady { build, .. }
                | BuildCommand::Deliver { build, .. }
                | BuildCommand::Cancel { build, .. }
                | BuildCommand::AddAwaited { build, .. }
                | BuildCommand::ExpectAwaited { build, .. }
                | BuildCommand::ReceiveAwaited { build, .. }
                | BuildCommand::DropAwaited { build, .. } => scope.builds.push(build.clone()),
                BuildCommand::Substitute { build, part, .. } => {
                    scope.builds.push(build.clone());
                    scope.parts.push(part.clone());
                }
            },
            Self::Bind(command) => match command {
                BindCommand::Peg { build, order, .. } | BindCommand::Unpeg { build, order, .. } => {
                    scope.builds.push(build.clone());
                    scope.orders.push(order.clone());
                }
                BindCommand::Reserve { build, .. }
                | BindCommand::Release { build, .. }
                | BindCommand::Issue { build, .. }
                | BindCommand::Return { build, .. }
                | BindCommand::Pick { build, .. } => scope.builds.push(build.clone()),
            },
            Self::Make(command) => match command {
                MakeCommand::RecordMade { build, .. }
                | MakeCommand::SendOut { build, .. }
                | MakeCommand::PromiseBack { build, .. }
                | MakeCommand::CameBack { build, .. } => scope.builds.push(build.clone()),
            },
            Self::Order(command) => match command {
                OrderCommand::Create { number: n, lines, .. } => {
                    scope.orders.push(number(n));
                    for line in lines {
                        scope.parts.push(line.part.clone());
                        scope.builds.extend(line.for_line.iter().map(|(build, _)| build.clone()));
                    }
                }
                OrderCommand::Place { order, .. }
                | OrderCommand::Acknowledge { order, .. }
                | OrderCommand::Despatch { order, .. }
                | OrderCommand::Contact { order, .. }
                | OrderCommand::Receive { order, .. }
                | OrderCommand::Cancel { order, .. }
                | OrderCommand::Reject { order, .. } => scope.orders.push(order.clone()),
            },
            Self::IssueToken { .. } | Self::RevokeToken { .. } => scope.tokens = true,
        }
        scope
    }
}

fn part_scope(part: &NewPart, scope: &mut Scope) {
    scope.parts.push(Ref::Number(part.number.clone()));
    scope.parts.extend(part.components.iter().map(|(component, _)| component.clone()));
    scope.parts.extend(part.superseded_by.iter().chain(&part.companions).cloned());
}

fn stock_scope(command: &StockCommand, scope: &mut Scope) {
    match command {
        StockCommand::Adjust { at, .. }
        | StockCommand::Move { at, .. }
        | StockCommand::Scrap { at, .. }
        | StockCommand::Quarantine { at, .. }
        | StockCommand::ReleaseQuarantine { at, .. }
        | StockCommand::ReturnToSupplier { at, .. }
        | StockCommand::Receive { at, .. } => scope.parts.push(at.part.clone()),
        StockCommand::Found { build, .. } => scope.builds.push(build.clone()),
    }
}
