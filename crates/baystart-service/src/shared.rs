//! What all RPC bodies share: reading requests, submitting commands, loading
//! snapshots, and their faults as statuses.

use crate::clock::Clock;
use crate::connection::Phase;
use crate::fault;
use crate::gate::{Held, Place, Places, Pools, place};
use crate::kept_answers::{KeptAnswers, Question};
use crate::kept_boards::KeptBoards;
use crate::learned::LearnedCache;
use crate::limits::Limits;
use crate::reckon::Reckoners;
use baystart_core::book::{Book, Change, model};
use baystart_core::command::Scope;
use baystart_core::decide::Subject;
use baystart_core::ordering::StockPoint;
use baystart_core::refusal::{Faults, FieldPath, Reason, Refusal};
use baystart_proto::convert::{Named, Reader, Unread, Write, wire};
use baystart_proto::v1;
use baystart_store::{Caller, Rendered, Snapshot, Store, StoreError, Submission};
use jiff::civil::Date;
use prost::Message;
use std::ops::Deref;
use std::sync::Arc;
use tokio::sync::watch;
use tonic::{Request, Response, Status};

/// State of one server.
pub(crate) struct Shared {
    pub(crate) store: Store,
    pub(crate) clock: Clock,
    pub(crate) limits: Limits,
    pub(crate) stop: watch::Receiver<Phase>,
    pub(crate) pools: Arc<Pools>,
    pub(crate) reckoners: Reckoners,
    pub(crate) learned: LearnedCache,
    pub(crate) boards: KeptBoards,
    pub(crate) answers: KeptAnswers,
}

/// The RPC bodies; one file each under `rpc`.
#[derive(Clone)]
pub(crate) struct Rpc(pub(crate) Arc<Shared>);

/// What the service reckons for a command, beside the request.
#[derive(Default)]
pub(crate) struct Beside {
    /// SHA-256 of a fresh secret.
    pub(crate) secret_hash: Option<[u8; 32]>,
    /// The chance of keeping a promise to a customer.
    pub(crate) stated_chance: Option<f64>,
    /// At which stock parts are reordered.
    pub(crate) stock_points: Vec<StockPoint>,
}

/// What an RPC answers.
pub(crate) type Answered<T> = Result<Response<T>, Status>;

/// What a committed command's answer is made from.
pub(crate) struct Done<'a>(&'a Rendered<'a>);

impl Done<'_> {
    pub(crate) fn commit(&self) -> Option<v1::Commit> {
        let Rendered { book, decision, revision, recorded_at } = self.0;
        let effects = decision.effects.iter().map(|effect| wire::effect(book, effect));
        Some(wire::commit(*revision, *recorded_at, effects.collect()))
    }

    pub(crate) fn shop(&self) -> Option<v1::Shop> {
        let settings = self.0.book.settings.as_ref();
        settings.map(|settings| wire::shop(settings, self.0.revision))
    }

    pub(crate) fn part(&self) -> Option<v1::Part> {
        let Subject::Part(id) = self.0.decision.subject else { return None };
        self.0.book.parts.get(&id).map(|part| wire::part(self.0.book, part))
    }

    pub(crate) fn supplier(&self) -> Option<v1::Supplier> {
        let Subject::Supplier(id) = self.0.decision.subject else { return None };
        self.0.book.suppliers.get(&id).map(wire::supplier)
    }

    pub(crate) fn offer(&self) -> Option<v1::Offer> {
        let Subject::Offer(id) = self.0.decision.subject else { return None };
        self.0.book.offers.get(&id).map(|offer| wire::offer(self.0.book, offer))
    }

    pub(crate) fn bin(&self) -> Option<v1::Bin> {
        let Subject::Bin(id) = self.0.decision.subject else { return None };
        self.0.book.bins.get(&id).map(wire::bin)
    }

    pub(crate) fn build(&self) -> Option<v1::Build> {
        let Subject::Build(id) = self.0.decision.subject else { return None };
        self.0.book.builds.get(&id).map(|build| wire::build(self.0.book, build, true))
    }

    pub(crate) fn order(&self) -> Option<v1::Order> {
        let Subject::Order(id) = self.0.decision.subject else { return None };
        self.0.book.orders.get(&id).map(|order| wire::order(self.0.book, order))
    }

    /// Every order that was made.
    pub(crate) fn orders(&self) -> Vec<v1::Order> {
        let made = self.0.decision.changes.iter().filter_map(|change| match change {
            Change::Order(order) => self.0.book.orders.get(&order.id),
            _ => None,
        });
        made.map(|order| wire::order(self.0.book, order)).collect()
    }

    pub(crate) fn token(&self) -> Option<v1::Token> {
        let Subject::Token(id) = self.0.decision.subject else { return None };
        self.0.book.tokens.get(&id).map(wire::token)
    }
}

