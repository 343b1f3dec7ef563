//! ForecastService: one snapshot, reckoned off the async threads.

use crate::learned::Planned;
use crate::reckon::GoOn;
use crate::rpc::board;
use crate::rpc::board::{SinceAsked, day_in};
use crate::shared::{Answered, Guest, Rpc, caller, found};
use baystart_core::book::Book;
use baystart_core::book::model::BuildState;
use baystart_core::command::{Command, Scope};
use baystart_core::ids::BuildId;
use baystart_core::plan;
use baystart_core::plan::{At80, Supposed, Words};
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_core::refusal::Refusal;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::forecast_service_server::ForecastService;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::pin::Pin;
use std::sync::Arc;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status};

/// Builds that a board shows at most.
const BOARD_BUILDS_MAX: u64 = 10_000;
/// Calls that are listed at most.
const CHASES_MAX: usize = 1_000;
/// Forecasts that wait for a slow reader.
const WAITING_MAX: usize = 16;

#[tonic::async_trait]
impl ForecastService for Rpc {
    async fn forecast_build(
        &self,
        request: Request<v1::ForecastBuildRequest>,
    ) -> Answered<v1::ForecastBuildResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let build = read.build("build", request.get_ref().build.as_ref());
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let start_on = read.date("start_on", request.get_ref().start_on.as_ref());
        let facts = read.supposed(&request.get_ref().suppose);
        let asked = build.zip(facts).zip(as_of.zip(start_on));
        let ((build, facts), (as_of, start_on)) = self.fields(&caller, read, asked).await?;
        let question = ("ForecastBuild", request.get_ref(), as_of);
        let forecast =
            async |as_of| self.forecast(&caller, (build, facts), (as_of, start_on)).await;
        Ok(Response::new(self.0.answered(&caller, question, forecast).await?))
    }

    async fn list_chases(
        &self,
        request: Request<v1::ListChasesRequest>,
    ) -> Answered<v1::ListChasesResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let supplier = match &request.get_ref().supplier {
            None => Some(None),
            Some(supplier) => read.supplier("supplier", Some(supplier)).map(Some),
        };
        let (as_of, supplier) = self.fields(&caller, read, as_of.zip(supplier)).await?;
        // Any open order may be overdue, also one on which no build hangs.
        let scope = Scope { all: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let only = match &supplier {
            None => None,
            Some(supplier) => Some(found("supplier", book.find_supplier(supplier))?.id),
        };
        let reckoned = move |go_on: GoOn<'_>| {
            let Some(rows) = plan::chases(&book, learned.as_deref(), as_of, go_on)? else {
                return Ok(None);
            };
            let words = Words::new(&book, as_of);
            let rows = rows.iter().filter(|row| only.is_none_or(|only| only == row.supplier));
            let chases = rows.take(CHASES_MAX).map(|row| wire::chase(&words, row)).collect();
            Ok(Some(v1::ListChasesResponse { chases, revision }))
        };
        Ok(Response::new(self.0.reckon_all(&caller, reckoned).await?))
    }

    async fn preview_lending(
        &self,
        request: Request<v1::PreviewLendingRequest>,
    ) -> Answered<v1::PreviewLendingResponse> {
        let caller = caller(&request)?;
        let read = convert::preview_lending(request.get_ref());
        let loan = self.0.read_request(&caller, read).await?;
        let scope = Command::Bind(loan.clone()).scope();
        let scope = Scope { bays: true, ..scope };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, None).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let reckoned = move |_: GoOn<'_>| {
            let seen = plan::lending(&book, learned.as_deref(), &loan, as_of)?;
            Ok(Some(wire::lending(&book, &seen, revision)))
        };
        Ok(Response::new(self.0.reckon_all(&caller, reckoned).await?))
    }

    async fn propose_swaps(
        &self,
        request: Request<v1::ProposeSwapsRequest>,
    ) -> Answered<v1::ProposeSwapsResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let as_of = self.fields(&caller, read, as_of).await?;
        let cost_lower_priority = request.get_ref().cost_lower_priority;
        // Any two builds may have a part in common.
        let scope = Scope { all: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let reckoned = move |go_on: GoOn<'_>| {
            let learned = learned.as_deref();
            let found = plan::swaps(&book, learned, as_of, cost_lower_priority, go_on)?;
            Ok(found.map(|found| wire::swaps(&Words::new(&book, as_of), &found, revision)))
        };
        Ok(Response::new(self.0.reckon_all(&caller, reckoned).await?))
    }

    type StreamBoardStream = Pin<
        Box<dyn futures::Stream<Item = Result<v1::StreamBoardResponse, Status>> + Send + 'static>,
    >;

    async fn stream_board(
        &self,
        request: Request<v1::StreamBoardRequest>,
    ) -> Answered<Self::StreamBoardStream> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let facts = read.supposed(&request.get_ref().suppose);
        let since = self.since(&caller, &mut read, request.get_ref()).await?;
        let asked = as_of.zip(facts).zip(since);
        let ((as_of, facts), since) = self.fields(&caller, read, asked).await?;
        let ids = self
            .0
            .kept(self.0.store.list_builds(
                caller.shop,
                None,
                BOARD_BUILDS_MAX,
                &BuildState::ON_BOARD,
            ))
            .await?;
        let builds = ids.iter().map(|id| Ref::Uid(id.0)).collect();
        let all = !facts.is_empty();
        let scope = Scope { builds, bays: true, all, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (Arc::new(snapshot.book), snapshot.revision);
        let past = match since {
            Some(since) => self.known(&caller, &scope, (&book, revision), since).await?,
            None => None,
        };
        if let Some(SinceAsked::Day(day)) = since.filter(|since| since.is_after(as_of)) {
            let mut read = Reader::new();
            let message = format!("{day} is after {as_of}, the day of the board");
            read.fault("since_on", Reason::DateInvalid, message);
            return self.fields(&caller, read, None).await;
        }
        // A revision's day is the shop's own.
        let since = since.map(|since| match since {
            SinceAsked::Day(day) => day,
            SinceAsked::Revision(_, at) => day_in(&book, at),
        });
        // A build opened since the list was made is only there in part.
        let listed: BTreeSet<BuildId> = ids.into_iter().collect();
        let (shop, shared) = (caller.shop, Arc::clone(&self.0));
        let (sender, receiver) = mpsc::channel(WAITING_MAX);
        tokio::spawn(async move {
            let reckoned = {
                let shared = Arc::clone(&shared);
                move |go_on: GoOn<'_>| {
                    let asked = board::Asked { shop, learned, as_of, facts, since, past };
                    board::rows(&shared.boards, &book, asked, go_on)
                }
            };
            let rows = tokio::select! {
                rows = shared.reckon_all(&caller, reckoned) => rows,
                () = sender.closed() => return,
            };
            let rows = match rows {
                Ok(rows) => rows,
                Err(status) => {
                    // The reader may have gone.
                    let _ = sender.send(Err(status)).await;
                    return;
                }
            };
            // Only now, so that a slow reader takes nobody's turn to reckon.
            let words = Words::new(&rows.book, as_of);
            let rows = rows.rows.iter();
            for row in rows.filter(|row| listed.contains(&row.row.forecast.build)) {
                if sender.send(Ok(row.response(&words, revision))).await.is_err() {
                    return;
                }
            }
        });
        Ok(Response::new(Box::pin(ReceiverStream::new(receiver))))
    }
}

