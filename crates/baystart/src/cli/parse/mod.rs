//! The small forms in which people write lines, dates and prices.
//!
//! Quantities stay text: the server judges them, so that one rule holds for
//! every client.

pub mod build;
pub mod date;
pub mod made;
pub mod money;
pub mod order;
pub mod quantity;
pub mod quote;
pub mod week;

use baystart_proto::v1;

/// A part by the shop's part number.
#[must_use]
pub fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

/// A supplier by its short code.
#[must_use]
pub fn supplier(code: &str) -> Option<v1::SupplierRef> {
    Some(v1::SupplierRef { r#ref: Some(v1::supplier_ref::Ref::Code(code.to_owned())) })
}

/// A bin by its code.
#[must_use]
pub fn bin(code: &str) -> Option<v1::BinRef> {
    Some(v1::BinRef { r#ref: Some(v1::bin_ref::Ref::Code(code.to_owned())) })
}

/// A build by the shop's build number.
#[must_use]
pub fn build(number: &str) -> Option<v1::BuildRef> {
    Some(v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number(number.to_owned())) })
}

/// A purchase order by the shop's order number.
#[must_use]
pub fn order(number: &str) -> Option<v1::OrderRef> {
    Some(v1::OrderRef { r#ref: Some(v1::order_ref::Ref::Number(number.to_owned())) })
}

/// One line of a build.
#[must_use]
pub fn build_line(number: &str, line_number: i32) -> Option<v1::BuildLineRef> {
    Some(v1::BuildLineRef { build: build(number), line_number })
}
