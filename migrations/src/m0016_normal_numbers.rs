//! Numbers that were kept before accents, widths and the like had one normal form.
//!
//! A number whose new normal form another one has already keeps the old one: it
//! is then found by its uid only.

use sea_orm_migration::prelude::*;
use sea_orm_migration::sea_orm::{DbBackend, Statement, Value};
use unicode_normalization::UnicodeNormalization as _;

/// See the module.
#[derive(DeriveMigrationName)]
pub struct Step;

/// A column of past order lines, the table that has its numbers, and the other column.
const PAST: &[(&str, &str, &str)] =
    &[("part", "part", "order_number"), ("order_number", "purchase_order", "part")];

/// A table, and what its numbers are unique in beside the shop.
const TABLES: &[(&str, &str)] = &[
    ("part", ""),
    ("supplier", ""),
    ("bin", ""),
    ("build", ""),
    ("stage", " AND o.build = t.build"),
    ("purchase_order", ""),
];

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, within) in TABLES {
            renew(manager, table, within).await?;
        }
        for (column, table, other) in PAST {
            renew_past(manager, column, table, other).await?;
        }
        renew_keys(manager).await
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

async fn renew(manager: &SchemaManager<'_>, table: &str, within: &str) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let backend = connection.get_database_backend();
    let beyond_ascii = beyond_ascii(backend, "written");
    let run = |text: String, values: Vec<Value>| async move {
        let statement = Statement::from_sql_and_values(backend, text, values);
        connection.execute_raw(statement).await.map(|_| ())
    };
    let rows = format!("SELECT shop, id, written, normal FROM {table} WHERE {beyond_ascii}");
    for row in connection.query_all_raw(Statement::from_string(backend, rows)).await? {
        let (shop, id): (Value, Value) = (uuid(&row, "shop")?, uuid(&row, "id")?);
        let written: String = row.try_get("", "written")?;
        let old: String = row.try_get("", "normal")?;
        let new = normal(&written);
        if new == old {
            continue;
        }
        let text = format!(
            "UPDATE {table} AS t SET normal = $1 WHERE shop = $2 AND id = $3 AND NOT EXISTS \
             (SELECT 1 FROM {table} o WHERE o.shop = t.shop AND o.normal = $1{within})"
        );
        run(text, vec![new.clone().into(), shop.clone(), id]).await?;
    }
    Ok(())
}

/// The same of past order lines; one that is still a part's or an order's old
/// normal form stays with it.
async fn renew_past(
    manager: &SchemaManager<'_>,
    column: &str,
    table: &str,
    other: &str,
) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let backend = connection.get_database_backend();
    let beyond_ascii = beyond_ascii(backend, column);
    let rows = format!(
        "SELECT DISTINCT shop, {column} AS kept FROM past_line p WHERE {beyond_ascii} AND NOT \
         EXISTS (SELECT 1 FROM {table} t WHERE t.shop = p.shop AND t.normal = p.{column})"
    );
    for row in connection.query_all_raw(Statement::from_string(backend, rows)).await? {
        let old: String = row.try_get("", "kept")?;
        let new = normal(&old);
        if new == old {
            continue;
        }
        let text = format!(
            "UPDATE past_line AS t SET {column} = $1 WHERE shop = $2 AND {column} = $3 \
             AND NOT EXISTS (SELECT 1 FROM past_line o WHERE o.shop = t.shop \
             AND o.supplier = t.supplier AND o.{other} = t.{other} AND o.line = t.line \
             AND o.batch = t.batch AND o.{column} = $1)"
        );
        let values = vec![new.into(), uuid(&row, "shop")?, old.into()];
        connection.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
    }
    Ok(())
}

/// The keys by which an import knows again what it booked are made of normal forms.
async fn renew_keys(manager: &SchemaManager<'_>) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let backend = connection.get_database_backend();
    let rows =
        format!("SELECT shop, kind, key FROM imported WHERE {}", beyond_ascii(backend, "key"));
    for row in connection.query_all_raw(Statement::from_string(backend, rows)).await? {
        let (kind, old): (String, String) = (row.try_get("", "kind")?, row.try_get("", "key")?);
        let piece = |piece: &str| match piece {
            "usable" | "quarantined" => piece.to_owned(),
            number => normal(number),
        };
        let new = old.split('|').map(piece).collect::<Vec<_>>().join("|");
        if new == old {
            continue;
        }
        let text = "UPDATE imported AS t SET key = $1 WHERE shop = $2 AND kind = $3 AND key = $4 \
             AND NOT EXISTS (SELECT 1 FROM imported o WHERE o.shop = t.shop AND o.kind = t.kind \
             AND o.key = $1)";
        let values = vec![new.into(), uuid(&row, "shop")?, kind.into(), old.into()];
        connection.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
    }
    Ok(())
}

fn beyond_ascii(backend: DbBackend, column: &str) -> String {
    match backend {
        DbBackend::Sqlite => format!("{column} GLOB '*[^ -~]*'"),
        _ => format!("{column} ~ '[^ -~]'"),
    }
}

fn uuid(row: &sea_orm_migration::sea_orm::QueryResult, column: &str) -> Result<Value, DbErr> {
    let uuid: sea_orm_migration::sea_orm::prelude::Uuid = row.try_get("", column)?;
    Ok(uuid.into())
}

/// The normal form as the core reckoned it when this step was written.
fn normal(written: &str) -> String {
    let mut folded = written.replace('\u{b5}', "u");
    for _ in 0..2 {
        folded = folded.nfkc().collect::<String>().to_uppercase().nfkc().collect();
    }
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}
