//! The small forms in which people write lines, dates and prices.
//!
//! Quantities stay text: the server judges them, so that one rule holds for
//! every client.

pub mod build;
pub mod date;
pub mod made;
pub mod money;
pub mod order;
pub mod percent;
pub mod quantity;
pub mod quote;
mod relative;
pub mod suppose;
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

/// A reader of a small file with a header line: comma or semicolon, with or without a byte order mark.
#[must_use]
pub fn csv_reader(bytes: &[u8]) -> csv::Reader<&[u8]> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let header = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let delimiter = if header.contains(&b';') && !header.contains(&b',') { b';' } else { b',' };
    csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).from_reader(bytes)
}

/// What is wrong with a row that cannot be read, with its line number in the file.
#[must_use]
pub fn bad_row(error: &csv::Error, columns: &str) -> String {
    let place = error.position().map_or(String::new(), |place| format!("line {}: ", place.line()));
    match error.kind() {
        csv::ErrorKind::Deserialize { err, .. } => {
            format!("{place}{}; the columns are {columns}", err.kind())
        }
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!("{place}{len} fields where the header line has {expected_len}")
        }
        _ => format!("{place}{error}"),
    }
}
