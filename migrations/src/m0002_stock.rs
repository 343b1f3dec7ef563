//! Bins, totals per part and lot, balances per bin.

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
CREATE TABLE bin (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  description TEXT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, normal)
);
-- A part and lot over all bins: the one row that carries RS-1.
CREATE TABLE stock (
  shop UUID NOT NULL,
  part UUID NOT NULL,
  -- Empty for parts that are not lot tracked.
  lot CTEXT NOT NULL,
  usable BIGINT NOT NULL,
  reserved BIGINT NOT NULL,
  quarantined BIGINT NOT NULL,
  expires_on DATE,
  first_received_on DATE,
  PRIMARY KEY (shop, part, lot),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  CONSTRAINT stock_reserved CHECK (reserved >= 0 AND reserved <= usable),
  CONSTRAINT stock_quarantined CHECK (quarantined >= 0)
);
CREATE TABLE bin_balance (
  shop UUID NOT NULL,
  part UUID NOT NULL,
  lot CTEXT NOT NULL,
  bin UUID NOT NULL,
  usable BIGINT NOT NULL,
  quarantined BIGINT NOT NULL,
  PRIMARY KEY (shop, part, lot, bin),
  FOREIGN KEY (shop, part, lot) REFERENCES stock (shop, part, lot),
  FOREIGN KEY (shop, bin) REFERENCES bin (shop, id),
  CONSTRAINT bin_balance_usable CHECK (usable >= 0),
  CONSTRAINT bin_balance_quarantined CHECK (quarantined >= 0)
);
";
