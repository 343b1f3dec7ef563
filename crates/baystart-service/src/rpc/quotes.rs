//! QuoteService: dates of what nobody has saved.

use crate::fault;
use crate::learned::Planned;
use crate::shared::{Answered, Rpc, caller};
use baystart_core::command::{NewLine, Scope};
use baystart_core::plan;
use baystart_core::refs::Ref;
use baystart_proto::convert::{self, wire};
use baystart_proto::v1;
use baystart_proto::v1::quote_service_server::QuoteService;
use tonic::{Request, Response};

#[tonic::async_trait]
impl QuoteService for Rpc {
    async fn quote_build(
        &self,
        request: Request<v1::QuoteBuildRequest>,
    ) -> Answered<v1::QuoteBuildResponse> {
        let caller = caller(&request)?;
        let asked = convert::quote_build(request.get_ref());
        let (asked, as_of) = self.0.read_request(&caller, asked).await?;
        let choices = asked.groups.iter().flat_map(|group| &group.choices);
        let lines = asked.lines.iter().chain(choices.flat_map(|choice| &choice.lines));
        let mut parts: Vec<Ref> = lines.map(|line: &NewLine| line.part.clone()).collect();
        parts.sort();
        parts.dedup();
        let scope = Scope { parts, bays: true, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let reckoned = move || plan::quote(&book, learned.as_deref(), &asked, as_of);
        let variants = tokio::task::spawn_blocking(reckoned)
            .await
            .map_err(fault::internal)?
            .map_err(|refusal| fault::refused(&refusal))?;
        Ok(Response::new(v1::QuoteBuildResponse {
            variants: variants.iter().map(|v| wire::quoted_variant(v, revision)).collect(),
            revision,
        }))
    }
}
