//! Reads one request field by field and collects all that is wrong with it.

use super::scalar::{self, Scalar};
use crate::v1;
use baystart_core::book::model::Role;
use baystart_core::command::Command;
use baystart_core::money::Money;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::{Ref, RefKind};
use baystart_core::refusal::{Faults, FieldPath, Reason, nth};
use baystart_core::units::Unit;
use jiff::civil::Date;
use uuid::Uuid;

/// Most characters of a free text, as core keeps it.
pub const TEXT_CHARS_MAX: usize = 500;
/// Most entries of one list in a request, as core takes it.
pub const LINES_MAX: usize = 2000;

/// A command with the id under which it takes effect at most once.
#[derive(Clone, Debug, PartialEq)]
pub struct Write {
    /// The caller's id.
    pub request_id: Uuid,
    /// What is asked for.
    pub command: Command,
}

/// A reference that a request named, and in which field.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Which field.
    pub field: FieldPath,
    /// What it names.
    pub kind: RefKind,
    /// By which number or uid.
    pub reference: Ref,
}

/// A request that does not read: its faults, and the references that did read,
/// so that unknown ones can be reported together with the faults.
#[derive(Clone, Debug)]
pub struct Unread {
    /// All that is wrong, field by field.
    pub faults: Faults,
    /// What was named.
    pub named: Vec<Named>,
}

/// Collects faults and references while a request is read. A value that did
/// not read is None, its fault noted.
#[derive(Clone, Debug, Default)]
pub struct Reader {
    faults: Faults,
    named: Vec<Named>,
}

impl Reader {
    /// Nothing read so far.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Notes a fault.
    pub fn fault(
        &mut self,
        field: impl Into<FieldPath>,
        reason: Reason,
        message: impl Into<String>,
    ) {
        self.faults.push(field, reason, message);
    }

    /// Takes a value, or notes its fault under the field.
    pub fn take<T>(&mut self, field: impl Into<FieldPath>, value: Scalar<T>) -> Option<T> {
        self.faults.take(field, value)
    }

    fn missing<T>(&mut self, field: impl Into<FieldPath>) -> Option<T> {
        self.fault(field, Reason::FieldMissing, "is needed");
        None
    }

    /// The request id, which every write needs.
    pub fn request_id(&mut self, text: &str) -> Option<Uuid> {
        if text.trim().is_empty() {
            return self.missing("request_id");
        }
        let uuid = scalar::uuid(text);
        if uuid.is_none() {
            let message = format!("\"{}\" is no UUID", scalar::shown(text));
            self.fault("request_id", Reason::RequestIdInvalid, message);
        }
        uuid
    }

    /// Free text in one line; empty is allowed.
    pub fn text(&mut self, field: impl Into<FieldPath>, text: &str) -> Option<String> {
        self.take(field, scalar::text(text, TEXT_CHARS_MAX))
    }

    /// A note of several lines; empty is allowed.
    pub fn note(&mut self, field: impl Into<FieldPath>, text: &str) -> Option<String> {
        self.take(field, scalar::note(text, TEXT_CHARS_MAX))
    }

    /// Free text that may not be empty.
    pub fn need_text(&mut self, field: impl Into<FieldPath>, text: &str) -> Option<String> {
        if text.trim().is_empty() {
            return self.missing(field);
        }
        self.text(field, text)
    }

    /// A number or code.
    pub fn number(&mut self, field: impl Into<FieldPath>, text: &str) -> Option<Number> {
        self.take(field, scalar::number(text))
    }

    /// A date that may be absent: Some(None) when it is.
    #[allow(clippy::option_option)]
    pub fn date(
        &mut self,
        field: impl Into<FieldPath>,
        date: Option<&v1::Date>,
    ) -> Option<Option<Date>> {
        match date {
            None => Some(None),
            Some(date) => self.take(field, scalar::date(date)).map(Some),
        }
    }

    /// A date that is needed.
    pub fn need_date(
        &mut self,
        field: impl Into<FieldPath>,
        date: Option<&v1::Date>,
    ) -> Option<Date> {
        match date {
            None => self.missing(field),
            Some(date) => self.take(field, scalar::date(date)),
        }
    }

    /// A quantity that is needed, of either sign.
    pub fn signed(
        &mut self,
        field: impl Into<FieldPath>,
        decimal: Option<&v1::Decimal>,
    ) -> Option<Quantity> {
        match decimal {
            None => self.missing(field),
            Some(decimal) => self.take(field, scalar::quantity(&decimal.value)),
        }
    }

