//! Where a build's stages stand, in working days from today.

use crate::book::model::{Stage, StageState};
use crate::ids::{BuildId, StageId};
use crate::plan::frame::view::View;

/// A stage on the axis.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Placed<'a> {
    pub(in crate::plan) stage: &'a Stage,
    pub(in crate::plan) state: StageState,
    /// Working days after the start at which the stage needs its parts.
    pub(in crate::plan) offset_days: u32,
    /// Working days that it still takes.
    pub(in crate::plan) remaining_days: u32,
    /// Working days that it has taken before today.
    pub(in crate::plan) worked_days: u32,
    /// Begun, and past its planned length.
    pub(in crate::plan) overrun: bool,
}

/// A build's stages with offsets, and the working days still to do.
///
/// Stages follow one another. A stage that is done takes no more time; one that
/// is begun needs its parts now and takes what is left of its planned days, at
/// least one.
pub(in crate::plan) fn place<'a>(view: &View<'a>, build: BuildId) -> (Vec<Placed<'a>>, u32) {
    let mut placed = Vec::new();
    let mut days = 0;
    for stage in view.book.stages_of(build) {
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
pub(in crate::plan) fn find<'p, 'a>(
    placed: &'p [Placed<'a>],
    id: StageId,
) -> Option<&'p Placed<'a>> {
    placed.iter().find(|placed| placed.stage.id == id)
}
