//! Half-lives that nobody set by hand are tuned from now on.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, DEFAULTS).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const DEFAULTS: &str = r#"
-- The default was 730 days, and was written down beside whatever else was set.
UPDATE shop SET learning = replace(learning, '"half_life_days":730,', '"half_life_days":null,');
"#;
