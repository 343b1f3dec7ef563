//! By what each kind of row is looked up. The only place that says so: apply and undo, loading and
//! cutting down keep it without knowing.

use super::model::{
    Awaited, Bin, Build, Line, Offer, Order, OrderLine, Part, Peg, Reservation, Stage, Supplier,
};
use super::table::{By, Mark, Row};
use crate::ids::{
    AwaitedId, BinId, BuildId, LineId, OfferId, OrderId, OrderLineId, PartId, ReservationId,
    StageId, SupplierId,
};

/// Ids by the normal form of a number.
pub type Numbers<I> = By<String, I>;

macro_rules! by_number {
    ($($row:ident, $id:ident, $number:ident;)*) => {$(
        impl Row for $row {
            type Key = $id;
            type Index = Numbers<$id>;

            fn mark(&self, key: $id, index: &mut Numbers<$id>, mark: Mark) {
                index.set(mark, self.$number.normal().to_owned(), key);
            }
        }
    )*};
}

by_number! {
    Part, PartId, number;
    Supplier, SupplierId, code;
    Bin, BinId, code;
    Order, OrderId, number;
}

/// Builds by what they are looked up by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BuildIndex {
    numbers: Numbers<BuildId>,
    pub(super) in_bay: By<(), BuildId>,
}

impl BuildIndex {
    /// The ids of a number in its normal form.
    pub(super) fn of(&self, number: String) -> impl Iterator<Item = BuildId> + '_ {
        self.numbers.of(number)
    }
}

impl Row for Build {
    type Key = BuildId;
    type Index = BuildIndex;

    fn mark(&self, key: BuildId, index: &mut BuildIndex, mark: Mark) {
        index.numbers.set(mark, self.number.normal().to_owned(), key);
        if self.is_in_bay() {
            index.in_bay.set(mark, (), key);
        }
    }
}

impl Row for Offer {
    type Key = OfferId;
    type Index = By<(PartId, SupplierId), OfferId>;

    fn mark(&self, key: OfferId, index: &mut Self::Index, mark: Mark) {
        index.set(mark, (self.part, self.supplier), key);
    }
}

impl Row for Stage {
    type Key = StageId;
    type Index = By<(BuildId, i32), StageId>;

    fn mark(&self, key: StageId, index: &mut Self::Index, mark: Mark) {
        index.set(mark, (self.build, self.ordinal), key);
    }
}

/// Build lines by what they are looked up by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineIndex {
    pub(super) of_build: By<(BuildId, i32), LineId>,
    pub(super) of_part: By<PartId, LineId>,
}

impl Row for Line {
    type Key = LineId;
    type Index = LineIndex;

    fn mark(&self, key: LineId, index: &mut LineIndex, mark: Mark) {
        index.of_build.set(mark, (self.build, self.number), key);
        index.of_part.set(mark, self.part, key);
    }
}

/// Awaited things by what they are looked up by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AwaitedIndex {
    pub(super) of_build: By<(BuildId, i32), AwaitedId>,
    pub(super) of_line: By<LineId, AwaitedId>,
}

impl Row for Awaited {
    type Key = AwaitedId;
    type Index = AwaitedIndex;

    fn mark(&self, key: AwaitedId, index: &mut AwaitedIndex, mark: Mark) {
        index.of_build.set(mark, (self.build, self.number), key);
        if let Some(line) = self.line {
            index.of_line.set(mark, line, key);
        }
    }
}

/// Reservations by what they are looked up by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReservationIndex {
    pub(super) of_line: By<LineId, ReservationId>,
    pub(super) of_part: By<PartId, ReservationId>,
}

impl Row for Reservation {
    type Key = ReservationId;
    type Index = ReservationIndex;

    fn mark(&self, key: ReservationId, index: &mut ReservationIndex, mark: Mark) {
        index.of_line.set(mark, self.line, key);
        index.of_part.set(mark, self.key.part, key);
    }
}

/// Order lines by what they are looked up by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OrderLineIndex {
    pub(super) of_order: By<(OrderId, i32), OrderLineId>,
    pub(super) of_part: By<PartId, OrderLineId>,
    pub(super) for_line: By<LineId, OrderLineId>,
}

impl Row for OrderLine {
    type Key = OrderLineId;
    type Index = OrderLineIndex;

    fn mark(&self, key: OrderLineId, index: &mut OrderLineIndex, mark: Mark) {
        index.of_order.set(mark, (self.order, self.number), key);
        index.of_part.set(mark, self.part, key);
        if let Some(line) = self.for_line {
            index.for_line.set(mark, line, key);
        }
    }
}

impl Row for Peg {
    type Key = (LineId, OrderLineId);
    type Index = By<OrderLineId, LineId>;

    fn mark(&self, (line, order_line): Self::Key, index: &mut Self::Index, mark: Mark) {
        index.set(mark, order_line, line);
    }
}
