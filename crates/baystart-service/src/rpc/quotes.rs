//! QuoteService: dates of what nobody has saved.

use crate::learned::Planned;
use crate::reckon::GoOn;
use crate::shared::{Answered, Rpc, caller};
use baystart_core::book::Book;
use baystart_core::command::{NewLine, Scope};
use baystart_core::plan;
use baystart_core::plan::{At80, QuotedVariant, Words};
use baystart_core::refs::Ref;
use baystart_core::refusal::Refusal;
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
        let (asked, as_of, facts) = self.0.read_request(&caller, asked).await?;
        let choices = asked.groups.iter().flat_map(|group| &group.choices);
        let lines = asked.lines.iter().chain(choices.flat_map(|choice| &choice.lines));
        let mut parts: Vec<Ref> = lines.map(|line: &NewLine| line.part.clone()).collect();
        parts.sort();
        parts.dedup();
        // A fact may be about any order, part or build.
        let all = !facts.is_empty();
        let scope = Scope { parts, bays: true, all, ..Scope::default() };
        let Planned { snapshot, as_of, learned, .. } =
            self.0.planned(&caller, &scope, as_of).await?;
        let (book, revision) = (snapshot.book, snapshot.revision);
        let reckoned = move |go_on: GoOn<'_>| {
            // A variant is a build only while it is quoted, so it is told then.
            let tell = |book: &Book, variant: QuotedVariant| {
                let words = Words::new(book, as_of);
                let at_80 = At80::of(&variant.forecast);
                (at_80, wire::quoted_variant(&words, &asked, &variant, revision))
            };
            let quoted =
                |book: &Book| plan::quote(book, learned.as_deref(), &asked, as_of, go_on, tell);
            let Some(plain) = quoted(&book)? else { return Ok(None) };
            if facts.is_empty() {
                let variants = plain.into_iter().map(|(_, variant)| variant).collect();
                return Ok(Some((variants, Vec::new())));
            }
            let (other, supposed) = plan::suppose(&book, &facts, as_of)?;
            let Some(found) = quoted(&other)? else { return Ok(None) };
            let calendar = book.calendar();
            let pairs = plain.iter().zip(found);
            let moved = pairs.map(|((before, _), (after, variant))| {
                let as_it_is = plan::as_it_is(&calendar, *before, after);
                v1::QuotedVariant { as_it_is: Some(wire::as_it_is(&as_it_is)), ..variant }
            });
            let words = Words::new(&other, as_of);
            let supposed = supposed.iter().map(|fact| words.fact(fact)).collect();
            Ok::<_, Refusal>(Some((moved.collect(), supposed)))
        };
        let (variants, supposed) = self.0.reckon_all(&caller, reckoned).await?;
        Ok(Response::new(v1::QuoteBuildResponse { variants, revision, supposed }))
    }
}
