//! The store's handle: opening, writing, reading.

use crate::api::{Answer, Bulk, Caller, NewToken, Snapshot, StoreOptions, Submission};
use crate::database::Database;
use crate::entity::{bin, build, part, purchase_order, shop, supplier, token};
use crate::error::{Fault, StoreError};
use crate::existing::Existing;
use crate::load::{self, Loaded};
use crate::past::HistoryImport;
use crate::txn::Txn;
use crate::warm::{self, ShopState, Warm};
use crate::work::{Job, Queues, bulk, history_import};
use crate::write;
use baystart_core::book::model::{Settings, Token};
use baystart_core::command::Scope;
use baystart_core::ids::{ShopId, TokenId};
use baystart_core::refs::{Ref, RefKind};
use sea_orm::{ConnectionTrait, EntityTrait, QueryOrder};
use std::future::Future;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use uuid::Uuid;

/// How long a check may wait for the writer and its commit.
const READY_MAX: Duration = Duration::from_secs(15);

/// A database of shops. Clones share it.
#[derive(Clone)]
pub struct Store {
    pub(crate) database: Arc<Database>,
    queues: Arc<Queues>,
    pub(crate) warm: Arc<Warm>,
}

/// Whether somebody else opened a database while it was looked at.
#[derive(Debug)]
pub struct Watch(Option<PathBuf>);

impl Watch {
    /// Whether what was read may be of two states: a server opened an SQLite file
    /// that was read without locks, since nobody had it open.
    #[must_use]
    pub fn disturbed(&self) -> bool {
        self.0.as_ref().is_some_and(|file| file.exists())
    }
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").finish_non_exhaustive()
    }
}

impl Store {
    /// Opens `sqlite:PATH` (made where it is missing), `sqlite::memory:` or
    /// `postgres://...` and runs the migrations that it lacks.
    ///
    /// # Errors
    /// The address cannot be used, or the database cannot be reached.
    pub async fn open(url: &str, options: StoreOptions) -> Result<Self, StoreError> {
        let database = Arc::new(Database::open(url, options).await?);
        Ok(Self::on(database))
    }

    /// Opens a database only to look at it: it must be there, hold this program's
    /// schema, and is neither made nor migrated nor written. What is submitted fails.
    ///
    /// # Errors
    /// It is not there, holds no Baystart data, or was written by an older or a
    /// newer program.
    pub async fn open_existing(
        url: &str,
        options: StoreOptions,
    ) -> Result<(Self, Watch), StoreError> {
        let Existing { database, appears } = Database::open_existing(url, options).await?;
        Ok((Self::on(Arc::new(database)), Watch(appears)))
    }

    fn on(database: Arc<Database>) -> Self {
        let warm = Arc::new(Warm::new(database.clone()));
        let queues = Arc::new(Queues::new(database.clone(), warm.clone()));
        Self { database, queues, warm }
    }

