//! Whether a call may pass, and with which place: denied unless a token's role
//! is named.
//!
//! What costs nothing is asked first. A path that is none, and a header that
//! is no token, are refused without a place. A token that was seen before gets
//! a place in its own name, and is then looked up; any other is looked up in
//! one of a few places for strangers, so that nobody without a token can take a
//! place from those who have one.

use super::allot::Holder;
use super::held::Held;
use super::leash::Leash;
use super::places::{Place, Places};
use super::pools::{Checking, Pools, holder, stranger};
use crate::access::{Access, Public, Streams, role_name};
use crate::fault;
use crate::secret;
use crate::shared::Shared;
use baystart_core::book::model::Role;
use baystart_store::Caller;
use http::header::AUTHORIZATION;
use std::sync::Arc;
use tonic::body::Body;
use tonic::{Code, Status};

/// Longest token that is hashed.
const SECRET_CHARS_MAX: usize = 512;

/// A call that may pass.
pub(super) struct Admitted {
    pub(super) held: Arc<Held>,
    /// Its turn to read the database, for as long as its answer is made; what
    /// is written waits in the store's own line.
    pub(super) turn: Option<Place>,
    pub(super) checking: Option<Checking>,
}

/// A place of a kind, or the answer that there is none now.
pub(crate) async fn place(
    places: &Arc<Places>,
    who: Holder,
    of_what: &str,
) -> Result<Place, Status> {
    places.take(who, 1).await.ok_or_else(|| {
        let text = format!("the server has as many {of_what} at once as it takes");
        fault::retry(Code::ResourceExhausted, "SERVER_BUSY", &text)
    })
}

/// Puts the caller into the request's extensions, or refuses the call.
pub(super) async fn admit(
    shared: &Shared,
    access: &Access,
    streams: Streams,
    request: &mut http::Request<Body>,
    leash: &Arc<Leash>,
) -> Result<Admitted, Status> {
    let pools = &shared.pools;
    let needed = match access {
        Access::Public(public) => return admit_all(pools, *public, leash).await,
        Access::Roles(roles) => roles,
        Access::Unknown => {
            let status = Status::unimplemented("this server has no such method");
            return Err(fault::dressed(status));
        }
    };
    let hash = secret::hash(bearer(request)?);
    let (caller, place, turn) = match pools.tokens.get(&hash) {
        Some(who) => {
            let its_own = place(&pools.calls, who, "calls").await?;
            let turn = place(&pools.reads, who, "readings").await?;
            (judge(shared, hash).await?, its_own, turn)
        }
        None => {
            let who = stranger(leash.peer.as_ref());
            let judging = place(&pools.strangers, who, "unknown callers").await?;
            let caller = judge(shared, hash).await?;
            drop(judging);
            pools.tokens.note(hash, holder(&caller));
            let its_own = place(&pools.calls, holder(&caller), "calls").await?;
            let turn = place(&pools.reads, holder(&caller), "readings").await?;
            (caller, its_own, turn)
        }
    };
    if let Some(peer) = &leash.peer {
        peer.shows(caller.shop);
    }
    if !caller.roles.iter().any(|role| needed.contains(role)) {
        return Err(fault::role_missing(&names(needed), &names(&caller.roles)));
    }
    let held = Held::new(holder(&caller), Some(place));
    request.extensions_mut().insert(caller);
    request.extensions_mut().insert(Arc::clone(&held));
    let turn = (!streams.writing).then_some(turn);
    Ok(Admitted { held, turn, checking: None })
}

/// What needs no token.
async fn admit_all(
    pools: &Arc<Pools>,
    public: Public,
    leash: &Arc<Leash>,
) -> Result<Admitted, Status> {
    let who = stranger(leash.peer.as_ref());
    let place = match public {
        Public::Check => {
            let checking = Some(Checking::begin(pools, leash));
            return Ok(Admitted { held: Held::new(who, None), turn: None, checking });
        }
        Public::Watch => place(&pools.watches, who, "health watches").await?,
        Public::Reflection => place(&pools.reflections, who, "reflections").await?,
    };
    Ok(Admitted { held: Held::new(who, Some(place)), turn: None, checking: None })
}

async fn judge(shared: &Shared, hash: [u8; 32]) -> Result<Caller, Status> {
    let caller = shared.store.caller(hash).await.map_err(|error| fault::store(&error))?;
    caller.ok_or_else(|| {
        shared.pools.tokens.forget(&hash);
        fault::token_invalid()
    })
}

fn names(roles: &[Role]) -> String {
    roles.iter().map(|role| role_name(*role)).collect::<Vec<_>>().join(" ")
}

fn bearer(request: &http::Request<Body>) -> Result<&str, Status> {
    let Some(value) = request.headers().get(AUTHORIZATION) else {
        return Err(fault::unauthenticated("TOKEN_MISSING", "this call needs an access token"));
    };
    let invalid =
        || fault::unauthenticated("TOKEN_INVALID", "the authorization header is no bearer token");
    let text = value.to_str().map_err(|_| invalid())?;
    let (scheme, secret) = text.split_once(' ').ok_or_else(invalid)?;
    let secret = secret.trim();
    if !scheme.eq_ignore_ascii_case("bearer")
        || secret.is_empty()
        || secret.len() > SECRET_CHARS_MAX
    {
        return Err(invalid());
    }
    Ok(secret)
}
