//! The bad rows of a file: the first of them, and how many there are.

use crate::import::BadRow;
use crate::import::table::at;
use baystart_proto::convert::scalar;
use baystart_store::{FirstRow, PastRow};
use std::collections::BTreeSet;

/// Keeps so many of the first bad rows, and counts all.
#[derive(Debug)]
pub(crate) struct BadRows {
    kept: BTreeSet<BadRow>,
    kept_max: usize,
    count: usize,
}

impl BadRows {
    pub(crate) fn new(kept_max: usize) -> Self {
        Self { kept: BTreeSet::new(), kept_max, count: 0 }
    }

    pub(crate) fn add(&mut self, row: BadRow) {
        self.count += 1;
        self.kept.insert(row);
        if self.kept.len() > self.kept_max {
            self.kept.pop_last();
        }
    }

    /// A row that is an order line which the file had before.
    pub(crate) fn add_twice(&mut self, row: &PastRow, first: FirstRow) {
        let first = match first {
            FirstRow::Line(line) => format!("stands in line {line} already"),
            FirstRow::PlacedOn(on) => format!("stands further up already, placed on {on}"),
        };
        let reason = match row.line {
            0 => format!(
                "part {} of this order {first}; where an order has a part twice, number its lines",
                row.part
            ),
            line => format!("line {line}, part {}, of this order {first}", row.part),
        };
        let value = scalar::shown(row.order.written());
        self.add(at(0, row.file_line, "order", &value, &reason));
    }

    /// How many there are.
    pub(crate) const fn count(&self) -> usize {
        self.count
    }

    /// The first ones, in the order of the file.
    pub(crate) fn first(&self) -> impl Iterator<Item = &BadRow> {
        self.kept.iter()
    }
}
