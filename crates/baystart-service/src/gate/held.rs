//! What a call holds: its places, until the last of its work has ended, and the
//! word that its caller has gone.

use super::allot::Holder;
use super::places::Place;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// What a call holds. Work off the async threads keeps a share in it, so that a
/// place is taken for as long as somebody works for it, whoever still waits.
#[derive(Debug)]
pub(crate) struct Held {
    pub(crate) who: Holder,
    place: Mutex<Option<Place>>,
    /// Room for the messages that came.
    bytes: Mutex<Vec<Place>>,
    gone: AtomicBool,
}

impl Held {
    pub(crate) fn new(who: Holder, place: Option<Place>) -> Arc<Self> {
        let (bytes, gone) = (Mutex::default(), AtomicBool::new(false));
        Arc::new(Self { who, place: Mutex::new(place), bytes, gone })
    }

    /// Gives back the place of a call that has another one to wait in.
    pub(crate) fn give_back(&self) {
        self.place.lock().unwrap_or_else(PoisonError::into_inner).take();
    }

    /// Keeps the room of a message until the call's end.
    pub(super) fn keep(&self, bytes: Place) {
        self.bytes.lock().unwrap_or_else(PoisonError::into_inner).push(bytes);
    }

    /// Whether somebody still waits for the answer.
    pub(crate) fn is_waited_for(&self) -> bool {
        !self.gone.load(Ordering::Relaxed)
    }
}

/// Says that the caller has gone when it is dropped.
pub(crate) struct Leaving(pub(crate) Arc<Held>);

impl Drop for Leaving {
    fn drop(&mut self) {
        self.0.gone.store(true, Ordering::Relaxed);
    }
}
