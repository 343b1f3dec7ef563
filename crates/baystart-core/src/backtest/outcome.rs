//! What came of an order that was open on a forecast day.

use jiff::civil::Date;

use super::BacktestPlan;
use crate::{
    calendar::{add_days, days_between},
    leadtime::{
        history::{PastLine, Standing},
        learn::Patience,
    },
};

/// What came of an open order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    /// It came so many calendar days after the forecast day; `None`: later than the horizon.
    Came(Option<usize>),
    /// It was here already, only not booked yet.
    WasHere,
    /// It was cancelled.
    Cancelled,
    /// Nobody knows yet.
    Unresolved,
}

pub(super) fn outcome(
    line: &PastLine,
    as_of: Date,
    plan: &BacktestPlan,
    patience: &Patience,
) -> Outcome {
    let horizon = i64::from(plan.horizon_days);
    match line.standing(plan.end) {
        Standing::Received(on) => match usize::try_from(days_between(as_of, on)) {
            Ok(days) => Outcome::Came((days < plan.days()).then_some(days)),
            Err(_) => Outcome::WasHere,
        },
        Standing::Withdrawn(on) | Standing::Failed(on) => {
            if days_between(as_of, on) > horizon {
                Outcome::Came(None)
            } else {
                Outcome::Cancelled
            }
        }
        Standing::Open { last_news_on, expected_on } => {
            let stale = patience.is_stale(line, expected_on, plan.end);
            let watched = if stale { Some(last_news_on) } else { add_days(plan.end, -1) };
            match watched {
                Some(day) if days_between(as_of, day) >= horizon => Outcome::Came(None),
                _ => Outcome::Unresolved,
            }
        }
    }
}
