//! The connections that are open: how many, whose, and which is given up when
//! there are more than the process can hold.
//!
//! When all are taken, a newcomer is let in and another is given up: of those
//! who have most connections (the callers of a shop; the strangers of one
//! address) the one that has done nothing for longest. So nobody is kept out by
//! connections that others hold open. Behind a proxy all have one address; then
//! strangers are one group, and what counts is which of them is idle.

use baystart_core::ids::ShopId;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Notify;

/// Who is at the other end of a connection.
#[derive(Debug)]
pub(crate) struct Peer {
    pub(crate) id: u64,
    pub(crate) address: IpAddr,
    began: Instant,
    /// Bytes that came, until there are as many as a handshake has.
    greeted: AtomicBool,
    calls: AtomicUsize,
    /// Milliseconds since `began`.
    active_ms: AtomicU64,
    /// The last shop of which a token was shown.
    shop: Mutex<Option<ShopId>>,
    known: AtomicBool,
    /// It is given up for another.
    pub(crate) given_up: Notify,
}

#[derive(PartialEq, Eq, Hash, PartialOrd, Ord, Clone, Copy)]
enum Group {
    Shop(ShopId),
    Stranger(IpAddr),
}

impl Peer {
    fn now_ms(&self) -> u64 {
        u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    /// Its handshake is through.
    pub(crate) fn greeted(&self) {
        self.greeted.store(true, Ordering::Relaxed);
    }

    pub(crate) fn is_greeted(&self) -> bool {
        self.greeted.load(Ordering::Relaxed)
    }

    /// A call begins; it ends when what is returned is dropped.
    pub(crate) fn call(self: &Arc<Self>) -> Calling {
        self.calls.fetch_add(1, Ordering::Relaxed);
        Calling(Arc::clone(self))
    }

    /// A token of the shop was shown.
    pub(crate) fn shows(&self, shop: ShopId) {
        self.known.store(true, Ordering::Relaxed);
        *self.shop.lock().unwrap_or_else(PoisonError::into_inner) = Some(shop);
    }

    pub(crate) fn is_known(&self) -> bool {
        self.known.load(Ordering::Relaxed)
    }

    /// For how long no call has run; None while one runs.
    pub(crate) fn idle(&self) -> Option<Duration> {
        if self.calls.load(Ordering::Relaxed) > 0 {
            return None;
        }
        let since = self.active_ms.load(Ordering::Relaxed);
        Some(Duration::from_millis(self.now_ms().saturating_sub(since)))
    }

    fn group(&self) -> Group {
        let shop = *self.shop.lock().unwrap_or_else(PoisonError::into_inner);
        shop.map_or(Group::Stranger(self.address), Group::Shop)
    }
}

/// A call that runs.
pub(crate) struct Calling(Arc<Peer>);

impl Drop for Calling {
    fn drop(&mut self) {
        self.0.active_ms.store(self.0.now_ms(), Ordering::Relaxed);
        self.0.calls.fetch_sub(1, Ordering::Relaxed);
    }
}

/// All open connections.
#[derive(Debug)]
pub(crate) struct Registry {
    connections_max: usize,
    open: Mutex<(u64, HashMap<u64, Arc<Peer>>)>,
}

/// A connection's entry; it is gone when this is dropped.
pub(crate) struct Entered {
    pub(crate) peer: Arc<Peer>,
    registry: Arc<Registry>,
}

impl Drop for Entered {
    fn drop(&mut self) {
        self.registry.open.lock().unwrap_or_else(PoisonError::into_inner).1.remove(&self.peer.id);
    }
}

impl Registry {
    pub(crate) fn new(connections_max: usize) -> Arc<Self> {
        Arc::new(Self { connections_max: connections_max.max(1), open: Mutex::default() })
    }

    /// Enters a connection; where there are too many, another is given up.
    pub(crate) fn enter(self: &Arc<Self>, address: IpAddr) -> Entered {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if open.1.len() >= self.connections_max
            && let Some(id) = worst(open.1.values())
            && let Some(peer) = open.1.remove(&id)
        {
            tracing::debug!(%peer.address, "a connection is given up for another");
            peer.given_up.notify_one();
        }
        open.0 += 1;
        let peer = Arc::new(Peer {
            id: open.0,
            address,
            began: Instant::now(),
            greeted: AtomicBool::new(false),
            calls: AtomicUsize::new(0),
            active_ms: AtomicU64::new(0),
            shop: Mutex::new(None),
            known: AtomicBool::new(false),
            given_up: Notify::new(),
        });
        open.1.insert(peer.id, Arc::clone(&peer));
        Entered { peer, registry: Arc::clone(self) }
    }
}

/// Of the largest group the one that has been idle for longest; where none is
/// idle, the one that came last.
fn worst<'a>(open: impl Iterator<Item = &'a Arc<Peer>>) -> Option<u64> {
    let mut groups: HashMap<Group, Vec<&Arc<Peer>>> = HashMap::new();
    for peer in open {
        groups.entry(peer.group()).or_default().push(peer);
    }
    let (_, largest) = groups
        .into_iter()
        .max_by(|(a, its), (b, others)| (its.len(), a).cmp(&(others.len(), b)))?;
    let idle = largest.iter().filter_map(|peer| Some((peer.idle()?, peer.id)));
    idle.max().map(|(_, id)| id).or_else(|| largest.iter().map(|peer| peer.id).max())
}

/// How many files the process may have open; None where the system does not say.
pub(crate) fn descriptors() -> Option<u64> {
    rustix::process::getrlimit(rustix::process::Resource::Nofile).current
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn address(last: u8) -> IpAddr {
        IpAddr::from([127, 0, 0, last])
    }

    fn ids(registry: &Registry) -> Vec<u64> {
        let open = registry.open.lock().unwrap_or_else(PoisonError::into_inner);
        let mut ids: Vec<u64> = open.1.keys().copied().collect();
        ids.sort_unstable();
        ids
    }

    #[test]
    fn of_the_largest_group_the_longest_idle_is_given_up() {
        let registry = Registry::new(4);
        let shop = ShopId(Uuid::from_u128(7));
        let mut all: Vec<Entered> = (0..4).map(|_| registry.enter(address(1))).collect();
        for one in all.iter().take(2) {
            one.peer.shows(shop);
        }
        let running = all[2].peer.call();
        // Two of the shop, two strangers: strangers go first, and of them the idle one.
        all.push(registry.enter(address(1)));
        assert_eq!(ids(&registry), [1, 2, 3, 5]);
        // The newcomer is idle, the other runs a call.
        all.push(registry.enter(address(2)));
        assert_eq!(ids(&registry).len(), 4);
        assert!(!ids(&registry).contains(&5));
        drop(running);
        drop(all);
        assert!(ids(&registry).is_empty());
    }
}
