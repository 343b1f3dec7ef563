//! What BuildService reads.

use crate::learned::Planned;
use crate::page::Page;
use crate::reckon::GoOn;
use crate::shared::{Answered, Rpc, caller, found};
use baystart_core::book::model::BuildState;
use baystart_core::command::Scope;
use baystart_core::plan;
use baystart_core::plan::Words;
use baystart_core::refs::Ref;
use baystart_core::refusal::{Reason, nth};
use baystart_proto::convert::{Reader, wire};
use baystart_proto::v1;
use tonic::{Request, Response};

/// What a list shows when no state is named.
const STATES_DEFAULT: [BuildState; 5] = [
    BuildState::Quoted,
    BuildState::Open,
    BuildState::InBay,
    BuildState::ReadyForHandover,
    BuildState::OnHold,
];

/// One build with its lines.
pub(super) async fn get_build(
    rpc: &Rpc,
    request: &Request<v1::GetBuildRequest>,
) -> Answered<v1::GetBuildResponse> {
    let caller = caller(request)?;
    let mut read = Reader::new();
    let build = read.build("build", request.get_ref().build.as_ref());
    let build = rpc.fields(&caller, read, build).await?;
    let scope = Scope { builds: vec![build.clone()], ..Scope::default() };
    let snapshot = rpc.0.snapshot(&caller, &scope).await?;
    let row = found("build", snapshot.book.find_build(&build))?;
    let build = Some(wire::build(&snapshot.book, row, true));
    Ok(Response::new(v1::GetBuildResponse { build }))
}

/// Builds with their stages, page by page.
pub(super) async fn list_builds(
    rpc: &Rpc,
    request: &Request<v1::ListBuildsRequest>,
) -> Answered<v1::ListBuildsResponse> {
    let caller = caller(request)?;
    let asked = request.get_ref();
    let mut read = Reader::new();
    let states = states(&mut read, &asked.states);
    let page = Page::read(&mut read, &rpc.0.limits, asked, &states);
    let page = rpc.fields(&caller, read, page).await?;
    let mut ids = rpc
        .0
        .kept(rpc.0.store.list_builds(caller.shop, page.after(), page.fetch(), &states))
        .await?;
    let more = ids.len() > page.size;
    ids.truncate(page.size);
    let builds = ids.iter().map(|id| Ref::Uid(id.0)).collect();
    let scope = Scope { builds, ..Scope::default() };
    let book = rpc.0.snapshot_now(&caller, &scope).await?.book;
    let rows: Vec<_> = ids.iter().filter_map(|id| book.builds.get(id)).collect();
    let last = rows.last().filter(|_| more);
    let next_page_token =
        last.map(|row| page.token(vec![row.number.normal().to_owned()])).unwrap_or_default();
    let builds = rows.into_iter().map(|row| wire::build(&book, row, false)).collect();
    Ok(Response::new(v1::ListBuildsResponse { builds, next_page_token }))
}

/// What a build has and lacks.
pub(super) async fn get_readiness(
    rpc: &Rpc,
    request: &Request<v1::GetReadinessRequest>,
) -> Answered<v1::GetReadinessResponse> {
    let caller = caller(request)?;
    let mut read = Reader::new();
    let build = read.build("build", request.get_ref().build.as_ref());
    let as_of = read.date("as_of", request.get_ref().as_of.as_ref());
    let (build, as_of) = rpc.fields(&caller, read, build.zip(as_of)).await?;
    let scope = Scope { builds: vec![build.clone()], bays: true, ..Scope::default() };
    let Planned { snapshot, as_of, learned, .. } = rpc.0.planned(&caller, &scope, as_of).await?;
    let book = snapshot.book;
    let id = found("build", book.find_build(&build))?.id;
    let reckoned = move |_: GoOn<'_>| {
        let found = plan::readiness(&book, learned.as_deref(), id, as_of)?;
        Ok(Some(wire::readiness(&Words::new(&book, as_of), &found)))
    };
    let readiness = Some(rpc.0.reckon_all(&caller, reckoned).await?);
    Ok(Response::new(v1::GetReadinessResponse { readiness }))
}

/// What is to be fetched for a build.
pub(super) async fn get_pick_list(
    rpc: &Rpc,
    request: &Request<v1::GetPickListRequest>,
) -> Answered<v1::GetPickListResponse> {
    let caller = caller(request)?;
    let mut read = Reader::new();
    let build = read.build("build", request.get_ref().build.as_ref());
    let stage = read.text("stage_name", &request.get_ref().stage_name);
    let (build, stage) = rpc.fields(&caller, read, build.zip(stage)).await?;
    let scope = Scope { builds: vec![build.clone()], ..Scope::default() };
    let snapshot = rpc.0.snapshot(&caller, &scope).await?;
    let book = snapshot.book;
    let build = found("build", book.find_build(&build))?;
    let stage = match stage.is_empty() {
        true => None,
        false => Some(found("stage_name", book.find_stage(build, &stage))?.id),
    };
    Ok(Response::new(v1::GetPickListResponse {
        build_number: build.number.written().to_owned(),
        staging_bin_code: build
            .staging_bin
            .map_or(String::new(), |bin| book.bin_code(bin).to_owned()),
        lines: wire::pick_list(&book, build, stage),
        revision: snapshot.revision,
    }))
}

fn states(read: &mut Reader, asked: &[i32]) -> Vec<BuildState> {
    if asked.is_empty() {
        return STATES_DEFAULT.to_vec();
    }
    let mut out = Vec::new();
    for (i, number) in asked.iter().enumerate() {
        match wire::build_state_of(*number) {
            Some(state) => out.push(state),
            None => {
                let message = format!("{number} is no build state");
                read.fault(nth("states", i), Reason::ValueInvalid, message);
            }
        }
    }
    out.sort();
    out.dedup();
    out
}
