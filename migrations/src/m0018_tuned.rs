//! Half-lives that nobody set by hand are tuned from now on, and a past line says of each fact when
//! it was entered.

use sea_orm_migration::prelude::*;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        crate::sql::run(manager, DEFAULTS).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

const DEFAULTS: &str = r#"
-- The default was 730 days, and was written down beside whatever else was set.
UPDATE shop SET learning = replace(learning, '"half_life_days":730,', '"half_life_days":null,');
-- FACT@DATE separated by spaces (placed, despatched, received, cancelled): when a fact was entered,
-- where that was another day than recorded_on.
ALTER TABLE past_line ADD COLUMN entered TEXT NOT NULL DEFAULT '';
DROP VIEW past_line_now;
CREATE VIEW past_line_now AS
  SELECT p.shop, p.supplier, p.order_number, p.line, p.part, p.quantity, p.quoted_days,
    p.placed_on, p.promises, p.despatched_on, p.received_on, p.cancelled_on,
    p.cancelled_by_supplier, p.last_known_open_on, p.recorded_on, p.rejected, p.entered
  FROM past_line p
  WHERE (p.batch = 0 OR EXISTS (SELECT 1 FROM past_batch b
      WHERE b.shop = p.shop AND b.number = p.batch AND b.revision IS NOT NULL))
    AND NOT EXISTS (SELECT 1 FROM past_line q
      JOIN past_batch c ON c.shop = q.shop AND c.number = q.batch AND c.revision IS NOT NULL
      WHERE q.replaces AND q.shop = p.shop AND q.supplier = p.supplier
        AND q.order_number = p.order_number AND q.line = p.line AND q.part = p.part
        AND q.batch > p.batch);
"#;
