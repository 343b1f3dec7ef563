//! A shop's row carries a random commit id beside its revision: a book that a server keeps is good only
//! while both are what they were. Whoever changes rows by hand renews it. The change log keeps it,
//! and the one that each commit found: while they make one chain, a book of an earlier state can be brought
//! up to date. What was booked since is found by its revision.

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

const POSTGRES: &str =
    "ALTER TABLE shop ADD COLUMN commit_id UUID NOT NULL DEFAULT gen_random_uuid();
ALTER TABLE shop ALTER COLUMN commit_id DROP DEFAULT;
ALTER TABLE change_log ADD COLUMN commit_id UUID;
ALTER TABLE change_log ADD COLUMN commit_before UUID;
CREATE INDEX movement_revision ON movement (shop, revision);";

// SQLite adds no column whose default is reckoned.
const SQLITE: &str =
    "ALTER TABLE shop ADD COLUMN commit_id BLOB NOT NULL DEFAULT x'00000000000000000000000000000000';
UPDATE shop SET commit_id = randomblob(16);
ALTER TABLE change_log ADD COLUMN commit_id BLOB;
ALTER TABLE change_log ADD COLUMN commit_before BLOB;
CREATE INDEX movement_revision ON movement (shop, revision);";
