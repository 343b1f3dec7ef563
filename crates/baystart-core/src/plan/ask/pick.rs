//! What is to be fetched for a build, and from where.

use crate::book::Book;
use crate::book::model::{Build, Line, StockKey};
use crate::ids::{BinId, StageId};
use crate::quantity::Quantity;
use std::collections::BTreeMap;

/// A quantity that lies in a bin and is reserved for a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToPick<'b> {
    /// Whose.
    pub line: &'b Line,
    /// Part and lot.
    pub key: &'b StockKey,
    /// Where it lies.
    pub bin: BinId,
    /// How much, in the part's unit.
    pub quantity: Quantity,
}

/// What is reserved for a build and not yet in its staging bin, stage by stage in the order of work,
/// line by line; with `stage`, of that alone, else of those that are not done. What one line is told to
/// fetch from a bin, no other line is told to.
#[must_use]
pub fn pick_list<'b>(book: &'b Book, build: &Build, stage: Option<StageId>) -> Vec<ToPick<'b>> {
    let mut rows = Vec::new();
    let mut staged: BTreeMap<&StockKey, Quantity> = BTreeMap::new();
    let mut left: BTreeMap<(&StockKey, BinId), Quantity> = BTreeMap::new();
    for row in book.stages_of(build.id) {
        let wanted = match stage {
            Some(stage) => row.id == stage,
            None => row.done_on.is_none(),
        };
        for line in book.lines_of(build.id).into_iter().filter(|line| line.stage == row.id) {
            for held in book.reservations_of(line.id).filter(|r| r.held.is_positive()) {
                let lies_in = |bin| book.balances.get(&(held.key.clone(), bin));
                let there = staged.entry(&held.key).or_insert_with(|| {
                    let balance = build.staging_bin.and_then(lies_in);
                    balance.map_or(Quantity::ZERO, |balance| balance.usable)
                });
                let here = held.held.min(*there);
                *there -= here;
                let mut missing = held.held - here;
                for (bin, balance) in book.bins_of(&held.key) {
                    if Some(bin) == build.staging_bin {
                        continue;
                    }
                    let usable = left.entry((&held.key, bin)).or_insert(balance.usable);
                    let quantity = missing.min(*usable);
                    if quantity.is_positive() {
                        *usable -= quantity;
                        missing -= quantity;
                        if wanted {
                            add(&mut rows, ToPick { line, key: &held.key, bin, quantity });
                        }
                    }
                }
            }
        }
    }
    rows
}

/// One row for what a line fetches from a bin, however often it was reserved for it.
fn add<'b>(rows: &mut Vec<ToPick<'b>>, new: ToPick<'b>) {
    let same = |row: &&mut ToPick<'b>| {
        row.line.id == new.line.id && row.key == new.key && row.bin == new.bin
    };
    match rows.iter_mut().rev().find(same) {
        Some(row) => row.quantity += new.quantity,
        None => rows.push(new),
    }
}
