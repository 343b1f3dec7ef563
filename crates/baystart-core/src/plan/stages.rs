//! Where a build's stages stand, in working days from today.

use super::view::View;
use crate::book::model::{Stage, StageState};
use crate::ids::{BuildId, StageId};

/// A stage on the axis.
#[derive(Clone, Debug)]
pub(super) struct Placed<'a> {
    pub(super) stage: &'a Stage,
    pub(super) state: StageState,
    /// Working days after the start at which the stage needs its parts.
    pub(super) offset_days: u32,
    /// Working days that it still takes.
    pub(super) remaining_days: u32,
    /// Working days that it has taken before today.
    pub(super) worked_days: u32,
    /// Begun, and past its planned length.
    pub(super) overrun: bool,
}

/// A build's stages with offsets, and the working days still to do.
///
/// Stages follow one another. A stage that is done takes no more time; one that
/// is begun needs its parts now and takes what is left of its planned days, at
/// least one.
pub(super) fn place<'a>(view: &View<'a>, build: BuildId) -> (Vec<Placed<'a>>, u32) {
    let mut placed = Vec::new();
    let mut days = 0;
    for stage in view.stages(build) {
        let mut worked_days = 0;
        let (state, remaining, overrun) = match (stage.begun_on, stage.done_on) {
            (_, Some(_)) => (StageState::Done, 0, false),
            (None, None) => (StageState::Waiting, stage.planned_days, false),
            (Some(begun), None) => {
                let worked = view.calendar.working_days_between(begun, view.as_of).max(0);
                let worked = u32::try_from(worked).unwrap_or(u32::MAX);
                worked_days = worked;
                let left = stage.planned_days.saturating_sub(worked);
                (StageState::Begun, left.max(1), left == 0)
            }
        };
        let offset_days = if state == StageState::Waiting { days } else { 0 };
        placed.push(Placed {
            stage,
            state,
            offset_days,
            remaining_days: remaining,
            worked_days,
            overrun,
        });
        days += remaining;
    }
    (placed, days)
}

/// The placed stage of an id.
pub(super) fn find<'p, 'a>(placed: &'p [Placed<'a>], id: StageId) -> Option<&'p Placed<'a>> {
    placed.iter().find(|placed| placed.stage.id == id)
}
