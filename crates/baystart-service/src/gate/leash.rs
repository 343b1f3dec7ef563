//! The leash on which each call runs: a timer beside the call, so that a call
//! ends on time though its caller neither sends nor reads.
//!
//! The transport polls a call only when there is something to do for it. A
//! caller that opens no window for the answer, or never sends the rest of its
//! message, would hold its place for as long as it liked. So the task of a
//! stream is the call *and* its leash: when its time is over the leash first
//! lets the call say so, and a moment later drops it, by which the transport
//! resets the stream.

use super::registry::Peer;
use futures::task::AtomicWaker;
use std::future::{Future, poll_fn};
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, AtomicU64, Ordering};
use std::task::Poll;
use std::time::Duration;
use tokio::time::{Instant, sleep_until};

/// From when a call's time is over until its stream is reset, in which it may
/// say what happened.
const GRACE: Duration = Duration::from_millis(200);
/// No time is set.
const NEVER: u64 = u64::MAX;

/// Why a leash is pulled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cause {
    /// The call took its whole time.
    Deadline,
    /// The message of a unary call did not come in time.
    Unsent,
    /// The caller neither sent nor read anything for too long.
    Stalled,
}

/// The times of a call.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Terms {
    /// When the whole call must be over, its answer delivered.
    pub(crate) over_by: Option<Instant>,
    /// When the one message of the call must be here.
    pub(crate) sent_by: Option<Instant>,
    /// How long the caller may let the server wait.
    pub(crate) stall: Duration,
}

#[derive(Debug)]
pub(crate) struct Leash {
    began: Instant,
    /// All in milliseconds since `began`, or `NEVER`.
    over_by: AtomicU64,
    sent_by: AtomicU64,
    stall: AtomicU64,
    /// Since when the server waits for something to be sent, or to be read.
    to_send: AtomicU64,
    to_read: AtomicU64,
    progress: AtomicU64,
    cause: AtomicU8,
    waker: AtomicWaker,
    /// Who is at the other end.
    pub(crate) peer: Option<Arc<Peer>>,
}

tokio::task_local! {
    static LEASH: Arc<Leash>;
}

/// The leash of this call; in a test without a transport a loose one.
pub(crate) fn current() -> Arc<Leash> {
    LEASH.try_with(Arc::clone).unwrap_or_else(|_| Leash::new(None))
}

impl Leash {
    pub(crate) fn new(peer: Option<Arc<Peer>>) -> Arc<Self> {
        Arc::new(Self {
            began: Instant::now(),
            over_by: AtomicU64::new(NEVER),
            sent_by: AtomicU64::new(NEVER),
            stall: AtomicU64::new(NEVER),
            to_send: AtomicU64::new(NEVER),
            to_read: AtomicU64::new(NEVER),
            progress: AtomicU64::new(0),
            cause: AtomicU8::new(0),
            waker: AtomicWaker::new(),
            peer,
        })
    }

    fn ms(&self, at: Instant) -> u64 {
        let ms = at.saturating_duration_since(self.began).as_millis();
        u64::try_from(ms).unwrap_or(NEVER)
    }

    fn at(&self, ms: u64) -> Instant {
        // A month away is never.
        self.began + Duration::from_millis(ms.min(2_678_400_000))
    }

    /// Sets the times of the call.
    pub(crate) fn bind(&self, terms: &Terms) {
        let ms = |at: Option<Instant>| at.map_or(NEVER, |at| self.ms(at));
        self.over_by.store(ms(terms.over_by), Ordering::Relaxed);
        self.sent_by.store(ms(terms.sent_by), Ordering::Relaxed);
        let stall = u64::try_from(terms.stall.as_millis()).unwrap_or(NEVER);
        self.stall.store(stall, Ordering::Relaxed);
    }

    /// Ends the call now.
    pub(super) fn pull(&self) {
        self.over_by.store(0, Ordering::Relaxed);
        self.waker.wake();
    }

    /// The caller is waited for, to send.
    pub(crate) fn waits_to_be_sent(&self) {
        let now = self.ms(Instant::now());
        let _ = self.to_send.compare_exchange(NEVER, now, Ordering::Relaxed, Ordering::Relaxed);
    }

