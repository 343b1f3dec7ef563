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
    /// How long the caller may let the server wait, at once or by and by: what
    /// it sends and reads, and the time in which nobody waits for it, earn the
    /// time back.
    pub(crate) stall: Duration,
    /// Bytes that earn back a second of waiting.
    pub(crate) bytes_per_second_min: u64,
}

#[derive(Debug)]
pub(crate) struct Leash {
    began: Instant,
    /// All in milliseconds since `began`, or `NEVER`.
    over_by: AtomicU64,
    sent_by: AtomicU64,
    stall: AtomicU64,
    bytes_per_second_min: AtomicU64,
    /// Waited for so far, less what was earned back; and when that was reckoned.
    spent: AtomicU64,
    settled: AtomicU64,
    /// Bytes that were handed over last.
    handed: AtomicU64,
    /// Since when the server waits for something to be sent, or to be read.
    to_send: AtomicU64,
    to_read: AtomicU64,
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
            bytes_per_second_min: AtomicU64::new(1),
            spent: AtomicU64::new(0),
            settled: AtomicU64::new(0),
            handed: AtomicU64::new(0),
            to_send: AtomicU64::new(NEVER),
            to_read: AtomicU64::new(NEVER),
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
        self.bytes_per_second_min.store(terms.bytes_per_second_min.max(1), Ordering::Relaxed);
    }

    /// Ends the call now.
    pub(super) fn pull(&self) {
        self.over_by.store(0, Ordering::Relaxed);
        self.waker.wake();
    }

    /// The caller is waited for, to send.
    pub(crate) fn waits_to_be_sent(&self) {
        self.waits_to_be_sent_at(self.ms(Instant::now()));
    }

    fn waits_to_be_sent_at(&self, now: u64) {
        let waits = self.to_send.compare_exchange(NEVER, now, Ordering::Relaxed, Ordering::Relaxed);
        if waits.is_ok() {
            self.settle_at(now, NEVER, 0);
        }
    }

    /// So many bytes came.
    pub(crate) fn was_sent(&self, bytes: usize) {
        let since = self.to_send.swap(NEVER, Ordering::Relaxed);
        self.settle(since, bytes);
    }

    /// Nothing more is wanted of the caller.
    pub(crate) fn all_sent(&self) {
        self.to_send.store(NEVER, Ordering::Relaxed);
        self.sent_by.store(NEVER, Ordering::Relaxed);
    }

    /// There are so many bytes to read: whatever was there before is taken.
    pub(crate) fn waits_to_be_read(&self, bytes: usize) {
        let since = self.to_read.swap(self.ms(Instant::now()), Ordering::Relaxed);
        let handed = self.handed.swap(u64::try_from(bytes).unwrap_or(NEVER), Ordering::Relaxed);
        self.settle(since, usize::try_from(handed).unwrap_or(usize::MAX));
    }

    /// There is nothing to read.
    pub(crate) fn was_read(&self) {
        let since = self.to_read.swap(NEVER, Ordering::Relaxed);
        if since != NEVER {
            let handed = self.handed.swap(0, Ordering::Relaxed);
            self.settle(since, usize::try_from(handed).unwrap_or(usize::MAX));
        }
    }

    /// Counts a wait that is over (since `NEVER`: none was), what it brought, and the time before it.
    fn settle(&self, since: u64, bytes: usize) {
        self.settle_at(self.ms(Instant::now()), since, bytes);
    }

    fn settle_at(&self, now: u64, since: u64, bytes: usize) {
        let waited = now.saturating_sub(since);
        let elapsed = now.saturating_sub(self.settled.swap(now, Ordering::Relaxed));
        let rate = self.bytes_per_second_min.load(Ordering::Relaxed);
        let paid = u64::try_from(bytes).unwrap_or(NEVER).saturating_mul(1000) / rate;
        let earned = elapsed.saturating_sub(waited).saturating_add(paid);
        let spent = self.spent.load(Ordering::Relaxed).saturating_add(waited);
        self.spent.store(spent.saturating_sub(earned), Ordering::Relaxed);
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
                let stall = self.stall.load(Ordering::Relaxed);
                since.saturating_add(stall.saturating_sub(self.spent.load(Ordering::Relaxed)))
            }
        };
        over.min(unsent).min((stalled, 3))
    }

    /// When to look again: others may change what is waited for meanwhile.
    fn look(&self, now: u64, due: u64) -> u64 {
        let tick = (self.stall.load(Ordering::Relaxed) / 4).max(10);
        due.min(now.saturating_add(tick))
    }

    /// A future that ends when its time is over; who drops it says so. Work whose deadline
    /// passed before it began is not begun.
    pub(crate) async fn or_over<T>(&self, work: impl Future<Output = T>) -> Result<T, Cause> {
        if self.ms(Instant::now()) >= self.over_by.load(Ordering::Relaxed) {
            return Err(Cause::Deadline);
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The millisecond at which a caller is let go who makes the server wait so long for so many bytes,
    /// again and again, and between these keeps it busy so long; None: not within an hour.
    fn let_go(bytes: usize, wait: u64, busy: u64) -> Option<u64> {
        let leash = Leash::new(None);
        let stall = Duration::from_secs(30);
        leash.bind(&Terms { over_by: None, sent_by: None, stall, bytes_per_second_min: 1000 });
        let mut now = 0;
        while now < 3_600_000 {
            leash.waits_to_be_sent_at(now);
            let (due, why) = leash.due();
            if due <= now + wait {
                assert_eq!(why, 3);
                return Some(due);
            }
            leash.to_send.store(NEVER, Ordering::Relaxed);
            leash.settle_at(now + wait, now, bytes);
            assert_eq!(leash.due().0, NEVER, "nobody waits for it");
            now += wait + busy;
        }
        None
    }

    #[tokio::test]
    async fn work_whose_deadline_has_passed_is_not_begun() {
        let leash = Leash::new(None);
        let stall = Duration::from_secs(30);
        let over_by = Some(Instant::now());
        leash.bind(&Terms { over_by, sent_by: None, stall, bytes_per_second_min: 1000 });
        let mut begun = false;
        let answer = leash.or_over(async { begun = true }).await;
        assert!(matches!(answer, Err(Cause::Deadline)));
        assert!(!begun);
    }

    #[test]
    fn who_trickles_is_let_go_as_who_is_silent() {
        assert_eq!(let_go(10, 40_000, 1_000), Some(30_000));
        // Ten bytes earn a hundredth of a second of four.
        assert_eq!(let_go(10, 4_000, 0), Some(30_070));
        // A tenth of the least rate: of each second a tenth is earned back.
        assert_eq!(let_go(100, 1_000, 0), Some(33_300));
    }

    #[test]
    fn who_sends_enough_stays_and_the_servers_own_time_is_not_the_callers() {
        assert_eq!(let_go(1_000, 1_000, 0), None);
        assert_eq!(let_go(10, 1_000, 1_000), None);
        assert_eq!(let_go(4_000, 29_000, 26_000), None);
    }
}
