//! ChangeService: who did what, and every change as it happens.

use crate::connection::{Phase, reached};
use crate::fault::{self, Gone};
use crate::page::Page;
use crate::shared::{Answered, Guest, Rpc, Shared, caller, found};
use baystart_core::book::Book;
use baystart_core::command::Scope;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_proto::convert::{Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::change_service_server::ChangeService;
use baystart_store::{ChangeRow, ChangesAfter, ChangesAsked, ChangesOf, Listed, ShopState};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep, sleep_until};
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status};
use uuid::Uuid;

/// Between two looks at what other servers committed.
const LOOK_EVERY: Duration = Duration::from_secs(1);
/// For so long changes gather after a message.
const GATHER_FOR: Duration = Duration::from_millis(100);
/// Changes in one message.
const BATCH_MAX: usize = 100;
/// Messages that a slow reader lets wait.
const WAITING_MAX: usize = 2;
/// So long before a stream must be over a watch ends by itself.
const END_BEFORE: Duration = Duration::from_secs(5);

/// What a list is asked for, by reference.
#[derive(Clone, Debug)]
enum Of {
    Shop,
    Build(Ref),
    Order(Ref),
    Part(Ref),
}

#[tonic::async_trait]
impl ChangeService for Rpc {
    async fn list_changes(
        &self,
        request: Request<v1::ListChangesRequest>,
    ) -> Answered<v1::ListChangesResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let of = of(&mut read, asked.of.as_ref());
        let by = read.text("recorded_by", &asked.recorded_by);
        let since = read.date("since", asked.since.as_ref());
        let filters = (asked.of.clone(), asked.recorded_by.clone(), asked.since);
        let page = Page::read(&mut read, &self.0.limits, asked, &filters);
        let asked = of.zip(by).zip(since).zip(page);
        let (((of, by), since), page) = self.fields(&caller, read, asked).await?;
        let (of, from) = self.0.of(&caller, of, since).await?;
        let by = (!by.is_empty()).then_some(by);
        let before = page.after().and_then(|revision| revision.parse().ok());
        let asked = ChangesAsked { of, by, from, before };
        let listed = self.0.store.list_changes(caller.shop, &asked, page.fetch());
        let mut listed = self.0.kept(listed).await?;
        let next_page_token = page.cut(&mut listed.rows, |row| vec![row.revision.to_string()]);
        let changes = changes(listed);
        Ok(Response::new(v1::ListChangesResponse { changes, next_page_token }))
    }

    type WatchChangesStream = ReceiverStream<Result<v1::WatchChangesResponse, Status>>;

    async fn watch_changes(
        &self,
        request: Request<v1::WatchChangesRequest>,
    ) -> Answered<Self::WatchChangesStream> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let after = request.get_ref().after_revision;
        let commit = match request.get_ref().after_commit_uid.as_str() {
            "" => None,
            text => {
                let commit = Uuid::parse_str(text).ok();
                if commit.is_none() {
                    let message = format!("\"{text}\" is no UUID");
                    read.fault("after_commit_uid", Reason::ValueInvalid, message);
                }
                commit
            }
        };
        if let Some(revision) = after.filter(|revision| *revision < 0) {
            let message = format!("{revision} is less than 0");
            read.fault("after_revision", Reason::ValueInvalid, message);
        }
        let after = self.fields(&caller, read, Some(after)).await?;
        let after = after.map(|revision| Last { revision, commit });
        // It waits most of the time: it has a place among those who do, and gives back that of a call.
        let watching = self.0.place(&self.0.pools.change_watches, &caller, "watches").await?;
        caller.held.give_back();
        // Told of whatever is committed from here on.
        let woken = self.0.store.commits(caller.shop);
        let (sender, receiver) = mpsc::channel(WAITING_MAX);
        let shared = Arc::clone(&self.0);
        tokio::spawn(async move {
            let _watching = watching;
            let until = Instant::now() + shared.limits.call_time_max.saturating_sub(END_BEFORE);
            let watch = watch(&shared, &caller, after, woken, &sender);
            let ended = tokio::select! {
                ended = watch => ended,
                () = sender.closed() => Ok(()),
                () = reached(shared.stop.clone(), Phase::Stopping) => Ok(()),
                () = sleep_until(until) => Ok(()),
            };
            if let Err(status) = ended {
                // The reader may have gone.
                let _ = sender.send(Err(status)).await;
            }
        });
        Ok(Response::new(ReceiverStream::new(receiver)))
    }
}

/// The last change that was sent.
#[derive(Clone, Copy)]
struct Last {
    revision: i64,
    commit: Option<Uuid>,
}

impl Last {
    fn response(self, changes: Vec<v1::Change>) -> v1::WatchChangesResponse {
        let commit_uid = self.commit.map(|commit| commit.to_string()).unwrap_or_default();
        v1::WatchChangesResponse { changes, revision: self.revision, commit_uid }
    }
}

