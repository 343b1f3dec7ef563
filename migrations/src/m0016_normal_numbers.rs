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

/// A table, what its numbers are unique in beside the shop, and the column of
/// past order lines that names its rows by their normal form.
const TABLES: &[(&str, &str, Option<&str>)] = &[
    ("part", "", Some("part")),
    ("supplier", "", None),
    ("bin", "", None),
    ("build", "", None),
    ("stage", " AND o.build = t.build", None),
    ("purchase_order", "", Some("order_number")),
];

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, within, past) in TABLES {
            renew(manager, table, within, *past).await?;
        }
        Ok(())
    }

    // A step and the note that it ran are one transaction on SQLite too.
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}

async fn renew(
    manager: &SchemaManager<'_>,
    table: &str,
    within: &str,
    past: Option<&str>,
) -> Result<(), DbErr> {
    let connection = manager.get_connection();
    let backend = connection.get_database_backend();
    let beyond_ascii = match backend {
        DbBackend::Sqlite => "written GLOB '*[^ -~]*'",
        _ => "written ~ '[^ -~]'",
    };
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
        if let Some(column) = past {
            let others = ["order_number", "part"].into_iter().find(|other| *other != column);
            let other = others.unwrap_or(column);
            let text = format!(
                "UPDATE past_line AS t SET {column} = $1 WHERE shop = $2 AND {column} = $3 \
                 AND NOT EXISTS (SELECT 1 FROM past_line o WHERE o.shop = t.shop \
                 AND o.supplier = t.supplier AND o.{other} = t.{other} AND o.line = t.line \
                 AND o.batch = t.batch AND o.{column} = $1)"
            );
            run(text, vec![new.into(), shop, old.into()]).await?;
        }
    }
    Ok(())
}

fn uuid(row: &sea_orm_migration::sea_orm::QueryResult, column: &str) -> Result<Value, DbErr> {
    let uuid: sea_orm_migration::sea_orm::prelude::Uuid = row.try_get("", column)?;
    Ok(uuid.into())
}

/// The normal form as the core reckoned it when this step was written.
fn normal(written: &str) -> String {
    let mut folded = written.to_owned();
    for _ in 0..2 {
        folded = folded.nfkc().collect::<String>().to_uppercase().nfkc().collect();
    }
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}
