//! `pick`: what is to be fetched for a build, and what was.

use super::builds;
use crate::cli::answer::visible;
use crate::cli::fail::Failure;
use crate::cli::parse;
use crate::cli::parse::quantity::{LineInBin, decimal, line_in_bin};
use crate::cli::session::{NOTHING, Session};
use crate::cli::show::pick as show;
use crate::cli::show::text::quoted;
use baystart_core::quantity::Quantity;
use baystart_proto::v1;

/// A build's pick list, or what of it was picked.
#[derive(Clone, Debug, clap::Args)]
pub struct PickArgs {
    /// The build's number
    build: String,
    /// Picked: LINE[=QTY][@BIN], once a line [default: print the pick list]
    #[arg(value_name = "LINE[=QTY][@BIN]", value_parser = line_in_bin)]
    picked: Vec<LineInBin>,
    /// Everything on the list was picked, but for what is --missing
    #[arg(long, conflicts_with = "picked")]
    all: bool,
    /// Not found in the bin: LINE[=QTY][@BIN], once a line; becomes variance in the same step
    #[arg(long, value_name = "LINE[=QTY][@BIN]", value_parser = line_in_bin)]
    missing: Vec<LineInBin>,
    /// Only this stage [default: every stage that is not done]
    #[arg(long)]
    stage: Option<String>,
    /// Batch or serial number, where a line lies in one bin in several lots
    #[arg(long)]
    lot: Option<String>,
}

impl PickArgs {
    /// Whether something was picked, so that `--on` says when.
    #[must_use]
    pub fn takes_day(&self) -> bool {
        self.all || !self.picked.is_empty() || !self.missing.is_empty()
    }
}

/// Runs the command.
///
/// # Errors
/// A line lies in several places, or the server refused.
pub async fn run(s: &mut Session<'_>, args: PickArgs) -> Result<(), Failure> {
    if !args.takes_day() {
        return print(s, &args).await;
    }
    let list = read(s, &args).await?;
    let lines = confirmed(&list.lines, &args).map_err(Failure::Usage)?;
    if lines.is_empty() {
        return s.unchanged();
    }
    let request = v1::ConfirmPickRequest {
        request_id: s.request_id(),
        build: parse::build(&args.build),
        lines,
        occurred_on: s.on(),
    };
    let response = s.builds().confirm_pick(request).await?.into_inner();
    s.wrote(&response, NOTHING, Some(format!("ready {}", quoted(&args.build))))
}

async fn print(s: &mut Session<'_>, args: &PickArgs) -> Result<(), Failure> {
    let (console, json) = (s.console, s.global.json);
    // A person wants to know which vehicle, and which parts are safety related.
    let build = if json { v1::Build::default() } else { builds::read(s, &args.build).await? };
    let build = visible(&v1::GetBuildResponse { build: Some(build) }).build.unwrap_or_default();
    let list = read(s, args).await?;
    s.show(&list, |list| show::list(console, list, &build))
}

async fn read(s: &Session<'_>, args: &PickArgs) -> Result<v1::GetPickListResponse, Failure> {
    let request = v1::GetPickListRequest {
        build: parse::build(&args.build),
        stage_name: args.stage.clone().unwrap_or_default(),
    };
    Ok(s.builds().get_pick_list(request).await?.into_inner())
}

/// What is to be booked: the named lines, each with the bin and lot that the
/// list has for it.
fn confirmed(list: &[v1::PickLine], args: &PickArgs) -> Result<Vec<v1::PickedLine>, String> {
    let mut rows: Vec<v1::PickedLine> = Vec::new();
    if args.all {
        for line in list {
            let row = at(&mut rows, line.line_number, &line.bin_code, &line.lot);
            row.picked.clone_from(&line.quantity);
        }
    }
    for wanted in &args.picked {
        for place in places(list, wanted, args.lot.as_deref())? {
            at(&mut rows, wanted.line_number, &place.bin, &place.lot).picked = place.quantity;
        }
    }
    for wanted in &args.missing {
        for place in places(list, wanted, args.lot.as_deref())? {
            let row = at(&mut rows, wanted.line_number, &place.bin, &place.lot);
            if args.all {
                row.picked = less(row.picked.as_ref(), place.quantity.as_ref());
            }
            row.missing = place.quantity;
        }
    }
    Ok(rows)
}

/// The row of a line, bin and lot, made where there is none.
fn at<'r>(
    rows: &'r mut Vec<v1::PickedLine>,
    line_number: i32,
    bin: &str,
    lot: &str,
) -> &'r mut v1::PickedLine {
    let bin = parse::bin(bin);
    let same =
        |row: &v1::PickedLine| row.line_number == line_number && row.bin == bin && row.lot == lot;
    let index = rows.iter().position(same).unwrap_or_else(|| {
        let lot = lot.to_owned();
        rows.push(v1::PickedLine { line_number, bin, lot, ..v1::PickedLine::default() });
        rows.len() - 1
    });
    &mut rows[index]
}

/// What is left of a quantity; what does not read is left to the server.
fn less(all: Option<&v1::Decimal>, missing: Option<&v1::Decimal>) -> Option<v1::Decimal> {
    let parsed = |value: Option<&v1::Decimal>| Quantity::parse(&value?.value).ok();
    let left = (parsed(all)? - parsed(missing)?).or_zero();
    decimal(&left.to_string())
}

