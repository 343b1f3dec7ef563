//! Cells of one row to exact values, every fault noted under its column.

use super::Price;
use crate::import::Cells;
use baystart_core::book::model::StockPolicy;
use baystart_core::command::NewMade;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_proto::convert::{Reader, scalar};
use jiff::Timestamp;
use jiff::civil::Date;

/// A row while it is read; a cell that does not read is None, its fault noted
/// under the column.
pub(crate) struct Cursor<'a> {
    pub(crate) cells: &'a Cells,
    pub(crate) read: Reader,
}

impl Cursor<'_> {
    pub(crate) fn number(&mut self, column: &'static str) -> Option<Number> {
        self.read.number(column, self.cells.get(column))
    }

    /// Notes a cell that is not written as the file's are.
    pub(super) fn misread(&mut self, column: &'static str, reason: Reason) -> Option<()> {
        let Some(form) = self.cells.misread(column) else { return Some(()) };
        let shown = scalar::shown(self.cells.get(column));
        self.read.fault(column, reason, format!("\"{shown}\" is not of the form {form}"));
        None
    }

    /// Nothing or more; an empty cell is nothing.
    pub(super) fn some_or_none(&mut self, column: &'static str) -> Option<Quantity> {
        self.misread(column, Reason::QuantityInvalid)?;
        match self.cells.get(column) {
            "" => Some(Quantity::ZERO),
            text => {
                let quantity = self.read.take(column, scalar::quantity(text))?;
                if quantity.is_zero() {
                    return Some(quantity);
                }
                self.quantity(column)
            }
        }
    }

    /// A number of a line, from 1.
    #[allow(clippy::option_option)]
    pub(super) fn maybe_line(&mut self, column: &'static str) -> Option<Option<i32>> {
        let Some(line) = self.whole(column)? else { return Some(None) };
        let line = i32::try_from(line).unwrap_or(0);
        self.read.line_number(column, line).map(Some)
    }

    /// Numbers that are separated by `|`.
    pub(super) fn numbers(&mut self, column: &'static str) -> Option<Vec<Number>> {
        let text = self.cells.get(column);
        let mut numbers = Vec::new();
        for text in text.split('|').map(str::trim).filter(|text| !text.is_empty()) {
            numbers.push(self.read.number(column, text)?);
        }
        Some(numbers)
    }

    /// An instant, for example `2026-09-14T07:00:00Z`.
    #[allow(clippy::option_option)]
    pub(super) fn instant(&mut self, column: &'static str) -> Option<Option<Timestamp>> {
        let text = self.cells.get(column);
        if text.is_empty() {
            return Some(None);
        }
        let instant = text.parse().ok();
        if instant.is_none() {
            let shown = scalar::shown(text);
            let message = format!("\"{shown}\" is no instant of the form 2026-09-14T07:00:00Z");
            self.read.fault(column, Reason::DateInvalid, message);
        }
        instant.map(Some)
    }

    /// How something is made; None where the cells are empty.
    #[allow(clippy::option_option)]
    pub(super) fn made(&mut self) -> Option<Option<NewMade>> {
        let days = self.whole("made_in_shop_days");
        let firm = self.maybe_number("finished_by");
        let quoted = self.whole("finisher_days");
        match (days?, firm?, quoted?) {
            (None, None, None) => Some(None),
            (Some(working_days), None, None) => Some(Some(NewMade::InShop { working_days })),
            (None, Some(firm), quoted_days) => {
                let supplier = Ref::Number(firm);
                Some(Some(NewMade::AtFinisher { supplier, quoted_days }))
            }
            (None, None, Some(_)) => {
                self.read.fault(
                    "finished_by",
                    Reason::FieldMissing,
                    "is needed with finisher_days",
                );
                None
            }
            (Some(_), _, _) => {
                let message = "is made in the shop or finished outside, not both";
                self.read.fault("finished_by", Reason::ValueInvalid, message);
                None
            }
        }
    }

    /// How the part is kept in stock; None where no service level is given.
    #[allow(clippy::option_option)]
    pub(super) fn stocked(&mut self) -> Option<Option<StockPolicy>> {
        let service = self.cells.get("stocked_service").trim();
        let days = self.whole("stocked_cover_days");
        let least = self.some_or_none("stocked_least");
        if service.is_empty() {
            return Some(None);
        }
        let permille = service.parse().ok().and_then(scalar::permille);
        if permille.is_none() {
            let message =
                format!("\"{service}\" is not between 0.5 and 0.999, in whole thousandths");
            self.read.fault("stocked_service", Reason::ValueInvalid, message);
        }
        let usual = StockPolicy::default();
        let cover_days = match days? {
            None => usual.cover_days,
            Some(days) => u16::try_from(days).unwrap_or(u16::MAX),
        };
        Some(Some(StockPolicy { service_permille: permille?, cover_days, least: least? }))
    }

    #[allow(clippy::option_option)]
    pub(super) fn maybe_number(&mut self, column: &'static str) -> Option<Option<Number>> {
        match self.cells.get(column) {
            "" => Some(None),
            text => self.read.number(column, text).map(Some),
        }
    }

    pub(super) fn text(&mut self, column: &'static str) -> Option<String> {
        self.read.text(column, self.cells.get(column))
    }

    pub(super) fn need_text(&mut self, column: &'static str) -> Option<String> {
        self.read.need_text(column, self.cells.get(column))
    }

    #[allow(clippy::option_option)]
    pub(crate) fn date(&mut self, column: &'static str) -> Option<Option<Date>> {
        self.misread(column, Reason::DateInvalid)?;
        match self.cells.get(column) {
            "" => Some(None),
            text => self.read.take(column, scalar::date_text(text)).map(Some),
        }
    }

    pub(crate) fn need_date(&mut self, column: &'static str) -> Option<Date> {
        match self.date(column)? {
            Some(date) => Some(date),
            None => {
                self.read.fault(column, Reason::FieldMissing, "is needed");
                None
            }
        }
    }

    /// More than nothing.
    #[allow(clippy::option_option)]
    pub(crate) fn maybe_quantity(&mut self, column: &'static str) -> Option<Option<Quantity>> {
        self.misread(column, Reason::QuantityInvalid)?;
        let text = self.cells.get(column);
        if text.is_empty() {
            return Some(None);
        }
        let quantity = self.read.take(column, scalar::quantity(text))?;
        if !quantity.is_positive() {
            let message = match quantity.is_zero() {
                true => "0 is nothing: leave the row out, or say how many".to_owned(),
                false => format!("{quantity} is not above 0"),
            };
            self.read.fault(column, Reason::QuantityInvalid, message);
            return None;
        }
        Some(Some(quantity))
    }

    pub(crate) fn quantity(&mut self, column: &'static str) -> Option<Quantity> {
        match self.maybe_quantity(column)? {
            Some(quantity) => Some(quantity),
            None => {
                self.read.fault(column, Reason::FieldMissing, "is needed");
                None
            }
        }
    }

    pub(super) fn flag(&mut self, column: &'static str) -> Option<bool> {
        let text = self.cells.get(column);
        match text.to_lowercase().as_str() {
            "" | "no" | "n" | "false" | "0" | "-" => Some(false),
            "yes" | "y" | "true" | "1" | "x" => Some(true),
            _ => {
                let message = format!("\"{}\" is neither yes nor no", scalar::shown(text));
                self.read.fault(column, Reason::ValueInvalid, message);
                None
            }
        }
    }

    #[allow(clippy::option_option)]
    pub(crate) fn whole(&mut self, column: &'static str) -> Option<Option<u32>> {
        let text = self.cells.get(column);
        if text.is_empty() {
            return Some(None);
        }
        match text.parse::<u32>().ok().filter(|n| *n <= 1_000_000_000) {
            Some(whole) => Some(Some(whole)),
            None => {
                let message = format!("\"{}\" is no whole number from 0", scalar::shown(text));
                self.read.fault(column, Reason::ValueInvalid, message);
                None
            }
        }
    }

    #[allow(clippy::option_option)]
    pub(super) fn price(&mut self) -> Option<Option<Price>> {
        self.misread("price", Reason::MoneyInvalid)?;
        let (price, code) = (self.cells.get("price"), self.cells.get("currency"));
        let currency = match code {
            "" => Ok(None),
            code => scalar::currency(code).map(Some),
        };
        let currency = self.read.take("currency", currency)?;
        if price.is_empty() {
            return Some(None);
        }
        // Any currency will do to read an amount; the shop's own replaces it.
        let reading = match currency {
            Some(currency) => currency,
            None => self.read.take("currency", scalar::currency("GBP"))?,
        };
        let amount = self.read.take("price", scalar::money_text(price, reading))?;
        Some(Some(Price::new(amount, currency.is_none())))
    }
}
