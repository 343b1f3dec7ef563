//! ShopService.

use crate::page::Page;
use crate::shared::{Answered, Rpc, caller};
use baystart_core::book::model::Closure;
use baystart_core::command::Scope;
use baystart_core::ids::SupplierId;
use baystart_proto::convert::{self, Reader, scalar, wire};
use baystart_proto::v1;
use baystart_proto::v1::shop_service_server::ShopService;
use tonic::{Request, Response};

#[tonic::async_trait]
impl ShopService for Rpc {
    writes! {
        update_shop: UpdateShopRequest => UpdateShopResponse { shop }
        add_closures: AddClosuresRequest => AddClosuresResponse {}
        remove_closures: RemoveClosuresRequest => RemoveClosuresResponse {}
    }

    async fn get_shop(
        &self,
        request: Request<v1::GetShopRequest>,
    ) -> Answered<v1::GetShopResponse> {
        let caller = caller(&request)?;
        let snapshot = self.0.snapshot(&caller, &Scope::default()).await?;
        let shop = snapshot.book.settings.as_ref().map(|s| wire::shop(s, snapshot.revision));
        let today = Some(wire::date(self.0.as_of(&snapshot.book, None)));
        Ok(Response::new(v1::GetShopResponse { shop, today }))
    }

    async fn list_closures(
        &self,
        request: Request<v1::ListClosuresRequest>,
    ) -> Answered<v1::ListClosuresResponse> {
        let caller = caller(&request)?;
        let asked = request.get_ref();
        let mut read = Reader::new();
        let from = read.date("from", asked.from.as_ref());
        let page = Page::read(&mut read, &self.0.limits, asked, &from);
        let (from, page) = self.fields(&caller, read, from.zip(page)).await?;
        let after = closure_of(&page.cursor);
        let mut listed = self
            .0
            .kept(self.0.store.list_closures(caller.shop, after.as_ref(), page.fetch(), from))
            .await?;
        let next_page_token = page.cut(&mut listed.rows, cursor_of);
        let closures = listed.rows.iter().map(|row| wire::closure(&listed.labels, row)).collect();
        Ok(Response::new(v1::ListClosuresResponse { closures, next_page_token }))
    }
}

fn cursor_of(closure: &Closure) -> Vec<String> {
    let supplier = closure.supplier.map(|id| id.to_string()).unwrap_or_default();
    vec![
        closure.first_day.to_string(),
        closure.last_day.to_string(),
        supplier,
        closure.name.clone(),
    ]
}

fn closure_of(cursor: &[String]) -> Option<Closure> {
    let [first, last, supplier, name] = cursor else { return None };
    Some(Closure {
        supplier: scalar::uuid(supplier).map(SupplierId),
        first_day: first.parse().ok()?,
        last_day: last.parse().ok()?,
        name: name.clone(),
    })
}
