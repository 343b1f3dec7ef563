//! Everything that a build line can be: made, finished outside, brought by the customer,
//! substituted; packages; things that no order brings.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, TABLES).await?;
        crate::sql::run_for(manager, ACCOUNTS_POSTGRES, ACCOUNTS_SQLITE).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const TABLES: &str = r"
-- How its components become it: 'listed', 'in shop', 'at finisher'.
ALTER TABLE part ADD COLUMN made TEXT NOT NULL DEFAULT 'listed'
  CHECK (made IN ('listed', 'in shop', 'at finisher'));
-- Working days in the shop, or quoted calendar days of the finisher.
ALTER TABLE part ADD COLUMN made_days BIGINT;
ALTER TABLE part ADD COLUMN made_by UUID;
ALTER TABLE part ADD COLUMN family TEXT NOT NULL DEFAULT '';
ALTER TABLE part ADD COLUMN finish TEXT NOT NULL DEFAULT '';
ALTER TABLE part ADD COLUMN made_to_order BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE part ADD COLUMN superseded_by UUID;
-- JSON: ids of the parts that it calls for.
ALTER TABLE part ADD COLUMN companions TEXT NOT NULL DEFAULT '[]';
ALTER TABLE build ADD COLUMN for_stock BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE build ADD COLUMN staging_bin UUID;
ALTER TABLE stage ADD COLUMN off_site UUID;
-- The line whose making uses this one up, or 0.
ALTER TABLE build_line ADD COLUMN made_for BIGINT NOT NULL DEFAULT 0;
-- JSON: what of the line is made for it; NULL: nothing.
ALTER TABLE build_line ADD COLUMN making TEXT;
ALTER TABLE build_line ADD COLUMN customer_supplied BOOLEAN NOT NULL DEFAULT FALSE;
-- JSON: what it stands for and who accepted it; NULL: nothing else was asked for.
ALTER TABLE build_line ADD COLUMN substituted TEXT;
ALTER TABLE order_line ADD COLUMN package_line BIGINT NOT NULL DEFAULT 0;
ALTER TABLE order_line ADD COLUMN package BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE order_line ADD COLUMN rejected BIGINT NOT NULL DEFAULT 0 CHECK (rejected >= 0);
ALTER TABLE past_line ADD COLUMN rejected BIGINT NOT NULL DEFAULT 0 CHECK (rejected >= 0);
CREATE TABLE awaited (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  build UUID NOT NULL,
  number BIGINT NOT NULL CHECK (number > 0),
  kind TEXT NOT NULL CHECK (kind IN ('vehicle', 'customer part', 'paper')),
  name TEXT NOT NULL,
  identification TEXT NOT NULL,
  source TEXT NOT NULL,
  -- NULL: it gates handover only.
  stage UUID,
  line UUID,
  asked_on DATE NOT NULL,
  quoted_days BIGINT,
  -- JSON: dates with the day on which each became known, in that order.
  promises TEXT NOT NULL,
  received_on DATE,
  dropped_on DATE,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, build, number),
  FOREIGN KEY (shop, build) REFERENCES build (shop, id),
  FOREIGN KEY (shop, stage) REFERENCES stage (shop, id),
  FOREIGN KEY (shop, line) REFERENCES build_line (shop, id)
);
";

const ACCOUNTS_POSTGRES: &str = r"
ALTER TABLE entry DROP CONSTRAINT entry_account;
ALTER TABLE entry ADD CONSTRAINT entry_account CHECK (account IN ('supplier', 'unknown supplier',
  'bin', 'quarantine', 'build', 'finisher', 'making', 'customer', 'scrap', 'variance'));
";

// SQLite cannot change a CHECK: the table is copied. Dropping the old one fires no trigger.
const ACCOUNTS_SQLITE: &str = r"
CREATE TABLE entry_copy (
  shop BLOB NOT NULL,
  movement BLOB NOT NULL,
  ordinal INTEGER NOT NULL,
  part BLOB NOT NULL,
  lot TEXT NOT NULL,
  account TEXT NOT NULL,
  account_id BLOB,
  quantity INTEGER NOT NULL,
  PRIMARY KEY (shop, movement, ordinal),
  FOREIGN KEY (shop, movement) REFERENCES movement (shop, id),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  CONSTRAINT entry_account CHECK (account IN ('supplier', 'unknown supplier', 'bin',
    'quarantine', 'build', 'finisher', 'making', 'customer', 'scrap', 'variance'))
) STRICT;
INSERT INTO entry_copy SELECT shop, movement, ordinal, part, lot, account, account_id, quantity
  FROM entry;
DROP TRIGGER entry_update;
DROP TRIGGER entry_delete;
DROP TABLE entry;
ALTER TABLE entry_copy RENAME TO entry;
CREATE INDEX entry_part ON entry (shop, part, movement);
CREATE TRIGGER entry_update BEFORE UPDATE ON entry BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
CREATE TRIGGER entry_delete BEFORE DELETE ON entry BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
";
