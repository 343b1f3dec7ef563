//! The change log, requests with their answers, what was imported, row history, tokens.

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
-- One row per committed command: the outbox.
CREATE TABLE change_log (
  shop UUID NOT NULL REFERENCES shop (id),
  revision BIGINT NOT NULL,
  recorded_at TIMESTAMPTZ NOT NULL,
  actor TEXT NOT NULL,
  request UUID NOT NULL,
  command TEXT NOT NULL,
  subject TEXT NOT NULL,
  subject_id UUID,
  -- JSON: what the command did, for people and for watchers.
  summary TEXT NOT NULL,
  PRIMARY KEY (shop, revision)
);
-- What answers a repeat of a request that took effect (ID-1, ID-2).
CREATE TABLE request (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  digest BYTEA NOT NULL,
  revision BIGINT NOT NULL,
  response BYTEA NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, revision),
  FOREIGN KEY (shop, revision) REFERENCES change_log (shop, revision)
);
-- Every state of a row that can change, with the revision that made it: what
-- was known at any time stays answerable.
CREATE TABLE row_history (
  shop UUID NOT NULL,
  revision BIGINT NOT NULL,
  kind TEXT NOT NULL,
  id UUID NOT NULL,
  -- The second half of a peg's key; else the same as id.
  other_id UUID NOT NULL,
  state TEXT NOT NULL,
  PRIMARY KEY (shop, revision, kind, id, other_id),
  FOREIGN KEY (shop, revision) REFERENCES change_log (shop, revision)
);
CREATE INDEX row_history_row ON row_history (shop, kind, id);
CREATE TABLE imported (
  shop UUID NOT NULL REFERENCES shop (id),
  kind CTEXT NOT NULL,
  key CTEXT NOT NULL,
  digest BYTEA NOT NULL,
  revision BIGINT NOT NULL,
  PRIMARY KEY (shop, kind, key)
);
CREATE TABLE token (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  name TEXT NOT NULL,
  -- Words separated by spaces.
  roles TEXT NOT NULL,
  hash BYTEA NOT NULL,
  issued_at TIMESTAMPTZ NOT NULL,
  revoked_at TIMESTAMPTZ,
  PRIMARY KEY (shop, id)
);
CREATE INDEX token_hash ON token (hash);
";
