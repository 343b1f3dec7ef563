//! Quote files: the lines of a package that nobody has ordered, with options.

use super::build::new_line;
use baystart_proto::v1;

/// The columns, for messages.
const COLUMNS: &str = "stage, days, off_site, part, quantity, customer_supplied, group, choice";

#[derive(serde::Deserialize)]
struct QuoteRow {
    stage: String,
    #[serde(default)]
    days: String,
    #[serde(default)]
    off_site: String,
    #[serde(default)]
    part: String,
    #[serde(default)]
    quantity: String,
    #[serde(default)]
    customer_supplied: String,
    #[serde(default)]
    group: String,
    #[serde(default)]
    choice: String,
}

/// A package: stages in the order of their first rows, lines, and groups of choices.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Quote {
    /// In the order of work.
    pub stages: Vec<v1::NewStage>,
    /// What every variant has.
    pub lines: Vec<v1::NewBuildLine>,
    /// Options.
    pub groups: Vec<v1::QuoteGroup>,
}

impl Quote {
    /// The lines with one choice of each group: the first, or the one that is asked for.
    ///
    /// # Errors
    /// A group or a choice that the package does not have.
    pub fn chosen(&self, asked: &[(String, String)]) -> Result<Vec<v1::NewBuildLine>, String> {
        let same = |a: &str, b: &str| a.eq_ignore_ascii_case(b);
        for (group, choice) in asked {
            let names = |names: Vec<&str>| names.join(", ");
            let Some(found) = self.groups.iter().find(|its| same(&its.name, group)) else {
                let known = names(self.groups.iter().map(|its| its.name.as_str()).collect());
                return Err(format!("no group \"{group}\" among: {known}"));
            };
            if !found.choices.iter().any(|its| same(&its.name, choice)) {
                let known = names(found.choices.iter().map(|its| its.name.as_str()).collect());
                return Err(format!("no choice \"{choice}\" in group {group} among: {known}"));
            }
        }
        let mut lines = self.lines.clone();
        for group in &self.groups {
            let wanted = asked.iter().rev().find(|(name, _)| same(name, &group.name));
            let choice = match wanted {
                Some((_, choice)) => group.choices.iter().find(|its| same(&its.name, choice)),
                None => group.choices.first(),
            };
            lines.extend(choice.into_iter().flat_map(|choice| choice.lines.clone()));
        }
        Ok(lines)
    }
}

/// Reads a quote file: CSV with a header line; a row with `days` (working days) names a stage, a row
/// with a part adds a line, one with group and choice only to that choice.
///
/// # Errors
/// One message a bad row, with its line number in the file.
pub fn csv(bytes: &[u8]) -> Result<Quote, Vec<String>> {
    let mut reader = super::csv_reader(bytes);
    let bad_row = |error: &csv::Error| super::bad_row(error, COLUMNS);
    let header = reader.headers().cloned().map_err(|error| vec![bad_row(&error)])?;
    let known: Vec<&str> = COLUMNS.split(", ").collect();
    let mut wrong: Vec<String> = header
        .iter()
        .filter(|column| !known.contains(column))
        .map(|column| format!("no column \"{column}\" is known; the columns are {COLUMNS}"))
        .collect();
    let mut quote = Quote::default();
    for record in reader.records() {
        let row = record.and_then(|record| {
            let place = record.position().map_or(0, csv::Position::line);
            record.deserialize::<QuoteRow>(Some(&header)).map(|row| (place, row))
        });
        match row {
            Ok((place, row)) => {
                let faults = add(&mut quote, &row);
                wrong.extend(faults.into_iter().map(|fault| format!("line {place}: {fault}")));
            }
            Err(error) => wrong.push(bad_row(&error)),
        }
    }
    if quote.stages.is_empty() && wrong.is_empty() {
        wrong.push("no row gives a stage its days".to_owned());
    }
    if wrong.is_empty() { Ok(quote) } else { Err(wrong) }
}