    /// A quantity that is needed and more than nothing.
    pub fn quantity(
        &mut self,
        field: impl Into<FieldPath>,
        decimal: Option<&v1::Decimal>,
    ) -> Option<Quantity> {
        let field = &field.into();
        let quantity = self.signed(field, decimal)?;
        if !quantity.is_positive() {
            let message = format!("{quantity} is not above 0");
            self.fault(field, Reason::QuantityInvalid, message);
            return None;
        }
        Some(quantity)
    }

    /// A quantity that may be absent and else is more than nothing.
    #[allow(clippy::option_option)]
    pub fn maybe_quantity(
        &mut self,
        field: impl Into<FieldPath>,
        decimal: Option<&v1::Decimal>,
    ) -> Option<Option<Quantity>> {
        match decimal {
            None => Some(None),
            Some(decimal) => self.quantity(field, Some(decimal)).map(Some),
        }
    }

    /// Money that may be absent.
    #[allow(clippy::option_option)]
    pub fn money(
        &mut self,
        field: impl Into<FieldPath>,
        money: Option<&v1::Money>,
    ) -> Option<Option<Money>> {
        match money {
            None => Some(None),
            Some(money) => self.take(field, scalar::money(money)).map(Some),
        }
    }

    /// A unit code that is needed.
    pub fn unit(&mut self, field: impl Into<FieldPath>, code: &str) -> Option<Unit> {
        if code.trim().is_empty() {
            return self.missing(field);
        }
        self.take(field, scalar::unit(code))
    }

    /// A unit code; empty is None.
    #[allow(clippy::option_option)]
    pub fn maybe_unit(&mut self, field: impl Into<FieldPath>, code: &str) -> Option<Option<Unit>> {
        if code.trim().is_empty() {
            return Some(None);
        }
        self.take(field, scalar::unit(code)).map(Some)
    }

    /// A whole number that is not negative.
    pub fn whole(&mut self, field: impl Into<FieldPath>, value: i32) -> Option<u32> {
        let whole = u32::try_from(value).ok();
        if whole.is_none() {
            self.fault(field, Reason::ValueInvalid, format!("{value} is less than 0"));
        }
        whole
    }

    /// A line number, from 1.
    pub fn line_number(&mut self, field: impl Into<FieldPath>, value: i32) -> Option<i32> {
        match value {
            0 => self.missing(field),
            1.. => Some(value),
            _ => {
                self.fault(
                    field,
                    Reason::ValueInvalid,
                    format!("{value}: lines are numbered from 1"),
                );
                None
            }
        }
    }

    /// Notes a list that is empty where it may not be, or too long; whether it
    /// is fit to read.
    pub fn list<T>(&mut self, field: impl Into<FieldPath>, list: &[T], needed: bool) -> bool {
        if needed && list.is_empty() {
            self.fault(field, Reason::FieldMissing, "at least one is needed");
        } else if list.len() > LINES_MAX {
            let message = format!("{} are more than {LINES_MAX}", list.len());
            self.fault(field, Reason::TooMany, message);
            return false;
        }
        true
    }

    /// Roles of a token, each once.
    pub fn roles(&mut self, field: impl Into<FieldPath>, roles: &[i32]) -> Option<Vec<Role>> {
        let field = &field.into();
        if !self.list(field, roles, true) {
            return None;
        }
        let mut out = Vec::new();
        for (i, role) in roles.iter().enumerate() {
            match super::wire::role_of(*role) {
                Some(role) if !out.contains(&role) => out.push(role),
                Some(_) => {}
                None => {
                    let message = format!("{role} is no role");
                    self.fault(nth(field, i), Reason::ValueInvalid, message);
                }
            }
        }
        Some(out)
    }

    /// A reference that was read, kept so that an unknown one can be reported.
    pub fn name(&mut self, field: impl Into<FieldPath>, kind: RefKind, reference: Ref) -> Ref {
        let named = Named { field: field.into(), kind, reference: reference.clone() };
        self.named.push(named);
        reference
    }

    fn reference(
        &mut self,
        field: impl Into<FieldPath>,
        kind: RefKind,
        text: Option<Result<&String, &String>>,
    ) -> Option<Ref> {
        let field = field.into();
        let reference = match text {
            None => return self.missing(field),
            Some(Ok(number)) => Ref::Number(self.number(&field, number)?),
            Some(Err(uid)) => match scalar::uuid(uid) {
                Some(uuid) => Ref::Uid(uuid),
                None => {
                    let message = format!("\"{}\" is no uid", scalar::shown(uid));
                    self.fault(field, Reason::ValueInvalid, message);
                    return None;
                }
            },
        };
        Some(self.name(field, kind, reference))
    }

