//! Lines of a purchase order.

use super::money::{Price, price};
use super::quantity::{decimal, line_number};
use baystart_proto::v1;

/// `PART=QTY[@PRICE][>BUILD:LINE]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The shop's part number.
    pub part: String,
    /// In the part's base unit.
    pub quantity: String,
    /// Absent: the offer's price.
    pub price: Option<Price>,
    /// The build line that it is ordered for.
    pub for_line: Option<(String, i32)>,
}

impl Line {
    /// As the API has it; prices without a currency are in `currency`.
    #[must_use]
    pub fn to_message(&self, currency: &str) -> v1::NewOrderLine {
        v1::NewOrderLine {
            part: super::part(&self.part),
            quantity: decimal(&self.quantity),
            unit_code: String::new(),
            price: self.price.as_ref().map(|price| price.money(currency)),
            for_line: self
                .for_line
                .as_ref()
                .and_then(|(build, line)| super::build_line(build, *line)),
        }
    }
}

/// Reads `HD-1042=2`, `HD-1042=2@12.50` or `HD-1042=2@12.50>B-1042:3`. As a
/// shell takes an unquoted `>` for itself, `,for=B-1042:3` says the same.
///
/// # Errors
/// The part, the quantity or what follows them is not of that form.
pub fn line(text: &str) -> Result<Line, String> {
    let wrong = || {
        "is not PART=QTY[@PRICE][,for=BUILD:LINE]; write for example HD-1042=2@12.50,for=B-1042:3"
            .to_owned()
    };
    let (part, rest) = text.split_once('=').ok_or_else(wrong)?;
    let (rest, for_line) = match rest.split_once(",for=").or_else(|| rest.split_once('>')) {
        Some((rest, line)) => (rest, Some(build_line(line).map_err(|_| wrong())?)),
        None => (rest, None),
    };
    let (quantity, price) = match rest.split_once('@') {
        Some((quantity, amount)) => (quantity, Some(price(amount.trim())?)),
        None => (rest, None),
    };
    let (part, quantity) = (part.trim().to_owned(), quantity.trim().to_owned());
    if part.is_empty() || quantity.is_empty() || quantity.contains(',') {
        return Err(wrong());
    }
    Ok(Line { part, quantity, price, for_line })
}

/// Reads `BUILD:LINE`; a build number may hold a colon itself.
fn build_line(text: &str) -> Result<(String, i32), String> {
    let (build, line) = text.rsplit_once(':').ok_or("a build line is BUILD:LINE")?;
    if build.trim().is_empty() {
        return Err("the build number is missing".to_owned());
    }
    Ok((build.trim().to_owned(), line_number(line.trim())?))
}

/// Reads `LINE=DATE`, or `LINE` for an answer without a date.
///
/// # Errors
/// The line is not a number from 1, or the date is not full.
pub fn promise(text: &str) -> Result<v1::LinePromise, String> {
    let (line, promised_on) = match text.split_once('=') {
        Some((line, day)) => (line, Some(super::date::date(day.trim())?)),
        None => (text, None),
    };
    Ok(v1::LinePromise { line_number: line_number(line.trim())?, promised_on })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn lines() {
        let plain = line("HD-1042=2").unwrap();
        assert_eq!((plain.part.as_str(), plain.quantity.as_str()), ("HD-1042", "2"));
        assert_eq!((plain.price, plain.for_line), (None, None));
        let full = line("HD-1042=2.5@12.50EUR>B-1042:3").unwrap();
        assert_eq!(full.quantity, "2.5");
        assert_eq!(full.price.as_ref().unwrap().units, 12);
        assert_eq!(full.for_line, Some(("B-1042".to_owned(), 3)));
        assert_eq!(line("HD-1042=2.5@12.50EUR,for=B-1042:3").unwrap(), full);
        assert_eq!(line("HD-1042=1,for=B-1:2").unwrap().for_line, Some(("B-1".to_owned(), 2)));
        for wrong in [
            "HD-1042",
            "=2",
            "HD-1042=",
            "A=2@",
            "A=2>B-1",
            "A=2>B-1:0",
            "A=2>:3",
            "A=1,B=2",
            "A=2@x",
        ] {
            assert!(line(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn the_message() {
        let sent = line("HD-1042=2@12.50>B-1042:3").unwrap().to_message("GBP");
        assert_eq!(sent.quantity.unwrap().value, "2");
        assert_eq!(sent.price.unwrap().currency_code, "GBP");
        assert_eq!(sent.for_line.unwrap().line_number, 3);
    }

    #[test]
    fn promises() {
        let dated = promise("2=2026-10-05").unwrap();
        assert_eq!((dated.line_number, dated.promised_on.unwrap().day), (2, 5));
        assert_eq!(promise("2").unwrap().promised_on, None);
        for wrong in ["2=", "2=2026-10", "x=2026-10-05", "0=2026-10-05"] {
            assert!(promise(wrong).is_err(), "{wrong}");
        }
    }
}