    /// Finishes what is queued, then closes the connections. Later calls are
    /// answered `Unavailable`.
    pub async fn close(&self) {
        self.queues.close().await;
        self.database.close().await;
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// It does not.
    pub async fn ping(&self) -> Result<(), StoreError> {
        self.database.single.execute_unprepared("SELECT 1").await?;
        Ok(())
    }

    /// Whether the database takes a commit: it writes a little and commits it, for
    /// a full disk still reads well.
    ///
    /// # Errors
    /// It does not, or not within a quarter of a minute.
    pub async fn ready(&self) -> Result<(), StoreError> {
        let database = self.database.clone();
        // A task of its own: a caller that goes away leaves nothing half way.
        let beat = tokio::spawn(async move { database.beat().await });
        match tokio::time::timeout(READY_MAX, beat).await {
            Ok(Ok(beat)) => Ok(beat?),
            Ok(Err(error)) => Err(StoreError::Corrupt(format!("the check failed: {error}"))),
            Err(_) => {
                let text = "the database took no commit in time";
                Err(StoreError::Unavailable(text.to_owned()))
            }
        }
    }

    /// Makes a shop with its first token.
    ///
    /// # Errors
    /// The database refuses or cannot be reached.
    pub async fn create_shop(
        &self,
        settings: Settings,
        admin: NewToken,
    ) -> Result<ShopId, StoreError> {
        let shop = ShopId(Uuid::now_v7());
        let token = Token {
            id: TokenId(Uuid::now_v7()),
            name: admin.name,
            roles: admin.roles,
            hash: admin.hash,
            issued_at: admin.issued_at,
            revoked_at: None,
        };
        let database = self.database.clone();
        // A task of its own: a caller that goes away does not drop it.
        let made = tokio::spawn(async move {
            let txn = database.begin_write().await?;
            write::add::<shop::Entity, _>(&txn, vec![shop::Model::of(shop, 0, &settings)]).await?;
            write::add::<token::Entity, _>(&txn, vec![token::Model::of(shop, &token)]).await?;
            database.see(txn.commit().await?, shop, 0).await?;
            Ok::<_, Fault>(shop)
        });
        match made.await {
            Ok(shop) => Ok(shop?),
            Err(error) => Err(StoreError::Corrupt(format!("making the shop failed: {error}"))),
        }
    }

    /// Every shop with its name; for the operator, never for a caller.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn shops(&self) -> Result<Vec<(ShopId, String)>, StoreError> {
        let txn = self.begin().await?;
        let rows = shop::Entity::find().order_by_asc(shop::Column::Id).all(&txn).await?;
        txn.done().await?;
        Ok(rows.into_iter().map(|row| (ShopId(row.id), row.name)).collect())
    }

