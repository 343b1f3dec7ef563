//! Whether a call may pass: denied unless a token's role is named.

use crate::access::{Access, access, role_name};
use crate::fault;
use crate::secret;
use crate::shared::Shared;
use baystart_core::book::model::Role;
use http::header::AUTHORIZATION;
use std::sync::Arc;
use tokio::sync::OwnedSemaphorePermit;
use tonic::body::Body;
use tonic::{Code, Status};

/// Longest token that is hashed.
const SECRET_CHARS_MAX: usize = 512;

/// A place among the calls that may run at once.
pub(super) fn permit(shared: &Shared, path: &str) -> Result<OwnedSemaphorePermit, Status> {
    let pool = match access(path) {
        Access::Public => &shared.public_calls,
        Access::Roles(_) | Access::Unknown => &shared.calls,
    };
    Arc::clone(pool).try_acquire_owned().map_err(|_| {
        let text = "the server has as many calls at once as it takes";
        fault::retry(Code::ResourceExhausted, "SERVER_BUSY", text)
    })
}

/// Puts the caller into the request's extensions, or refuses the call.
pub(super) async fn admit(
    shared: &Shared,
    path: &str,
    request: &mut http::Request<Body>,
) -> Result<(), Status> {
    let needed = match access(path) {
        Access::Public => return Ok(()),
        Access::Roles(roles) => roles,
        Access::Unknown => {
            let status = Status::unimplemented("this server has no such method");
            return Err(fault::dressed(status));
        }
    };
    let hash = secret::hash(bearer(request)?);
    let caller = shared.store.caller(hash).await.map_err(|error| fault::store(&error))?;
    let caller = caller.ok_or_else(|| {
        fault::unauthenticated("TOKEN_INVALID", "the access token is not known, or was revoked")
    })?;
    if !caller.roles.iter().any(|role| needed.contains(role)) {
        return Err(fault::role_missing(&names(needed), &names(&caller.roles)));
    }
    request.extensions_mut().insert(caller);
    Ok(())
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
