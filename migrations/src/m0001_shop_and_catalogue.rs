//! Shops, closed days, parts with their kits, suppliers, offers.

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
CREATE TABLE shop (
  id UUID NOT NULL PRIMARY KEY,
  -- Counts the committed commands; the row is also the lock of the shop's writers.
  revision BIGINT NOT NULL CHECK (revision >= 0),
  name TEXT NOT NULL,
  time_zone TEXT NOT NULL,
  currency TEXT NOT NULL,
  -- Seven signs, Monday first: 1 is open.
  working_days TEXT NOT NULL CHECK (length(working_days) = 7),
  ordering_days TEXT NOT NULL CHECK (length(ordering_days) = 7),
  reserve_window_days BIGINT NOT NULL CHECK (reserve_window_days >= 0),
  stall_tolerance FLOAT8 NOT NULL CHECK (stall_tolerance >= 0 AND stall_tolerance < 1),
  version BIGINT NOT NULL
);
CREATE TABLE supplier (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  name TEXT NOT NULL,
  version BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, normal)
);
CREATE TABLE closure (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  -- NULL: the shop itself.
  supplier UUID,
  first_day DATE NOT NULL,
  last_day DATE NOT NULL,
  name CTEXT NOT NULL,
  PRIMARY KEY (shop, id),
  FOREIGN KEY (shop, supplier) REFERENCES supplier (shop, id),
  CHECK (first_day <= last_day)
);
CREATE UNIQUE INDEX closure_of_shop ON closure (shop, first_day, last_day, name)
  WHERE supplier IS NULL;
CREATE UNIQUE INDEX closure_of_supplier ON closure (shop, supplier, first_day, last_day, name)
  WHERE supplier IS NOT NULL;
CREATE TABLE part (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  description TEXT NOT NULL,
  unit TEXT NOT NULL,
  consumable BOOLEAN NOT NULL,
  safety_related BOOLEAN NOT NULL,
  lot_tracked BOOLEAN NOT NULL,
  gtin TEXT NOT NULL,
  handling_note TEXT NOT NULL,
  version BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, normal)
);
CREATE TABLE kit_component (
  shop UUID NOT NULL,
  kit UUID NOT NULL,
  ordinal BIGINT NOT NULL,
  component UUID NOT NULL,
  quantity BIGINT NOT NULL CHECK (quantity > 0),
  PRIMARY KEY (shop, kit, ordinal),
  FOREIGN KEY (shop, kit) REFERENCES part (shop, id),
  FOREIGN KEY (shop, component) REFERENCES part (shop, id),
  CHECK (kit <> component)
);
CREATE INDEX kit_component_part ON kit_component (shop, component);
CREATE TABLE offer (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  supplier UUID NOT NULL,
  part UUID NOT NULL,
  item_number TEXT NOT NULL,
  -- Ten-thousandths of the currency's main unit, per base quantity.
  price BIGINT,
  currency TEXT,
  pack_size BIGINT CHECK (pack_size > 0),
  minimum_quantity BIGINT CHECK (minimum_quantity > 0),
  -- Calendar days outside the supplier's closures.
  quoted_days BIGINT CHECK (quoted_days >= 0),
  preferred BOOLEAN NOT NULL,
  version BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, supplier, part),
  FOREIGN KEY (shop, supplier) REFERENCES supplier (shop, id),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  CHECK ((price IS NULL) = (currency IS NULL))
);
CREATE INDEX offer_part ON offer (shop, part);
";
