//! What goes into the store and what comes out of it.

use crate::warm::ShopState;
use baystart_core::book::model::Role;
use baystart_core::book::{Book, Change};
use baystart_core::command::Command;
use baystart_core::decide::{Context, Decision};
use baystart_core::ids::{ShopId, TokenId};
use baystart_core::ordering::StockPoint;
use baystart_core::refs::Ref;
use baystart_core::refusal::Refusal;
use jiff::Timestamp;
use std::collections::BTreeMap;
use std::time::Duration;
use uuid::Uuid;

/// Limits of a store. Each has a number; nothing waits for ever.
#[derive(Clone, Debug)]
pub struct StoreOptions {
    /// Connections that read.
    pub readers: u32,
    /// Connections that write; SQLite has one whatever is asked.
    pub writers: u32,
    /// Commands of one shop that may wait; more are answered `Busy`.
    pub queue_max: usize,
    /// Commands that may share one commit.
    pub batch_max: usize,
    /// How long a writer waits for a lock of PostgreSQL.
    pub lock_timeout: Duration,
    /// How long anyone waits for a connection.
    pub connection_timeout: Duration,
    /// How long a writer waits for the lock of an SQLite file.
    pub busy_timeout: Duration,
    /// How long a submitted command waits for its answer.
    pub answer_timeout: Duration,
    /// How long a bulk waits for its answer.
    pub bulk_timeout: Duration,
    /// Rows from which on an import is made ready beside SQLite's one writer.
    pub aside_rows_min: usize,
    /// How long an import of history waits for its next rows.
    pub step_timeout: Duration,
    /// Bytes of all books that are kept warm; 0: none are.
    pub warm_bytes_max: usize,
}

impl Default for StoreOptions {
    fn default() -> Self {
        Self {
            readers: 8,
            writers: 8,
            queue_max: 1024,
            batch_max: 32,
            lock_timeout: Duration::from_secs(5),
            connection_timeout: Duration::from_secs(5),
            busy_timeout: Duration::from_secs(5),
            answer_timeout: Duration::from_secs(60),
            bulk_timeout: Duration::from_secs(900),
            aside_rows_min: 2_000,
            step_timeout: Duration::from_secs(10),
            warm_bytes_max: 512 << 20,
        }
    }
}

/// A token to be kept; the secret itself is not.
#[derive(Clone, Debug)]
pub struct NewToken {
    /// Whose it is.
    pub name: String,
    /// What it may do.
    pub roles: Vec<Role>,
    /// SHA-256 of the secret.
    pub hash: [u8; 32],
    /// When it is issued.
    pub issued_at: Timestamp,
}

/// Who a token belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caller {
    /// The only shop that this caller can touch.
    pub shop: ShopId,
    /// Whose token it is.
    pub name: String,
    /// What it may do.
    pub roles: Vec<Role>,
    /// The token's record.
    pub token: TokenId,
    /// The shop's state at which the token was found good.
    pub at: ShopState,
}

/// Who did something, as the change log keeps it: names may be given again when
/// their token is revoked, so the token's record stands beside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Actor {
    /// Name of the token.
    pub name: String,
    /// The token's record; None where the program itself acts.
    pub token: Option<TokenId>,
}

impl From<&Caller> for Actor {
    fn from(caller: &Caller) -> Self {
        Self { name: caller.name.clone(), token: Some(caller.token) }
    }
}

/// The program itself under a name.
impl From<&str> for Actor {
    fn from(name: &str) -> Self {
        Self { name: name.to_owned(), token: None }
    }
}

/// One consistent reading of a slice of one shop.
#[derive(Clone, Debug)]
pub struct Snapshot {
    /// The slice; its settings hold the time zone.
    pub book: Book,
    /// The shop's last revision at that moment.
    pub revision: i64,
    /// The last revision that changed what lead times are learned from.
    pub evidence_revision: i64,
}

impl Snapshot {
    pub(crate) const fn of(book: Book, state: ShopState) -> Self {
        let ShopState { revision, evidence_revision, .. } = state;
        Self { book, revision, evidence_revision }
    }
}

