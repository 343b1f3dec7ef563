//! A part with a quantity, a line with a quantity, and plain quantities.

use baystart_proto::v1;

/// A quantity as text; the server judges it.
#[must_use]
pub fn decimal(text: &str) -> Option<v1::Decimal> {
    let text = text.trim();
    Some(v1::Decimal { value: text.strip_prefix('+').unwrap_or(text).to_owned() })
}

/// `PART=QTY`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartQuantity {
    /// The shop's part number.
    pub part: String,
    /// In the part's base unit.
    pub quantity: String,
}

/// Reads `PART=QTY`, for example `HD-1042=2`.
///
/// # Errors
/// One of the two is missing.
pub fn part_quantity(text: &str) -> Result<PartQuantity, String> {
    match text.split_once('=') {
        Some((part, quantity)) if !part.trim().is_empty() && !quantity.trim().is_empty() => {
            Ok(PartQuantity { part: part.trim().to_owned(), quantity: quantity.trim().to_owned() })
        }
        _ => Err("is not PART=QTY; write for example HD-1042=2".to_owned()),
    }
}

/// Reads `PART=QTY,PART=QTY,...`; nothing at all is an empty list.
///
/// # Errors
/// As [`part_quantity`].
pub fn part_quantities(text: &str) -> Result<Kit, String> {
    let mut list = Vec::new();
    for one in text.split(',') {
        if !one.trim().is_empty() {
            list.push(part_quantity(one)?);
        }
    }
    Ok(Kit(list))
}

/// The parts that a kit stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kit(pub Vec<PartQuantity>);

impl Kit {
    /// As the API has them.
    #[must_use]
    pub fn components(&self) -> Vec<v1::KitComponent> {
        let mut components = Vec::new();
        for one in &self.0 {
            components.push(v1::KitComponent {
                part: super::part(&one.part),
                quantity: decimal(&one.quantity),
            });
        }
        components
    }
}

/// `LINE[=QTY]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineQuantity {
    /// From 1.
    pub line_number: i32,
    /// Absent: all of it.
    pub quantity: Option<String>,
}

impl LineQuantity {
    /// As the API has it, with the lot and bin that hold for the command.
    #[must_use]
    pub fn to_message(&self, lot: Option<&str>, bin: Option<&str>) -> v1::LineQuantity {
        v1::LineQuantity {
            line_number: self.line_number,
            quantity: self.quantity.as_deref().and_then(decimal),
            lot: lot.unwrap_or_default().to_owned(),
            bin: bin.and_then(super::bin),
        }
    }
}

/// Reads `3` or `3=2.5`.
///
/// # Errors
/// The line is not a number from 1, or the quantity is empty.
pub fn line_quantity(text: &str) -> Result<LineQuantity, String> {
    let (line, quantity) = match text.split_once('=') {
        Some((_, quantity)) if quantity.trim().is_empty() => return Err(not_line_quantity()),
        Some((line, quantity)) => (line, Some(quantity.trim().to_owned())),
        None => (text, None),
    };
    let line_number = line_number(line.trim()).map_err(|_| not_line_quantity())?;
    Ok(LineQuantity { line_number, quantity })
}

fn not_line_quantity() -> String {
    "is not LINE or LINE=QTY; write for example 3 or 3=2.5".to_owned()
}

/// Reads a line number, from 1.
///
/// # Errors
/// It is not a number from 1.
pub fn line_number(text: &str) -> Result<i32, String> {
    match text.parse::<i32>() {
        Ok(number) if number >= 1 => Ok(number),
        _ => Err("is not a line number; lines count from 1".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_part_and_how_much() {
        let read = part_quantity(" HD-1042 = 2.5 ").unwrap();
        assert_eq!((read.part.as_str(), read.quantity.as_str()), ("HD-1042", "2.5"));
        for wrong in ["HD-1042", "=2", "HD-1042=", ""] {
            assert!(part_quantity(wrong).is_err(), "{wrong}");
        }
        assert_eq!(part_quantities("A=1,B=2,").unwrap().0.len(), 2);
        assert!(part_quantities("").unwrap().0.is_empty());
        assert!(part_quantities("A=1,B").is_err());
    }

    #[test]
    fn a_line_and_how_much() {
        assert_eq!(line_quantity("3").unwrap(), LineQuantity { line_number: 3, quantity: None });
        assert_eq!(line_quantity("3=1.5").unwrap().quantity.as_deref(), Some("1.5"));
        for wrong in ["0", "-1", "x", "3=", "=3", "1.5"] {
            assert!(line_quantity(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn the_server_judges_quantities() {
        assert_eq!(decimal("+3").unwrap().value, "3");
        assert_eq!(decimal("-2").unwrap().value, "-2");
        assert_eq!(decimal("2.0001").unwrap().value, "2.0001");
    }
}
