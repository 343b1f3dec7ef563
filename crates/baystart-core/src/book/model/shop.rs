//! A shop, its closed days and its tokens.

use crate::ids::{SupplierId, TokenId};
use crate::money::Currency;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A workshop's settings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Name for people.
    pub name: String,
    /// IANA time zone; decides what "today" is.
    pub time_zone: String,
    /// Currency that prices default to.
    pub currency: Currency,
    /// Days on which the shop works, Monday first.
    pub working_days: [bool; 7],
    /// Days on which the shop places orders, Monday first.
    pub ordering_days: [bool; 7],
    /// Working days before the planned start from which a build takes stock
    /// before open orders.
    pub reserve_window_days: u32,
    /// Chance of a stall up to which a build counts as free to start, in [0, 1).
    pub stall_tolerance: f64,
    /// Counts the changes of this row.
    pub version: i64,
}

/// Days on which the shop or a supplier is closed, both ends inclusive.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Closure {
    /// None: the shop itself.
    pub supplier: Option<SupplierId>,
    /// First closed day.
    pub first_day: Date,
    /// Last closed day.
    pub last_day: Date,
    /// Name for people.
    pub name: String,
}

/// What a token may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Role {
    Parts,
    Sales,
    Workshop,
    ReadOnly,
    Admin,
}

/// An access token's record; the secret itself is kept nowhere.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Token {
    /// Identity.
    pub id: TokenId,
    /// Whose it is.
    pub name: String,
    /// What it may do.
    pub roles: Vec<Role>,
    /// SHA-256 of the secret.
    pub hash: [u8; 32],
    /// When it was issued.
    pub issued_at: Timestamp,
    /// From then on it is refused.
    pub revoked_at: Option<Timestamp>,
}
