//! What somebody should know, though nothing was done.

use crate::book::model::{Closure, StockKey};
use crate::decide::Warning;
use crate::ids::{BinId, BuildId, PartId, StageId, SupplierId};
use crate::quantity::Quantity;
use jiff::civil::Date;

/// What somebody should know. Quantities are in the part's base unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Caution {
    /// How a part wants to be handled, which its row says.
    Handling(PartId),
    /// A substitute where safety hangs on the old part or the new one.
    SafetyRelated {
        /// The part that was asked for.
        old: PartId,
        /// The part that is taken.
        new: PartId,
    },
    /// A lot's best-before date has passed.
    Expired {
        /// Part and lot.
        key: StockKey,
        /// The date.
        best_before: Date,
    },
    /// What was lent lies on the lender's shelf.
    PickedElsewhere {
        /// Of what.
        part: PartId,
        /// The shelf.
        bin: BinId,
        /// For which build it was picked.
        build: BuildId,
    },
    /// More came than was ordered.
    OverDelivered {
        /// Of what.
        part: PartId,
        /// How much more.
        over: Quantity,
        /// Who accepted it.
        accepted_by: String,
    },
    /// An order line does not fit the supplier's terms.
    Terms {
        /// Whose terms.
        supplier: SupplierId,
        /// For what.
        part: PartId,
        /// What was ordered.
        quantity: Quantity,
        /// The least that is sold, where that is more.
        minimum: Option<Quantity>,
        /// The size of a pack, where that does not divide it.
        pack: Option<Quantity>,
    },
    /// What the customer brought is free stock now.
    CustomersOwn {
        /// Part and lot.
        key: StockKey,
        /// How much.
        quantity: Quantity,
    },
    /// The build is over, and some of it is with a finisher.
    StillOutside {
        /// What is there.
        part: PartId,
        /// How much.
        quantity: Quantity,
    },
    /// The build is cancelled, and parts of it are in the vehicle.
    InVehicle {
        /// Parts of how many lines.
        lines: usize,
    },
    /// A stage was begun without all its parts.
    StageLacks {
        /// Which.
        stage: StageId,
        /// What it lacks, by line.
        parts: Vec<PartId>,
    },
    /// A stage was finished though parts of it are not here.
    StageDoneLacks {
        /// Which.
        stage: StageId,
        /// What it lacks, by line.
        parts: Vec<PartId>,
    },
    /// A vehicle was put in though every bay was taken.
    BaysTaken {
        /// The bays that the shop has.
        bays: u32,
        /// Who stood in them.
        builds: Vec<BuildId>,
    },
    /// A day that somebody named is no working day of the shop.
    ShopClosed {
        /// The day.
        day: Date,
        /// The first working day after it.
        next: Option<Date>,
    },
    /// A supplier is closed on the day that was named for its goods.
    SupplierClosed {
        /// Who.
        supplier: SupplierId,
        /// The day.
        day: Date,
    },
    /// Closed days that were known before.
    ClosedAlready(Closure),
    /// A part of a build that something should be said about.
    Part(Warning),
}
