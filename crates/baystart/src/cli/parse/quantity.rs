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

/// `PART=QTY` in one word, or a part and a quantity in two.
///
/// # Errors
/// The quantity is missing, or told twice.
pub fn one_or_two(part: &str, quantity: Option<&str>) -> Result<PartQuantity, String> {
    match quantity {
        None => part_quantity(part).map_err(|wrong| format!("{part} {wrong}")),
        Some(quantity) => Ok(PartQuantity { part: part.to_owned(), quantity: quantity.to_owned() }),
    }
}

/// `LINE[=QTY][@BIN]`: what of a line was found, or not, in a bin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineInBin {
    /// From 1.
    pub line_number: i32,
    /// Absent: all of it.
    pub quantity: Option<String>,
    /// Absent: the bin that the pick list names.
    pub bin: Option<String>,
}

/// Reads `3`, `3=2`, `3@A1` or `3=2@A1`.
///
/// # Errors
/// The line is not a number from 1, or the quantity or bin is empty.
pub fn line_in_bin(text: &str) -> Result<LineInBin, String> {
    let wrong = || "is not LINE[=QTY][@BIN]; write for example 3=2@A1".to_owned();
    let (line, bin) = match text.split_once('@') {
        Some((_, bin)) if bin.trim().is_empty() => return Err(wrong()),
        Some((line, bin)) => (line, Some(bin.trim().to_owned())),
        None => (text, None),
    };
    let LineQuantity { line_number, quantity } = line_quantity(line).map_err(|_| wrong())?;
    Ok(LineInBin { line_number, quantity, bin })
}

/// Reads `LINE=QTY`.
///
/// # Errors
/// One of the two is missing, or the line is not a number from 1.
pub fn line_with_quantity(text: &str) -> Result<(i32, String), String> {
    match line_quantity(text) {
        Ok(LineQuantity { line_number, quantity: Some(quantity) }) => Ok((line_number, quantity)),
        _ => Err("is not LINE=QTY; write for example 3=2.5".to_owned()),
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

/// Reads the number of a thing that a build awaits, from 1.
///
/// # Errors
/// It is not a number from 1.
pub fn item_number(text: &str) -> Result<i32, String> {
    line_number(text).map_err(|_| {
        "is not the number of a thing awaited; baystart build show lists them".to_owned()
    })
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
    fn a_line_in_a_bin() {
        let read = line_in_bin("3=1.5@A-1").unwrap();
        assert_eq!((read.line_number, read.quantity.as_deref()), (3, Some("1.5")));
        assert_eq!(read.bin.as_deref(), Some("A-1"));
        assert_eq!(line_in_bin("3").unwrap().bin, None);
        assert_eq!(line_in_bin("3@A1").unwrap().quantity, None);
        for wrong in ["", "3@", "3=@A1", "@A1", "x=1@A1"] {
            assert!(line_in_bin(wrong).is_err(), "{wrong}");
        }
        assert_eq!(line_with_quantity("3=2").unwrap(), (3, "2".to_owned()));
        assert!(line_with_quantity("3").is_err() && line_with_quantity("3=").is_err());
    }

    #[test]
    fn the_server_judges_quantities() {
        assert_eq!(decimal("+3").unwrap().value, "3");
        assert_eq!(decimal("-2").unwrap().value, "-2");
        assert_eq!(decimal("2.0001").unwrap().value, "2.0001");
    }
}
