//! Stages and lines of a build.

use super::quantity::{decimal, part_quantity};
use baystart_proto::v1;

/// Reads `NAME=DAYS`, for example `Electrical=3`, or `NAME=DAYS@FIRM` for work
/// off site, for example `Wrap=4@SKYE`.
///
/// # Errors
/// A name or a whole number of days is missing, or the firm after an `@`.
pub fn stage(text: &str) -> Result<v1::NewStage, String> {
    let wrong =
        || "is not NAME=DAYS[@FIRM]; write for example Electrical=3 or Wrap=4@SKYE".to_owned();
    let (name, rest) = text.rsplit_once('=').ok_or_else(wrong)?;
    let (days, firm) = match rest.split_once('@') {
        Some((_, firm)) if firm.trim().is_empty() => return Err(wrong()),
        Some((days, firm)) => (days, Some(firm.trim())),
        None => (rest, None),
    };
    let planned_days = days.trim().parse().map_err(|_| wrong())?;
    if name.trim().is_empty() {
        return Err(wrong());
    }
    let off_site = firm.and_then(super::supplier);
    Ok(v1::NewStage { name: name.trim().to_owned(), planned_days, off_site })
}

/// Reads `PART=QTY@STAGE`, for example `HD-1042=2@Electrical`.
///
/// # Errors
/// One of the three is missing.
pub fn line(text: &str) -> Result<v1::NewBuildLine, String> {
    let wrong = || "is not PART=QTY@STAGE; write for example HD-1042=2@Electrical".to_owned();
    // The stage's name may hold anything, so it is cut at the first @ after the
    // quantity has begun.
    let (part, rest) = text.split_once('=').ok_or_else(wrong)?;
    let (quantity, stage) = rest.split_once('@').ok_or_else(wrong)?;
    if stage.trim().is_empty() {
        return Err(wrong());
    }
    let read = part_quantity(&format!("{part}={quantity}")).map_err(|_| wrong())?;
    Ok(new_line(stage, &read.part, &read.quantity))
}

/// Reads a line as [`line`] does, of a part that the customer brings.
///
/// # Errors
/// As [`line`].
pub fn customer_line(text: &str) -> Result<v1::NewBuildLine, String> {
    Ok(v1::NewBuildLine { customer_supplied: true, ..line(text)? })
}

/// A line that is to be added.
#[must_use]
pub fn new_line(stage: &str, part: &str, quantity: &str) -> v1::NewBuildLine {
    v1::NewBuildLine {
        stage_name: stage.trim().to_owned(),
        part: super::part(part.trim()),
        quantity: decimal(quantity),
        unit_code: String::new(),
        customer_supplied: false,
    }
}

/// The columns of a file of lines, for messages.
const COLUMNS: &str = "stage, part, quantity, customer_supplied";

#[derive(serde::Deserialize)]
struct LineRow {
    stage: String,
    part: String,
    quantity: String,
    #[serde(default)]
    customer_supplied: String,
}

impl LineRow {
    fn line(&self) -> Result<v1::NewBuildLine, String> {
        let customer_supplied = match self.customer_supplied.to_ascii_lowercase().as_str() {
            "" | "no" | "false" | "0" => false,
            "yes" | "true" | "1" => true,
            other => return Err(format!("customer_supplied is \"{other}\", not yes or no")),
        };
        let line = new_line(&self.stage, &self.part, &self.quantity);
        Ok(v1::NewBuildLine { customer_supplied, ..line })
    }
}

/// Reads lines from CSV with the columns stage, part and quantity, and with
/// customer_supplied (yes or no) where the customer brings some.
///
/// # Errors
/// One message a bad row, with its line number in the file.
pub fn lines_csv(bytes: &[u8]) -> Result<Vec<v1::NewBuildLine>, Vec<String>> {
    let mut reader = super::csv_reader(bytes);
    let bad_row = |error: &csv::Error| super::bad_row(error, COLUMNS);
    let header = reader.headers().cloned().map_err(|error| vec![bad_row(&error)])?;
    let (mut lines, mut wrong) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let row = record.and_then(|record| {
            let place = record.position().map_or(0, csv::Position::line);
            record.deserialize::<LineRow>(Some(&header)).map(|row| (place, row))
        });
        match row.map(|(place, row)| (place, row.line())) {
            Ok((_, Ok(line))) => lines.push(line),
            Ok((place, Err(message))) => wrong.push(format!("line {place}: {message}")),
            Err(error) => wrong.push(bad_row(&error)),
        }
    }
    if wrong.is_empty() { Ok(lines) } else { Err(wrong) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn stages() {
        let read = stage("Body and paint=10").unwrap();
        assert_eq!((read.name.as_str(), read.planned_days), ("Body and paint", 10));
        assert_eq!(read.off_site, None);
        let away = stage("Wrap = 4 @ SKYE").unwrap();
        assert_eq!((away.name.as_str(), away.planned_days), ("Wrap", 4));
        assert_eq!(away.off_site, super::super::supplier("SKYE"));
        let odd = stage("Fit=out @ rear=2").unwrap();
        assert_eq!((odd.name.as_str(), odd.off_site), ("Fit=out @ rear", None));
        for wrong in [
            "Electrical",
            "=3",
            "Electrical=",
            "Electrical=two",
            "Electrical=1.5",
            "Wrap=4@",
            "Wrap=@SKYE",
        ] {
            assert!(stage(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn lines() {
        assert_eq!(line("A@B=2@Left @ front").unwrap(), new_line("Left @ front", "A@B", "2"));
        for wrong in ["A=2", "A@Electrical", "=2@Electrical", "A=@Electrical", "A=2@"] {
            assert!(line(wrong).is_err(), "{wrong}");
        }
        let brought = customer_line("A=2@Trim").unwrap();
        assert!(brought.customer_supplied && !line("A=2@Trim").unwrap().customer_supplied);
    }

    #[test]
    fn lines_from_a_file() {
        let file = b"\xef\xbb\xbfpart,stage,quantity\nHD-1042,Electrical,2\n\"HD,9\", Trim ,1.5\n";
        let read = lines_csv(file).unwrap();
        assert_eq!(read, [new_line("Electrical", "HD-1042", "2"), new_line("Trim", "HD,9", "1.5")]);
        assert_eq!(
            lines_csv(b"stage;part;quantity\r\nTrim;A;1\r\n").unwrap(),
            [new_line("Trim", "A", "1")]
        );
        let brought = b"stage,part,quantity,customer_supplied\nTrim,A,1,\nTrim,B,1,Yes\n";
        let brought = lines_csv(brought).unwrap();
        assert_eq!(brought.iter().map(|l| l.customer_supplied).collect::<Vec<_>>(), [false, true]);
        let wrong = b"stage,part,quantity,customer_supplied\nTrim,A,1,no\nTrim,B,1,his\n";
        let wrong = lines_csv(wrong).unwrap_err();
        assert_eq!(wrong, ["line 3: customer_supplied is \"his\", not yes or no"]);
        let wrong = lines_csv(b"stage,part,quantity\nTrim,A,1\nTrim,B\n").unwrap_err();
        assert_eq!(wrong, ["line 3: 2 fields where the header line has 3"]);
        let wrong = lines_csv(b"stage,part\nTrim,A\n").unwrap_err();
        assert_eq!(wrong.len(), 1);
        assert!(wrong[0].contains("quantity"), "{wrong:?}");
    }
}
