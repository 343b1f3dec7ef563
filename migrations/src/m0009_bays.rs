//! How many vehicles can be worked on at a time.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, COLUMNS).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const COLUMNS: &str = r"
-- 0: not recorded; bays then limit no delivery date.
ALTER TABLE shop ADD COLUMN bays BIGINT NOT NULL DEFAULT 0 CHECK (bays >= 0);
";
