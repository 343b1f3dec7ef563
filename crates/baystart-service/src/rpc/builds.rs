//! BuildService; what it reads is in [`super::builds_read`].

use super::builds_read as read;
use crate::shared::{Answered, Rpc};
use baystart_proto::convert;
use baystart_proto::v1;
use baystart_proto::v1::build_service_server::BuildService;
use tonic::Request;

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

    async fn lend_to_build(
        &self,
        request: Request<v1::LendToBuildRequest>,
    ) -> Answered<v1::LendToBuildResponse> {
        self.write(request, convert::lend_to_build, |done| v1::LendToBuildResponse {
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
        read::get_build(self, &request).await
    }

    async fn list_builds(
        &self,
        request: Request<v1::ListBuildsRequest>,
    ) -> Answered<v1::ListBuildsResponse> {
        read::list_builds(self, &request).await
    }

    async fn get_readiness(
        &self,
        request: Request<v1::GetReadinessRequest>,
    ) -> Answered<v1::GetReadinessResponse> {
        read::get_readiness(self, &request).await
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
        read::get_pick_list(self, &request).await
    }
}