    /// Who has the secret with this SHA-256; None when nobody has, or when the
    /// token is revoked.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn caller(&self, hash: [u8; 32]) -> Result<Option<Caller>, StoreError> {
        self.warm.caller(hash).await
    }

    /// Decides a command and keeps what it did. Once queued it goes on though
    /// the caller goes away; a repeat with the same request id gets the answer.
    ///
    /// # Errors
    /// Refused by a rule; or not possible now.
    pub async fn submit(&self, submission: Submission) -> Result<Answer, StoreError> {
        self.queues.run(submission.shop, Job::Command(Box::new(submission))).await
    }

    /// Decides many commands on the whole shop's book and keeps them in one
    /// commit. What is not kept when the caller has gone is dropped.
    ///
    /// # Errors
    /// Refused by a rule; or not possible now.
    pub async fn submit_bulk(&self, bulk: Bulk) -> Result<Answer, StoreError> {
        let (database, queues) = (self.database.clone(), self.queues.clone());
        let shop = bulk.shop;
        self.long(async move {
            match bulk::freely(&database, shop, Box::new(bulk)).await? {
                bulk::Step::Answered(answer) => Ok(answer),
                bulk::Step::Overtaken(bulk) => queues.run(shop, Job::Bulk(bulk)).await,
            }
        })
        .await
    }

    /// Takes past order lines while they stream in, and keeps all of them, or
    /// none. It ends when the sender of the steps is dropped.
    ///
    /// # Errors
    /// Refused (rows were bad, or the request id was used); or not possible now.
    pub async fn import_history(&self, import: HistoryImport) -> Result<Answer, StoreError> {
        let database = self.database.clone();
        self.long(async move { history_import::run(&database, import).await }).await
    }

    /// Runs an import as a task of its own, so that a caller who goes away drops
    /// no transaction half way, and waits a limited time for its answer.
    async fn long(
        &self,
        import: impl Future<Output = Result<Answer, StoreError>> + Send + 'static,
    ) -> Result<Answer, StoreError> {
        let patience = self.database.options.bulk_timeout;
        match tokio::time::timeout(patience, self.queues.beside(import)?).await {
            Ok(Ok(answer)) => answer,
            Ok(Err(_)) => Err(StoreError::Corrupt("an import failed".to_owned())),
            Err(_) => Err(StoreError::Unavailable(
                "the database did not answer in time: repeat with the same request id".to_owned(),
            )),
        }
    }

    /// A shop's state now: by a statement that begins after the call.
    ///
    /// # Errors
    /// The database cannot be reached, or has no such shop.
    pub async fn state(&self, shop: ShopId) -> Result<ShopState, StoreError> {
        self.warm.state(shop).await
    }

    /// Is told of a shop's commits on this server from now on, of single commands at once. Of imports, and of
    /// what other servers commit, nothing is told: look now and then.
    #[must_use]
    pub fn commits(&self, shop: ShopId) -> tokio::sync::watch::Receiver<()> {
        self.warm.commits.listen(shop)
    }

    /// One consistent reading of what a scope asks for, or of more, that sees everything up to a state
    /// of the shop: the warm book, or a slice read in one transaction.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn read_at(
        &self,
        shop: ShopId,
        scope: &Scope,
        at: ShopState,
    ) -> Result<Snapshot, StoreError> {
        if warm::covers(scope)
            && let Some((book, state)) = self.warm.book(shop, at).await?
        {
            return Ok(Snapshot::of(book, state));
        }
        self.read(shop, scope).await
    }

    /// Reads a slice in one consistent read-only transaction, whatever is kept.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn read(&self, shop: ShopId, scope: &Scope) -> Result<Snapshot, StoreError> {
        let txn = self.begin().await?;
        let Loaded { book, state } = load::load(&txn, shop, scope).await?;
        txn.done().await?;
        Ok(Snapshot::of(book, state))
    }

    /// How many shops' books are kept warm, and about how many bytes they take.
    #[must_use]
    pub fn warm_size(&self) -> (usize, usize) {
        self.warm.books.size()
    }

    /// Which of the references the shop does not have, in their order.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn unknown(
        &self,
        shop: ShopId,
        refs: &[(RefKind, Ref)],
    ) -> Result<Vec<bool>, StoreError> {
        let txn = self.begin().await?;
        let mut unknown = vec![true; refs.len()];
        let kinds =
            [RefKind::Part, RefKind::Supplier, RefKind::Bin, RefKind::Build, RefKind::Order];
        for kind in kinds {
            let of_kind = refs.iter().filter(|(its, _)| *its == kind);
            let wanted: Vec<Ref> = of_kind.map(|(_, wanted)| wanted.clone()).collect();
            if wanted.is_empty() {
                continue;
            }
            let found = found(&txn, shop, kind, &wanted).await?;
            for ((its, wanted), unknown) in refs.iter().zip(&mut unknown) {
                let is = |(id, normal): &(Uuid, String)| match wanted {
                    Ref::Number(number) => number.normal() == normal,
                    Ref::Uid(uid) => uid == id,
                };
                if *its == kind && found.iter().any(is) {
                    *unknown = false;
                }
            }
        }
        txn.done().await?;
        Ok(unknown)
    }

    pub(crate) async fn begin(&self) -> Result<Txn, StoreError> {
        Ok(self.database.begin_read().await?)
    }
}

/// Ids and normal numbers of the references that exist.
async fn found(
    txn: &Txn,
    shop: ShopId,
    kind: RefKind,
    refs: &[Ref],
) -> Result<Vec<(Uuid, String)>, Fault> {
    macro_rules! of {
        ($table:ident) => {{
            let of_shop = $table::COLUMN.shop.eq(shop.0);
            let (normal, id) = ($table::Column::Normal, $table::Column::Id);
            let rows = load::rows_of::<$table::Entity>(txn, of_shop, normal, id, refs).await?;
            rows.into_iter().map(|row| (row.id, row.normal)).collect()
        }};
    }
    Ok(match kind {
        RefKind::Part => of!(part),
        RefKind::Supplier => of!(supplier),
        RefKind::Bin => of!(bin),
        RefKind::Build => of!(build),
        RefKind::Order => of!(purchase_order),
    })
}
