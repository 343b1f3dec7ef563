//! Purchase orders, their lines and promises, and pegs.

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
CREATE TABLE purchase_order (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  supplier UUID NOT NULL,
  supplier_reference TEXT NOT NULL,
  version BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, normal),
  FOREIGN KEY (shop, supplier) REFERENCES supplier (shop, id)
);
CREATE INDEX purchase_order_supplier ON purchase_order (shop, supplier);
CREATE TABLE order_line (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  purchase_order UUID NOT NULL,
  number BIGINT NOT NULL CHECK (number > 0),
  part UUID NOT NULL,
  ordered BIGINT NOT NULL,
  received BIGINT NOT NULL,
  over_accepted BIGINT NOT NULL,
  cancelled_by_us BIGINT NOT NULL,
  cancelled_by_supplier BIGINT NOT NULL,
  -- Sum of the pegs on this line; only the writer of pegs changes it.
  pegged BIGINT NOT NULL,
  price BIGINT,
  currency TEXT,
  quoted_days BIGINT,
  placed_on DATE,
  acknowledged_on DATE,
  despatched_on DATE,
  last_contact_on DATE,
  closed_on DATE,
  for_line UUID,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, purchase_order, number),
  FOREIGN KEY (shop, purchase_order) REFERENCES purchase_order (shop, id),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  FOREIGN KEY (shop, for_line) REFERENCES build_line (shop, id),
  CHECK ((price IS NULL) = (currency IS NULL)),
  CONSTRAINT order_line_parts CHECK (ordered > 0 AND received >= 0 AND over_accepted >= 0
    AND cancelled_by_us >= 0 AND cancelled_by_supplier >= 0),
  CONSTRAINT order_line_po1
    CHECK (received + cancelled_by_us + cancelled_by_supplier <= ordered + over_accepted),
  CONSTRAINT order_line_po2 CHECK (pegged >= 0 AND (pegged = 0 OR (placed_on IS NOT NULL
    AND pegged <= ordered - received - cancelled_by_us - cancelled_by_supplier)))
);
CREATE INDEX order_line_open ON order_line (shop, part)
  WHERE received + cancelled_by_us + cancelled_by_supplier < ordered;
CREATE INDEX order_line_for ON order_line (shop, for_line) WHERE for_line IS NOT NULL;
CREATE TABLE promise (
  shop UUID NOT NULL,
  order_line UUID NOT NULL,
  -- From 0, in the order in which they became known.
  ordinal BIGINT NOT NULL,
  promised_on DATE NOT NULL,
  known_on DATE NOT NULL,
  recorded_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (shop, order_line, ordinal),
  FOREIGN KEY (shop, order_line) REFERENCES order_line (shop, id)
);
CREATE TABLE peg (
  shop UUID NOT NULL,
  line UUID NOT NULL,
  order_line UUID NOT NULL,
  quantity BIGINT NOT NULL,
  kept BOOLEAN NOT NULL,
  PRIMARY KEY (shop, line, order_line),
  FOREIGN KEY (shop, line) REFERENCES build_line (shop, id),
  FOREIGN KEY (shop, order_line) REFERENCES order_line (shop, id),
  CONSTRAINT peg_quantity CHECK (quantity > 0)
);
CREATE INDEX peg_order_line ON peg (shop, order_line);
";
