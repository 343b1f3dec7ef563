//! LeadTimeService: what the shop's own orders taught, and how well its forecasts
//! would have held.

mod backtest;
mod profiles;

use crate::fault;
use crate::reckon::GoOn;
use crate::shared::{Answered, HISTORIES, Rpc, caller, found};
use baystart_core::command::Scope;
use baystart_core::leadtime::learn::stale_by_evening;
use baystart_proto::convert::wire::StaleOf;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::lead_time_service_server::LeadTimeService;
use profiles::Asked;
use std::pin::Pin;
use tonic::{Request, Response, Status};

/// Stale orders that are listed at most, the longest silent first.
const STALE_MAX: usize = 5_000;

type Stream =
    Pin<Box<dyn futures::Stream<Item = Result<v1::RunBacktestResponse, Status>> + Send + 'static>>;

#[tonic::async_trait]
impl LeadTimeService for Rpc {
    async fn get_lead_time_profile(
        &self,
        request: Request<v1::GetLeadTimeProfileRequest>,
    ) -> Answered<v1::GetLeadTimeProfileResponse> {
        let caller = caller(&request)?;
        let asked = convert::get_lead_time_profile(request.get_ref());
        let asked = self.0.read_request(&caller, asked).await?;
        let scope = Scope { parts: asked.part.iter().cloned().collect(), ..Scope::default() };
        let planned = self.0.planned(&caller, &scope, asked.as_of).await?;
        let book = &planned.snapshot.book;
        let supplier = found("supplier", book.find_supplier(&asked.supplier))?.id;
        let part = match &asked.part {
            Some(part) => Some(found("part", book.find_part(part))?.id),
            None => None,
        };
        let known: Vec<_> = match part {
            Some(part) => vec![part],
            None => {
                let own = planned.history.offers.keys().filter(|(its, _)| *its == supplier);
                own.map(|(_, part)| *part).collect()
            }
        };
        let offers = self.0.store.offers_of(caller.shop, supplier, &known).await;
        let offers = offers.map_err(|error| fault::store(&error))?;
        let asked = Asked { planned, offers, supplier, part };
        let answer = self.0.reckon(&caller, move |_| profiles::one(&asked)).await?;
        Ok(Response::new(answer))
    }

    async fn list_lead_time_profiles(
        &self,
        request: Request<v1::ListLeadTimeProfilesRequest>,
    ) -> Answered<v1::ListLeadTimeProfilesResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let as_of = self.fields(&caller, read, as_of).await?;
        let planned = self.0.planned(&caller, &Scope::default(), as_of).await?;
        let answer = self.0.reckon(&caller, move |_| profiles::all(&planned)).await?;
        Ok(Response::new(answer))
    }

    async fn list_stale_orders(
        &self,
        request: Request<v1::ListStaleOrdersRequest>,
    ) -> Answered<v1::ListStaleOrdersResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let as_of = self.fields(&caller, read, as_of).await?;
        // With names, which the kept histories lack; not many of them at once.
        let place = self.0.place(&self.0.pools.histories, &caller, HISTORIES).await?;
        let history = self.0.store.history(caller.shop).await.map_err(|e| fault::store(&e))?;
        let today = self.0.clock.today(&history.settings.time_zone);
        let work = move |_: GoOn<'_>| {
            let _place = place;
            let known = history.history.known_now();
            let as_of = as_of.unwrap_or(today);
            let after_days = history.settings.learning.stale_after_days;
            let stale = stale_by_evening(&known, as_of, after_days);
            let mut orders = Vec::new();
            for row in stale.iter().take(STALE_MAX) {
                let (Some(line), Some(label)) =
                    (known.lines.get(row.index), history.labels.get(row.index))
                else {
                    continue;
                };
                let of = StaleOf {
                    supplier_code: label.supplier_code.to_string(),
                    order_number: label.order.clone(),
                    line: label.line,
                    part_number: label.part.clone(),
                    imported: label.imported,
                };
                orders.push(wire::stale_order(of, line.placed.on, row));
            }
            v1::ListStaleOrdersResponse { orders, revision: history.revision }
        };
        let answer = self.0.reckon(&caller, work).await?;
        Ok(Response::new(answer))
    }

    type RunBacktestStream = Stream;

    async fn run_backtest(
        &self,
        request: Request<v1::RunBacktestRequest>,
    ) -> Answered<Self::RunBacktestStream> {
        let caller = caller(&request)?;
        let asked = convert::run_backtest(request.get_ref());
        let asked = self.0.read_request(&caller, asked).await?;
        backtest::run(&self.0, &caller, asked).await
    }
}