/// A bin and lot of a line, with the quantity meant there.
struct PlaceOf {
    bin: String,
    lot: String,
    quantity: Option<v1::Decimal>,
}

fn places(
    list: &[v1::PickLine],
    wanted: &LineInBin,
    lot: Option<&str>,
) -> Result<Vec<PlaceOf>, String> {
    let LineInBin { line_number, quantity, bin } = wanted;
    let same_bin = |code: &str| bin.as_ref().is_none_or(|bin| bin.eq_ignore_ascii_case(code));
    let listed: Vec<&v1::PickLine> = list
        .iter()
        .filter(|line| line.line_number == *line_number && same_bin(&line.bin_code))
        .filter(|line| lot.is_none_or(|lot| lot == line.lot))
        .collect();
    let place = |line: &&v1::PickLine, quantity| PlaceOf {
        bin: line.bin_code.clone(),
        lot: line.lot.clone(),
        quantity,
    };
    match (quantity, listed.as_slice(), bin) {
        (None, [], _) => Err(format!(
            "nothing of line {line_number} is left to pick there; baystart pick BUILD lists what is"
        )),
        (None, lines, _) => {
            Ok(lines.iter().map(|line| place(line, line.quantity.clone())).collect())
        }
        (Some(quantity), [line], _) => Ok(vec![place(line, decimal(quantity))]),
        // Found in a bin that the list does not name: the server judges.
        (Some(quantity), [], Some(bin)) => Ok(vec![PlaceOf {
            bin: bin.clone(),
            lot: lot.unwrap_or_default().to_owned(),
            quantity: decimal(quantity),
        }]),
        (Some(_), [], None) => Err(format!(
            "nothing of line {line_number} is left to pick; where it was found all the same, say so: \
             {line_number}=QTY@BIN"
        )),
        (Some(quantity), lines, _) => {
            let where_ = |line: &&v1::PickLine| match line.lot.as_str() {
                "" => line.bin_code.clone(),
                lot => format!("{} lot {lot}", line.bin_code),
            };
            let several: Vec<String> = lines.iter().map(where_).collect();
            Err(format!(
                "line {line_number} lies in {}; say {line_number}={quantity}@BIN, and --lot where \
                 a bin has several",
                several.join(" and ")
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn line(line_number: i32, bin: &str, lot: &str, quantity: &str) -> v1::PickLine {
        v1::PickLine {
            line_number,
            bin_code: bin.into(),
            lot: lot.into(),
            quantity: decimal(quantity),
            ..v1::PickLine::default()
        }
    }

    fn list() -> Vec<v1::PickLine> {
        vec![line(1, "A1", "", "4"), line(2, "A1", "", "1"), line(2, "B2", "L1", "3")]
    }

    fn args(picked: &[&str], missing: &[&str], all: bool) -> PickArgs {
        let read = |words: &[&str]| words.iter().map(|word| line_in_bin(word).unwrap()).collect();
        let (picked, missing) = (read(picked), read(missing));
        PickArgs { build: "B-1".into(), picked, all, missing, stage: None, lot: None }
    }

    /// `1 A1 4-0`: line, bin, picked and missing.
    fn said(rows: &[v1::PickedLine]) -> Vec<String> {
        let value = |d: &Option<v1::Decimal>| d.clone().map_or("none".into(), |d| d.value);
        let mut out = Vec::new();
        for row in rows {
            let Some(v1::bin_ref::Ref::Code(bin)) = row.bin.clone().unwrap().r#ref else {
                continue;
            };
            let (picked, missing) = (value(&row.picked), value(&row.missing));
            out.push(format!("{} {bin}{} {picked} {missing}", row.line_number, row.lot));
        }
        out
    }

    #[test]
    fn everything_but_what_is_missing() {
        let rows = confirmed(&list(), &args(&[], &["1=1"], true)).unwrap();
        assert_eq!(said(&rows), ["1 A1 3 1", "2 A1 1 none", "2 B2L1 3 none"]);
        let rows = confirmed(&list(), &args(&[], &["2@b2"], true)).unwrap();
        assert_eq!(said(&rows), ["1 A1 4 none", "2 A1 1 none", "2 B2L1 0 3"]);
    }

    #[test]
    fn named_lines_with_the_lists_bin_and_lot() {
        let rows = confirmed(&list(), &args(&["1=2.5", "2=2@B2"], &["2=1@B2"], false)).unwrap();
        assert_eq!(said(&rows), ["1 A1 2.5 none", "2 B2L1 2 1"]);
        let rows = confirmed(&list(), &args(&["2"], &[], false)).unwrap();
        assert_eq!(said(&rows), ["2 A1 1 none", "2 B2L1 3 none"]);
        let rows = confirmed(&list(), &args(&["1=1@C3"], &[], false)).unwrap();
        assert_eq!(said(&rows), ["1 C3 1 none"]);
        for (words, why) in [
            ("2=1", "lies in A1 and B2 lot L1"),
            ("7=1", "nothing of line 7"),
            ("7", "nothing of line 7"),
        ] {
            let wrong = confirmed(&list(), &args(&[words], &[], false)).unwrap_err();
            assert!(wrong.contains(why), "{wrong}");
        }
    }
}
