//! The books that are kept, within a limit of bytes.

use super::ShopState;
use baystart_core::book::model::{
    Awaited, Bin, BinBalance, Build, Line, Offer, Order, OrderLine, Part, Peg, Reservation, Stage,
    Stock, Supplier,
};
use baystart_core::book::{Book, Change};
use baystart_core::ids::ShopId;
use std::collections::{HashMap, HashSet};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Bytes that a row takes beside its own size: its texts, its places in the maps and the look-ups. By
/// judgement; not measured.
const BESIDE_BYTES: usize = 220;

/// How long a book that was too large is not read again.
const TOO_LARGE: Duration = Duration::from_secs(3_600);
/// A book that was used so lately is in use.
const BUSY: Duration = Duration::from_secs(60);

/// What was found of a shop.
pub(crate) enum Looked {
    /// The book at the state that was asked for.
    Warm(Box<Book>),
    /// The book at another state, or none: it must be read anew, unless somebody does already.
    Cold {
        /// Whether there is one at all.
        is_old: bool,
    },
}

/// How a commit left a shop.
pub(crate) enum Then {
    /// Its whole book.
    Is(Box<Book>),
    /// What was changed, in its order.
    Changed(Vec<Change>),
}

struct Kept {
    state: ShopState,
    book: Book,
    bytes: usize,
    /// When it was last used, by a count of uses and by the clock.
    used: u64,
    used_at: Instant,
}

#[derive(Default)]
struct State {
    shops: HashMap<ShopId, Kept>,
    /// Those that are being read.
    reading: HashSet<ShopId>,
    /// Until when a shop's book is not read to be kept: it did not fit, or could not be read.
    not_before: HashMap<ShopId, Instant>,
    bytes: usize,
    uses: u64,
}

/// The warm books of a server.
pub(crate) struct WarmBooks {
    bytes_max: usize,
    /// A book that was used so lately does not make room for another.
    busy: Duration,
    state: Mutex<State>,
}

