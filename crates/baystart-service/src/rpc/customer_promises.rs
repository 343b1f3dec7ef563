//! CustomerPromiseService: a promise is recorded with the chance that a forecast
//! gives it at that moment.

use crate::fault;
use crate::learned::Planned;
use crate::reckon::GoOn;
use crate::shared::{Answered, Beside, Guest, Rpc, Shared, caller};
use baystart_core::command::{BuildCommand, Command, Scope};
use baystart_core::plan;
use baystart_core::plan::Words;
use baystart_core::refs::Ref;
use baystart_proto::convert::{self, Reader, wire};
use baystart_proto::v1;
use baystart_proto::v1::customer_promise_service_server::CustomerPromiseService;
use tonic::{Request, Response, Status};

#[tonic::async_trait]
impl CustomerPromiseService for Rpc {
    async fn promise_delivery(
        &self,
        request: Request<v1::PromiseDeliveryRequest>,
    ) -> Answered<v1::PromiseDeliveryResponse> {
        let caller = caller(&request)?;
        let write = convert::promise_delivery(request.get_ref());
        let write = self.0.read_request(&caller, write).await?;
        let stated_chance = stated_chance(&self.0, &caller, &write.command).await?;
        let beside = Beside { stated_chance, ..Beside::default() };
        let (response, _) = self
            .0
            .submit(&caller, write, beside, |done| v1::PromiseDeliveryResponse {
                build: done.build(),
                commit: done.commit(),
            })
            .await?;
        Ok(Response::new(response))
    }

    async fn list_customer_promises(
        &self,
        request: Request<v1::ListCustomerPromisesRequest>,
    ) -> Answered<v1::ListCustomerPromisesResponse> {
        let caller = caller(&request)?;
        let mut read = Reader::new();
        let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
        let as_of = self.fields(&caller, read, as_of).await?;
        let ids = self.0.store.promised_builds(caller.shop).await;
        let ids = ids.map_err(|error| fault::store(&error))?;
        let builds = ids.iter().map(|id| Ref::Uid(id.0)).collect();
        let scope = Scope { builds, bays: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let reckoned = move |go_on: GoOn<'_>| {
            let found = plan::customer_promises(&book, learned.as_deref(), as_of, go_on)?;
            let Some((promises, scores)) = found else { return Ok(None) };
            let words = Words::new(&book, as_of);
            Ok(Some(v1::ListCustomerPromisesResponse {
                promises: promises.iter().map(|row| wire::promised_build(&words, row)).collect(),
                scores: scores.iter().map(wire::promise_score).collect(),
                revision,
            }))
        };
        Ok(Response::new(self.0.reckon_all(&caller, reckoned).await?))
    }
}

/// The chance that a promise is kept, as things stand. What cannot be forecast can
/// be promised all the same: the decision says whether it may.
async fn stated_chance(
    shared: &Shared,
    caller: &Guest,
    command: &Command,
) -> Result<Option<f64>, Status> {
    let Command::Build(BuildCommand::PromiseDelivery { build, delivery_on, .. }) = command else {
        return Ok(None);
    };
    let scope = Scope { builds: vec![build.clone()], bays: true, ..Scope::default() };
    let Planned { snapshot, as_of, learned, .. } = shared.planned(caller, &scope, None).await?;
    let (book, delivery_on) = (snapshot.book, *delivery_on);
    let Ok(id) = book.find_build(build).map(|build| build.id) else { return Ok(None) };
    let reckoned = move |_: GoOn<'_>| {
        plan::chance_of_promise(&book, learned.as_deref(), id, as_of, delivery_on).ok()
    };
    shared.reckon(caller, reckoned).await
}
