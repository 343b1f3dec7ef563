//! The shop's data as the files that an import takes, to the byte the same from
//! the same data: rows sorted, cells as the import writes of them.

mod builds;
mod catalogue;
mod history;
mod orders;
mod sheet;
mod stock;

use crate::import::Kind;
use baystart_core::book::Book;
use baystart_core::book::model::{BuildState, Line, OrderLine, Reservation};
use baystart_core::ids::{BuildId, LineId, OrderId};
use baystart_store::Exported;
pub(crate) use history::History;
pub(crate) use sheet::{File, Unwritable};
use std::collections::{BTreeMap, BTreeSet};

/// What the files do not carry.
pub(crate) const LEFT_OUT: [&str; 5] = [
    "movements, and who booked what when: stock begins anew with what is in the bins",
    "lots of parts that were issued or used up",
    "order lines that are closed, but as history: their prices, receipts and rejections",
    "days on which facts were entered, where they were entered later",
    "tokens and the shop's settings",
];

/// What is exported.
pub(crate) struct Source<'a> {
    pub(crate) book: &'a Book,
    pub(crate) taken_over: &'a BTreeSet<String>,
    pub(crate) live_builds_only: bool,
    /// By number.
    lines: BTreeMap<BuildId, Vec<&'a Line>>,
    /// By number.
    order_lines: BTreeMap<OrderId, Vec<&'a OrderLine>>,
    reservations: BTreeMap<LineId, Vec<&'a Reservation>>,
}

impl<'a> Source<'a> {
    pub(crate) fn new(exported: &'a Exported, live_builds_only: bool) -> Self {
        let Exported { snapshot, taken_over } = exported;
        let book = &snapshot.book;
        let mut lines: BTreeMap<_, Vec<&Line>> = BTreeMap::new();
        for line in book.lines.values() {
            lines.entry(line.build).or_default().push(line);
        }
        lines.values_mut().for_each(|lines| lines.sort_by_key(|line| line.number));
        let mut order_lines: BTreeMap<_, Vec<&OrderLine>> = BTreeMap::new();
        for line in book.order_lines.values() {
            order_lines.entry(line.order).or_default().push(line);
        }
        order_lines.values_mut().for_each(|lines| lines.sort_by_key(|line| line.number));
        let mut reservations: BTreeMap<_, Vec<&Reservation>> = BTreeMap::new();
        for row in book.reservations.values().filter(|row| row.held.is_positive()) {
            reservations.entry(row.line).or_default().push(row);
        }
        Self { book, taken_over, live_builds_only, lines, order_lines, reservations }
    }

    fn lines_of(&self, build: BuildId) -> &[&'a Line] {
        self.lines.get(&build).map_or(&[], Vec::as_slice)
    }

    /// Whether a build has rows.
    fn has(&self, build: BuildId) -> bool {
        let over = BuildState::is_over;
        let build = self.book.builds.get(&build);
        build.is_some_and(|build| !self.live_builds_only || !over(build.state))
    }
}

/// Every file but the history, in the order of booking.
pub(crate) fn files(source: &Source<'_>) -> Result<Vec<File>, Unwritable> {
    Ok(vec![
        catalogue::suppliers(source.book)?.finish("suppliers.csv")?,
        catalogue::parts(source.book)?.finish("parts.csv")?,
        catalogue::kits(source.book)?.finish("kits.csv")?,
        catalogue::offers(source.book)?.finish("offers.csv")?,
        catalogue::bins(source.book)?.finish("bins.csv")?,
        catalogue::closed_days(source.book)?.finish("closed_days.csv")?,
        stock::opening(source.book)?.finish("opening_stock.csv")?,
        builds::builds(source)?.finish("builds.csv")?,
        builds::stages(source)?.finish("stages.csv")?,
        builds::lines(source)?.finish("build_lines.csv")?,
        builds::awaited(source)?.finish("awaited.csv")?,
        builds::bindings(source)?.finish("bindings.csv")?,
        orders::open(source)?.finish("open_orders.csv")?,
    ])
}

fn sheet(kind: Kind) -> Result<sheet::Sheet, Unwritable> {
    sheet::Sheet::new(kind.columns())
}
