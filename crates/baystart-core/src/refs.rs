//! References: people know numbers, tools know uids.

use crate::number::Number;
use crate::refusal::Reason;
use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

/// A part, supplier, bin, build or order, by number (or code) or by uid.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Ref {
    /// By the shop's own number or code.
    Number(Number),
    /// By uid.
    Uid(Uuid),
}

impl Ref {
    /// Whether the row with this id and number is meant.
    #[must_use]
    pub fn is(&self, id: Uuid, number: &Number) -> bool {
        match self {
            Self::Number(wanted) => wanted == number,
            Self::Uid(wanted) => *wanted == id,
        }
    }
}

impl fmt::Display for Ref {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Uid(uid) => uid.fmt(f),
        }
    }
}

/// What a reference names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum RefKind {
    Part,
    Supplier,
    Bin,
    Build,
    Order,
}

impl RefKind {
    /// In the trade's words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Part => "part",
            Self::Supplier => "supplier",
            Self::Bin => "bin",
            Self::Build => "build",
            Self::Order => "order",
        }
    }

    /// The reason to give where the shop has none of that reference.
    #[must_use]
    pub const fn unknown(self) -> Reason {
        match self {
            Self::Part => Reason::PartUnknown,
            Self::Supplier => Reason::SupplierUnknown,
            Self::Bin => Reason::BinUnknown,
            Self::Build => Reason::BuildUnknown,
            Self::Order => Reason::OrderUnknown,
        }
    }
}
