//! Imports of past order lines in pieces: each its own batch, whose rows count
//! once the batch has a revision. So a large import never holds the writer for
//! long, and is seen as a whole or not at all.

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
CREATE TABLE past_batch (
  shop UUID NOT NULL REFERENCES shop (id),
  -- From 1, never used again; rows of batch 0 are from before there were any.
  number BIGINT NOT NULL CHECK (number > 0),
  -- NULL: its rows do not count, for it is under way or came to nothing.
  revision BIGINT,
  ended BOOLEAN NOT NULL,
  -- It came to nothing, and none of its rows is left.
  cleared BOOLEAN NOT NULL DEFAULT FALSE,
  -- When its last piece was written: what says nothing for long is given up.
  touched_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (shop, number),
  CHECK (revision IS NULL OR ended)
);
CREATE TABLE past_line_in_batches (
  shop UUID NOT NULL REFERENCES shop (id),
  supplier UUID NOT NULL,
  -- Normal forms.
  order_number CTEXT NOT NULL,
  -- 0: the file names no line.
  line BIGINT NOT NULL CHECK (line >= 0),
  part CTEXT NOT NULL,
  batch BIGINT NOT NULL DEFAULT 0,
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
  rejected BIGINT NOT NULL DEFAULT 0 CHECK (rejected >= 0),
  -- SHA-256 of the row's facts.
  digest BYTEA NOT NULL,
  -- The last batch that had the line, changed or not: a line that comes twice.
  seen BIGINT NOT NULL DEFAULT 0,
  -- A row of an earlier batch stands behind it until it is cleared away.
  replaces BOOLEAN NOT NULL DEFAULT FALSE,
  PRIMARY KEY (shop, supplier, order_number, line, part, batch),
  FOREIGN KEY (shop, supplier) REFERENCES supplier (shop, id),
  CHECK (received_on IS NULL OR cancelled_on IS NULL)
);
INSERT INTO past_line_in_batches (shop, supplier, order_number, line, part, quantity, quoted_days,
    placed_on, promises, despatched_on, received_on, cancelled_on, cancelled_by_supplier,
    last_known_open_on, recorded_on, rejected, digest)
  SELECT shop, supplier, order_number, line, part, quantity, quoted_days,
    placed_on, promises, despatched_on, received_on, cancelled_on, cancelled_by_supplier,
    last_known_open_on, recorded_on, rejected, digest FROM past_line;
DROP TABLE past_line;
ALTER TABLE past_line_in_batches RENAME TO past_line;
CREATE INDEX past_line_replaces ON past_line (shop, supplier, order_number, line, part, batch)
  WHERE replaces;
-- The lines that count.
CREATE VIEW past_line_now AS
  SELECT p.shop, p.supplier, p.order_number, p.line, p.part, p.quantity, p.quoted_days,
    p.placed_on, p.promises, p.despatched_on, p.received_on, p.cancelled_on,
    p.cancelled_by_supplier, p.last_known_open_on, p.recorded_on, p.rejected
  FROM past_line p
  WHERE (p.batch = 0 OR EXISTS (SELECT 1 FROM past_batch b
      WHERE b.shop = p.shop AND b.number = p.batch AND b.revision IS NOT NULL))
    AND NOT EXISTS (SELECT 1 FROM past_line q
      JOIN past_batch c ON c.shop = q.shop AND c.number = q.batch AND c.revision IS NOT NULL
      WHERE q.replaces AND q.shop = p.shop AND q.supplier = p.supplier
        AND q.order_number = p.order_number AND q.line = p.line AND q.part = p.part
        AND q.batch > p.batch);
";
