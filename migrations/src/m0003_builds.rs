//! Builds, stages, lines, and stock set aside for them.

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
CREATE TABLE build (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  vehicle TEXT NOT NULL,
  customer TEXT NOT NULL,
  state TEXT NOT NULL,
  held_from TEXT,
  priority BIGINT NOT NULL,
  planned_start DATE,
  required_by DATE,
  note TEXT NOT NULL,
  opened_at TIMESTAMPTZ,
  version BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, normal),
  CONSTRAINT build_state CHECK (state IN
    ('quoted', 'open', 'in bay', 'ready for handover', 'delivered', 'on hold', 'cancelled'))
);
CREATE INDEX build_state_index ON build (shop, state);
CREATE TABLE stage (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  build UUID NOT NULL,
  ordinal BIGINT NOT NULL CHECK (ordinal > 0),
  normal CTEXT NOT NULL,
  written TEXT NOT NULL,
  -- Working days.
  planned_days BIGINT NOT NULL CHECK (planned_days >= 0),
  begun_on DATE,
  done_on DATE,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, build, normal),
  FOREIGN KEY (shop, build) REFERENCES build (shop, id)
);
CREATE TABLE build_line (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  build UUID NOT NULL,
  stage UUID NOT NULL,
  number BIGINT NOT NULL CHECK (number > 0),
  part UUID NOT NULL,
  required BIGINT NOT NULL,
  issued BIGINT NOT NULL,
  -- The kit line it comes from, or 0.
  kit_line BIGINT NOT NULL,
  exploded BOOLEAN NOT NULL,
  PRIMARY KEY (shop, id),
  UNIQUE (shop, build, number),
  FOREIGN KEY (shop, build) REFERENCES build (shop, id),
  FOREIGN KEY (shop, stage) REFERENCES stage (shop, id),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  CONSTRAINT build_line_required CHECK (required >= 0),
  CONSTRAINT build_line_issued CHECK (issued >= 0)
);
CREATE INDEX build_line_part ON build_line (shop, part);
CREATE TABLE reservation (
  shop UUID NOT NULL,
  id UUID NOT NULL,
  line UUID NOT NULL,
  part UUID NOT NULL,
  lot CTEXT NOT NULL,
  made BIGINT NOT NULL,
  held BIGINT NOT NULL,
  issued BIGINT NOT NULL,
  released BIGINT NOT NULL,
  moved BIGINT NOT NULL,
  PRIMARY KEY (shop, id),
  FOREIGN KEY (shop, line) REFERENCES build_line (shop, id),
  FOREIGN KEY (shop, part, lot) REFERENCES stock (shop, part, lot),
  CONSTRAINT reservation_rs2 CHECK (made = held + issued + released + moved),
  CONSTRAINT reservation_parts CHECK (held >= 0 AND issued >= 0 AND released >= 0 AND moved >= 0)
);
CREATE INDEX reservation_line ON reservation (shop, line);
CREATE INDEX reservation_held ON reservation (shop, part, lot) WHERE held > 0;
";
