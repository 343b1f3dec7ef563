//! How a shop decides, so that what is asked of it and what it forecasts agree.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, COLUMN).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const COLUMN: &str = r"
-- JSON: the rules of deciding; what it does not name is as by default.
ALTER TABLE shop ADD COLUMN ways TEXT NOT NULL DEFAULT '{}';
";
