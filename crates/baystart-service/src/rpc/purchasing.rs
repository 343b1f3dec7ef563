//! PurchasingService.

use crate::document;
use crate::learned::Planned;
use crate::page::Page;
use crate::reckon::GoOn;
use crate::shared::{Answered, Beside, Rpc, caller, found};
use baystart_core::command::Scope;
use baystart_core::ordering::order_document;
use baystart_core::plan;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::purchasing_service_server::PurchasingService;
use baystart_store::OrderFilter;
use tonic::{Request, Response};

#[tonic::async_trait]
impl PurchasingService for Rpc {
    writes! {
        create_order: CreateOrderRequest => CreateOrderResponse { order }
        reject_goods: RejectGoodsRequest => RejectGoodsResponse { order }
        return_to_supplier: ReturnToSupplierRequest => ReturnToSupplierResponse {}
        place_order: PlaceOrderRequest => PlaceOrderResponse { order }
        record_despatch: RecordDespatchRequest => RecordDespatchResponse { order }
        take_back_promise: TakeBackPromiseRequest => TakeBackPromiseResponse { order }
        record_contact: RecordContactRequest => RecordContactResponse { order }
        receive_order: ReceiveOrderRequest => ReceiveOrderResponse { order }
        receive_stock: ReceiveStockRequest => ReceiveStockResponse {}
        cancel_order_lines: CancelOrderLinesRequest => CancelOrderLinesResponse { order }
    }

    async fn record_acknowledgement(
        &self,
        request: Request<v1::RecordAcknowledgementRequest>,
    ) -> Answered<v1::RecordAcknowledgementResponse> {
        self.write(request, convert::record_acknowledgement, |done| {
            v1::RecordAcknowledgementResponse { order: done.order(), commit: done.commit() }
        })
        .await
    }

    async fn suggest_orders(
        &self,
        request: Request<v1::SuggestOrdersRequest>,
    ) -> Answered<v1::SuggestOrdersResponse> {
        let caller = caller(&request)?;
        let asked = convert::suggest_orders(request.get_ref());
        let asked = self.0.read_request(&caller, asked).await?;
        let scope = Scope { all: true, used_up: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, asked.as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let supplier = match &asked.supplier {
            None => None,
            Some(supplier) => Some(found("supplier", book.find_supplier(supplier))?.id),
        };
        let reckoned = move |_: GoOn<'_>| {
            let confidence = asked.confidence.unwrap_or_else(|| book.ways().confidence);
            let found = plan::suggest(&book, learned.as_deref(), as_of, confidence, supplier);
            wire::suggestions(&plan::Words::new(&book, as_of), &found, revision)
        };
        let answer = self.0.reckon(&caller, reckoned).await?;
        Ok(Response::new(answer))
    }

    async fn draft_suggested_orders(
        &self,
        request: Request<v1::DraftSuggestedOrdersRequest>,
    ) -> Answered<v1::DraftSuggestedOrdersResponse> {
        let caller = caller(&request)?;
        let write = convert::draft_suggested_orders(request.get_ref());
        let write = self.0.read_request(&caller, write).await?;
        // When stock is low follows from what was used and how long suppliers take; what there is of
        // it, the decision reads itself.
        let scope = Scope { all: true, used_up: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, None).await?;
        let reckoned =
            move |_: GoOn<'_>| plan::stock_points(&snapshot.book, learned.as_deref(), as_of);
        let stock_points = self.0.reckon(&caller, reckoned).await?;
        let beside = Beside { stock_points, ..Beside::default() };
        let (response, _) = self
            .0
            .submit(&caller, write, beside, |done| v1::DraftSuggestedOrdersResponse {
                orders: done.orders(),
                commit: done.commit(),
            })
            .await?;
        Ok(Response::new(response))
    }

    async fn get_order_document(
        &self,
        request: Request<v1::GetOrderDocumentRequest>,
    ) -> Answered<v1::GetOrderDocumentResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let order = read.order("order", request.get_ref().order.as_ref());
        let format = request.get_ref().format();
        if format == v1::DocumentFormat::Unspecified {
            read.fault("format", Reason::FieldMissing, "is needed");
        }
        let order = self.fields(&caller, read, order).await?;
        // The wished dates need the builds that its lines are for, whole.
        let scope = Scope { all: true, ..Scope::default() };
        let book = self.0.snapshot(&caller, &scope).await?.book;
        let row = found("order", book.find_order(&order))?;
        let wishes = plan::wished(&book, row.id, self.0.as_of(&book, None));
        let document = order_document(&book, row, &wishes);
        let (content, media_type) = match format {
            v1::DocumentFormat::Html => (document::html(&document), "text/html; charset=utf-8"),
            _ => (document::text(&document), "text/plain; charset=utf-8"),
        };
        let media_type = media_type.to_owned();
        Ok(Response::new(v1::GetOrderDocumentResponse { content, media_type }))
    }

    async fn get_order(
        &self,
        request: Request<v1::GetOrderRequest>,
    ) -> Answered<v1::GetOrderResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let order = read.order("order", request.get_ref().order.as_ref());
        let order = self.fields(&caller, read, order).await?;
        let scope = Scope { orders: vec![order.clone()], ..Scope::default() };
        let snapshot = self.0.snapshot(&caller, &scope).await?;
        let row = found("order", snapshot.book.find_order(&order))?;
        let order = Some(wire::order(&snapshot.book, row));
        Ok(Response::new(v1::GetOrderResponse { order }))
    }

    async fn list_orders(
        &self,
        request: Request<v1::ListOrdersRequest>,
    ) -> Answered<v1::ListOrdersResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let mut filter = OrderFilter { only_open: asked.only_open, supplier: None };
        if asked.supplier.is_some() {
            filter.supplier = read.supplier("supplier", asked.supplier.as_ref());
        }
        let page = Page::read(&mut read, &self.0.limits, asked, &filter);
        let page = self.fields(&caller, read, page).await?;
        let mut ids = self
            .0
            .kept(self.0.store.list_orders(caller.shop, page.after(), page.fetch(), &filter))
            .await?;
        let more = ids.len() > page.size;
        ids.truncate(page.size);
        let orders = ids.iter().map(|id| Ref::Uid(id.0)).collect();
        let scope = Scope { orders, ..Scope::default() };
        let book = self.0.snapshot_now(&caller, &scope).await?.book;
        let rows: Vec<_> = ids.iter().filter_map(|id| book.orders.get(id)).collect();
        let last = rows.last().filter(|_| more);
        let next_page_token =
            last.map(|row| page.token(vec![row.number.normal().to_owned()])).unwrap_or_default();
        let orders = rows.into_iter().map(|row| wire::order(&book, row)).collect();
        Ok(Response::new(v1::ListOrdersResponse { orders, next_page_token }))
    }
}
