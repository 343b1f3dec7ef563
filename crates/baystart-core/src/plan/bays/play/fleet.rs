//! What is played: vehicles with their work, their arrivals and the shop's rules, as plain values.

use super::draws::Key;
use crate::book::ServiceKey;
use crate::book::model::StartRule;
use crate::forecast::CommonCause;
use crate::ids::BuildId;
use std::sync::Arc;

/// An axis index as paths keep it.
pub(in crate::plan) type Day = u16;
/// Not within the horizon.
pub(in crate::plan) const NEVER: Day = Day::MAX;

/// What all vehicles of a play share.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Rules {
    /// Bays; 0: not recorded, one is always free.
    pub(in crate::plan) bays: u32,
    /// Working days of the axis.
    pub(in crate::plan) days: usize,
    pub(in crate::plan) paths: usize,
    pub(in crate::plan) start: StartRule,
    pub(in crate::plan) news: f64,
    pub(in crate::plan) cause: CommonCause,
}

/// One use of an arrival: by when it can be used in which step of the work.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Use {
    /// P(here, finished where it is, by the end of axis index i); it is usable on that day.
    pub(in crate::plan) by: Arc<Vec<f64>>,
    /// Index in the vehicle's steps.
    pub(in crate::plan) step: usize,
    /// Working days in the shop between then and the step.
    pub(in crate::plan) lead: Day,
}

/// Something that arrives, on one day for all its uses.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Arrival {
    pub(in crate::plan) key: Key,
    /// Whose common cause of delay it shares.
    pub(in crate::plan) supplier: Option<Key>,
    pub(in crate::plan) uses: Vec<Use>,
}

/// A stage that is not done.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Step {
    pub(in crate::plan) key: Key,
    /// P(it takes at most i working days).
    pub(in crate::plan) takes: Arc<Vec<f64>>,
    /// The vehicle is not in the shop, and needs no bay.
    pub(in crate::plan) away: bool,
    /// Working days after the start on which it is planned to begin.
    pub(in crate::plan) offset: Day,
}

/// Where a vehicle stands today.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) enum Standing {
    /// It waits for a bay.
    Waiting,
    /// It is in a bay, or away from one; its work goes on.
    Begun,
    /// Its work is done.
    Left,
}

/// A live build.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Vehicle {
    pub(in crate::plan) build: BuildId,
    /// Its place in the order of service.
    pub(in crate::plan) rank: ServiceKey,
    pub(in crate::plan) standing: Standing,
    /// No work begins before.
    pub(in crate::plan) from: Day,
    /// The day that the shop has booked.
    pub(in crate::plan) booked: Option<Day>,
    /// In the order of work.
    pub(in crate::plan) steps: Vec<Step>,
    pub(in crate::plan) arrivals: Vec<Arrival>,
    /// What gates handover only; None: one of them has no date.
    pub(in crate::plan) papers: Option<Vec<Arrival>>,
}

impl Arrival {
    /// The use that is the first to be missed, and the working days after a start by which it must be
    /// here; negative: before it.
    pub(super) fn tightest(&self, steps: &[Step]) -> Option<(&Use, i32)> {
        let offset = |of: &Use| {
            let step = steps.get(of.step).map_or(0, |step| i32::from(step.offset));
            step - i32::from(of.lead)
        };
        self.uses.iter().map(|of| (of, offset(of))).min_by_key(|(_, offset)| *offset)
    }
}
