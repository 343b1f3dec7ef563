//! LedgerService.

use crate::page::Page;
use crate::shared::{Answered, Rpc, caller, found};
use baystart_core::command::Scope;
use baystart_core::ids::MovementId;
use baystart_core::plan;
use baystart_core::refs::Ref;
use baystart_proto::convert::{self, Reader, scalar, wire};
use baystart_proto::v1;
use baystart_proto::v1::ledger_service_server::LedgerService;
use tonic::{Request, Response};

/// How many batches of parts one page of shortages may look through; then it
/// ends early, with a token to go on.
const BATCHES_MAX: usize = 4;

#[tonic::async_trait]
impl LedgerService for Rpc {
    writes! {
        create_bin: CreateBinRequest => CreateBinResponse { bin }
        adjust_stock: AdjustStockRequest => AdjustStockResponse {}
        move_stock: MoveStockRequest => MoveStockResponse {}
        scrap_stock: ScrapStockRequest => ScrapStockResponse {}
        quarantine_stock: QuarantineStockRequest => QuarantineStockResponse {}
        release_quarantine: ReleaseQuarantineRequest => ReleaseQuarantineResponse {}
        record_found: RecordFoundRequest => RecordFoundResponse {}
    }

    async fn list_bins(
        &self,
        request: Request<v1::ListBinsRequest>,
    ) -> Answered<v1::ListBinsResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let page = Page::read(&mut read, &self.0.limits, asked, &());
        let page = self.fields(&caller, read, page).await?;
        let mut rows =
            self.0.kept(self.0.store.list_bins(caller.shop, page.after(), page.fetch())).await?;
        let next_page_token = page.cut(&mut rows, |row| vec![row.code.normal().to_owned()]);
        let bins = rows.iter().map(wire::bin).collect();
        Ok(Response::new(v1::ListBinsResponse { bins, next_page_token }))
    }

    async fn get_on_hand(
        &self,
        request: Request<v1::GetOnHandRequest>,
    ) -> Answered<v1::GetOnHandResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let part = read.part("part", request.get_ref().part.as_ref());
        let part = self.fields(&caller, read, part).await?;
        let scope = Scope { parts: vec![part.clone()], ..Scope::default() };
        let snapshot = self.0.snapshot(&caller, &scope).await?;
        let row = found("part", snapshot.book.find_part(&part))?;
        let on_hand = Some(wire::on_hand(&snapshot.book, row, true));
        Ok(Response::new(v1::GetOnHandResponse { on_hand }))
    }

    async fn get_available_to_promise(
        &self,
        request: Request<v1::GetAvailableToPromiseRequest>,
    ) -> Answered<v1::GetAvailableToPromiseResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let part = read.part("part", request.get_ref().part.as_ref());
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let (part, as_of) = self.fields(&caller, read, part.zip(as_of)).await?;
        let scope = Scope { parts: vec![part.clone()], ..Scope::default() };
        let planned = self.0.planned(&caller, &scope, as_of).await?;
        let (book, as_of) = (&planned.snapshot.book, planned.as_of);
        let row = found("part", book.find_part(&part))?;
        let rows = plan::available_to_promise(book, planned.learned.as_deref(), row.id, as_of);
        let words = plan::Words::new(book, as_of);
        Ok(Response::new(v1::GetAvailableToPromiseResponse {
            part_number: row.number.written().to_owned(),
            part_description: row.description.clone(),
            unit_code: row.unit.code().to_owned(),
            rows: rows.iter().map(|row| wire::available(&words, row)).collect(),
            revision: planned.snapshot.revision,
        }))
    }

    async fn list_on_hand(
        &self,
        request: Request<v1::ListOnHandRequest>,
    ) -> Answered<v1::ListOnHandResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let page = Page::read(&mut read, &self.0.limits, asked, &asked.only_short);
        let page = self.fields(&caller, read, page).await?;
        let mut on_hand: Vec<v1::OnHand> = Vec::new();
        let mut after = page.after().map(str::to_owned);
        for _ in 0..BATCHES_MAX {
            let room = page.size - on_hand.len();
            let fetch = u64::try_from(room).unwrap_or(1).saturating_add(1);
            let mut ids = self
                .0
                .kept(self.0.store.list_stock_parts(caller.shop, after.as_deref(), fetch))
                .await?;
            let more = ids.len() > room;
            ids.truncate(room);
            let parts = ids.iter().map(|id| Ref::Uid(id.0)).collect();
            let scope = Scope { parts, ..Scope::default() };
            let book = self.0.snapshot_now(&caller, &scope).await?.book;
            for id in &ids {
                let Some(part) = book.parts.get(id) else { continue };
                after = Some(part.number.normal().to_owned());
                let row = wire::on_hand(&book, part, false);
                let short = row.short.as_ref().is_some_and(|short| short.value != "0");
                if short || !asked.only_short {
                    on_hand.push(row);
                }
            }
            if !more {
                let next_page_token = String::new();
                return Ok(Response::new(v1::ListOnHandResponse { on_hand, next_page_token }));
            }
            if on_hand.len() >= page.size {
                break;
            }
        }
        let next_page_token = after.map(|key| page.token(vec![key])).unwrap_or_default();
        Ok(Response::new(v1::ListOnHandResponse { on_hand, next_page_token }))
    }

    async fn list_movements(
        &self,
        request: Request<v1::ListMovementsRequest>,
    ) -> Answered<v1::ListMovementsResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let part = match &asked.part {
            None => Some(None),
            Some(part) => read.part("part", Some(part)).map(Some),
        };
        let page = Page::read(&mut read, &self.0.limits, asked, &part);
        let (part, page) = self.fields(&caller, read, part.zip(page)).await?;
        if let Some(part) = &part {
            let scope = Scope { parts: vec![part.clone()], ..Scope::default() };
            found("part", self.0.snapshot(&caller, &scope).await?.book.find_part(part))?;
        }
        let after = page.after().and_then(scalar::uuid).map(MovementId);
        let mut listed = self
            .0
            .kept(self.0.store.list_movements(caller.shop, after, page.fetch(), part.as_ref()))
            .await?;
        let next_page_token = page.cut(&mut listed.rows, |row| vec![row.id.to_string()]);
        let movements = listed.rows.iter().map(|row| wire::movement(&listed.labels, row)).collect();
        Ok(Response::new(v1::ListMovementsResponse { movements, next_page_token }))
    }
}
