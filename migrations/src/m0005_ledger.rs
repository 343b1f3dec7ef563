//! Movements and their entries, never changed and never removed (LG-3).

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, TABLES).await?;
        crate::sql::run_for(manager, GUARD_POSTGRES, GUARD_SQLITE).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const TABLES: &str = r"
CREATE TABLE movement (
  shop UUID NOT NULL REFERENCES shop (id),
  id UUID NOT NULL,
  revision BIGINT NOT NULL,
  kind TEXT NOT NULL,
  occurred_on DATE NOT NULL,
  recorded_at TIMESTAMPTZ NOT NULL,
  recorded_by TEXT NOT NULL,
  reason TEXT NOT NULL,
  line UUID,
  order_line UUID,
  PRIMARY KEY (shop, id),
  FOREIGN KEY (shop, line) REFERENCES build_line (shop, id),
  FOREIGN KEY (shop, order_line) REFERENCES order_line (shop, id)
);
CREATE TABLE entry (
  shop UUID NOT NULL,
  movement UUID NOT NULL,
  ordinal BIGINT NOT NULL,
  part UUID NOT NULL,
  lot CTEXT NOT NULL,
  account TEXT NOT NULL,
  -- The supplier, bin or build of the account.
  account_id UUID,
  -- Positive into the account.
  quantity BIGINT NOT NULL,
  PRIMARY KEY (shop, movement, ordinal),
  FOREIGN KEY (shop, movement) REFERENCES movement (shop, id),
  FOREIGN KEY (shop, part) REFERENCES part (shop, id),
  CONSTRAINT entry_account CHECK (account IN ('supplier', 'unknown supplier', 'bin',
    'quarantine', 'build', 'scrap', 'variance'))
);
CREATE INDEX entry_part ON entry (shop, part, movement);
";

const GUARD_POSTGRES: &str = r"
CREATE FUNCTION ledger_is_immutable() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'ledger rows are never changed or removed (LG-3): book a correction';
END $$;
CREATE TRIGGER entry_immutable BEFORE UPDATE OR DELETE OR TRUNCATE ON entry
  FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_immutable();
CREATE TRIGGER movement_immutable BEFORE UPDATE OR DELETE OR TRUNCATE ON movement
  FOR EACH STATEMENT EXECUTE FUNCTION ledger_is_immutable();
";

const GUARD_SQLITE: &str = r"
CREATE TRIGGER entry_update BEFORE UPDATE ON entry BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
CREATE TRIGGER entry_delete BEFORE DELETE ON entry BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
CREATE TRIGGER movement_update BEFORE UPDATE ON movement BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
CREATE TRIGGER movement_delete BEFORE DELETE ON movement BEGIN
  SELECT RAISE(ABORT, 'ledger rows are never changed or removed (LG-3): book a correction');
END;
";
