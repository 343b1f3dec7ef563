//! Facts as they stood elsewhere, for imports only: a build with its lines as
//! they are, an open order with its line numbers, what lines hold. Commands ask
//! for what is to be done; these say what is, and nothing follows from them anew.

use crate::book::model::{AwaitedKind, BuildState, CustomerPromise, Promise};
use crate::command::{BuildFields, NewMade};
use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use jiff::Timestamp;
use jiff::civil::Date;

/// What is taken over as it stood.
#[derive(Clone, Debug, PartialEq)]
pub enum Restored {
    /// A build with stages and lines; it holds nothing yet.
    Build(Box<RestoredBuild>),
    /// What a build waits for that no order brings.
    Awaited {
        /// Whose.
        build: Ref,
        /// Each with its number.
        items: Vec<RestoredAwaited>,
    },
    /// An order of which something is open; nothing is pegged to it yet.
    Order(RestoredOrder),
    /// What lines hold; nothing else is bound by it.
    Bindings(Vec<RestoredBinding>),
    /// Binds what is free to the lines of these builds, and these orders to the
    /// lines that they are for.
    Bind {
        /// Builds.
        builds: Vec<Ref>,
        /// Orders.
        orders: Vec<Ref>,
    },
}

/// A build as it stood; see `Build`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredBuild {
    pub number: Number,
    pub fields: BuildFields,
    pub for_stock: bool,
    pub state: BuildState,
    pub held_from: Option<BuildState>,
    pub note: String,
    pub customer_promises: Vec<CustomerPromise>,
    pub delivered_on: Option<Date>,
    /// None: now, where the build was ever opened.
    pub opened_at: Option<Timestamp>,
    pub stages: Vec<RestoredStage>,
    pub lines: Vec<RestoredLine>,
}

/// A stage as it stood; see `Stage`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredStage {
    pub name: Number,
    pub planned_days: u32,
    pub off_site: Option<Ref>,
    pub begun_on: Option<Date>,
    pub done_on: Option<Date>,
}

/// A build line as it stood; see `Line`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredLine {
    pub number: i32,
    pub stage: String,
    pub part: Ref,
    pub quantity: Quantity,
    /// What is at a finisher or used up included.
    pub issued: Quantity,
    pub kit_line: i32,
    pub made_for: i32,
    pub exploded: bool,
    pub customer_supplied: bool,
    pub making: Option<RestoredMaking>,
    /// What of the line is with the finisher of the line that it is made for, by
    /// lot (empty where the part has none).
    pub at_finisher: Vec<(String, Quantity)>,
    pub substituted: Option<RestoredSubstitution>,
}

/// What of a line was made for it; see `Making`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredMaking {
    /// None: as the part is made.
    pub how: Option<NewMade>,
    pub quantity: Quantity,
    pub done: Quantity,
    pub out: Quantity,
    pub sent_on: Option<Date>,
    pub back_on: Option<Date>,
    pub promises: Vec<Promise>,
}

/// An accepted alternative; see `Substitution`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredSubstitution {
    pub instead_of: Ref,
    pub approved_by: String,
    pub reason: String,
    /// None: today.
    pub on: Option<Date>,
}

/// An awaited thing as it stood; see `Awaited`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredAwaited {
    /// None: the next.
    pub number: Option<i32>,
    pub kind: AwaitedKind,
    pub name: String,
    pub identification: String,
    pub source: String,
    pub stage: Option<String>,
    pub line: Option<i32>,
    /// None: today.
    pub asked_on: Option<Date>,
    pub quoted_days: Option<u32>,
    pub promises: Vec<Promise>,
    pub received_on: Option<Date>,
    pub dropped_on: Option<Date>,
}

/// An order of which something is open; see `Order`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredOrder {
    pub number: Number,
    pub supplier: Ref,
    pub supplier_reference: String,
    /// A line of a kit without pieces among them gets those of the kit's list.
    pub lines: Vec<RestoredOrderLine>,
}

/// An order line of which something is open; see `OrderLine`.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredOrderLine {
    pub number: i32,
    pub part: Ref,
    /// Still to come.
    pub quantity: Quantity,
    pub price: Option<Money>,
    /// None: as the supplier's offer says.
    pub quoted_days: Option<Option<u32>>,
    pub placed_on: Option<Date>,
    pub acknowledged_on: Option<Date>,
    pub promises: Vec<Promise>,
    /// Promises that were taken back, and on which day.
    pub taken_back: Vec<(Promise, Date)>,
    pub despatched_on: Option<Date>,
    /// None: the last day of the others.
    pub last_contact_on: Option<Date>,
    pub for_line: Option<(Ref, i32)>,
    /// The package whose piece it is, or 0.
    pub package_line: i32,
    pub rejected: Quantity,
}

/// Something that a line holds.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub struct RestoredBinding {
    pub build: Ref,
    pub line: i32,
    pub quantity: Quantity,
    pub what: RestoredSource,
}

/// Of what a line holds something.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum RestoredSource {
    /// Usable stock of this lot.
    Stock { lot: String },
    /// An order line; `kept`: ordered for the line, or pegged by a person.
    OrderLine { order: Ref, line: i32, kept: bool },
}
