//! Checking a database: the invariants of the core on the whole shop, and what
//! only the database can tell.

use crate::error::{Fault, StoreError};
use crate::load;
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::ids::ShopId;
use baystart_core::invariants::{self, Violation};
use sea_orm::{ConnectionTrait, DbBackend, Statement};

/// A check, what it means, and a query for one line of text per violation.
type Check = (&'static str, &'static str, &'static str);

const CHECKS: &[Check] = &[
    (
        "ID-1",
        "a request has no row in the change log",
        "SELECT CAST(revision AS TEXT) AS found FROM request r WHERE r.shop = $1 AND NOT EXISTS \
         (SELECT 1 FROM change_log c WHERE c.shop = r.shop AND c.revision = r.revision \
          AND c.request = r.id)",
    ),
    (
        "ID-1",
        "a row of the change log has no request",
        "SELECT CAST(revision AS TEXT) AS found FROM change_log c WHERE c.shop = $1 AND NOT EXISTS \
         (SELECT 1 FROM request r WHERE r.shop = c.shop AND r.revision = c.revision)",
    ),
    (
        "WT-1",
        "the revisions have gaps or do not end at the shop's",
        "SELECT CAST(s.revision AS TEXT) AS found FROM shop s WHERE s.id = $1 AND \
         (s.revision <> (SELECT COUNT(*) FROM change_log c WHERE c.shop = $1) OR \
          s.revision <> COALESCE((SELECT MAX(revision) FROM change_log c WHERE c.shop = $1), 0))",
    ),
    (
        "WT-1",
        "a movement belongs to no revision",
        "SELECT CAST(m.revision AS TEXT) AS found FROM movement m WHERE m.shop = $1 AND NOT EXISTS \
         (SELECT 1 FROM change_log c WHERE c.shop = m.shop AND c.revision = m.revision)",
    ),
    (
        "PO-2",
        "an order line's pegged quantity is not the sum of its pegs, in thousandths",
        "SELECT CAST(o.pegged AS TEXT) AS found FROM order_line o WHERE o.shop = $1 AND \
         o.pegged <> COALESCE((SELECT SUM(p.quantity) FROM peg p WHERE p.shop = o.shop \
          AND p.order_line = o.id), 0)",
    ),
    (
        "TN-1",
        "a token belongs to two shops",
        "SELECT t.name AS found FROM token t WHERE t.shop = $1 AND EXISTS \
         (SELECT 1 FROM token u WHERE u.hash = t.hash AND u.shop <> t.shop)",
    ),
];

/// Tables whose rows may not change, each with its guards.
const GUARDS_SQLITE: &str = "SELECT 'a guard of ' || t.name || ' is missing' AS found FROM \
    (SELECT 'entry' AS name UNION SELECT 'movement') t WHERE 2 > (SELECT COUNT(*) \
    FROM sqlite_master m WHERE m.type = 'trigger' AND m.tbl_name = t.name \
    AND m.name IN (t.name || '_update', t.name || '_delete'))";
const GUARDS_POSTGRES: &str = "SELECT 'the guard of ' || t.name || ' is missing' AS found FROM \
    (VALUES ('entry'), ('movement')) t (name) WHERE NOT EXISTS (SELECT 1 FROM pg_trigger g \
    WHERE g.tgrelid = t.name::regclass AND g.tgname = t.name || '_immutable' \
    AND g.tgenabled IN ('O', 'A'))";
const SOUND_SQLITE: &str = "SELECT quick_check AS found FROM pragma_quick_check \
    WHERE quick_check <> 'ok'";
const KEYS_SQLITE: &str = "SELECT \"table\" || ' names a row of ' || parent || ' that is not there' \
    AS found FROM pragma_foreign_key_check";
const KEYS_POSTGRES: &str = "SELECT conname || ' is not enforced' AS found FROM pg_constraint \
    WHERE NOT convalidated AND connamespace = current_schema()::regnamespace";

impl Store {
    /// Checks every invariant on one shop's data, in one snapshot.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what cannot be read.
    pub async fn verify(&self, shop: ShopId) -> Result<Vec<Violation>, StoreError> {
        let txn = self.begin().await?;
        let loaded = load::load_with_ledger(&txn, shop).await?;
        let mut violations = invariants::check(&loaded.book);
        for (id, meaning, query) in CHECKS {
            for text in found(&txn, query, vec![shop.0.into()]).await? {
                violations.push(Violation { id, text: format!("{meaning}: {text}") });
            }
        }
        let whole: &[(&'static str, &str)] = match txn.get_database_backend() {
            DbBackend::Sqlite => {
                &[("LG-3", GUARDS_SQLITE), ("DB", SOUND_SQLITE), ("DB", KEYS_SQLITE)]
            }
            _ => &[("LG-3", GUARDS_POSTGRES), ("DB", KEYS_POSTGRES)],
        };
        for (id, query) in whole {
            for text in found(&txn, query, Vec::new()).await? {
                violations.push(Violation { id, text });
            }
        }
        txn.done().await?;
        Ok(violations)
    }
}

async fn found(txn: &Txn, query: &str, values: Vec<sea_orm::Value>) -> Result<Vec<String>, Fault> {
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), query, values);
    let mut texts = Vec::new();
    for row in txn.query_all_raw(statement).await? {
        texts.push(row.try_get("", "found")?);
    }
    Ok(texts)
}