/// Sends what comes after a revision, in order, until nobody reads any more.
async fn watch(
    shared: &Shared,
    caller: &Guest,
    after: Option<Last>,
    mut woken: tokio::sync::watch::Receiver<()>,
    sender: &mpsc::Sender<Result<v1::WatchChangesResponse, Status>>,
) -> Result<(), Status> {
    let mut last = match after {
        Some(last) => last,
        None => {
            let now = shared.kept(shared.store.state(caller.shop)).await?;
            // The shop's own commit may be no change's: a migration and changes by hand renew it.
            let last = Last { revision: now.revision, commit: None };
            if sender.send(Ok(last.response(Vec::new()))).await.is_err() {
                return Ok(());
            }
            last
        }
    };
    loop {
        woken.borrow_and_update();
        let state = shared.kept(shared.store.state(caller.shop)).await?;
        let read = {
            // In its turn, as every call that reads.
            let _turn = shared.place(&shared.pools.reads, caller, "readings").await?;
            let holder = (caller.shop, caller.token);
            let after = (last.revision, last.commit);
            shared.kept(shared.store.changes_after(holder, after, BATCH_MAX)).await?
        };
        let gone = |now, why| Err(fault::changes_gone(last.revision, now, why));
        let listed = match read {
            ChangesAfter::Known(listed) => listed,
            ChangesAfter::TooOld(now) => return gone(now, Gone::TooOld),
            ChangesAfter::Ahead(now) => return gone(now, Gone::Ahead),
            ChangesAfter::Another(now) => return gone(now, Gone::Another),
            ChangesAfter::Revoked => return Err(fault::token_invalid()),
        };
        let Some(row) = listed.rows.last() else {
            wait(shared, caller, state, &mut woken).await?;
            continue;
        };
        last = Last { revision: row.revision, commit: row.commit };
        if sender.send(Ok(last.response(changes(*listed)))).await.is_err() {
            return Ok(());
        }
        // What follows at once is told together.
        sleep(GATHER_FOR).await;
    }
}

/// Until the shop has left a state; a statement a second is all that it costs.
async fn wait(
    shared: &Shared,
    caller: &Guest,
    state: ShopState,
    woken: &mut tokio::sync::watch::Receiver<()>,
) -> Result<(), Status> {
    loop {
        tokio::select! {
            told = woken.changed() => if told.is_err() {
                sleep(LOOK_EVERY).await;
            },
            () = sleep(LOOK_EVERY) => {}
        }
        if shared.kept(shared.store.state(caller.shop)).await? != state {
            return Ok(());
        }
    }
}

fn of(read: &mut Reader, of: Option<&v1::list_changes_request::Of>) -> Option<Of> {
    use v1::list_changes_request::Of as Asked;
    match of {
        None => Some(Of::Shop),
        Some(Asked::Build(build)) => read.build("build", Some(build)).map(Of::Build),
        Some(Asked::Order(order)) => read.order("order", Some(order)).map(Of::Order),
        Some(Asked::Part(part)) => read.part("part", Some(part)).map(Of::Part),
    }
}

impl Shared {
    /// The row that is asked about, and the instant at which the first day begins in the shop's zone.
    async fn of(
        &self,
        caller: &Guest,
        of: Of,
        since: Option<Date>,
    ) -> Result<(ChangesOf, Option<jiff::Timestamp>), Status> {
        let mut scope = Scope::default();
        match &of {
            Of::Shop => {}
            Of::Build(build) => scope.builds.push(build.clone()),
            Of::Order(order) => scope.orders.push(order.clone()),
            Of::Part(part) => scope.parts.push(part.clone()),
        }
        let book = self.snapshot(caller, &scope).await?.book;
        let of = match &of {
            Of::Shop => ChangesOf::Shop,
            Of::Build(build) => ChangesOf::Build(found("build", book.find_build(build))?.id),
            Of::Order(order) => ChangesOf::Order(found("order", book.find_order(order))?.id),
            Of::Part(part) => ChangesOf::Part(found("part", book.find_part(part))?.id),
        };
        let name = book.settings.as_ref().map_or("UTC", |settings| &settings.time_zone);
        let zone = TimeZone::get(name).unwrap_or(TimeZone::UTC);
        let begins = |day: Date| zone.to_timestamp(day.at(0, 0, 0, 0)).map_err(fault::internal);
        Ok((of, since.map(begins).transpose()?))
    }
}

fn changes(listed: Listed<ChangeRow>) -> Vec<v1::Change> {
    let Listed { rows, labels } = listed;
    rows.into_iter().map(|row| change(row, &labels)).collect()
}

fn change(row: ChangeRow, labels: &Book) -> v1::Change {
    let uid = |id: Option<uuid::Uuid>| id.map(|id| id.to_string()).unwrap_or_default();
    v1::Change {
        revision: row.revision,
        recorded_at: Some(wire::timestamp(row.recorded_at)),
        recorded_by: row.by,
        token_uid: uid(row.token),
        request_id: row.request.to_string(),
        command: row.command,
        subject: Some(v1::ChangeSubject {
            kind: row.subject,
            uid: uid(row.subject_id),
            number: row.number,
        }),
        effects: row.effects,
        movements: row.movements.iter().map(|row| wire::movement(labels, row)).collect(),
        movements_left_out: i32::try_from(row.movements_left_out).unwrap_or(i32::MAX),
    }
}