impl WarmBooks {
    /// None are kept beyond so many bytes in all; 0: none at all.
    pub fn new(bytes_max: usize) -> Self {
        Self { bytes_max, busy: BUSY, state: Mutex::default() }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The book of a shop at a state.
    pub fn look(&self, shop: ShopId, at: ShopState) -> Looked {
        let mut state = self.state();
        state.uses += 1;
        let now = state.uses;
        match state.shops.get_mut(&shop) {
            Some(kept) if kept.state == at => {
                (kept.used, kept.used_at) = (now, Instant::now());
                Looked::Warm(Box::new(kept.book.clone()))
            }
            kept => Looked::Cold { is_old: kept.is_some() },
        }
    }

    /// Whether the caller is the one who reads a shop's book now, until [`end_reading`](Self::end_reading).
    pub fn begin_reading(&self, shop: ShopId) -> bool {
        let mut state = self.state();
        let now = Instant::now();
        if state.not_before.get(&shop).is_some_and(|until| *until > now) {
            return false;
        }
        state.not_before.remove(&shop);
        self.bytes_max > 0 && state.reading.insert(shop)
    }

    /// A shop's book is not read again for a while.
    pub fn not_before(&self, shop: ShopId, pause: Duration) {
        self.state().not_before.insert(shop, Instant::now() + pause);
    }

    /// The next one may read it.
    pub fn end_reading(&self, shop: ShopId) {
        self.state().reading.remove(&shop);
    }

    /// Keeps what was read, unless a newer one is there; whether one is kept then.
    pub fn read(&self, shop: ShopId, at: ShopState, book: Book) -> bool {
        let mut state = self.state();
        let newer = state.shops.get(&shop).is_some_and(|kept| {
            kept.state.revision > at.revision || kept.state.commit == at.commit
        });
        newer || self.keep(&mut state, shop, at, book)
    }

    /// The book that is kept, whatever its state.
    pub fn old(&self, shop: ShopId) -> Option<(Book, ShopState)> {
        let state = self.state();
        state.shops.get(&shop).map(|kept| (kept.book.clone(), kept.state))
    }

    /// A commit was made on the state `before`, and was seen. A book of another state is thrown away.
    pub fn committed(&self, shop: ShopId, [before, after]: [ShopState; 2], then: Then) {
        let mut state = self.state();
        let Some(kept) = state.shops.remove(&shop) else { return };
        state.bytes -= kept.bytes;
        if kept.state != before {
            return;
        }
        let book = match then {
            Then::Is(book) => *book,
            Then::Changed(changes) => {
                let mut book = kept.book;
                for change in &changes {
                    book.apply(change);
                }
                book
            }
        };
        self.keep(&mut state, shop, after, book);
    }

    /// Nobody knows what became of a commit.
    pub fn forget(&self, shop: ShopId) {
        self.state().forget(shop);
    }

    /// How many shops are kept, and about how many bytes they take.
    pub fn size(&self) -> (usize, usize) {
        let state = self.state();
        (state.shops.len(), state.bytes)
    }

    fn keep(&self, state: &mut State, shop: ShopId, at: ShopState, mut book: Book) -> bool {
        state.forget(shop);
        // What only some decisions load is not kept: a commit may have brought a part of it.
        book.tokens.clear();
        book.used.clear();
        let (bytes, now) = (bytes_of(&book), Instant::now());
        if bytes > self.bytes_max {
            state.not_before.insert(shop, now + TOO_LARGE);
            return false;
        }
        while state.bytes + bytes > self.bytes_max {
            let oldest = state.shops.iter().min_by_key(|(_, kept)| kept.used);
            let oldest = oldest.filter(|(_, kept)| now - kept.used_at >= self.busy);
            let Some(oldest) = oldest.map(|(id, _)| *id) else {
                state.not_before.insert(shop, now + self.busy);
                return false;
            };
            state.forget(oldest);
        }
        state.uses += 1;
        state.bytes += bytes;
        let used = state.uses;
        state.shops.insert(shop, Kept { state: at, book, bytes, used, used_at: now });
        true
    }
}

impl State {
    fn forget(&mut self, shop: ShopId) {
        if let Some(kept) = self.shops.remove(&shop) {
            self.bytes -= kept.bytes;
        }
    }
}

/// About how many bytes a book takes.
fn bytes_of(book: &Book) -> usize {
    fn of<T>(rows: usize) -> usize {
        rows * (size_of::<T>() + BESIDE_BYTES)
    }
    let tables = [
        of::<Part>(book.parts.len()),
        of::<Supplier>(book.suppliers.len()),
        of::<Offer>(book.offers.len()),
        of::<Bin>(book.bins.len()),
        of::<Stock>(book.stock.len()),
        of::<BinBalance>(book.balances.len()),
        of::<Build>(book.builds.len()),
        of::<Stage>(book.stages.len()),
        of::<Line>(book.lines.len()),
        of::<Awaited>(book.awaited.len()),
        of::<Reservation>(book.reservations.len()),
        of::<Order>(book.orders.len()),
        of::<OrderLine>(book.order_lines.len()),
        of::<Peg>(book.pegs.len()),
        book.closures.len() * BESIDE_BYTES,
    ];
    tables.iter().sum()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use baystart_core::ids::SupplierId;
    use baystart_core::number::Number;
    use uuid::Uuid;

    fn state(revision: i64) -> ShopState {
        let commit = Uuid::from_u128(u128::try_from(revision).unwrap());
        ShopState { revision, evidence_revision: 0, commit }
    }

    fn book(rows: u128) -> Book {
        let mut book = Book::default();
        for row in 0..rows {
            let (id, code) = (SupplierId(Uuid::from_u128(row)), Number::parse("S").unwrap());
            book.suppliers.insert(id, Supplier { id, code, name: String::new(), version: 1 });
        }
        book
    }

    fn is_warm(books: &WarmBooks, shop: u128, revision: i64) -> bool {
        matches!(books.look(ShopId(Uuid::from_u128(shop)), state(revision)), Looked::Warm(_))
    }

    #[test]
    fn only_the_state_that_was_asked_for_is_warm() {
        let (books, shop) = (WarmBooks::new(1 << 20), ShopId(Uuid::from_u128(1)));
        assert!(books.begin_reading(shop));
        assert!(!books.begin_reading(shop), "two read one shop");
        books.read(shop, state(3), book(1));
        books.end_reading(shop);
        assert!(books.begin_reading(shop));
        assert!(is_warm(&books, 1, 3) && !is_warm(&books, 1, 4) && !is_warm(&books, 2, 3));
        // The same revision of another history.
        let other = ShopState { commit: Uuid::from_u128(99), ..state(3) };
        assert!(matches!(books.look(shop, other), Looked::Cold { is_old: true }));
        // An older reading does not replace it, a commit on another state throws it away.
        books.read(shop, state(2), book(1));
        assert!(is_warm(&books, 1, 3));
        books.committed(shop, [state(3), state(4)], Then::Changed(Vec::new()));
        assert!(is_warm(&books, 1, 4));
        books.committed(shop, [state(5), state(6)], Then::Is(Box::default()));
        assert!(!is_warm(&books, 1, 4) && !is_warm(&books, 1, 6));
    }

    #[test]
    fn the_least_recently_used_goes_first_and_the_bytes_are_counted() {
        let one = bytes_of(&book(100));
        let books = WarmBooks { busy: Duration::ZERO, ..WarmBooks::new(2 * one) };
        for shop in [1, 2] {
            books.read(ShopId(Uuid::from_u128(shop)), state(1), book(100));
        }
        assert!(is_warm(&books, 1, 1));
        books.read(ShopId(Uuid::from_u128(3)), state(1), book(100));
        assert!(is_warm(&books, 1, 1) && !is_warm(&books, 2, 1) && is_warm(&books, 3, 1));
        assert_eq!(books.size(), (2, 2 * one));
        // One that is too large by itself is not kept, and costs nobody his.
        books.read(ShopId(Uuid::from_u128(4)), state(1), book(201));
        assert_eq!(books.size(), (2, 2 * one));
        // Nor is it read for every call.
        assert!(!books.begin_reading(ShopId(Uuid::from_u128(4))));
        // A book in use makes no room: else shops in turn would read theirs at each call.
        let busy = WarmBooks::new(one);
        assert!(busy.read(ShopId(Uuid::from_u128(1)), state(1), book(100)));
        assert!(!busy.read(ShopId(Uuid::from_u128(2)), state(1), book(100)));
        assert!(is_warm(&busy, 1, 1) && !busy.begin_reading(ShopId(Uuid::from_u128(2))));
        assert!(!WarmBooks::new(0).begin_reading(ShopId(Uuid::from_u128(1))), "none are kept");
    }
}
