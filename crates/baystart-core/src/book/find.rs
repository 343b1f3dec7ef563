//! Finding rows by the references that people and tools use.

use super::Book;
use super::model::{
    Awaited, Bin, Build, Line, Offer, Order, OrderLine, Part, Reservation, Stage, Supplier,
};
use super::table::Id as _;
use crate::ids::{BinId, BuildId, LineId, OrderId, PartId, StageId, SupplierId};
use crate::refs::Ref;
use crate::refusal::Reason;

/// A row, or the fault to note under the field that named it.
pub type Found<T> = Result<T, (Reason, String)>;

macro_rules! find_by_ref {
    ($(#[$doc:meta])* $name:ident, $map:ident, $id:ident, $row:ident, $reason:ident, $what:literal) => {
        $(#[$doc])*
        ///
        /// # Errors
        /// The shop has none of that reference.
        pub fn $name(&self, wanted: &Ref) -> Found<&$row> {
            let row = match wanted {
                Ref::Uid(uid) => self.$map.get(&$id(*uid)),
                Ref::Number(number) => {
                    let mut ids = self.$map.index().of(number.normal().to_owned());
                    ids.next().and_then(|id| self.$map.get(&id))
                }
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
        find_part, parts, PartId, Part, PartUnknown, "part"
    );
    find_by_ref!(
        /// The supplier of a reference.
        find_supplier, suppliers, SupplierId, Supplier, SupplierUnknown, "supplier"
    );
    find_by_ref!(
        /// The bin of a reference.
        find_bin, bins, BinId, Bin, BinUnknown, "bin"
    );
    find_by_ref!(
        /// The build of a reference.
        find_build, builds, BuildId, Build, BuildUnknown, "build"
    );
    find_by_ref!(
        /// The order of a reference.
        find_order, orders, OrderId, Order, OrderUnknown, "order"
    );

    /// The builds that stand in a bay, on hold or not.
    #[must_use]
    pub fn builds_in_bay(&self) -> Vec<&Build> {
        self.builds.index().in_bay.of(()).filter_map(|id| self.builds.get(&id)).collect()
    }

    /// Who stands in the shop's bays beside a build, where none is left for it; empty where one is, or where
    /// nobody said how many there are.
    #[must_use]
    pub fn bays_taken_beside(&self, build: BuildId) -> Vec<BuildId> {
        let bays = self.settings.as_ref().map_or(0, |settings| settings.bays);
        let others = self.builds_in_bay().into_iter().map(|row| row.id);
        let others: Vec<BuildId> = others.filter(|id| *id != build).collect();
        let taken = bays > 0 && others.len() >= usize::try_from(bays).unwrap_or(usize::MAX);
        if taken { others } else { Vec::new() }
    }

    /// A build's stages in the order of work.
    #[must_use]
    pub fn stages_of(&self, build: BuildId) -> Vec<&Stage> {
        let ids = self.stages.index().between((build, i32::MIN), (build, i32::MAX));
        ids.filter_map(|id| self.stages.get(&id)).collect()
    }

    /// A build's lines by number.
    #[must_use]
    pub fn lines_of(&self, build: BuildId) -> Vec<&Line> {
        let ids = self.lines.index().of_build.between((build, i32::MIN), (build, i32::MAX));
        ids.filter_map(|id| self.lines.get(&id)).collect()
    }

    /// An order's lines by number.
    #[must_use]
    pub fn lines_of_order(&self, order: OrderId) -> Vec<&OrderLine> {
        let ids = self.order_lines.index().of_order.between((order, i32::MIN), (order, i32::MAX));
        ids.filter_map(|id| self.order_lines.get(&id)).collect()
    }

    /// The build lines that require a part, by id.
    pub fn lines_for_part(&self, part: PartId) -> impl Iterator<Item = &Line> {
        self.lines.index().of_part.of(part).filter_map(|id| self.lines.get(&id))
    }

    /// The order lines of a part, by id.
    pub fn order_lines_for_part(&self, part: PartId) -> impl Iterator<Item = &OrderLine> {
        let ids = self.order_lines.index().of_part.of(part);
        ids.filter_map(|id| self.order_lines.get(&id))
    }

    /// The order lines that were placed for a build line, by id.
    pub fn ordered_for(&self, line: LineId) -> impl Iterator<Item = &OrderLine> {
        let ids = self.order_lines.index().for_line.of(line);
        ids.filter_map(|id| self.order_lines.get(&id))
    }

    /// The reservations of a part's stock, by id.
    pub fn reservations_for_part(&self, part: PartId) -> impl Iterator<Item = &Reservation> {
        let ids = self.reservations.index().of_part.of(part);
        ids.filter_map(|id| self.reservations.get(&id))
    }

    /// What is awaited for a build line, by id.
    pub fn awaited_for(&self, line: LineId) -> impl Iterator<Item = &Awaited> {
        let ids = self.awaited.index().of_line.of(line);
        ids.filter_map(|id| self.awaited.get(&id))
    }

    /// A line of a build.
    ///
    /// # Errors
    /// The build has no line of that number.
    pub fn find_line(&self, build: &Build, number: i32) -> Found<&Line> {
        let mut ids = self.lines.index().of_build.of((build.id, number));
        ids.next().and_then(|id| self.lines.get(&id)).ok_or_else(|| {
            (Reason::LineUnknown, format!("build {} has no line {number}", build.number))
        })
    }

    /// A line of an order.
    ///
    /// # Errors
    /// The order has no line of that number.
    pub fn find_order_line(&self, order: &Order, number: i32) -> Found<&OrderLine> {
        let mut ids = self.order_lines.index().of_order.of((order.id, number));
        ids.next().and_then(|id| self.order_lines.get(&id)).ok_or_else(|| {
            (Reason::LineUnknown, format!("order {} has no line {number}", order.number))
        })
    }

    /// A stage of a build by its name, whatever the case.
    ///
    /// # Errors
    /// The build has no stage of that name.
    pub fn find_stage(&self, build: &Build, name: &str) -> Found<&Stage> {
        let wanted = crate::text::normal(name);
        let stages = self.stages_of(build.id);
        let found = by_beginning(&wanted, stages.iter().map(|stage| stage.name.normal()));
        found.and_then(|at| stages.get(at)).copied().ok_or_else(|| {
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
        let mut ids = self.offers.index().of((part, supplier));
        ids.next().and_then(|id| self.offers.get(&id))
    }

    /// A part's offers, by supplier.
    pub fn offers_for_part(&self, part: PartId) -> impl Iterator<Item = &Offer> {
        let ids = self.offers.index().between((part, SupplierId::FIRST), (part, SupplierId::LAST));
        ids.filter_map(|id| self.offers.get(&id))
    }

    /// The offer that a shortage would be ordered from: preferred first, then
    /// the shortest quoted lead time (none quoted last), then the supplier's
    /// code.
    #[must_use]
    pub fn best_offer(&self, part: PartId) -> Option<&Offer> {
        let code = |offer: &Offer| self.suppliers.get(&offer.supplier).map(|s| s.code.clone());
        self.offers_for_part(part)
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

    /// The build's number, for sentences.
    #[must_use]
    pub fn build_number(&self, build: BuildId) -> &str {
        self.builds.get(&build).map_or("?", |build| build.number.written())
    }

    /// The order's number, for sentences.
    #[must_use]
    pub fn order_number(&self, order: OrderId) -> &str {
        self.orders.get(&order).map_or("?", |order| order.number.written())
    }

    /// The supplier's code, for sentences.
    #[must_use]
    pub fn supplier_code(&self, supplier: SupplierId) -> &str {
        self.suppliers.get(&supplier).map_or("?", |supplier| supplier.code.written())
    }

    /// The stage's name, for sentences.
    #[must_use]
    pub fn stage_name(&self, stage: StageId) -> &str {
        self.stages.get(&stage).map_or("?", |stage| stage.name.written())
    }
}

/// The place of the name that is wanted: its own, or the only one that begins with it.
pub(crate) fn by_beginning<'a>(
    wanted: &str,
    names: impl Iterator<Item = &'a str> + Clone,
) -> Option<usize> {
    if let Some(same) = names.clone().position(|name| name == wanted) {
        return Some(same);
    }
    let mut begin = names.enumerate().filter(|(_, name)| name.starts_with(wanted));
    let first = begin.next().map(|(at, _)| at);
    first.filter(|_| !wanted.is_empty() && begin.next().is_none())
}
