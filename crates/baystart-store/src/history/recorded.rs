//! On which day each fact of an order line was entered, from the states that
//! its row once had.

use crate::convert::{corrupt, own_instant};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::ids::ShopId;
use baystart_core::leadtime::history::Fact;
use futures::TryStreamExt as _;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use sea_orm::prelude::DateTimeUtc;
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use serde::Deserialize;
use std::collections::HashMap;
use uuid::Uuid;

/// The days of one state of an order line.
#[derive(Clone, Debug, Deserialize)]
struct Days {
    placed_on: Option<Date>,
    acknowledged_on: Option<Date>,
    despatched_on: Option<Date>,
    last_contact_on: Option<Date>,
    closed_on: Option<Date>,
}

/// Every state of one order line, the oldest first, with the day of the shop on
/// which it was entered.
#[derive(Clone, Debug, Default)]
pub struct Recorded {
    states: Vec<(Days, Date)>,
}

impl Recorded {
    pub fn placed(&self, on: Date) -> Date {
        self.first(on, |state| state.placed_on)
    }

    pub fn despatched(&self, on: Date) -> Date {
        self.first(on, |state| state.despatched_on)
    }

    pub fn closed(&self, on: Date) -> Date {
        self.first(on, |state| state.closed_on)
    }

    /// The day on which the fact was first entered as it stands; its own day
    /// where no state says so.
    fn first(&self, on: Date, of: impl Fn(&Days) -> Option<Date>) -> Date {
        let entered = self.states.iter().find(|(state, _)| of(state) == Some(on));
        entered.map_or(on, |(_, day)| (*day).max(on))
    }

    /// Each day on which the line was known to be open, once.
    pub fn contacts(&self) -> Vec<Fact> {
        let mut contacts: Vec<Fact> = Vec::new();
        // The last day falls back only where a mistaken answer was taken back.
        let now =
            self.states.last().map(|(state, _)| state.last_contact_on.max(state.acknowledged_on));
        let stands = |on: Date| now.is_none_or(|now| Some(on) <= now);
        for (state, entered) in &self.states {
            for on in [state.acknowledged_on, state.last_contact_on].into_iter().flatten() {
                let waiting = state.placed_on.is_some_and(|placed_on| on > placed_on);
                if waiting && stands(on) && !contacts.iter().any(|known| known.on == on) {
                    contacts.push(Fact { on, recorded_on: (*entered).max(on) });
                }
            }
        }
        contacts
    }
}

#[derive(FromQueryResult)]
struct RecordedState {
    id: Uuid,
    state: String,
    recorded_at: DateTimeUtc,
}

const STATES: &str = "SELECT h.id, h.state, c.recorded_at FROM row_history h
    JOIN change_log c ON c.shop = h.shop AND c.revision = h.revision
    WHERE h.shop = $1 AND h.kind = 'order_line' ORDER BY h.id, h.revision";

/// Of every order line of the shop.
pub async fn of_shop(
    txn: &Txn,
    shop: ShopId,
    zone: &TimeZone,
) -> Result<HashMap<Uuid, Recorded>, Fault> {
    let backend = txn.get_database_backend();
    let statement = Statement::from_sql_and_values(backend, STATES, [shop.0.into()]);
    let mut found: HashMap<Uuid, Recorded> = HashMap::new();
    let mut rows = RecordedState::find_by_statement(statement).stream(txn).await?;
    while let Some(row) = rows.try_next().await? {
        let days: Days = serde_json::from_str(&row.state)
            .map_err(|_| corrupt("the order line's state", &row.state))?;
        let entered = zone.to_datetime(own_instant(row.recorded_at)?).date();
        found.entry(row.id).or_default().states.push((days, entered));
    }
    Ok(found)
}
