//! Every kind of place that the server has, and who has shown a token before.

use super::allot::{Holder, Rule};
use super::intake::room;
use super::leash::Leash;
use super::places::Places;
use super::registry::Peer;
use crate::limits::Limits;
use baystart_store::Caller;
use std::collections::{BTreeMap, HashMap};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// For how long a share is kept for a shop or token that was seen.
const SPARE_FOR_MS: u64 = 86_400_000;
/// For how long a shop that found no place counts as one that waits.
const WANTED_FOR_MS: u64 = 5_000;
/// How many of one token may wait for a place.
const WAITING_MAX: usize = 256;
/// How many of one connection may wait to have their token looked up.
const STRANGERS_WAITING_MAX: usize = 8;
/// Tokens that are remembered as seen.
const TOKENS_MAX: usize = 8192;

/// Every kind of place.
#[derive(Debug)]
pub(crate) struct Pools {
    /// Calls of known callers.
    pub(crate) calls: Arc<Places>,
    /// Calls that read the database now.
    pub(crate) reads: Arc<Places>,
    /// Calls that load what a plan is made of.
    pub(crate) loads: Arc<Places>,
    /// Calls whose token is still to be looked up, by connection.
    pub(super) strangers: Arc<Places>,
    pub(super) watches: Arc<Places>,
    /// Streams that wait for changes.
    pub(crate) change_watches: Arc<Places>,
    pub(super) reflections: Arc<Places>,
    pub(super) checks: Checks,
    /// Room for messages that come in.
    pub(super) room: Arc<Places>,
    /// Reckonings off the async threads.
    pub(crate) reckonings: Arc<Places>,
    pub(crate) imports: Arc<Places>,
    pub(crate) backtests: Arc<Places>,
    /// Readings of a whole history with names.
    pub(crate) histories: Arc<Places>,
    pub(super) tokens: Tokens,
}

impl Pools {
    pub(crate) fn new(limits: &Limits) -> Self {
        let (wait, heavy) = (limits.place_wait_max, limits.heavy_wait_max);
        let many = |places: u64, waiting_max, wait| {
            let ample = places * 3 / 4;
            let spare_for_ms = SPARE_FOR_MS;
            Places::new(Rule { places, ample, spare_for_ms, wanted_for_ms: 0, waiting_max }, wait)
        };
        let few = |places: usize, wanted_for_ms, waiting_max, wait| {
            let places = wide(places);
            Places::new(
                Rule { places, ample: 0, spare_for_ms: 0, wanted_for_ms, waiting_max },
                wait,
            )
        };
        let heavy_of = |places| few(places, WANTED_FOR_MS, WAITING_MAX, heavy);
        let public_of = |places| few(places, 0, STRANGERS_WAITING_MAX, Duration::ZERO);
        Self {
            calls: many(wide(limits.calls_max), WAITING_MAX, wait),
            // Each of those who wait has a place: there are no more of them than that.
            reads: many(wide(limits.reads_max), usize::MAX, heavy),
            loads: heavy_of(limits.reckonings_max.max(2)),
            strangers: few(limits.strangers_max, 0, STRANGERS_WAITING_MAX, wait),
            watches: public_of(limits.health_watches_max),
            change_watches: many(wide(limits.change_watches_max), 0, Duration::ZERO),
            reflections: public_of(limits.reflections_max),
            checks: Checks::new(limits.health_checks_max),
            room: many(room(limits.bytes_in_flight_max), WAITING_MAX, wait),
            reckonings: heavy_of(limits.reckonings_max),
            imports: heavy_of(limits.imports_max),
            backtests: heavy_of(limits.backtests_max),
            histories: heavy_of(limits.backtests_max),
            tokens: Tokens::default(),
        }
    }

    /// Notes that a shop is there, so that a share of the places is kept for it.
    pub(crate) fn note_shop(&self, shop: u128) {
        let who = Holder { shop, token: 0 };
        self.calls.note(who);
        self.room.note(who);
        self.reads.note(who);
    }
}

fn wide(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}

/// A caller as a holder of places.
pub(super) fn holder(caller: &Caller) -> Holder {
    Holder { shop: caller.shop.0.as_u128(), token: caller.token.0.as_u128() }
}

/// A connection as one.
pub(super) fn stranger(peer: Option<&Arc<Peer>>) -> Holder {
    peer.map_or(Holder { shop: 0, token: 0 }, |peer| {
        let shop = match peer.address {
            IpAddr::V4(address) => u128::from(address.to_bits()),
            IpAddr::V6(address) => address.to_bits(),
        };
        Holder { shop, token: u128::from(peer.id) }
    })
}

/// Whose tokens were seen, so that a place is given in its holder's name before
/// the token is looked up. It allows nothing: every call's token is judged.
#[derive(Debug, Default)]
pub(super) struct Tokens(Mutex<HashMap<[u8; 32], Holder>>);

impl Tokens {
    pub(super) fn get(&self, hash: &[u8; 32]) -> Option<Holder> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(hash).copied()
    }

    pub(super) fn note(&self, hash: [u8; 32], who: Holder) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= TOKENS_MAX {
            // Rare, and costs each of them one look-up in the strangers' places.
            known.clear();
        }
        known.insert(hash, who);
    }

    pub(super) fn forget(&self, hash: &[u8; 32]) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(hash);
    }
}

/// The health checks that run. None is refused: where there are too many the
/// oldest is ended, for one that is in order takes no time.
#[derive(Debug)]
pub(super) struct Checks {
    checks_max: usize,
    running: Mutex<(u64, BTreeMap<u64, Arc<Leash>>)>,
}

/// A health check that runs.
pub(super) struct Checking {
    shared: Arc<Pools>,
    id: u64,
}

impl Checks {
    fn new(checks_max: usize) -> Self {
        Self { checks_max: checks_max.max(1), running: Mutex::default() }
    }
}

impl Checking {
    pub(super) fn begin(shared: &Arc<Pools>, leash: &Arc<Leash>) -> Self {
        let checks = &shared.checks;
        let mut running = checks.running.lock().unwrap_or_else(PoisonError::into_inner);
        if running.1.len() >= checks.checks_max
            && let Some((_, oldest)) = running.1.pop_first()
        {
            oldest.pull();
        }
        running.0 += 1;
        let id = running.0;
        running.1.insert(id, Arc::clone(leash));
        Self { shared: Arc::clone(shared), id }
    }
}

impl Drop for Checking {
    fn drop(&mut self) {
        let checks = &self.shared.checks;
        checks.running.lock().unwrap_or_else(PoisonError::into_inner).1.remove(&self.id);
    }
}
