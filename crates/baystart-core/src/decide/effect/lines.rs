//! What was done to a line of a build.

use super::EffectKind;
use crate::book::model::{Line, Lot, Made};
use crate::ids::{BinId, BuildId, OrderLineId, PartId, StageId, SupplierId};
use crate::quantity::Quantity;
use jiff::civil::Date;

/// A line as it was when something was done to it: a later step may give it another part or stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OfLine {
    /// Whose.
    pub build: BuildId,
    /// Where it is worked on.
    pub stage: StageId,
    /// Its number in the build.
    pub number: i32,
    /// What it asked for.
    pub part: PartId,
}

impl From<&Line> for OfLine {
    fn from(line: &Line) -> Self {
        Self { build: line.build, stage: line.stage, number: line.number, part: line.part }
    }
}

/// What was done to a line; the quantity stands beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LineEffect {
    /// Stock was set aside.
    Reserved {
        /// Its lot.
        lot: Lot,
    },
    /// Stock is no longer set aside.
    Released {
        /// Its lot.
        lot: Lot,
        /// Why.
        why: Why,
    },
    /// Bound to an order line.
    Pegged {
        /// Which.
        to: OrderLineId,
    },
    /// No longer bound to an order line.
    Unpegged {
        /// Which.
        from: OrderLineId,
        /// Why.
        why: Why,
    },
    /// Nothing is bound to so much of it.
    Short {
        /// The customer brings it.
        customer: bool,
    },
    /// So much more was issued than it requires.
    OverIssued,
    /// It will require so much less than was issued.
    RequiresLess {
        /// All that was issued.
        issued: Quantity,
    },
    /// Stock left for it.
    Left {
        /// For what.
        how: LeftFor,
        /// Its lot.
        lot: Lot,
        /// Where it lay.
        bin: BinId,
    },
    /// Stock came back from its build.
    CameBack {
        /// Its lot.
        lot: Lot,
        /// Into which bin.
        bin: BinId,
    },
    /// Stock was brought to the build's staging bin.
    Picked {
        /// Its lot.
        lot: Lot,
        /// Where it lay.
        from: BinId,
        /// The staging bin.
        into: BinId,
    },
    /// Fitted, without the ledger knowing of it.
    Found {
        /// Its lot.
        lot: Lot,
    },
    /// So much of a receipt goes to it.
    Arrived,
    /// Its kit became lines of their own.
    Exploded {
        /// How many.
        lines: usize,
    },
    /// It requires so much now.
    Requires,
    /// So much is to be made for it.
    ToMake {
        /// How.
        how: Made,
        /// Lines of its components.
        components: usize,
    },
    /// So much is with a finisher.
    SentOut {
        /// Who.
        to: SupplierId,
        /// The day on which it is promised back.
        promised_on: Option<Date>,
    },
    /// The finisher gave a new date for what is there.
    PromisedBack {
        /// The date.
        on: Date,
    },
}

impl LineEffect {
    /// What kind of thing that is.
    pub(super) const fn kind(&self) -> EffectKind {
        match self {
            Self::Reserved { .. } => EffectKind::Reserved,
            Self::Released { why, .. } | Self::Unpegged { why, .. } if why.displaces() => {
                EffectKind::Displaced
            }
            Self::Released { .. } => EffectKind::Released,
            Self::Unpegged { .. } => EffectKind::Unpegged,
            Self::Pegged { .. } => EffectKind::Pegged,
            Self::Short { .. } => EffectKind::Short,
            Self::OverIssued | Self::RequiresLess { .. } => EffectKind::OverIssued,
            Self::Left { .. }
            | Self::CameBack { .. }
            | Self::Picked { .. }
            | Self::Found { .. }
            | Self::Arrived => EffectKind::Booked,
            Self::Exploded { .. }
            | Self::Requires
            | Self::ToMake { .. }
            | Self::SentOut { .. }
            | Self::PromisedBack { .. } => EffectKind::State,
        }
    }
}

/// For what stock left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeftFor {
    /// To the vehicle.
    Issue,
    /// Into something that is made.
    Making,
    /// To a finisher.
    Finisher,
}

/// Why a line no longer holds something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// Somebody gave it back, or its build is over.
    GivenBack,
    /// The line takes another part.
    Substituted,
    /// The line needs no more.
    NeedsNoMore,
    /// Free stock takes the supply's place.
    StockIsFree,
    /// An earlier supply takes its place.
    EarlierSupply,
    /// The build that lends gets it.
    TakenOver,
    /// It was lent.
    Lent {
        /// To which build.
        build: BuildId,
        /// To which of its lines.
        line: i32,
        /// Why, as somebody wrote it; may be empty.
        reason: String,
    },
    /// The stock under it is gone.
    StockGone,
    /// The order was cancelled.
    Cancelled,
    /// The supplier will not deliver it.
    WillNotCome,
}

impl Why {
    /// Whether it happened to the line: nobody gave anything back on purpose.
    pub(in crate::decide) const fn displaces(&self) -> bool {
        matches!(self, Self::StockGone | Self::Cancelled | Self::WillNotCome)
    }
}