/// What there are few of, as a refusal names it.
pub(crate) const HISTORIES: &str = "readings of a whole history";

/// Who calls, and what the call holds.
#[derive(Clone)]
pub(crate) struct Guest {
    caller: Caller,
    pub(crate) held: Arc<Held>,
}

impl Guest {
    pub(crate) const fn new(caller: Caller, held: Arc<Held>) -> Self {
        Self { caller, held }
    }
}

impl Deref for Guest {
    type Target = Caller;
    fn deref(&self) -> &Caller {
        &self.caller
    }
}

/// Who calls; the gate put it there.
pub(crate) fn caller<T>(request: &Request<T>) -> Result<Guest, Status> {
    let extensions = request.extensions();
    let guest = extensions.get::<Caller>().cloned().zip(extensions.get::<Arc<Held>>().cloned());
    guest
        .map(|(caller, held)| Guest::new(caller, held))
        .ok_or_else(|| fault::unauthenticated("TOKEN_MISSING", "this call needs an access token"))
}

/// A row that was looked up, or NOT_FOUND with its field.
pub(crate) fn found<T>(
    field: impl Into<FieldPath>,
    row: Result<T, (Reason, String)>,
) -> Result<T, Status> {
    row.map_err(|(reason, message)| fault::field(field, reason, message))
}

impl Shared {
    /// A place of a kind of which there are few, for as long as it is kept.
    pub(crate) async fn place(
        &self,
        places: &Arc<Places>,
        guest: &Guest,
        of_what: &str,
    ) -> Result<Place, Status> {
        place(places, guest.held.who, of_what).await
    }

    /// The value that was read, or every fault of the request at once: those
    /// of its fields, and of the references that the shop does not have.
    pub(crate) async fn read_request<T>(
        &self,
        caller: &Caller,
        value: Result<T, Unread>,
    ) -> Result<T, Status> {
        let unread = match value {
            Ok(value) => return Ok(value),
            Err(unread) => unread,
        };
        let mut faults = unread.faults;
        faults.append(self.unknown(caller, &unread.named).await?);
        match faults.check() {
            Err(refusal) => Err(fault::refused(&refusal)),
            Ok(()) => Err(fault::internal("a request did not read, without a fault")),
        }
    }

    async fn unknown(&self, caller: &Caller, named: &[Named]) -> Result<Faults, Status> {
        let mut faults = Faults::new();
        if named.is_empty() {
            return Ok(faults);
        }
        let refs: Vec<_> = named.iter().map(|n| (n.kind, n.reference.clone())).collect();
        let unknown = self.store.unknown(caller.shop, &refs).await.map_err(|e| fault::store(&e))?;
        for (named, unknown) in named.iter().zip(unknown) {
            if unknown {
                let what = named.kind.text();
                let message = format!("no {what} \"{}\" in this shop", named.reference);
                faults.push(&named.field, named.kind.unknown(), message);
            }
        }
        Ok(faults)
    }

    /// Submits a command; the answer, and whether the request had taken effect
    /// before.
    pub(crate) async fn submit<R: Message + Default + 'static>(
        &self,
        caller: &Guest,
        write: Write,
        beside: Beside,
        render: fn(&Done<'_>) -> R,
    ) -> Result<(R, bool), Status> {
        let held = Arc::clone(&caller.held);
        let submission = Submission {
            shop: caller.shop,
            actor: (&**caller).into(),
            request_id: write.request_id,
            command: write.command,
            now: self.clock.now(),
            secret_hash: beside.secret_hash,
            stated_chance: beside.stated_chance,
            stock_points: beside.stock_points,
            render: Box::new(move |rendered| {
                // What waits to be written keeps its caller's place.
                let _held = &held;
                render(&Done(rendered)).encode_to_vec()
            }),
        };
        let answer = self.store.submit(submission).await.map_err(|e| fault::store(&e))?;
        let response =
            R::decode(answer.bytes.as_slice()).map_err(|error| match answer.replayed {
                // The bytes belong to another method's answer.
                true => fault::refused(&Refusal::new(
                    Reason::RequestReused,
                    "the request id was used for another command",
                )),
                false => fault::internal(error),
            })?;
        Ok((response, answer.replayed))
    }

