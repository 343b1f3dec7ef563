//! What text said is a column: a state of a row that waits apart from orders (awaited things, parts at
//! finishers, work off site), and a command that imported files. The states of a row are found in their order.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, BOTH).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const BOTH: &str = "ALTER TABLE row_history ADD COLUMN waits_apart BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE row_history SET waits_apart = TRUE WHERE kind = 'awaited'
    OR kind = 'stage' AND state LIKE '%\"off_site\":\"%'
    OR kind = 'build_line' AND state LIKE '%\"sent_on\":\"%';
DROP INDEX row_history_row;
CREATE INDEX row_history_row ON row_history (shop, kind, id, revision);
ALTER TABLE change_log ADD COLUMN imports_history BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE change_log SET imports_history = TRUE WHERE command LIKE 'Import%';";