/// Adds a row; answers what is wrong with it.
fn add(quote: &mut Quote, row: &QuoteRow) -> Vec<String> {
    let mut wrong = Vec::new();
    if row.stage.is_empty() && (!row.days.is_empty() || !row.part.is_empty()) {
        wrong.push("stage is needed".to_owned());
    }
    if !row.days.is_empty() {
        match row.days.parse() {
            Ok(planned_days) => {
                let off_site = Some(&row.off_site).filter(|firm| !firm.is_empty());
                let off_site = off_site.and_then(|firm| super::supplier(firm));
                let name = row.stage.clone();
                quote.stages.push(v1::NewStage { name, planned_days, off_site });
            }
            Err(_) => wrong.push(format!("days is \"{}\", no whole number", row.days)),
        }
    }
    let customer_supplied = match row.customer_supplied.to_ascii_lowercase().as_str() {
        "" | "no" | "false" | "0" => false,
        "yes" | "true" | "1" => true,
        other => {
            wrong.push(format!("customer_supplied is \"{other}\", not yes or no"));
            false
        }
    };
    if row.group.is_empty() != row.choice.is_empty() {
        wrong.push("group and choice are given together".to_owned());
    }
    if row.part.is_empty() != row.quantity.is_empty() {
        wrong.push("part and quantity are given together".to_owned());
    }
    let line = (!row.part.is_empty()).then(|| v1::NewBuildLine {
        customer_supplied,
        ..new_line(&row.stage, &row.part, &row.quantity)
    });
    if row.group.is_empty() || row.choice.is_empty() {
        quote.lines.extend(line);
        return wrong;
    }
    let group = match quote.groups.iter().position(|group| group.name == row.group) {
        Some(at) => at,
        None => {
            let group = v1::QuoteGroup { name: row.group.clone(), choices: Vec::new() };
            quote.groups.push(group);
            quote.groups.len() - 1
        }
    };
    let Some(group) = quote.groups.get_mut(group) else { return wrong };
    match group.choices.iter_mut().find(|choice| choice.name == row.choice) {
        Some(choice) => choice.lines.extend(line),
        None => {
            let lines = line.into_iter().collect();
            group.choices.push(v1::QuoteChoice { name: row.choice.clone(), lines });
        }
    }
    wrong
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const FILE: &[u8] = b"stage,days,part,quantity,group,choice\n\
        Body,5,,,,\nElectrical,4,,,,\nBody,,RP-32,2,,\nBody,,WN-30,1,winch,standard\n\
        Body,,WN-35,1,winch,heavy\nBody,,WN-36,2,winch,heavy\nElectrical,,,,lights,none\n\
        Electrical,,WL-69,6,lights,work lights\n";

    fn parts(lines: &[v1::NewBuildLine]) -> Vec<String> {
        let number = |line: &v1::NewBuildLine| format!("{:?}", line.part);
        let short = |text: String| text.split('"').nth(1).unwrap_or_default().to_owned();
        lines.iter().map(number).map(short).collect()
    }

    #[test]
    fn stages_lines_and_choices() {
        let quote = csv(FILE).unwrap();
        let stages: Vec<_> =
            quote.stages.iter().map(|s| (s.name.as_str(), s.planned_days)).collect();
        assert_eq!(stages, [("Body", 5), ("Electrical", 4)]);
        assert_eq!(parts(&quote.lines), ["RP-32"]);
        let choices: Vec<Vec<&str>> = quote
            .groups
            .iter()
            .map(|group| group.choices.iter().map(|choice| choice.name.as_str()).collect())
            .collect();
        assert_eq!(choices, [vec!["standard", "heavy"], vec!["none", "work lights"]]);
        assert_eq!(parts(&quote.chosen(&[]).unwrap()), ["RP-32", "WN-30"]);
        let heavy = [("Winch".to_owned(), "HEAVY".to_owned())];
        assert_eq!(parts(&quote.chosen(&heavy).unwrap()), ["RP-32", "WN-35", "WN-36"]);
        let wrong = quote.chosen(&[("wheels".to_owned(), "wide".to_owned())]).unwrap_err();
        assert_eq!(wrong, "no group \"wheels\" among: winch, lights");
        let wrong = quote.chosen(&[("winch".to_owned(), "wide".to_owned())]).unwrap_err();
        assert_eq!(wrong, "no choice \"wide\" in group winch among: standard, heavy");
    }

    #[test]
    fn every_bad_row_is_named() {
        let wrong = csv(b"stage,days,part,quantity,group,choice\n,4,,,,\nBody,x,,,,\nBody,,A,,,\n\
            Body,,A,1,winch,\n")
        .unwrap_err();
        assert_eq!(
            wrong,
            [
                "line 2: stage is needed",
                "line 3: days is \"x\", no whole number",
                "line 4: part and quantity are given together",
                "line 5: group and choice are given together",
            ]
        );
        assert_eq!(csv(b"stage,part\nBody,A\n").unwrap_err().len(), 1);
        assert!(csv(b"stage,colour\n").unwrap_err()[0].contains("no column \"colour\""));
        assert_eq!(csv(b"stage,part,quantity\n").unwrap_err(), ["no row gives a stage its days"]);
    }
}