    /// A part that is needed.
    pub fn part(&mut self, field: impl Into<FieldPath>, part: Option<&v1::PartRef>) -> Option<Ref> {
        use v1::part_ref::Ref as Wire;
        let text = part.and_then(|part| part.r#ref.as_ref()).map(|wire| match wire {
            Wire::Number(number) => Ok(number),
            Wire::Uid(uid) => Err(uid),
        });
        self.reference(field, RefKind::Part, text)
    }

    /// A supplier that is needed.
    pub fn supplier(
        &mut self,
        field: impl Into<FieldPath>,
        supplier: Option<&v1::SupplierRef>,
    ) -> Option<Ref> {
        use v1::supplier_ref::Ref as Wire;
        let text = supplier.and_then(|supplier| supplier.r#ref.as_ref()).map(|wire| match wire {
            Wire::Code(code) => Ok(code),
            Wire::Uid(uid) => Err(uid),
        });
        self.reference(field, RefKind::Supplier, text)
    }

    /// A bin that is needed.
    pub fn bin(&mut self, field: impl Into<FieldPath>, bin: Option<&v1::BinRef>) -> Option<Ref> {
        use v1::bin_ref::Ref as Wire;
        let text = bin.and_then(|bin| bin.r#ref.as_ref()).map(|wire| match wire {
            Wire::Code(code) => Ok(code),
            Wire::Uid(uid) => Err(uid),
        });
        self.reference(field, RefKind::Bin, text)
    }

    /// A build that is needed.
    pub fn build(
        &mut self,
        field: impl Into<FieldPath>,
        build: Option<&v1::BuildRef>,
    ) -> Option<Ref> {
        use v1::build_ref::Ref as Wire;
        let text = build.and_then(|build| build.r#ref.as_ref()).map(|wire| match wire {
            Wire::Number(number) => Ok(number),
            Wire::Uid(uid) => Err(uid),
        });
        self.reference(field, RefKind::Build, text)
    }

    /// An order that is needed.
    pub fn order(
        &mut self,
        field: impl Into<FieldPath>,
        order: Option<&v1::OrderRef>,
    ) -> Option<Ref> {
        use v1::order_ref::Ref as Wire;
        let text = order.and_then(|order| order.r#ref.as_ref()).map(|wire| match wire {
            Wire::Number(number) => Ok(number),
            Wire::Uid(uid) => Err(uid),
        });
        self.reference(field, RefKind::Order, text)
    }

    /// A line of a build: the build and the line's number.
    pub fn build_line(
        &mut self,
        field: impl Into<FieldPath>,
        line: Option<&v1::BuildLineRef>,
    ) -> Option<(Ref, i32)> {
        let field = &field.into();
        let Some(line) = line else {
            return self.missing(field);
        };
        let build = self.build(field.then("build"), line.build.as_ref());
        let number = self.line_number(field.then("line_number"), line.line_number);
        Some((build?, number?))
    }

    /// A line of an order: the order and the line's number.
    pub fn order_line(
        &mut self,
        field: impl Into<FieldPath>,
        line: Option<&v1::OrderLineRef>,
    ) -> Option<(Ref, i32)> {
        let field = &field.into();
        let Some(line) = line else {
            return self.missing(field);
        };
        let order = self.order(field.then("order"), line.order.as_ref());
        let number = self.line_number(field.then("line_number"), line.line_number);
        Some((order?, number?))
    }

    /// The value, when nothing was wrong.
    ///
    /// # Errors
    /// Every fault that was noted.
    pub fn finish<T>(mut self, value: Option<T>) -> Result<T, Unread> {
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => {
                if self.faults.is_empty() {
                    self.fault("", Reason::FieldsInvalid, "the request does not read");
                }
                Err(Unread { faults: self.faults, named: self.named })
            }
        }
    }

    /// The write, when nothing was wrong.
    ///
    /// # Errors
    /// Every fault that was noted.
    pub fn write(
        self,
        request_id: Option<Uuid>,
        command: impl FnOnce() -> Option<Command>,
    ) -> Result<Write, Unread> {
        let command = command();
        let write = request_id.zip(command);
        self.finish(write.map(|(request_id, command)| Write { request_id, command }))
    }
}