    /// Something came.
    pub(crate) fn was_sent(&self) {
        self.to_send.store(NEVER, Ordering::Relaxed);
        self.progress.store(self.ms(Instant::now()), Ordering::Relaxed);
    }

    /// Nothing more is wanted of the caller.
    pub(crate) fn all_sent(&self) {
        self.to_send.store(NEVER, Ordering::Relaxed);
        self.sent_by.store(NEVER, Ordering::Relaxed);
    }

    /// There is something to read: whatever was there before is taken.
    pub(crate) fn waits_to_be_read(&self) {
        let now = self.ms(Instant::now());
        self.progress.store(now, Ordering::Relaxed);
        self.to_read.store(now, Ordering::Relaxed);
    }

    /// There is nothing to read.
    pub(crate) fn was_read(&self) {
        if self.to_read.swap(NEVER, Ordering::Relaxed) != NEVER {
            self.progress.store(self.ms(Instant::now()), Ordering::Relaxed);
        }
    }

    /// Whether its time is over, and why.
    pub(crate) fn cause(&self) -> Option<Cause> {
        match self.cause.load(Ordering::Relaxed) {
            1 => Some(Cause::Deadline),
            2 => Some(Cause::Unsent),
            3 => Some(Cause::Stalled),
            _ => None,
        }
    }

    /// When it is to be pulled as things stand, and why.
    fn due(&self) -> (u64, u8) {
        let over = (self.over_by.load(Ordering::Relaxed), 1);
        let unsent = (self.sent_by.load(Ordering::Relaxed), 2);
        let to_read = self.to_read.load(Ordering::Relaxed);
        let since = self.to_send.load(Ordering::Relaxed).min(to_read);
        let stalled = match since {
            NEVER => NEVER,
            since => {
                let since = since.max(self.progress.load(Ordering::Relaxed));
                since.saturating_add(self.stall.load(Ordering::Relaxed))
            }
        };
        over.min(unsent).min((stalled, 3))
    }

    /// When to look again: others may change what is waited for meanwhile.
    fn look(&self, now: u64, due: u64) -> u64 {
        let tick = (self.stall.load(Ordering::Relaxed) / 4).max(10);
        due.min(now.saturating_add(tick))
    }

    /// A future that ends when its time is over; who drops it says so.
    pub(crate) async fn or_over<T>(&self, work: impl Future<Output = T>) -> Result<T, Cause> {
        let mut work = pin!(work);
        poll_fn(|context| match work.as_mut().poll(context) {
            Poll::Ready(done) => Poll::Ready(Ok(done)),
            Poll::Pending => self.cause().map_or(Poll::Pending, |cause| Poll::Ready(Err(cause))),
        })
        .await
    }
}

/// Runs a call on its leash, until it ends or is pulled.
pub(crate) async fn hold(leash: Arc<Leash>, call: impl Future<Output = ()>) {
    let work = LEASH.scope(Arc::clone(&leash), call);
    let mut work = pin!(work);
    let mut sleep = pin!(sleep_until(leash.at(NEVER)));
    let mut armed = NEVER;
    let mut kill = NEVER;
    poll_fn(|context| {
        leash.waker.register(context.waker());
        loop {
            if work.as_mut().poll(context).is_ready() {
                return Poll::Ready(());
            }
            let now = leash.ms(Instant::now());
            let (due, why) = leash.due();
            if now >= kill {
                return Poll::Ready(());
            }
            if kill == NEVER && now >= due {
                leash.cause.store(why, Ordering::Relaxed);
                kill = now + u64::try_from(GRACE.as_millis()).unwrap_or(0);
                // It may say so itself.
                continue;
            }
            let wanted = if kill == NEVER { leash.look(now, due) } else { kill };
            if wanted < armed || now >= armed {
                armed = wanted;
                // A whole millisecond later, so that it is not woken too early.
                sleep.as_mut().reset(leash.at(wanted.saturating_add(1)));
            }
            if Pin::new(&mut sleep).as_mut().poll(context).is_pending() {
                return Poll::Pending;
            }
            armed = NEVER;
        }
    })
    .await;
}
