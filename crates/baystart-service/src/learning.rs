//! Laws made of a shop's history, and kept ones brought up to date.

use crate::accepted::Accepted;
use baystart_core::forecast::CommonCause;
use baystart_core::leadtime::learn::{LearnSettings, LearnedLaws, Tuning};
use baystart_core::leadtime::stages::StageLengths;
use baystart_core::plan::{Coming, Learned, LearnedWaits};
use baystart_store::{LineChange, ShopHistory};
use jiff::civil::Date;
use std::sync::Arc;

/// What was learned as of a day.
pub(crate) struct Taught {
    pub as_of: Date,
    /// From which builds to come are drawn; None: nobody asked for them yet.
    pub accepted: Option<Arc<Accepted>>,
    pub learned: Arc<Learned>,
}

impl Taught {
    /// Whether it says the same of builds to come, or nobody asks.
    pub fn serves(&self, accepted: Option<&Arc<Accepted>>) -> bool {
        accepted.is_none_or(|asked| self.accepted.as_ref().is_some_and(|own| own.at == asked.at))
    }
}

/// By which settings and closures days and orders count.
pub(crate) fn rules(history: &ShopHistory) -> impl PartialEq + use<> {
    let settings = &history.settings;
    (settings.learning, settings.working_days, history.history.closures.clone())
}

pub(crate) fn settings(history: &ShopHistory) -> LearnSettings {
    LearnSettings::of(&history.settings.learning, history.settings.working_days)
}

pub(crate) fn learn(
    history: &ShopHistory,
    coming: Option<Coming>,
    as_of: Date,
    (cause, tuning): (CommonCause, Tuning),
) -> Learned {
    let settings = settings(history);
    let waits = &history.waits;
    let waits = (!waits.history.lines.is_empty()).then(|| LearnedWaits {
        laws: LearnedLaws::learn(&waits.history, as_of, &settings),
        awaited: waits.awaited.clone(),
        off_site: waits.off_site.clone(),
    });
    Learned {
        waits,
        lengths: lengths(history, as_of, &settings),
        coming,
        laws: LearnedLaws::learn_tuned(&history.history, as_of, &settings, tuning),
        cause,
        suppliers: history.suppliers.clone(),
        offers: history.offers.clone(),
        lines: history.history.lines_watched(as_of),
    }
}

/// How long stages take; few rows, so that they are always learned anew.
fn lengths(history: &ShopHistory, as_of: Date, settings: &LearnSettings) -> Option<StageLengths> {
    let past = &history.stages;
    let learn =
        || StageLengths::learn(&past.stages, &past.in_bay, &history.calendar, as_of, settings);
    (!past.stages.is_empty()).then(learn)
}

/// Takes a few changed lines over; false: to be learned anew.
pub(crate) fn renewed(taught: &mut Taught, history: &ShopHistory, lines: &[LineChange]) -> bool {
    let learned = Arc::make_mut(&mut taught.learned);
    learned.suppliers.clone_from(&history.suppliers);
    learned.offers.clone_from(&history.offers);
    learned.coming = taught.accepted.as_ref().map(|accepted| accepted.coming(history));
    let as_of = learned.laws.as_of();
    learned.lengths = lengths(history, as_of, &learned.laws.settings().clone());
    for line in lines {
        let was = line.before.as_ref().is_some_and(|before| before.is_watched(as_of));
        let is = line.after.is_watched(as_of);
        learned.lines = (learned.lines + usize::from(is)).saturating_sub(usize::from(was));
    }
    lines.iter().all(|line| learned.laws.renew(line.before.as_ref(), Some(&line.after)))
}
