//! CatalogueService.

use crate::page::Page;
use crate::shared::{Answered, Rpc, caller, found};
use baystart_core::command::Scope;
use baystart_core::refs::Ref;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::catalogue_service_server::CatalogueService;
use baystart_store::OfferFilter;
use tonic::{Request, Response};

#[tonic::async_trait]
impl CatalogueService for Rpc {
    writes! {
        create_part: CreatePartRequest => CreatePartResponse { part }
        update_part: UpdatePartRequest => UpdatePartResponse { part }
        create_supplier: CreateSupplierRequest => CreateSupplierResponse { supplier }
        update_supplier: UpdateSupplierRequest => UpdateSupplierResponse { supplier }
        put_offer: PutOfferRequest => PutOfferResponse { offer }
    }

    async fn get_part(
        &self,
        request: Request<v1::GetPartRequest>,
    ) -> Answered<v1::GetPartResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let part = read.part("part", request.get_ref().part.as_ref());
        let part = self.fields(&caller, read, part).await?;
        let scope = Scope { parts: vec![part.clone()], ..Scope::default() };
        let snapshot = self.0.snapshot(&caller, &scope).await?;
        let row = found("part", snapshot.book.find_part(&part))?;
        let part = Some(wire::part(&snapshot.book, row));
        Ok(Response::new(v1::GetPartResponse { part }))
    }

    async fn list_parts(
        &self,
        request: Request<v1::ListPartsRequest>,
    ) -> Answered<v1::ListPartsResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let contains = read.text("contains", &asked.contains);
        let page = Page::read(&mut read, &self.0.limits, asked, &contains);
        let (contains, page) = self.fields(&caller, read, contains.zip(page)).await?;
        let mut rows = self
            .0
            .kept(self.0.store.list_parts(caller.shop, page.after(), page.fetch(), &contains))
            .await?;
        let next_page_token = page.cut(&mut rows, |row| vec![row.number.normal().to_owned()]);
        // The components' numbers come from a snapshot of the kits.
        let kits = rows.iter().filter(|row| row.is_kit()).map(|row| Ref::Uid(row.id.0)).collect();
        let scope = Scope { parts: kits, ..Scope::default() };
        let book = match scope.parts.is_empty() {
            true => baystart_core::book::Book::default(),
            false => self.0.snapshot_now(&caller, &scope).await?.book,
        };
        let parts = rows.iter().map(|row| wire::part(&book, row)).collect();
        Ok(Response::new(v1::ListPartsResponse { parts, next_page_token }))
    }

    async fn get_supplier(
        &self,
        request: Request<v1::GetSupplierRequest>,
    ) -> Answered<v1::GetSupplierResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let supplier = read.supplier("supplier", request.get_ref().supplier.as_ref());
        let supplier = self.fields(&caller, read, supplier).await?;
        let snapshot = self.0.snapshot(&caller, &Scope::default()).await?;
        let row = found("supplier", snapshot.book.find_supplier(&supplier))?;
        Ok(Response::new(v1::GetSupplierResponse { supplier: Some(wire::supplier(row)) }))
    }

    async fn list_suppliers(
        &self,
        request: Request<v1::ListSuppliersRequest>,
    ) -> Answered<v1::ListSuppliersResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let page = Page::read(&mut read, &self.0.limits, asked, &());
        let page = self.fields(&caller, read, page).await?;
        let mut rows = self
            .0
            .kept(self.0.store.list_suppliers(caller.shop, page.after(), page.fetch()))
            .await?;
        let next_page_token = page.cut(&mut rows, |row| vec![row.code.normal().to_owned()]);
        let suppliers = rows.iter().map(wire::supplier).collect();
        Ok(Response::new(v1::ListSuppliersResponse { suppliers, next_page_token }))
    }

    async fn list_offers(
        &self,
        request: Request<v1::ListOffersRequest>,
    ) -> Answered<v1::ListOffersResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let mut filter = OfferFilter::default();
        if asked.part.is_some() {
            filter.part = read.part("part", asked.part.as_ref());
        }
        if asked.supplier.is_some() {
            filter.supplier = read.supplier("supplier", asked.supplier.as_ref());
        }
        let page = Page::read(&mut read, &self.0.limits, asked, &filter);
        let page = self.fields(&caller, read, page).await?;
        let after = match page.cursor.as_slice() {
            [supplier, part] => Some((supplier.as_str(), part.as_str())),
            _ => None,
        };
        let mut listed = self
            .0
            .kept(self.0.store.list_offers(caller.shop, after, page.fetch(), &filter))
            .await?;
        let labels = &listed.labels;
        let next_page_token = page.cut(&mut listed.rows, |row| {
            let supplier = labels.suppliers.get(&row.supplier).map(|s| s.code.normal());
            let part = labels.parts.get(&row.part).map(|p| p.number.normal());
            [supplier, part].map(|key| key.unwrap_or_default().to_owned()).to_vec()
        });
        let offers = listed.rows.iter().map(|row| wire::offer(&listed.labels, row)).collect();
        Ok(Response::new(v1::ListOffersResponse { offers, next_page_token }))
    }
}
