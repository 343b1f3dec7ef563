//! Tokens.

use super::value::{corrupt, digest, instant, own_instant};
use crate::entity::token;
use crate::error::StoreError;
use baystart_core::book::model::{Role, Token};
use baystart_core::ids::{ShopId, TokenId};

const ROLES: [(Role, &str); 5] = [
    (Role::Parts, "parts"),
    (Role::Sales, "sales"),
    (Role::Workshop, "workshop"),
    (Role::ReadOnly, "read-only"),
    (Role::Admin, "admin"),
];

fn roles_text(roles: &[Role]) -> String {
    let mut words = Vec::with_capacity(roles.len());
    for role in roles {
        words.extend(ROLES.iter().find(|(known, _)| known == role).map(|(_, word)| *word));
    }
    words.join(" ")
}

/// A token's roles.
pub fn roles_of(row: &token::Model) -> Result<Vec<Role>, StoreError> {
    let mut roles = Vec::new();
    for word in row.roles.split_whitespace() {
        let role = ROLES.iter().find(|(_, known)| *known == word).map(|(role, _)| *role);
        roles.push(role.ok_or_else(|| corrupt("the role", word))?);
    }
    Ok(roles)
}

impl token::Model {
    pub fn of(shop: ShopId, row: &Token) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            name: row.name.clone(),
            roles: roles_text(&row.roles),
            hash: row.hash.to_vec(),
            issued_at: instant(row.issued_at),
            revoked_at: row.revoked_at.map(instant),
        }
    }

    pub fn own(&self) -> Result<Token, StoreError> {
        Ok(Token {
            id: TokenId(self.id),
            name: self.name.clone(),
            roles: roles_of(self)?,
            hash: digest("a token's hash of", &self.hash)?,
            issued_at: own_instant(self.issued_at)?,
            revoked_at: self.revoked_at.map(own_instant).transpose()?,
        })
    }
}
