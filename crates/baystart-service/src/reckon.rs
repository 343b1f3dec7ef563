//! Reckoning off the async threads: few at once, fairly shared, on threads that
//! stand back behind those which answer, and no longer than somebody listens.

use crate::fault;
use crate::gate::{Held, place};
use crate::shared::{Guest, Shared};
use baystart_core::refusal::Refusal;
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use tokio::sync::oneshot;
use tonic::Status;

/// How much the threads stand back, as `nice` counts it: where a processor is
/// wanted by both, a short answer does not wait for a long reckoning.
const STANDS_BACK: i32 = 10;

type Job = Box<dyn FnOnce() + Send>;

/// The threads that reckon. They end when this is dropped.
#[derive(Debug)]
pub(crate) struct Reckoners {
    jobs: mpsc::Sender<Job>,
}

impl Reckoners {
    /// So many threads.
    pub(crate) fn new(threads: usize) -> Self {
        let (jobs, taken) = mpsc::channel::<Job>();
        let taken = Arc::new(Mutex::new(taken));
        for _ in 0..threads.max(1) {
            let taken = Arc::clone(&taken);
            std::thread::spawn(move || work(&taken));
        }
        Self { jobs }
    }
}

fn work(jobs: &Mutex<mpsc::Receiver<Job>>) {
    // Where the system refuses, the thread runs like any other.
    let _ = rustix::process::nice(STANDS_BACK);
    loop {
        let job = jobs.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok(job) = job else { return };
        // The job's sender goes with it, so that a panic is told as a failure.
        let _ = std::panic::catch_unwind(std::panic::AssertUnwindSafe(job));
    }
}

/// What nobody is there to hear.
fn gone() -> Status {
    Status::cancelled("the caller went away")
}

/// Whether somebody still waits for what is reckoned.
pub(crate) type GoOn<'a> = &'a (dyn Fn() -> bool + Sync);

impl Shared {
    /// Reckons off the async threads, when it is the caller's turn. The work is
    /// told whether somebody still waits; while it runs it counts as its
    /// caller's, also when that one has gone.
    pub(crate) async fn reckon<T: Send + 'static>(
        &self,
        guest: &Guest,
        work: impl FnOnce(GoOn<'_>) -> T + Send + 'static,
    ) -> Result<T, Status> {
        let held: Arc<Held> = Arc::clone(&guest.held);
        let place = place(&self.pools.reckonings, held.who, "reckonings").await?;
        let (sender, done) = oneshot::channel();
        let its = Arc::clone(&held);
        let job: Job = Box::new(move || {
            let found = held.is_waited_for().then(|| work(&|| held.is_waited_for()));
            drop((place, held));
            if let Some(found) = found {
                // The caller may have gone.
                let _ = sender.send(found);
            }
        });
        self.reckoners.jobs.send(job).map_err(fault::internal)?;
        done.await.map_err(|error| match its.is_waited_for() {
            true => fault::internal(error),
            false => gone(),
        })
    }

    /// The same for work that may be refused, or ends early where nobody waits.
    pub(crate) async fn reckon_all<T: Send + 'static>(
        &self,
        guest: &Guest,
        work: impl FnOnce(GoOn<'_>) -> Result<Option<T>, Refusal> + Send + 'static,
    ) -> Result<T, Status> {
        let found = self.reckon(guest, work).await?.map_err(|refusal| fault::refused(&refusal))?;
        found.ok_or_else(gone)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;
    use crate::gate::Holder;
    use crate::limits::Limits;
    use baystart_core::ids::{ShopId, TokenId};
    use baystart_store::Caller;
    use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
    use std::time::Duration;
    use tonic::Code;
    use uuid::Uuid;

    fn limits() -> Limits {
        Limits {
            reckonings_max: 1,
            heavy_wait_max: Duration::from_millis(100),
            ..Limits::default()
        }
    }

    fn guest(shop: u128) -> (Guest, crate::gate::Leaving) {
        let held = Held::new(Holder { shop, token: shop }, None);
        let id = Uuid::from_u128(shop);
        let (name, roles) = (String::new(), Vec::new());
        let at = baystart_store::ShopState { revision: 0, evidence_revision: 0, commit: id };
        let caller = Caller { shop: ShopId(id), name, roles, token: TokenId(id), at };
        let leaving = crate::gate::Leaving(Arc::clone(&held));
        (Guest::new(caller, held), leaving)
    }

    /// Works until nobody waits any more, in steps that are counted.
    async fn endless(shared: Arc<Shared>, guest: Guest, steps: Arc<AtomicU32>) {
        let work = move |go_on: GoOn<'_>| {
            while go_on() {
                steps.fetch_add(1, Ordering::Relaxed);
                std::thread::sleep(Duration::from_millis(5));
            }
        };
        let _ = shared.reckon(&guest, work).await;
    }

    #[tokio::test]
    async fn work_ends_when_its_caller_goes_and_is_its_callers_until_then() {
        let shared = Shared::in_memory(limits()).await;
        let ((guest_a, leaving), (guest_b, _stays)) = (guest(1), guest(2));
        let steps = Arc::new(AtomicU32::new(0));
        let work = tokio::spawn(endless(Arc::clone(&shared), guest_a, Arc::clone(&steps)));
        tokio::time::sleep(Duration::from_millis(50)).await;
        // Another waits for its turn no longer than it may.
        let status = shared.reckon(&guest_b, |_| ()).await.unwrap_err();
        assert_eq!(status.code(), Code::ResourceExhausted);
        assert!(steps.load(Ordering::Relaxed) > 0);
        work.abort();
        drop(leaving);
        assert!(shared.reckon(&guest_b, |_| ()).await.is_ok(), "the work goes on for nobody");
    }

    #[tokio::test]
    async fn work_whose_caller_went_before_its_turn_is_not_begun() {
        let shared = Shared::in_memory(limits()).await;
        let ((guest_a, leaving), begun) = (guest(1), Arc::new(AtomicBool::new(false)));
        drop(leaving);
        let its = Arc::clone(&begun);
        let found = shared.reckon(&guest_a, move |_| its.store(true, Ordering::Relaxed)).await;
        assert_eq!(found.unwrap_err().code(), Code::Cancelled);
        assert!(!begun.load(Ordering::Relaxed));
    }

    #[tokio::test]
    async fn a_panic_is_told_and_the_thread_goes_on() {
        let shared = Shared::in_memory(limits()).await;
        let (guest, _stays) = guest(1);
        let found = shared.reckon(&guest, |_| panic!("the cause")).await;
        let found: Result<(), Status> = found;
        assert_eq!(found.unwrap_err().code(), Code::Internal);
        assert_eq!(shared.reckon(&guest, |_| 7).await.unwrap(), 7);
    }
}
