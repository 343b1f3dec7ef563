//! How parts are kept in stock.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, TABLES).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const TABLES: &str = r"
-- All NULL: ordered for builds only.
ALTER TABLE part ADD COLUMN stocked_permille BIGINT CHECK (stocked_permille BETWEEN 500 AND 999);
ALTER TABLE part ADD COLUMN stocked_days BIGINT CHECK (stocked_days BETWEEN 1 AND 365);
ALTER TABLE part ADD COLUMN stocked_least BIGINT CHECK (stocked_least >= 0);
";
