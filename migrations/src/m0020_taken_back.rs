//! A promise that was recorded by mistake stays on record with the day on which it was taken back, and why.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run_for(manager, POSTGRES, SQLITE).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const POSTGRES: &str = "ALTER TABLE promise ADD COLUMN taken_back_on DATE;
ALTER TABLE promise ADD COLUMN taken_back_reason TEXT;";

const SQLITE: &str = "ALTER TABLE promise ADD COLUMN taken_back_on TEXT;
ALTER TABLE promise ADD COLUMN taken_back_reason TEXT;";
