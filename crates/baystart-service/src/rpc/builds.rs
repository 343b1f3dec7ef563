//! BuildService; what it reads is in [`super::builds_read`].

use super::builds_read as read;
use crate::shared::{Answered, Rpc};
use baystart_proto::convert;
use baystart_proto::v1;
use baystart_proto::v1::build_service_server::BuildService;
use tonic::Request;

#[tonic::async_trait]
impl BuildService for Rpc {
    writes! {
        create_build: CreateBuildRequest => CreateBuildResponse { build }
        update_build: UpdateBuildRequest => UpdateBuildResponse { build }
        add_build_lines: AddBuildLinesRequest => AddBuildLinesResponse { build }
        change_build_line: ChangeBuildLineRequest => ChangeBuildLineResponse { build }
        open_build: OpenBuildRequest => OpenBuildResponse { build }
        hold_build: HoldBuildRequest => HoldBuildResponse { build }
        resume_build: ResumeBuildRequest => ResumeBuildResponse { build }
        put_in_bay: PutInBayRequest => PutInBayResponse { build }
        begin_stage: BeginStageRequest => BeginStageResponse { build }
        finish_stage: FinishStageRequest => FinishStageResponse { build }
        mark_ready_for_handover: MarkReadyForHandoverRequest => MarkReadyForHandoverResponse { build }
        deliver_build: DeliverBuildRequest => DeliverBuildResponse { build }
        cancel_build: CancelBuildRequest => CancelBuildResponse { build }
        reserve_stock: ReserveStockRequest => ReserveStockResponse {}
        release_stock: ReleaseStockRequest => ReleaseStockResponse {}
        peg_line: PegLineRequest => PegLineResponse {}
        unpeg_line: UnpegLineRequest => UnpegLineResponse {}
        lend_to_build: LendToBuildRequest => LendToBuildResponse {}
        issue_stock: IssueStockRequest => IssueStockResponse {}
        return_to_stock: ReturnToStockRequest => ReturnToStockResponse {}
        substitute_part: SubstitutePartRequest => SubstitutePartResponse { build }
        add_awaited: AddAwaitedRequest => AddAwaitedResponse { build }
        record_awaited_news: RecordAwaitedNewsRequest => RecordAwaitedNewsResponse { build }
        receive_awaited: ReceiveAwaitedRequest => ReceiveAwaitedResponse { build }
        drop_awaited: DropAwaitedRequest => DropAwaitedResponse { build }
        record_made: RecordMadeRequest => RecordMadeResponse { build }
        send_out: SendOutRequest => SendOutResponse { build }
        record_came_back: RecordCameBackRequest => RecordCameBackResponse { build }
        confirm_pick: ConfirmPickRequest => ConfirmPickResponse { build }
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

    async fn record_finisher_promise(
        &self,
        request: Request<v1::RecordFinisherPromiseRequest>,
    ) -> Answered<v1::RecordFinisherPromiseResponse> {
        self.write(request, convert::record_finisher_promise, |done| {
            v1::RecordFinisherPromiseResponse { build: done.build(), commit: done.commit() }
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