    /// What the store answers, or its error as a status.
    pub(crate) async fn kept<T>(
        &self,
        asked: impl Future<Output = Result<T, StoreError>>,
    ) -> Result<T, Status> {
        asked.await.map_err(|error| fault::store(&error))
    }

    /// One consistent reading.
    pub(crate) async fn snapshot(
        &self,
        caller: &Caller,
        scope: &Scope,
    ) -> Result<Snapshot, Status> {
        self.store.read_at(caller.shop, scope, caller.at).await.map_err(|e| fault::store(&e))
    }

    /// The answer to a question that depends on the shop's state, the day and the request alone: kept
    /// from before, or made now and kept.
    pub(crate) async fn answered<Q: Message, R: Message + Clone + 'static>(
        &self,
        caller: &Caller,
        (method, asked, as_of): (&'static str, &Q, Option<Date>),
        make: impl AsyncFnOnce(Date) -> Result<R, Status>,
    ) -> Result<R, Status> {
        let as_of = match as_of {
            Some(as_of) => as_of,
            None => self.as_of(&self.snapshot(caller, &Scope::default()).await?.book, None),
        };
        let question = Question::new(method, as_of, asked);
        let (shop, at) = (caller.shop, caller.at);
        if let Some(kept) = self.answers.get(shop, at, &question) {
            return Ok(kept);
        }
        let made = make(as_of).await?;
        // Made at that state or at a later one: kept only if it is that one's.
        if self.store.state(shop).await.is_ok_and(|now| now == at) {
            self.answers.keep(shop, at, question, &made);
        }
        Ok(made)
    }

    /// A reading that sees what was read just before, for example a list of ids.
    pub(crate) async fn snapshot_now(
        &self,
        caller: &Caller,
        scope: &Scope,
    ) -> Result<Snapshot, Status> {
        let at = self.kept(self.store.state(caller.shop)).await?;
        self.kept(self.store.read_at(caller.shop, scope, at)).await
    }

    /// The asked day, or today in the shop's time zone.
    pub(crate) fn as_of(&self, book: &Book, asked: Option<Date>) -> Date {
        let zone = book.settings.as_ref().map_or("UTC", |s: &model::Settings| &s.time_zone);
        asked.unwrap_or_else(|| self.clock.today(zone))
    }
}

impl Rpc {
    /// The whole of a writing RPC: read, submit, answer.
    pub(crate) async fn write<Q, R: Message + Default + 'static>(
        &self,
        request: Request<Q>,
        read: fn(&Q) -> Result<Write, Unread>,
        render: fn(&Done<'_>) -> R,
    ) -> Answered<R> {
        let caller = caller(&request)?;
        let write = self.0.read_request(&caller, read(request.get_ref())).await?;
        let (response, _) = self.0.submit(&caller, write, Beside::default(), render).await?;
        Ok(Response::new(response))
    }

    /// Reads the fields of a reading RPC.
    pub(crate) async fn fields<T>(
        &self,
        caller: &Caller,
        read: Reader,
        value: Option<T>,
    ) -> Result<T, Status> {
        self.0.read_request(caller, read.finish(value)).await
    }
}

#[cfg(test)]
impl Shared {
    /// A server's state on an empty database in memory.
    #[allow(clippy::unwrap_used)]
    pub(crate) async fn in_memory(limits: Limits) -> Arc<Self> {
        let options = baystart_store::StoreOptions::default();
        let store = Store::open("sqlite::memory:", options).await.unwrap();
        let (_, stop) = watch::channel(Phase::Running);
        Arc::new(Self {
            store,
            clock: Clock::System,
            pools: Arc::new(Pools::new(&limits)),
            reckoners: Reckoners::new(limits.reckonings_max),
            limits,
            stop,
            learned: LearnedCache::default(),
            boards: KeptBoards::default(),
            answers: KeptAnswers::default(),
        })
    }
}
