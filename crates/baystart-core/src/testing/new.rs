//! Plain parts, offers, orders and builds, as commands carry them.

use super::{by, number, qty};
use crate::command::{
    BinQuantity, BuildCommand, BuildFields, Command, NewLine, NewMade, NewOffer, NewOrderLine,
    NewPart, NewStage, ReceiptLine,
};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::civil::Date;

/// A quantity, as a test may write it: 2, "2.5" or a quantity.
pub trait Amount {
    /// It as a quantity.
    fn amount(self) -> Quantity;
}

impl Amount for i64 {
    fn amount(self) -> Quantity {
        Quantity::whole(self)
    }
}

impl Amount for &str {
    fn amount(self) -> Quantity {
        qty(self)
    }
}

impl Amount for Quantity {
    fn amount(self) -> Quantity {
        self
    }
}

/// A part in pieces that is nothing special.
#[must_use]
pub fn part(text: &str) -> NewPart {
    NewPart {
        number: number(text),
        description: format!("Part {text}"),
        unit: Unit::parse("C62").unwrap(),
        consumable: false,
        safety_related: false,
        lot_tracked: false,
        components: Vec::new(),
        made: NewMade::Listed,
        family: String::new(),
        finish: String::new(),
        made_to_order: false,
        superseded_by: None,
        companions: Vec::new(),
        stocked: None,
        gtin: String::new(),
        handling_note: String::new(),
    }
}

/// A number alone is a plain part.
impl From<&str> for NewPart {
    fn from(text: &str) -> Self {
        part(text)
    }
}

/// What one of a kit or an assembly takes.
pub fn components<Q: Amount + Copy>(list: &[(&str, Q)]) -> Vec<(Ref, Quantity)> {
    list.iter().map(|(part, quantity)| (by(part), quantity.amount())).collect()
}

/// What a supplier quotes for a part, with no terms beside the lead time in calendar days.
#[must_use]
pub fn offer(supplier: &str, part: &str, quoted_days: impl Into<Option<u32>>) -> NewOffer {
    NewOffer {
        supplier: by(supplier),
        part: by(part),
        item_number: String::new(),
        price: None,
        pack_size: None,
        minimum_quantity: None,
        quoted_days: quoted_days.into(),
        preferred: false,
    }
}

/// A stage with its planned working days.
#[must_use]
pub fn stage(name: &str, planned_days: u32) -> NewStage {
    NewStage { name: number(name), planned_days, off_site: None }
}

/// A requirement of the stage Body.
#[must_use]
pub fn need(part: &str, quantity: impl Amount) -> NewLine {
    NewLine {
        stage: "Body".to_owned(),
        part: by(part),
        quantity: quantity.amount(),
        unit: None,
        fitted_before: Quantity::ZERO,
        customer_supplied: false,
    }
}

/// Part, stage and whole quantity are a requirement.
impl From<(&str, &str, i64)> for NewLine {
    fn from((part, stage, quantity): (&str, &str, i64)) -> Self {
        Self { stage: stage.to_owned(), ..need(part, quantity) }
    }
}

/// A build before it is quoted.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct NewBuild {
    pub number: String,
    pub fields: BuildFields,
    pub stages: Vec<NewStage>,
    pub lines: Vec<NewLine>,
    pub for_stock: bool,
}

impl NewBuild {
    /// For a customer, of priority 100, without dates; stages Body (3 working days) and Electrical (2).
    pub fn of<L: Clone + Into<NewLine>>(number: &str, lines: &[L]) -> Self {
        Self {
            number: number.to_owned(),
            fields: BuildFields {
                vehicle: "Rescue vehicle".to_owned(),
                customer: String::new(),
                priority: 100,
                planned_start: None,
                required_by: None,
                staging_bin: None,
            },
            stages: vec![stage("Body", 3), stage("Electrical", 2)],
            lines: lines.iter().cloned().map(Into::into).collect(),
            for_stock: false,
        }
    }

    /// The same, served by this priority and wanted to start on this day.
    #[must_use]
    pub fn served(mut self, priority: i32, planned_start: Option<Date>) -> Self {
        self.fields.priority = priority;
        self.fields.planned_start = planned_start;
        self
    }

    /// The command that quotes it.
    #[must_use]
    pub fn create(self) -> Command {
        Command::Build(BuildCommand::Create {
            number: number(&self.number),
            fields: self.fields,
            stages: self.stages,
            lines: self.lines,
            for_stock: self.for_stock,
        })
    }
}

/// One line of an order, for a build line where one is given.
#[must_use]
pub fn order_line(
    part: &str,
    quantity: impl Amount,
    for_line: Option<(&str, i32)>,
) -> NewOrderLine {
    NewOrderLine {
        part: by(part),
        quantity: quantity.amount(),
        unit: None,
        price: None,
        for_line: for_line.map(|(build, line)| (by(build), line)),
    }
}

/// A line of an order, and the day for which the supplier promises it.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub struct Ordered {
    pub line: NewOrderLine,
    pub promised_on: Option<Date>,
}

impl From<NewOrderLine> for Ordered {
    fn from(line: NewOrderLine) -> Self {
        Self { line, promised_on: None }
    }
}

/// Part, whole quantity and promised day.
impl From<(&str, i64, Option<Date>)> for Ordered {
    fn from((part, quantity, promised_on): (&str, i64, Option<Date>)) -> Self {
        Self { line: order_line(part, quantity, None), promised_on }
    }
}

/// A quantity of a part and lot in a bin.
#[must_use]
pub fn at(part: &str, bin: &str, lot: &str, quantity: impl Amount) -> BinQuantity {
    BinQuantity { part: by(part), bin: by(bin), lot: lot.to_owned(), quantity: quantity.amount() }
}

/// What came of an order's line into bin A1; all that is outstanding where no quantity is given.
#[must_use]
pub fn receipt(line: i32, quantity: Option<&str>) -> ReceiptLine {
    ReceiptLine {
        line,
        quantity: quantity.map(qty),
        bin: by("A1"),
        lot: String::new(),
        expires_on: None,
        over_accepted_by: None,
    }
}
