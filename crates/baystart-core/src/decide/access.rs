//! Access tokens.

use super::effect::{Effect, ShopEffect};
use super::work::Work;
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Role, Token};
use crate::ids::TokenId;
use crate::refusal::{Faults, Reason, Refusal};
use crate::text::{escaped, normal};
use uuid::Uuid;

pub(super) fn issue(
    work: &mut Work<'_, '_>,
    name: &str,
    roles: &[Role],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "name", name, true);
    check::count(&mut faults, "roles", roles.len(), true);
    faults.check()?;
    // What is recorded names the token: two in force of one name could not be told apart.
    let same = |t: &&Token| t.revoked_at.is_none() && normal(&t.name) == normal(name);
    if let Some(other) = work.book.tokens.values().find(same) {
        let message = format!("a token in force is named \"{}\" already", escaped(&other.name));
        return Err(Refusal::new(Reason::TokenExists, message).with("uid", other.id.0));
    }
    let Some(hash) = work.context.secret_hash else {
        return Err(Refusal::new(Reason::FieldMissing, "no secret was drawn for the token"));
    };
    let mut roles = roles.to_vec();
    roles.sort_unstable();
    roles.dedup();
    let id = TokenId(work.fresh());
    let name = name.trim().to_owned();
    let issued_at = work.context.recorded_at;
    work.change(Change::Token(Token { id, name, roles, hash, issued_at, revoked_at: None }));
    work.effect(Effect::Shop(ShopEffect::TokenIssued(id)));
    Ok(Subject::Token(id))
}

pub(super) fn revoke(work: &mut Work<'_, '_>, token: Uuid) -> Result<Subject, Refusal> {
    let Some(row) = work.book.tokens.get(&TokenId(token)).cloned() else {
        let message = format!("no token {token} in this shop");
        return Err(Refusal::new(Reason::TokenUnknown, message));
    };
    if row.revoked_at.is_some() {
        let message = format!("the token of {} is revoked already", row.name);
        return Err(Refusal::new(Reason::NothingToDo, message));
    }
    let admin = |t: &Token| t.revoked_at.is_none() && t.roles.contains(&Role::Admin);
    let admins = work.book.tokens.values().filter(|t| admin(t)).count();
    if admin(&row) && admins <= 1 {
        let message = format!("the token of {} is the last one with the role admin", row.name);
        return Err(Refusal::new(Reason::LastAdmin, message));
    }
    let id = row.id;
    let revoked_at = Some(work.context.recorded_at);
    work.change(Change::Token(Token { revoked_at, ..row }));
    work.effect(Effect::Shop(ShopEffect::TokenRevoked(id)));
    Ok(Subject::Token(id))
}