impl Rpc {
    /// Reckons the forecast of a build, as it is or with facts supposed, on a day.
    async fn forecast(
        &self,
        caller: &Guest,
        (build, facts): (Ref, Vec<Supposed>),
        (as_of, start_on): (Date, Option<Date>),
    ) -> Result<v1::ForecastBuildResponse, Status> {
        let scope = Scope {
            builds: vec![build.clone()],
            bays: true,
            // A fact may be about any order, part or build.
            all: !facts.is_empty(),
            ..Scope::default()
        };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(caller, &scope, Some(as_of)).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let id = found("build", book.find_build(&build))?.id;
        let reckoned = move |_: GoOn<'_>| {
            let forecast =
                |book: &Book| plan::forecast_build(book, learned.as_deref(), id, as_of, start_on);
            let plain = forecast(&book)?;
            if facts.is_empty() {
                let words = Words::new(&book, as_of);
                let forecast = Some(wire::build_forecast(&words, &plain, revision));
                let nothing = v1::ForecastBuildResponse::default();
                return Ok(Some(v1::ForecastBuildResponse { forecast, ..nothing }));
            }
            let (other, supposed) = plan::suppose(&book, &facts, as_of)?;
            let found = forecast(&other)?;
            let (before, after) = (At80::of(&plain), At80::of(&found));
            let as_it_is = plan::as_it_is(&book.calendar(), before, after);
            let words = Words::new(&other, as_of);
            Ok::<_, Refusal>(Some(v1::ForecastBuildResponse {
                forecast: Some(wire::build_forecast(&words, &found, revision)),
                as_it_is: Some(wire::as_it_is(&as_it_is)),
                supposed: supposed.iter().map(|fact| words.fact(fact)).collect(),
            }))
        };
        self.0.reckon_all(caller, reckoned).await
    }
}
