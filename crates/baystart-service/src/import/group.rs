//! What rows of one or several files must have in common.

use super::columns::Kind;
use super::{BadRow, Cells, FileLine, Row, Sheets};
use baystart_core::number::Number;
use baystart_core::refs::RefKind;
use std::collections::{BTreeMap, BTreeSet};

/// Things whose own row is bad: a row that names one is not reported as naming
/// something unknown.
#[derive(Clone, Debug, Default)]
pub(crate) struct Doubtful(BTreeSet<(RefKind, String)>);

impl Doubtful {
    /// Notes what a bad row of a file would have added.
    pub(crate) fn add(&mut self, kind: Kind, cells: &Cells) {
        let (what, column) = match kind {
            Kind::Suppliers => (RefKind::Supplier, "code"),
            Kind::Parts => (RefKind::Part, "part"),
            Kind::Bins => (RefKind::Bin, "bin"),
            Kind::Builds | Kind::Stages | Kind::BuildLines | Kind::Awaited | Kind::Bindings => {
                (RefKind::Build, "build")
            }
            Kind::OpenOrders => (RefKind::Order, "order"),
            Kind::Kits
            | Kind::Offers
            | Kind::OpeningStock
            | Kind::ClosedDays
            | Kind::ClosedDaysIcs => return,
        };
        if let Ok(number) = Number::parse(cells.get(column)) {
            self.0.insert((what, number.normal().to_owned()));
        }
    }

    /// Whether a thing's own row is bad.
    pub(crate) fn has(&self, kind: RefKind, text: &str) -> bool {
        Number::parse(text).is_ok_and(|number| self.0.contains(&(kind, number.normal().to_owned())))
    }
}

/// Keeps the first row of each key, and reports the others.
fn once<T>(
    rows: &mut Vec<Row<T>>,
    bad: &mut Vec<BadRow>,
    column: &str,
    key: impl Fn(&T) -> String,
) {
    let mut seen: BTreeMap<String, FileLine> = BTreeMap::new();
    rows.retain(|row| match seen.get(&key(&row.value)) {
        Some(first) => {
            let reason = format!("stands in line {} already", first.line);
            bad.push(row.cells.bad(column, reason));
            false
        }
        None => {
            seen.insert(key(&row.value), row.cells.place);
            true
        }
    });
}

fn keys(numbers: &[&Number]) -> String {
    numbers.iter().map(|number| number.normal()).collect::<Vec<_>>().join("\u{1f}")
}

/// Notes rows that contradict each other, and takes them out.
pub(super) fn check(sheets: &mut Sheets) {
    let bad = &mut sheets.bad;
    once(&mut sheets.suppliers, bad, "code", |row| keys(&[&row.code]));
    once(&mut sheets.parts, bad, "part", |row| keys(&[&row.number]));
    once(&mut sheets.kits, bad, "component", |row| keys(&[&row.kit, &row.component]));
    once(&mut sheets.offers, bad, "part", |row| keys(&[&row.supplier, &row.part]));
    once(&mut sheets.bins, bad, "bin", |row| keys(&[&row.code]));
    once(&mut sheets.stock, bad, "part", |row| {
        let lot = baystart_core::text::normal(&row.lot);
        format!("{}\u{1f}{lot}\u{1f}{}", keys(&[&row.part, &row.bin]), row.quarantined)
    });
    once(&mut sheets.builds, bad, "build", |row| keys(&[&row.number]));
    once(&mut sheets.stages, bad, "stage", |row| keys(&[&row.build, &row.name]));
    once(&mut sheets.orders, bad, "line", |row| format!("{} {}", keys(&[&row.order]), row.line));
    builds(sheets);
    orders(sheets);
}

/// Stages and lines need their build's row in the same import.
fn builds(sheets: &mut Sheets) {
    let known: BTreeSet<String> =
        sheets.builds.iter().map(|row| row.value.number.normal().to_owned()).collect();
    let doubtful = &sheets.doubtful;
    let bad = &mut sheets.bad;
    let mut there = |build: &Number, cells: &Cells| {
        let there = known.contains(build.normal());
        if !there && !doubtful.has(RefKind::Build, build.normal()) {
            let reason = "the build has no row in a builds file of this import";
            bad.push(cells.bad("build", reason));
        }
        there
    };
    sheets.stages.retain(|row| there(&row.value.build, &row.cells));
    sheets.lines.retain(|row| there(&row.value.build, &row.cells));
    sheets.awaited.retain(|row| there(&row.value.build, &row.cells));
    sheets.bindings.retain(|row| there(&row.value.build, &row.cells));
}

/// The rows of one order name one supplier, one reference and one day.
fn orders(sheets: &mut Sheets) {
    let mut first: BTreeMap<String, &Cells> = BTreeMap::new();
    let mut bad = Vec::new();
    for row in &sheets.orders {
        let cells = &row.cells;
        let Some(before) = first.get(row.value.order.normal()) else {
            first.insert(row.value.order.normal().to_owned(), cells);
            continue;
        };
        for column in ["supplier", "supplier_reference", "placed_on"] {
            let same = before.get(column).to_lowercase() == cells.get(column).to_lowercase();
            if !same {
                let reason = format!(
                    "line {} has \"{}\": the lines of one order have one {column}",
                    before.place.line,
                    before.get(column)
                );
                bad.push(cells.bad(column, reason));
            }
        }
    }
    let places: BTreeSet<FileLine> = bad.iter().map(|row| row.place).collect();
    for order in sheets.orders.iter().filter(|order| places.contains(&order.cells.place)) {
        sheets.doubtful.add(Kind::OpenOrders, &order.cells);
    }
    sheets.bad.extend(bad);
}
