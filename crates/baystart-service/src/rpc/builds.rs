//! BuildService.

use crate::fault;
use crate::learned::Planned;
use crate::page::Page;
use crate::shared::{Answered, Rpc, caller, found};
use baystart_core::book::model::BuildState;
use baystart_core::command::Scope;
use baystart_core::plan;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::build_service_server::BuildService;
use tonic::{Request, Response};

/// What a list shows when no state is named.
const STATES_DEFAULT: [BuildState; 5] = [
    BuildState::Quoted,
    BuildState::Open,
    BuildState::InBay,
    BuildState::ReadyForHandover,
    BuildState::OnHold,
];

#[tonic::async_trait]
impl BuildService for Rpc {
    async fn create_build(
        &self,
        request: Request<v1::CreateBuildRequest>,
    ) -> Answered<v1::CreateBuildResponse> {
        self.write(request, convert::create_build, |done| v1::CreateBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn update_build(
        &self,
        request: Request<v1::UpdateBuildRequest>,
    ) -> Answered<v1::UpdateBuildResponse> {
        self.write(request, convert::update_build, |done| v1::UpdateBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn add_build_lines(
        &self,
        request: Request<v1::AddBuildLinesRequest>,
    ) -> Answered<v1::AddBuildLinesResponse> {
        self.write(request, convert::add_build_lines, |done| v1::AddBuildLinesResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn change_build_line(
        &self,
        request: Request<v1::ChangeBuildLineRequest>,
    ) -> Answered<v1::ChangeBuildLineResponse> {
        self.write(request, convert::change_build_line, |done| v1::ChangeBuildLineResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn open_build(
        &self,
        request: Request<v1::OpenBuildRequest>,
    ) -> Answered<v1::OpenBuildResponse> {
        self.write(request, convert::open_build, |done| v1::OpenBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn hold_build(
        &self,
        request: Request<v1::HoldBuildRequest>,
    ) -> Answered<v1::HoldBuildResponse> {
        self.write(request, convert::hold_build, |done| v1::HoldBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn resume_build(
        &self,
        request: Request<v1::ResumeBuildRequest>,
    ) -> Answered<v1::ResumeBuildResponse> {
        self.write(request, convert::resume_build, |done| v1::ResumeBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn put_in_bay(
        &self,
        request: Request<v1::PutInBayRequest>,
    ) -> Answered<v1::PutInBayResponse> {
        self.write(request, convert::put_in_bay, |done| v1::PutInBayResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn begin_stage(
        &self,
        request: Request<v1::BeginStageRequest>,
    ) -> Answered<v1::BeginStageResponse> {
        self.write(request, convert::begin_stage, |done| v1::BeginStageResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn finish_stage(
        &self,
        request: Request<v1::FinishStageRequest>,
    ) -> Answered<v1::FinishStageResponse> {
        self.write(request, convert::finish_stage, |done| v1::FinishStageResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn mark_ready_for_handover(
        &self,
        request: Request<v1::MarkReadyForHandoverRequest>,
    ) -> Answered<v1::MarkReadyForHandoverResponse> {
        self.write(request, convert::mark_ready, |done| v1::MarkReadyForHandoverResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn deliver_build(
        &self,
        request: Request<v1::DeliverBuildRequest>,
    ) -> Answered<v1::DeliverBuildResponse> {
        self.write(request, convert::deliver_build, |done| v1::DeliverBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn cancel_build(
        &self,
        request: Request<v1::CancelBuildRequest>,
    ) -> Answered<v1::CancelBuildResponse> {
        self.write(request, convert::cancel_build, |done| v1::CancelBuildResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn reserve_stock(
        &self,
        request: Request<v1::ReserveStockRequest>,
    ) -> Answered<v1::ReserveStockResponse> {
        self.write(request, convert::reserve_stock, |done| v1::ReserveStockResponse {
            commit: done.commit(),
        })
        .await
    }

    async fn release_stock(
        &self,
        request: Request<v1::ReleaseStockRequest>,
    ) -> Answered<v1::ReleaseStockResponse> {
        self.write(request, convert::release_stock, |done| v1::ReleaseStockResponse {
            commit: done.commit(),
        })
        .await
    }

    async fn peg_line(
        &self,
        request: Request<v1::PegLineRequest>,
    ) -> Answered<v1::PegLineResponse> {
        self.write(request, convert::peg_line, |done| v1::PegLineResponse { commit: done.commit() })
            .await
    }

    async fn unpeg_line(
        &self,
        request: Request<v1::UnpegLineRequest>,
    ) -> Answered<v1::UnpegLineResponse> {
        self.write(request, convert::unpeg_line, |done| v1::UnpegLineResponse {
            commit: done.commit(),
        })
        .await
    }

    async fn issue_stock(
        &self,
        request: Request<v1::IssueStockRequest>,
    ) -> Answered<v1::IssueStockResponse> {
        self.write(request, convert::issue_stock, |done| v1::IssueStockResponse {
            commit: done.commit(),
        })
        .await
    }

    async fn return_to_stock(
        &self,
        request: Request<v1::ReturnToStockRequest>,
    ) -> Answered<v1::ReturnToStockResponse> {
        self.write(request, convert::return_to_stock, |done| v1::ReturnToStockResponse {
            commit: done.commit(),
        })
        .await
    }

    async fn get_build(
        &self,
        request: Request<v1::GetBuildRequest>,
    ) -> Answered<v1::GetBuildResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let build = read.build("build", request.get_ref().build.as_ref());
        let build = self.fields(&caller, read, build).await?;
        let scope = Scope { builds: vec![build.clone()], ..Scope::default() };
        let snapshot = self.0.snapshot(&caller, &scope).await?;
        let row = found("build", snapshot.book.find_build(&build))?;
        let build = Some(wire::build(&snapshot.book, row, true));
        Ok(Response::new(v1::GetBuildResponse { build }))
    }

    async fn list_builds(
        &self,
        request: Request<v1::ListBuildsRequest>,
    ) -> Answered<v1::ListBuildsResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let states = states(&mut read, &asked.states);
        let page = Page::read(
            &mut read,
            &self.0.limits,
            "ListBuilds",
            &states,
            (asked.page_size, &asked.page_token),
        );
        let page = self.fields(&caller, read, page).await?;
        let mut ids = self
            .0
            .store
            .list_builds(caller.shop, page.after(), page.fetch(), &states)
            .await
            .map_err(|error| fault::store(&error))?;
        let more = ids.len() > page.size;
        ids.truncate(page.size);
        let builds = ids.iter().map(|id| Ref::Uid(id.0)).collect();
        let scope = Scope { builds, ..Scope::default() };
        let book = self.0.snapshot(&caller, &scope).await?.book;
        let rows: Vec<_> = ids.iter().filter_map(|id| book.builds.get(id)).collect();
        let last = rows.last().filter(|_| more);
        let next_page_token =
            last.map(|row| page.token(vec![row.number.normal().to_owned()])).unwrap_or_default();
        let builds = rows.into_iter().map(|row| wire::build(&book, row, false)).collect();
        Ok(Response::new(v1::ListBuildsResponse { builds, next_page_token }))
    }

    async fn get_readiness(
        &self,
        request: Request<v1::GetReadinessRequest>,
    ) -> Answered<v1::GetReadinessResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let build = read.build("build", request.get_ref().build.as_ref());
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let (build, as_of) = self.fields(&caller, read, build.zip(as_of)).await?;
        let scope = Scope { builds: vec![build.clone()], ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let book = snapshot.book;
        let id = found("build", book.find_build(&build))?.id;
        let reckoned = move || plan::readiness(&book, learned.as_deref(), id, as_of);
        let readiness = tokio::task::spawn_blocking(reckoned)
            .await
            .map_err(fault::internal)?
            .map_err(|refusal| fault::refused(&refusal))?;
        let readiness = Some(wire::readiness(&readiness));
        Ok(Response::new(v1::GetReadinessResponse { readiness }))
    }

    async fn substitute_part(
        &self,
        request: Request<v1::SubstitutePartRequest>,
    ) -> Answered<v1::SubstitutePartResponse> {
        self.write(request, convert::substitute_part, |done| v1::SubstitutePartResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn add_awaited(
        &self,
        request: Request<v1::AddAwaitedRequest>,
    ) -> Answered<v1::AddAwaitedResponse> {
        self.write(request, convert::add_awaited, |done| v1::AddAwaitedResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn record_awaited_news(
        &self,
        request: Request<v1::RecordAwaitedNewsRequest>,
    ) -> Answered<v1::RecordAwaitedNewsResponse> {
        self.write(request, convert::record_awaited_news, |done| v1::RecordAwaitedNewsResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn receive_awaited(
        &self,
        request: Request<v1::ReceiveAwaitedRequest>,
    ) -> Answered<v1::ReceiveAwaitedResponse> {
        self.write(request, convert::receive_awaited, |done| v1::ReceiveAwaitedResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn drop_awaited(
        &self,
        request: Request<v1::DropAwaitedRequest>,
    ) -> Answered<v1::DropAwaitedResponse> {
        self.write(request, convert::drop_awaited, |done| v1::DropAwaitedResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn record_made(
        &self,
        request: Request<v1::RecordMadeRequest>,
    ) -> Answered<v1::RecordMadeResponse> {
        self.write(request, convert::record_made, |done| v1::RecordMadeResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn send_out(
        &self,
        request: Request<v1::SendOutRequest>,
    ) -> Answered<v1::SendOutResponse> {
        self.write(request, convert::send_out, |done| v1::SendOutResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn record_finisher_promise(
        &self,
        request: Request<v1::RecordFinisherPromiseRequest>,
    ) -> Answered<v1::RecordFinisherPromiseResponse> {
        self.write(request, convert::record_finisher_promise, |done| {
            v1::RecordFinisherPromiseResponse { build: done.build(), commit: done.commit() }
        })
        .await
    }

    async fn record_came_back(
        &self,
        request: Request<v1::RecordCameBackRequest>,
    ) -> Answered<v1::RecordCameBackResponse> {
        self.write(request, convert::record_came_back, |done| v1::RecordCameBackResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn confirm_pick(
        &self,
        request: Request<v1::ConfirmPickRequest>,
    ) -> Answered<v1::ConfirmPickResponse> {
        self.write(request, convert::confirm_pick, |done| v1::ConfirmPickResponse {
            build: done.build(),
            commit: done.commit(),
        })
        .await
    }

    async fn get_pick_list(
        &self,
        request: Request<v1::GetPickListRequest>,
    ) -> Answered<v1::GetPickListResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let build = read.build("build", request.get_ref().build.as_ref());
        let stage = read.text("stage_name", &request.get_ref().stage_name);
        let (build, stage) = self.fields(&caller, read, build.zip(stage)).await?;
        let scope = Scope { builds: vec![build.clone()], ..Scope::default() };
        let snapshot = self.0.snapshot(&caller, &scope).await?;
        let book = snapshot.book;
        let build = found("build", book.find_build(&build))?;
        let stage = match stage.is_empty() {
            true => None,
            false => Some(found("stage_name", book.find_stage(build, &stage))?.id),
        };
        Ok(Response::new(v1::GetPickListResponse {
            build_number: build.number.written().to_owned(),
            staging_bin_code: build
                .staging_bin
                .map_or(String::new(), |bin| book.bin_code(bin).to_owned()),
            lines: wire::pick_list(&book, build, stage),
            revision: snapshot.revision,
        }))
    }
}

fn states(read: &mut Reader, asked: &[i32]) -> Vec<BuildState> {
    if asked.is_empty() {
        return STATES_DEFAULT.to_vec();
    }
    let mut out = Vec::new();
    for (i, number) in asked.iter().enumerate() {
        match wire::build_state_of(*number) {
            Some(state) => out.push(state),
            None => {
                let message = format!("{number} is no build state");
                read.fault(&format!("states[{i}]"), Reason::ValueInvalid, message);
            }
        }
    }
    out.sort();
    out.dedup();
    out
}
