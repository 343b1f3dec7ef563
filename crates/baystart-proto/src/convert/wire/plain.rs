//! Small values, effects and what a commit was given.

use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::Role;
use baystart_core::decide::words::said;
use baystart_core::decide::{Effect, EffectKind};
use baystart_core::money::Money;
use baystart_core::quantity::Quantity;
use jiff::Timestamp;
use jiff::civil::Date;

/// A civil date.
#[must_use]
pub fn date(date: Date) -> v1::Date {
    v1::Date {
        year: i32::from(date.year()),
        month: i32::from(date.month()),
        day: i32::from(date.day()),
    }
}

/// An exact decimal, without trailing zeros.
#[must_use]
pub fn decimal(quantity: Quantity) -> v1::Decimal {
    v1::Decimal { value: quantity.to_string() }
}

/// An amount of money.
#[must_use]
pub fn money(money: Money) -> v1::Money {
    let nanos = (money.ten_thousandths % 10_000) * 100_000;
    v1::Money {
        currency_code: money.currency.code().to_owned(),
        units: money.ten_thousandths / 10_000,
        nanos: i32::try_from(nanos).unwrap_or(0),
    }
}

/// An instant, to the microsecond that is kept.
#[must_use]
pub fn timestamp(instant: Timestamp) -> prost_types::Timestamp {
    let micros = instant.as_microsecond();
    let nanos = micros.rem_euclid(1_000_000) * 1000;
    prost_types::Timestamp {
        seconds: micros.div_euclid(1_000_000),
        nanos: i32::try_from(nanos).unwrap_or(0),
    }
}

/// The etag of a row's version; callers treat it as opaque.
#[must_use]
pub fn etag(version: i64) -> String {
    format!("v{version}")
}

/// The role of a wire number, if it is one.
#[must_use]
pub fn role_of(number: i32) -> Option<Role> {
    match v1::Role::try_from(number).ok()? {
        v1::Role::Unspecified => None,
        v1::Role::Parts => Some(Role::Parts),
        v1::Role::Sales => Some(Role::Sales),
        v1::Role::Workshop => Some(Role::Workshop),
        v1::Role::ReadOnly => Some(Role::ReadOnly),
        v1::Role::Admin => Some(Role::Admin),
    }
}

/// A role on the wire.
#[must_use]
pub const fn role(role: Role) -> v1::Role {
    match role {
        Role::Parts => v1::Role::Parts,
        Role::Sales => v1::Role::Sales,
        Role::Workshop => v1::Role::Workshop,
        Role::ReadOnly => v1::Role::ReadOnly,
        Role::Admin => v1::Role::Admin,
    }
}

const fn effect_kind(kind: EffectKind) -> v1::EffectKind {
    match kind {
        EffectKind::Booked => v1::EffectKind::Booked,
        EffectKind::Reserved => v1::EffectKind::Reserved,
        EffectKind::Released => v1::EffectKind::Released,
        EffectKind::Pegged => v1::EffectKind::Pegged,
        EffectKind::Unpegged => v1::EffectKind::Unpegged,
        EffectKind::Short => v1::EffectKind::Short,
        EffectKind::Displaced => v1::EffectKind::Displaced,
        EffectKind::OverIssued => v1::EffectKind::OverIssued,
        EffectKind::State => v1::EffectKind::State,
        EffectKind::Caution => v1::EffectKind::Caution,
    }
}

/// One thing that a command did; `book` is the one that the command left.
#[must_use]
pub fn effect(book: &Book, effect: &Effect) -> v1::Effect {
    let said = said(book, effect);
    v1::Effect {
        kind: effect_kind(said.kind).into(),
        text: said.text,
        part_number: said.part.to_owned(),
        quantity: said.quantity.map(decimal),
        build_number: said.build.to_owned(),
        stage_name: said.stage.to_owned(),
        line_number: said.line,
        order_number: said.order.to_owned(),
        order_line_number: said.order_line,
        bin_code: said.bin.to_owned(),
        lot: said.lot.to_owned(),
    }
}

/// What a committed command was given.
#[must_use]
pub fn commit(revision: i64, recorded_at: Timestamp, effects: Vec<v1::Effect>) -> v1::Commit {
    v1::Commit { revision, recorded_at: Some(timestamp(recorded_at)), effects }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::convert::scalar;
    use baystart_core::money::Currency;

    #[test]
    fn values_come_back_as_they_went() {
        let day = jiff::civil::date(2026, 9, 14);
        assert_eq!(scalar::date(&date(day)).unwrap(), day);
        for milli in [0, 1, 1500, -2_125, 1_000_000_000_000] {
            let quantity = Quantity::from_milli(milli);
            assert_eq!(scalar::quantity(&decimal(quantity).value).unwrap(), quantity);
        }
        for text in ["0", "12.5", "0.0001", "99999999999.9999"] {
            let amount = Money::parse(text, Currency::parse("EUR").unwrap()).unwrap();
            assert_eq!(scalar::money(&money(amount)).unwrap(), amount);
        }
        for number in 1..=5 {
            assert_eq!(i32::from(role(role_of(number).unwrap())), number);
        }
        assert_eq!((role_of(0), role_of(6)), (None, None));
    }

    #[test]
    fn instants_before_1970_keep_positive_nanos() {
        let instant = Timestamp::from_microsecond(-1).unwrap();
        let wire = timestamp(instant);
        assert_eq!((wire.seconds, wire.nanos), (-1, 999_999_000));
    }
}
