//! ChangeService: who did what, and every change as it happens.

use crate::connection::{Phase, reached};
use crate::fault;
use crate::page::Page;
use crate::shared::{Answered, Guest, Rpc, Shared, caller, found};
use baystart_core::book::Book;
use baystart_core::command::Scope;
use baystart_core::refs::Ref;
use baystart_proto::convert::{Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::change_service_server::ChangeService;
use baystart_store::{ChangeRow, ChangesAfter, ChangesAsked, ChangesOf, Listed};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep, sleep_until};
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status};

/// Between two looks at what other servers committed.
const LOOK_EVERY: Duration = Duration::from_secs(1);
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
        if let Some(revision) = after.filter(|revision| *revision < 0) {
            let message = format!("{revision} is less than 0");
            read.fault("after_revision", baystart_core::refusal::Reason::ValueInvalid, message);
        }
        let after = self.fields(&caller, read, Some(after)).await?;
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

/// Sends what comes after a revision, in order, until nobody reads any more.
async fn watch(
    shared: &Shared,
    caller: &Guest,
    after: Option<i64>,
    mut woken: tokio::sync::watch::Receiver<()>,
    sender: &mpsc::Sender<Result<v1::WatchChangesResponse, Status>>,
) -> Result<(), Status> {
    let mut revision = match after {
        Some(revision) => revision,
        None => {
            let now = shared.kept(shared.store.state(caller.shop)).await?.revision;
            let first = v1::WatchChangesResponse { changes: Vec::new(), revision: now };
            if sender.send(Ok(first)).await.is_err() {
                return Ok(());
            }
            now
        }
    };
    loop {
        woken.borrow_and_update();
        let listed = match shared
            .kept(shared.store.changes_after(caller.shop, revision, BATCH_MAX))
            .await?
        {
            ChangesAfter::Known(listed) => listed,
            ChangesAfter::TooOld(now) => return Err(fault::changes_gone(revision, now, true)),
            ChangesAfter::Ahead(now) => return Err(fault::changes_gone(revision, now, false)),
        };
        let Some(last) = listed.rows.last().map(|row| row.revision) else {
            wait(shared, caller, revision, &mut woken).await?;
            continue;
        };
        // A token that was revoked meanwhile is told nothing more.
        if !shared.kept(shared.store.is_good(caller.shop, caller.token)).await? {
            return Err(fault::token_invalid());
        }
        revision = last;
        let changes = changes(listed);
        if sender.send(Ok(v1::WatchChangesResponse { changes, revision })).await.is_err() {
            return Ok(());
        }
    }
}

/// Until the shop has left a revision; a statement a second is all that it costs.
async fn wait(
    shared: &Shared,
    caller: &Guest,
    revision: i64,
    woken: &mut tokio::sync::watch::Receiver<()>,
) -> Result<(), Status> {
    loop {
        tokio::select! {
            told = woken.changed() => if told.is_err() {
                sleep(LOOK_EVERY).await;
            },
            () = sleep(LOOK_EVERY) => {}
        }
        if shared.kept(shared.store.state(caller.shop)).await?.revision != revision {
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
    }
}
