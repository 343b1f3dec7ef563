//! Finding rows by the references that people and tools use.

use super::Book;
use super::model::{Bin, Build, Line, Offer, Order, OrderLine, Part, Stage, Supplier};
use crate::ids::{BinId, BuildId, OrderId, PartId, SupplierId};
use crate::refs::Ref;
use crate::refusal::Reason;

/// A row, or the fault to note under the field that named it.
pub type Found<T> = Result<T, (Reason, String)>;

macro_rules! find_by_ref {
    ($(#[$doc:meta])* $name:ident, $map:ident, $id:ident, $row:ident, $number:ident, $reason:ident, $what:literal) => {
        $(#[$doc])*
        ///
        /// # Errors
        /// The shop has none of that reference.
        pub fn $name(&self, wanted: &Ref) -> Found<&$row> {
            let row = match wanted {
                Ref::Uid(uid) => self.$map.get(&$id(*uid)),
                Ref::Number(number) => self.$map.values().find(|row| row.$number == *number),
            };
            row.ok_or_else(|| {
                (Reason::$reason, format!("no {} \"{wanted}\" in this shop", $what))
            })
        }
    };
}

impl Book {
    find_by_ref!(
        /// The part of a reference.
        find_part, parts, PartId, Part, number, PartUnknown, "part"
    );
    find_by_ref!(
        /// The supplier of a reference.
        find_supplier, suppliers, SupplierId, Supplier, code, SupplierUnknown, "supplier"
    );
    find_by_ref!(
        /// The bin of a reference.
        find_bin, bins, BinId, Bin, code, BinUnknown, "bin"
    );
    find_by_ref!(
        /// The build of a reference.
        find_build, builds, BuildId, Build, number, BuildUnknown, "build"
    );
    find_by_ref!(
        /// The order of a reference.
        find_order, orders, OrderId, Order, number, OrderUnknown, "order"
    );

    /// A build's stages in the order of work.
    #[must_use]
    pub fn stages_of(&self, build: BuildId) -> Vec<&Stage> {
        let mut stages: Vec<_> = self.stages.values().filter(|s| s.build == build).collect();
        stages.sort_by_key(|stage| stage.ordinal);
        stages
    }

    /// A build's lines by number.
    #[must_use]
    pub fn lines_of(&self, build: BuildId) -> Vec<&Line> {
        let mut lines: Vec<_> = self.lines.values().filter(|l| l.build == build).collect();
        lines.sort_by_key(|line| line.number);
        lines
    }

    /// An order's lines by number.
    #[must_use]
    pub fn lines_of_order(&self, order: OrderId) -> Vec<&OrderLine> {
        let mut lines: Vec<_> = self.order_lines.values().filter(|l| l.order == order).collect();
        lines.sort_by_key(|line| line.number);
        lines
    }

    /// A line of a build.
    ///
    /// # Errors
    /// The build has no line of that number.
    pub fn find_line(&self, build: &Build, number: i32) -> Found<&Line> {
        self.lines.values().find(|line| line.build == build.id && line.number == number).ok_or_else(
            || (Reason::LineUnknown, format!("build {} has no line {number}", build.number)),
        )
    }

    /// A line of an order.
    ///
    /// # Errors
    /// The order has no line of that number.
    pub fn find_order_line(&self, order: &Order, number: i32) -> Found<&OrderLine> {
        self.order_lines
            .values()
            .find(|line| line.order == order.id && line.number == number)
            .ok_or_else(|| {
                (Reason::LineUnknown, format!("order {} has no line {number}", order.number))
            })
    }

    /// A stage of a build by its name, whatever the case.
    ///
    /// # Errors
    /// The build has no stage of that name.
    pub fn find_stage(&self, build: &Build, name: &str) -> Found<&Stage> {
        let wanted = name.split_whitespace().collect::<Vec<_>>().join(" ").to_uppercase();
        let stages = self.stages_of(build.id);
        stages.iter().find(|stage| stage.name.normal() == wanted).copied().ok_or_else(|| {
            let has: Vec<_> = stages.iter().map(|stage| stage.name.written()).collect();
            let has = if has.is_empty() { "none".to_owned() } else { has.join(", ") };
            (
                Reason::StageUnknown,
                format!("build {} has no stage \"{name}\"; it has: {has}", build.number),
            )
        })
    }

    /// The supplier's offer for the part.
    #[must_use]
    pub fn offer_of(&self, supplier: SupplierId, part: PartId) -> Option<&Offer> {
        self.offers.values().find(|offer| offer.supplier == supplier && offer.part == part)
    }

    /// The offer that a shortage would be ordered from: preferred first, then
    /// the shortest quoted lead time (none quoted last), then the supplier's
    /// code.
    #[must_use]
    pub fn best_offer(&self, part: PartId) -> Option<&Offer> {
        let code = |offer: &Offer| self.suppliers.get(&offer.supplier).map(|s| s.code.clone());
        self.offers
            .values()
            .filter(|offer| offer.part == part)
            .min_by_key(|o| (!o.preferred, o.quoted_days.unwrap_or(u32::MAX), code(o), o.id))
    }

    /// The part's number, for sentences.
    #[must_use]
    pub fn part_number(&self, part: PartId) -> &str {
        self.parts.get(&part).map_or("?", |part| part.number.written())
    }

    /// The bin's code, for sentences.
    #[must_use]
    pub fn bin_code(&self, bin: BinId) -> &str {
        self.bins.get(&bin).map_or("?", |bin| bin.code.written())
    }
}
