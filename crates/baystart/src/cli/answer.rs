//! The answers of the API by name, as JSON output needs them.

use baystart_proto::v1;

/// A response with its name in the API.
pub trait Answer: prost::Message + Default + Clone {
    /// The message's short name.
    const NAME: &'static str;
}

/// The answer as it may stand on a screen.
#[must_use]
pub fn visible<A: Answer>(answer: &A) -> A {
    baystart_proto::visible::visible(A::NAME, answer)
}

/// The response to a write.
pub trait Written: Answer {
    /// What the write did.
    fn commit(&self) -> Option<&v1::Commit>;
}

macro_rules! answers {
    ($($name:ident),* $(,)?) => {
        $(impl Answer for v1::$name { const NAME: &'static str = stringify!($name); })*
    };
}

macro_rules! written {
    ($($name:ident),* $(,)?) => {
        answers!($($name),*);
        $(impl Written for v1::$name {
            fn commit(&self) -> Option<&v1::Commit> { self.commit.as_ref() }
        })*
    };
}

answers!(
    GetShopResponse,
    ListClosuresResponse,
    GetPartResponse,
    ListPartsResponse,
    GetSupplierResponse,
    ListSuppliersResponse,
    ListOffersResponse,
    ListBinsResponse,
    GetOnHandResponse,
    GetAvailableToPromiseResponse,
    ListOnHandResponse,
    ListMovementsResponse,
    GetOrderResponse,
    ListOrdersResponse,
    SuggestOrdersResponse,
    GetOrderDocumentResponse,
    GetBuildResponse,
    ListBuildsResponse,
    GetReadinessResponse,
    GetPickListResponse,
    ForecastBuildResponse,
    StreamBoardResponse,
    GetLeadTimeProfileResponse,
    ListLeadTimeProfilesResponse,
    ListStaleOrdersResponse,
    RunBacktestResponse,
    ListCustomerPromisesResponse,
    ListChasesResponse,
    PreviewLendingResponse,
    ProposeSwapsResponse,
    QuoteBuildResponse,
    ListTokensResponse,
    ImportFilesResponse,
    ImportHistoryResponse,
    ExportFilesResponse,
);
written!(
    PromiseDeliveryResponse,
    UpdateShopResponse,
    AddClosuresResponse,
    RemoveClosuresResponse,
    CreatePartResponse,
    UpdatePartResponse,
    CreateSupplierResponse,
    UpdateSupplierResponse,
    PutOfferResponse,
    CreateBinResponse,
    AdjustStockResponse,
    MoveStockResponse,
    ScrapStockResponse,
    QuarantineStockResponse,
    ReleaseQuarantineResponse,
    RecordFoundResponse,
    CreateOrderResponse,
    PlaceOrderResponse,
    DraftSuggestedOrdersResponse,
    RecordAcknowledgementResponse,
    RecordDespatchResponse,
    RecordContactResponse,
    ReceiveOrderResponse,
    ReceiveStockResponse,
    CancelOrderLinesResponse,
    RejectGoodsResponse,
    ReturnToSupplierResponse,
    CreateBuildResponse,
    UpdateBuildResponse,
    AddBuildLinesResponse,
    ChangeBuildLineResponse,
    OpenBuildResponse,
    HoldBuildResponse,
    ResumeBuildResponse,
    PutInBayResponse,
    BeginStageResponse,
    FinishStageResponse,
    MarkReadyForHandoverResponse,
    DeliverBuildResponse,
    CancelBuildResponse,
    ReserveStockResponse,
    ReleaseStockResponse,
    PegLineResponse,
    UnpegLineResponse,
    LendToBuildResponse,
    IssueStockResponse,
    ReturnToStockResponse,
    SubstitutePartResponse,
    AddAwaitedResponse,
    RecordAwaitedNewsResponse,
    ReceiveAwaitedResponse,
    DropAwaitedResponse,
    RecordMadeResponse,
    SendOutResponse,
    RecordFinisherPromiseResponse,
    RecordCameBackResponse,
    ConfirmPickResponse,
    IssueTokenResponse,
    RevokeTokenResponse,
);

#[cfg(test)]
mod tests {
    #[test]
    fn every_response_of_the_api_has_a_name_here() {
        let named = include_str!("answer.rs");
        let methods = baystart_proto::METHOD_ROLES;
        assert!(!methods.is_empty());
        for (path, _) in methods {
            let method = path.rsplit('/').next().unwrap_or_default();
            assert!(named.contains(&format!("{method}Response")), "{method}");
        }
    }
}
