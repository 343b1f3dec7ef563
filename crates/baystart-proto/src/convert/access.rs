//! Requests of AccessService.

use super::{Reader, Unread, Write, scalar};
use crate::v1;
use baystart_core::command::Command;
use baystart_core::refusal::Reason;

/// Reads a token to issue.
///
/// # Errors
/// Every field that does not read.
pub fn issue_token(request: &v1::IssueTokenRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let name = read.need_text("name", &request.name);
    let roles = read.roles("roles", &request.roles);
    read.write(id, || Some(Command::IssueToken { name: name?, roles: roles? }))
}

/// Reads a token to revoke.
///
/// # Errors
/// Every field that does not read.
pub fn revoke_token(request: &v1::RevokeTokenRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let token = scalar::uuid(&request.uid);
    if token.is_none() {
        let message = format!("\"{}\" is no uid", scalar::shown(&request.uid));
        read.fault("uid", Reason::ValueInvalid, message);
    }
    read.write(id, || Some(Command::RevokeToken { token: token? }))
}
