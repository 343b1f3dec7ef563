//! What each shop's history taught, kept between calls.
//!
//! A history is kept for the last revision that changed its evidence, and laws by
//! as-of date. A call takes its snapshot and, in the same transaction, what
//! changed in the history since the kept one; so a forecast is always made of the
//! evidence of its own snapshot (FC-1). The lock of a shop is held while its
//! history is brought up to date and laws are learned, never while the database
//! is read: of many calls at once one does the work.

use crate::accepted::{Accepted, KeptAccepted};
use crate::fault;
use crate::learning::{Taught, learn, renewed, rules, settings};
use crate::shared::{Guest, Shared};
use baystart_core::command::Scope;
use baystart_core::forecast::CommonCause;
use baystart_core::ids::ShopId;
use baystart_core::leadtime::learn::{Tuning, last_landmark, tune};
use baystart_core::plan::Learned;
use baystart_store::{HistoryRead, LineChange, ShopHistory, Snapshot};
use jiff::civil::Date;
use std::collections::HashMap;
use std::sync::atomic::{AtomicI64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use tonic::Status;

/// As-of dates whose laws are kept for a shop.
const DATES_MAX: usize = 4;
/// Shops whose histories are kept.
const SHOPS_MAX: usize = 64;
/// Order lines of all kept histories together, the last used shop's aside: a
/// line takes about 200 bytes.
const LINES_MAX: usize = 4_000_000;
/// Fewer lines than this are learned anew, which takes some 10 ms: then an answer
/// is the same to the last digit, however it was come by.
const RENEW_LINES_MIN: usize = 20_000;
/// Times that a snapshot is taken again because another call knew a later one.
const TRIES_MAX: usize = 3;
/// Nothing is kept.
const NOTHING: i64 = -1;

/// A snapshot with the laws of its own evidence.
pub(crate) struct Planned {
    pub snapshot: Snapshot,
    pub as_of: Date,
    /// None: the shop never ordered anything.
    pub learned: Option<Arc<Learned>>,
    pub history: Arc<ShopHistory>,
}

/// The histories and laws of many shops.
#[derive(Default)]
pub(crate) struct LearnedCache {
    shops: Mutex<LearnedShops>,
}

#[derive(Default)]
struct LearnedShops {
    shops: HashMap<ShopId, (Arc<Slot>, u64)>,
    uses: u64,
}

/// One shop's.
struct Slot {
    /// Evidence revision of what is kept, to be asked without the lock.
    revision: AtomicI64,
    lines: AtomicUsize,
    accepted: KeptAccepted,
    content: Arc<tokio::sync::Mutex<Content>>,
}

struct Content {
    history: Option<Arc<ShopHistory>>,
    /// Last used last.
    laws: Vec<Taught>,
    cause: Option<CommonCause>,
    /// What the past forecasts taught at a landmark; last used last.
    tunings: Vec<(Date, Tuning)>,
    renew_lines_min: usize,
}

impl Default for Content {
    fn default() -> Self {
        Self {
            history: None,
            laws: Vec::new(),
            cause: None,
            tunings: Vec::new(),
            renew_lines_min: RENEW_LINES_MIN,
        }
    }
}

impl LearnedCache {
    fn slot(&self, shop: ShopId) -> Arc<Slot> {
        let mut kept = self.shops.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        kept.uses += 1;
        let now = kept.uses;
        let fresh = || {
            let slot = Slot {
                revision: AtomicI64::new(NOTHING),
                lines: AtomicUsize::new(0),
                accepted: KeptAccepted::default(),
                content: Arc::default(),
            };
            (Arc::new(slot), now)
        };
        let (slot, used) = kept.shops.entry(shop).or_insert_with(fresh);
        *used = now;
        let slot = Arc::clone(slot);
        kept.shed(shop);
        slot
    }
}

impl LearnedShops {
    /// Forgets the shops that were not used for longest, until the rest fits.
    fn shed(&mut self, keep: ShopId) {
        loop {
            let lines: usize =
                self.shops.values().map(|(slot, _)| slot.lines.load(Ordering::Relaxed)).sum();
            if self.shops.len() <= SHOPS_MAX && lines <= LINES_MAX {
                return;
            }
            let others = self.shops.iter().filter(|(shop, _)| **shop != keep);
            let Some(oldest) = others.min_by_key(|(_, (_, used))| *used).map(|(shop, _)| *shop)
            else {
                return;
            };
            self.shops.remove(&oldest);
        }
    }
}

/// What a reading of the history came to.
enum Brought {
    /// The kept history is the snapshot's.
    UpToDate,
    /// The snapshot's history, which is not kept: a later one is.
    Apart(Arc<ShopHistory>),
    /// Another call was faster, or the changes cannot be taken over: read again.
    Again {
        /// Without comparing.
        whole: bool,
    },
}

impl Content {
    fn bring(&mut self, snapshot: &Snapshot, read: HistoryRead) -> Brought {
        let wanted = snapshot.evidence_revision;
        let kept = self.history.as_ref().map_or(NOTHING, |history| history.evidence_revision);
        match read {
            _ if kept == wanted => Brought::UpToDate,
            HistoryRead::Whole(whole) if kept > wanted => Brought::Apart(Arc::from(whole)),
            HistoryRead::Whole(whole) => {
                self.laws.clear();
                self.tunings.clear();
                self.history = Some(Arc::from(whole));
                Brought::UpToDate
            }
            HistoryRead::Changed(changes) if kept < wanted => {
                // Out of its place meanwhile: nobody can find it half changed.
                let Some(mut history) = self.history.take() else {
                    return Brought::Again { whole: true };
                };
                let before = rules(&history);
                let Some(lines) = Arc::make_mut(&mut history).apply(&changes) else {
                    self.history = Some(history);
                    return Brought::Again { whole: true };
                };
                self.renew(&history, before == rules(&history), &lines);
                self.history = Some(history);
                Brought::UpToDate
            }
            HistoryRead::Changed(_) | HistoryRead::Same | HistoryRead::Behind => {
                Brought::Again { whole: false }
            }
        }
    }

    /// Brings the kept laws up to date where a few lines changed and nothing else.
    fn renew(&mut self, history: &ShopHistory, same_rules: bool, lines: &[LineChange]) {
        let count = history.history.lines.len();
        // What was known at a landmark stays as it was, but for what is dated back.
        let stands = |landmark: Date| {
            let same = |line: &LineChange| match &line.before {
                Some(before) => before.is_known_as(&line.after, landmark),
                None => !line.after.is_known(landmark),
            };
            same_rules && lines.iter().all(same)
        };
        self.tunings.retain(|(landmark, _)| stands(*landmark));
        if !same_rules || count < self.renew_lines_min {
            self.laws.clear();
            return;
        }
        let kept: Vec<Date> = self.tunings.iter().map(|(landmark, _)| *landmark).collect();
        self.laws.retain_mut(|taught| {
            kept.contains(&last_landmark(taught.as_of)) && renewed(taught, history, lines)
        });
    }

    /// The laws at the start of a day; None where there is nothing to learn from.
    fn learned(
        &mut self,
        history: &ShopHistory,
        accepted: Option<&Arc<Accepted>>,
        as_of: Date,
    ) -> Result<Option<Arc<Learned>>, String> {
        if history.is_empty() {
            return Ok(None);
        }
        let taught = match self.laws.iter().position(|taught| taught.as_of == as_of) {
            Some(at) => {
                let mut taught = self.laws.remove(at);
                if !taught.serves(accepted) {
                    let coming = accepted.map(|accepted| accepted.coming(history));
                    Arc::make_mut(&mut taught.learned).coming = coming;
                    taught.accepted = accepted.cloned();
                }
                taught
            }
            None => {
                let (cause, tuning) = (self.cause(history)?, self.tuning(history, as_of));
                let coming = accepted.map(|accepted| accepted.coming(history));
                let learned = Arc::new(learn(history, coming, as_of, (cause, tuning)));
                Taught { as_of, accepted: accepted.cloned(), learned }
            }
        };
        if self.laws.len() >= DATES_MAX {
            self.laws.remove(0);
        }
        let learned = Arc::clone(&taught.learned);
        self.laws.push(taught);
        Ok(Some(learned))
    }

    /// The weights of a day's landmark: found once, for they take longest.
    fn tuning(&mut self, history: &ShopHistory, as_of: Date) -> Tuning {
        let landmark = last_landmark(as_of);
        if let Some(at) = self.tunings.iter().position(|(kept, _)| *kept == landmark) {
            let found = self.tunings.remove(at);
            let tuning = found.1.clone();
            self.tunings.push(found);
            return tuning;
        }
        let tuning = tune(&history.history, as_of, &settings(history));
        if self.tunings.len() >= DATES_MAX {
            self.tunings.remove(0);
        }
        self.tunings.push((landmark, tuning.clone()));
        tuning
    }

    /// The common cause by the shop's setting; its table is made once.
    fn cause(&mut self, history: &ShopHistory) -> Result<CommonCause, String> {
        let rho = history.settings.learning.correlation;
        if let Some(cause) = self.cause.as_ref().filter(|cause| cause.rho() == rho) {
            return Ok(cause.clone());
        }
        let cause = CommonCause::new(rho).map_err(|error| error.to_string())?;
        self.cause = Some(cause.clone());
        Ok(cause)
    }
}

impl Shared {
    /// One consistent reading, with the laws that its own evidence gives at the
    /// start of the asked day, or of today.
    pub(crate) async fn planned(
        &self,
        caller: &Guest,
        scope: &Scope,
        as_of: Option<Date>,
    ) -> Result<Planned, Status> {
        // What is loaded may be a whole shop: few at once, or the short reads of
        // others wait behind its rows.
        let _load = self.place(&self.pools.loads, caller, "plans").await?;
        let slot = self.learned.slot(caller.shop);
        let mut whole = false;
        for tried in 0.. {
            whole |= tried >= TRIES_MAX;
            let kept = slot.revision.load(Ordering::Acquire);
            let known = Some(kept).filter(|kept| *kept != NOTHING && !whole);
            let read = self.store.read_for_plan(caller.shop, scope, known, caller.at).await;
            let (snapshot, read) = read.map_err(|error| fault::store(&error))?;
            if matches!(read, HistoryRead::Behind) {
                continue;
            }
            let as_of = self.as_of(&snapshot.book, as_of);
            if matches!(read, HistoryRead::Whole(_)) {
                slot.accepted.forget().await;
            }
            // Only who plays the bays asks who will come to them.
            let accepted = match scope.bays || scope.all {
                true => Some(self.accepted(caller.shop, &slot.accepted, &snapshot, as_of).await?),
                false => None,
            };
            // The lock goes with the work: a call that is given up does not stop
            // half way, and does not let another one begin beside it.
            let mut content = Arc::clone(&slot.content).lock_owned().await;
            let its = Arc::clone(&slot);
            let work = move || {
                let brought = content.bring(&snapshot, read);
                if let Some(history) = &content.history {
                    its.lines.store(history.history.lines.len(), Ordering::Relaxed);
                    its.revision.store(history.evidence_revision, Ordering::Release);
                }
                let history = match (brought, &content.history) {
                    (Brought::UpToDate, Some(history)) => Arc::clone(history),
                    (Brought::Apart(history), _) => {
                        let cause = content.cause(&history)?;
                        let learned = (!history.is_empty()).then(|| {
                            let tuning = tune(&history.history, as_of, &settings(&history));
                            let coming = accepted.map(|accepted| accepted.coming(&history));
                            Arc::new(learn(&history, coming, as_of, (cause, tuning)))
                        });
                        return Ok(Ok(Planned { snapshot, as_of, learned, history }));
                    }
                    (Brought::Again { whole }, _) => return Ok(Err(whole)),
                    (Brought::UpToDate, None) => return Ok(Err(true)),
                };
                let learned = content.learned(&history, accepted.as_ref(), as_of)?;
                Ok::<_, String>(Ok(Planned { snapshot, as_of, learned, history }))
            };
            // What was begun for one is needed by the next: it does not end with its caller.
            let done = self.reckon(caller, move |_| work()).await?;
            match done.map_err(fault::internal)? {
                Ok(planned) => return Ok(planned),
                Err(again_whole) => whole |= again_whole,
            }
        }
        Err(fault::internal("a history could not be read"))
    }
}

#[cfg(test)]
#[path = "learned_tests.rs"]
mod tests;
