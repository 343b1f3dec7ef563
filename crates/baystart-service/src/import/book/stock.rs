//! The stock with which a shop begins: each row is booked once.

use super::super::columns::Kind;
use super::super::{Cells, Row, rows};
use super::{Earlier, Outcome, Run, differs, digest};
use baystart_core::command::{BinQuantity, Command, StockCommand};
use baystart_core::refs::{Ref, RefKind};

/// Under which kind the rows are remembered.
const KEPT_AS: &str = "opening_stock";

pub(super) fn opening(run: &mut Run<'_, '_, '_>) {
    for Row { cells, value } in &run.sheets.stock {
        if value.quantity.is_zero() {
            nothing_there(run, cells, value);
            continue;
        }
        let place = if value.quarantined { "quarantined" } else { "usable" };
        let lot = baystart_core::text::normal(&value.lot);
        let (part, bin) = (value.part.normal(), value.bin.normal());
        let key = format!("{part}|{bin}|{lot}|{place}");
        let digest = digest(std::iter::once(cells));
        match run.earlier(KEPT_AS, &key, &digest) {
            Earlier::Never => {}
            Earlier::Same => {
                run.done(cells, Outcome::Unchanged);
                continue;
            }
            Earlier::Other => {
                run.bad(cells.bad("quantity", differs()));
                continue;
            }
        }
        let command = Command::Stock(StockCommand::Adjust {
            at: BinQuantity {
                part: Ref::Number(value.part.clone()),
                bin: Ref::Number(value.bin.clone()),
                lot: value.lot.clone(),
                quantity: value.quantity,
            },
            reason: "opening stock".to_owned(),
            expires_on: value.expires_on,
            opening: true,
            quarantined: value.quarantined,
            occurred_on: value.counted_on,
        });
        match run.decide(&command) {
            Ok(()) => {
                run.imported(KEPT_AS, &key, digest);
                run.done(cells, Outcome::Created);
            }
            Err(refusal) => run.refused(Kind::OpeningStock, &refusal, |_| {
                (Kind::OpeningStock, cells.clone(), "part")
            }),
        }
    }
}

/// A place where nothing lies: there is nothing to book, but its part and bin must be known.
fn nothing_there(run: &mut Run<'_, '_, '_>, cells: &Cells, value: &rows::Stock) {
    let part = run.book.find_part(&Ref::Number(value.part.clone())).map(|_| ());
    let bin = run.book.find_bin(&Ref::Number(value.bin.clone())).map(|_| ());
    let mut fine = true;
    for (column, kind, found) in [("part", RefKind::Part, part), ("bin", RefKind::Bin, bin)] {
        let Err((_, reason)) = found else { continue };
        fine = false;
        if !run.doubtful.has(kind, cells.get(column)) {
            run.bad(cells.bad(column, reason));
        }
    }
    if fine {
        run.done(cells, Outcome::Unchanged);
    }
}