/// Makes the answer's bytes while the transaction is still open. It may be
/// called again when the transaction has to be run again.
///
/// The bytes are kept for repeats of the request: leave secrets out and add
/// them to an answer that was not replayed.
pub type Render = Box<dyn FnMut(&Rendered<'_>) -> Vec<u8> + Send>;

/// A command with all that its decision needs.
pub struct Submission {
    /// Whose data.
    pub shop: ShopId,
    /// Who asks.
    pub actor: Actor,
    /// Takes effect at most once in a shop.
    pub request_id: Uuid,
    /// What to do.
    pub command: Command,
    /// The instant at which it is recorded; cut to microseconds.
    pub now: Timestamp,
    /// SHA-256 of a fresh secret, for the command that issues a token.
    pub secret_hash: Option<[u8; 32]>,
    /// The chance in [0, 1] that a forecast gives the promise to a customer that is recorded.
    pub stated_chance: Option<f64>,
    /// At which stock parts are reordered; for the command that drafts what is suggested.
    pub stock_points: Vec<StockPoint>,
    /// Makes the answer.
    pub render: Render,
}

/// What an answer is made from: the book after the decision.
pub struct Rendered<'a> {
    /// As it is after the decision.
    pub book: &'a Book,
    /// What was done.
    pub decision: &'a Decision,
    /// The shop's revision that it got.
    pub revision: i64,
    /// When it was recorded.
    pub recorded_at: Timestamp,
}

/// What came of a submission.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// What `render` made, now or when the request took effect.
    pub bytes: Vec<u8>,
    /// Whether the request had taken effect before.
    pub replayed: bool,
}

/// Keys of imported facts with the digest of the row that each came from, by
/// kind and key.
pub type ImportedKeys = BTreeMap<(String, String), [u8; 32]>;

/// Why a bulk is refused. Bad rows travel by the closure's own way.
pub type BulkRefusal = Refusal;

/// Makes a bulk's answer from the revision and the instant it got; in a dry
/// run from the shop's last revision.
pub type BulkAnswer = Box<dyn FnOnce(i64, Timestamp) -> Vec<u8> + Send>;

/// Decides a bulk on the whole shop's book; again, on a newer book, where others
/// wrote meanwhile.
pub type BulkDecide = Box<
    dyn FnMut(&mut Book, &mut Context<'_>, &ImportedKeys) -> Result<BulkDecision, BulkRefusal>
        + Send,
>;

/// Many commands as one transaction on the whole shop's book; for imports.
pub struct Bulk {
    /// Whose data.
    pub shop: ShopId,
    /// Who asks.
    pub actor: Actor,
    /// Takes effect at most once in a shop.
    pub request_id: Uuid,
    /// Digest of what is asked, for repeats of the request id.
    pub digest: [u8; 32],
    /// The instant at which it is recorded; cut to microseconds.
    pub now: Timestamp,
    /// Decide and answer, but keep nothing.
    pub dry_run: bool,
    /// Decides; None only while it does.
    pub decide: Option<BulkDecide>,
    /// Whether nobody waits for the answer any more: what is not kept by then is
    /// dropped.
    pub abandoned: Box<dyn Fn() -> bool + Send + Sync>,
}

/// What a bulk does.
pub struct BulkDecision {
    /// Every change, in the order in which it was applied.
    pub changes: Vec<Change>,
    /// Kind, key and digest of each imported fact.
    pub imported: Vec<(String, String, [u8; 32])>,
    /// Makes the answer.
    pub answer: BulkAnswer,
}

/// A page of rows with the rows whose names they need.
#[derive(Clone, Debug)]
pub struct Listed<T> {
    /// The page.
    pub rows: Vec<T>,
    /// Parts, suppliers, bins, builds and orders that the rows name.
    pub labels: Book,
}

/// Narrows a list of offers; an unknown reference matches none.
#[derive(Clone, Debug, Default)]
pub struct OfferFilter {
    /// Only of this part.
    pub part: Option<Ref>,
    /// Only of this supplier.
    pub supplier: Option<Ref>,
}

/// Narrows a list of orders; an unknown reference matches none.
#[derive(Clone, Debug, Default)]
pub struct OrderFilter {
    /// Only orders with a line that is a draft or open.
    pub only_open: bool,
    /// Only to this supplier.
    pub supplier: Option<Ref>,
}
