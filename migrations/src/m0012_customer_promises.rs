//! Delivery dates that were given to customers, and the day of handover.

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
-- JSON: each with the day it was given and the chance that was stated, in that order.
ALTER TABLE build ADD COLUMN customer_promises TEXT NOT NULL DEFAULT '[]';
-- NULL: not delivered, or delivered before this was kept.
ALTER TABLE build ADD COLUMN delivered_on DATE;
";
