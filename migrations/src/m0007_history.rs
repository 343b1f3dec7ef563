//! Past order lines, how lead times are learned, and when their evidence last changed.

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
-- JSON: the settings of learning; what it does not name is as by default.
ALTER TABLE shop ADD COLUMN learning TEXT NOT NULL DEFAULT '{}';
-- The last revision that changed what lead times are learned from.
ALTER TABLE shop ADD COLUMN evidence_revision BIGINT NOT NULL DEFAULT 0;
UPDATE shop SET evidence_revision = revision;
-- Order lines of the time before Baystart: evidence only, no stock hangs on
-- them. The part is a number: it need not be in the catalogue any more.
CREATE TABLE past_line (
  shop UUID NOT NULL REFERENCES shop (id),
  supplier UUID NOT NULL,
  -- Normal forms.
  order_number CTEXT NOT NULL,
  -- 0: the file names no line.
  line BIGINT NOT NULL CHECK (line >= 0),
  part CTEXT NOT NULL,
  quantity BIGINT NOT NULL CHECK (quantity > 0),
  quoted_days BIGINT,
  placed_on DATE NOT NULL,
  -- DATE@KNOWN separated by spaces, in the order in which they became known.
  promises TEXT NOT NULL,
  despatched_on DATE,
  received_on DATE,
  cancelled_on DATE,
  cancelled_by_supplier BOOLEAN NOT NULL,
  last_known_open_on DATE,
  -- NULL: each fact was recorded on the day it happened.
  recorded_on DATE,
  -- SHA-256 of the row's facts.
  digest BYTEA NOT NULL,
  -- The revision that last imported the line, changed or not.
  revision BIGINT NOT NULL,
  PRIMARY KEY (shop, supplier, order_number, line, part),
  FOREIGN KEY (shop, supplier) REFERENCES supplier (shop, id),
  CHECK (received_on IS NULL OR cancelled_on IS NULL)
);
";
