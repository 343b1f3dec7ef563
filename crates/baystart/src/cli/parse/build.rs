//! Stages and lines of a build.

use super::quantity::{decimal, part_quantity};
use baystart_proto::v1;

/// Reads `NAME=DAYS`, for example `Electrical=3`.
///
/// # Errors
/// A name or a whole number of days is missing.
pub fn stage(text: &str) -> Result<v1::NewStage, String> {
    let wrong = || "is not NAME=DAYS; write for example Electrical=3".to_owned();
    let (name, days) = text.rsplit_once('=').ok_or_else(wrong)?;
    let planned_days = days.trim().parse().map_err(|_| wrong())?;
    if name.trim().is_empty() {
        return Err(wrong());
    }
    Ok(v1::NewStage { name: name.trim().to_owned(), planned_days, off_site: None })
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

#[derive(serde::Deserialize)]
struct Row {
    stage: String,
    part: String,
    quantity: String,
}

/// Reads lines from CSV with the columns stage, part and quantity.
///
/// # Errors
/// One message a bad row, with its line number in the file.
pub fn lines_csv(bytes: &[u8]) -> Result<Vec<v1::NewBuildLine>, Vec<String>> {
    let without_mark = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let header = without_mark.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let delimiter = if header.contains(&b';') && !header.contains(&b',') { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(without_mark);
    let (mut lines, mut wrong) = (Vec::new(), Vec::new());
    for row in reader.deserialize::<Row>() {
        match row {
            Ok(row) => lines.push(new_line(&row.stage, &row.part, &row.quantity)),
            Err(error) => wrong.push(bad_row(&error)),
        }
    }
    if wrong.is_empty() { Ok(lines) } else { Err(wrong) }
}

fn bad_row(error: &csv::Error) -> String {
    let place = error.position().map_or(String::new(), |place| format!("line {}: ", place.line()));
    match error.kind() {
        csv::ErrorKind::Deserialize { err, .. } => {
            format!("{place}{}; the columns are stage, part, quantity", err.kind())
        }
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!("{place}{len} fields where the header line has {expected_len}")
        }
        _ => format!("{place}{error}"),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn stages() {
        let read = stage("Body and paint=10").unwrap();
        assert_eq!((read.name.as_str(), read.planned_days), ("Body and paint", 10));
        for wrong in ["Electrical", "=3", "Electrical=", "Electrical=two", "Electrical=1.5"] {
            assert!(stage(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn lines() {
        assert_eq!(line("A@B=2@Left @ front").unwrap(), new_line("Left @ front", "A@B", "2"));
        for wrong in ["A=2", "A@Electrical", "=2@Electrical", "A=@Electrical", "A=2@"] {
            assert!(line(wrong).is_err(), "{wrong}");
        }
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
        let wrong = lines_csv(b"stage,part,quantity\nTrim,A,1\nTrim,B\n").unwrap_err();
        assert_eq!(wrong, ["line 3: 2 fields where the header line has 3"]);
        let wrong = lines_csv(b"stage,part\nTrim,A\n").unwrap_err();
        assert_eq!(wrong.len(), 1);
        assert!(wrong[0].contains("quantity"), "{wrong:?}");
    }
}
