//! A shop, its closed days and its tokens.

use super::Ways;
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
    /// Places in which a vehicle can be worked on; 0: not recorded, bays then limit nothing.
    #[serde(default)]
    pub bays: u32,
    /// How lead times are learned; as it was before there was such a choice where missing.
    #[serde(default)]
    pub learning: LearningSettings,
    /// How the shop decides.
    #[serde(default)]
    pub ways: Ways,
    /// Counts the changes of this row.
    pub version: i64,
}

impl Settings {
    /// What a shop begins with: works and orders Monday to Friday, reserves 60 working days ahead, starts
    /// with a chance of a stall up to 5 %, bays not recorded.
    #[must_use]
    pub fn usual(name: &str, time_zone: &str, currency: Currency) -> Self {
        let weekdays = [true, true, true, true, true, false, false];
        Self {
            name: name.to_owned(),
            time_zone: time_zone.to_owned(),
            currency,
            working_days: weekdays,
            ordering_days: weekdays,
            reserve_window_days: 60,
            stall_tolerance: 0.05,
            bays: 0,
            learning: LearningSettings::default(),
            ways: Ways::default(),
            version: 1,
        }
    }
}

/// Which days of waiting count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum DayAxis {
    /// Every calendar day outside the supplier's closures.
    #[default]
    Calendar,
    /// Only the weekdays on which the shop works.
    Receiving,
}

/// How a shop's past orders become lead times; crates/baystart-core/src/leadtime/README.md, "Learning", says why these defaults.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LearningSettings {
    /// Days after which an order, by its placed date, counts half, set by hand; `None`: the half-life
    /// is tuned by how well each would have forecast.
    pub half_life_days: Option<u32>,
    /// Beside a half-life set by hand: that of a supplier that drifts.
    pub drift_half_life_days: u32,
    /// c: orders of its own that outweigh what a level borrows from its parent.
    pub prior_strength: f64,
    /// g: how fast that strength falls in the tail, in [0, 1].
    pub tail_exponent: f64,
    /// Calendar days from the as-of date beyond which there is no date.
    pub horizon_days: u32,
    /// rho: correlation of the delays of one supplier's open orders, in [0, 0.5].
    pub correlation: f64,
    /// Longest notice, in calendar days, of the first two of three bands of promises.
    pub notice_days: [u32; 2],
    /// Calendar days of silence past the expected day after which an open order counts as stale.
    pub stale_after_days: u32,
    /// Which days count.
    pub day_axis: DayAxis,
}

impl Default for LearningSettings {
    fn default() -> Self {
        Self {
            half_life_days: None,
            drift_half_life_days: 120,
            prior_strength: 8.0,
            tail_exponent: 0.5,
            horizon_days: 730,
            correlation: 0.15,
            notice_days: [7, 30],
            stale_after_days: 60,
            day_axis: DayAxis::Calendar,
        }
    }
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
