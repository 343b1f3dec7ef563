//! Places that tasks take, wait for and give back: the allotter behind a lock
//! that is never held across an await.

use super::allot::{Allotter, Holder, Rule, Ticket, Told};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// The places of one kind.
#[derive(Debug)]
pub(crate) struct Places {
    state: Mutex<State>,
    began: Instant,
    wait_max: Duration,
}

#[derive(Debug)]
struct State {
    allotter: Allotter,
    waiting: HashMap<Ticket, oneshot::Sender<()>>,
}

impl State {
    fn tell(&mut self, served: Vec<Ticket>) {
        for ticket in served {
            if let Some(waiting) = self.waiting.remove(&ticket) {
                // Who left meanwhile gives the place back when it is dropped.
                let _ = waiting.send(());
            }
        }
    }
}

/// A place; given back when it is dropped.
#[derive(Debug)]
pub(crate) struct Place {
    places: Arc<Places>,
    who: Holder,
    amount: u64,
}

impl Drop for Place {
    fn drop(&mut self) {
        let now = self.places.now_ms();
        let mut state = self.places.lock();
        let served = state.allotter.release(self.who, self.amount, now);
        state.tell(served);
    }
}

/// Someone who waits, and may be gone before it is served.
struct Waiting {
    /// None when the place was taken over.
    places: Option<Arc<Places>>,
    who: Holder,
    amount: u64,
    ticket: Ticket,
    /// It waited for as long as it may: it is told to come again.
    in_vain: bool,
}

impl Drop for Waiting {
    fn drop(&mut self) {
        let Some(places) = self.places.take() else { return };
        let now = places.now_ms();
        let mut state = places.lock();
        let served = match state.waiting.remove(&self.ticket) {
            Some(_) => state.allotter.give_up(self.who, self.ticket, self.in_vain, now),
            // It was served, and nobody heard of it.
            None => state.allotter.release(self.who, self.amount, now),
        };
        state.tell(served);
    }
}

impl Places {
    /// Places for which one waits no longer than `wait_max`.
    pub(crate) fn new(rule: Rule, wait_max: Duration) -> Arc<Self> {
        let state = State { allotter: Allotter::new(rule), waiting: HashMap::new() };
        Arc::new(Self { state: Mutex::new(state), began: Instant::now(), wait_max })
    }

    /// Notes that a holder is there, though it asks for nothing now.
    pub(crate) fn note(&self, who: Holder) {
        let now = self.now_ms();
        self.lock().allotter.note(who, now);
    }

    /// A place, or none within the time that one waits.
    pub(crate) async fn take(self: &Arc<Self>, who: Holder, amount: u64) -> Option<Place> {
        let (ticket, served) = {
            let now = self.now_ms();
            let mut state = self.lock();
            match state.allotter.ask(who, amount, now) {
                Told::Granted => return Some(self.place(who, amount)),
                Told::Refused => return None,
                Told::Waits(ticket) => {
                    let (sender, served) = oneshot::channel();
                    state.waiting.insert(ticket, sender);
                    (ticket, served)
                }
            }
        };
        let places = Some(Arc::clone(self));
        let mut waiting = Waiting { places, who, amount, ticket, in_vain: false };
        match tokio::time::timeout(self.wait_max, served).await {
            Ok(Ok(())) => {
                waiting.places = None;
                Some(self.place(who, amount))
            }
            _ => {
                waiting.in_vain = true;
                None
            }
        }
    }

    fn place(self: &Arc<Self>, who: Holder, amount: u64) -> Place {
        Place { places: Arc::clone(self), who, amount }
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const WHO: Holder = Holder { shop: 1, token: 1 };
    const OTHER: Holder = Holder { shop: 2, token: 2 };

    fn one(wait_max: Duration) -> Arc<Places> {
        let rule = Rule { places: 1, ample: 0, spare_for_ms: 0, wanted_for_ms: 0, waiting_max: 8 };
        Places::new(rule, wait_max)
    }

    #[tokio::test]
    async fn a_place_is_waited_for_no_longer_than_said() {
        let places = one(Duration::from_millis(30));
        let place = places.take(WHO, 1).await.unwrap();
        let began = Instant::now();
        assert!(places.take(OTHER, 1).await.is_none());
        assert!(began.elapsed() < Duration::from_secs(1));
        drop(place);
        assert!(places.take(OTHER, 1).await.is_some());
    }

    #[tokio::test]
    async fn who_leaves_while_it_waits_leaves_nothing_behind() {
        let places = one(Duration::from_secs(5));
        let place = places.take(WHO, 1).await.unwrap();
        let gone = tokio::spawn({
            let places = Arc::clone(&places);
            async move { places.take(OTHER, 1).await.is_some() }
        });
        tokio::task::yield_now().await;
        let late = tokio::spawn({
            let places = Arc::clone(&places);
            async move { places.take(OTHER, 1).await.is_some() }
        });
        tokio::task::yield_now().await;
        // It is served before it is dropped, and never hears of it.
        drop(place);
        gone.abort();
        let _ = gone.await;
        assert!(late.await.unwrap());
        assert!(places.take(WHO, 1).await.is_some());
        assert!(places.lock().waiting.is_empty());
    }
}
