//! The same rows by sqlx alone: statements of many rows in one transaction, no
//! file, no checks, no look at what is there.

use crate::rows::{self, PastOrderLine, SUPPLIERS};
use baystart_core::ids::ShopId;
use baystart_testkit::store::{Backend, add_shop, fresh_store};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection, PgConnection, QueryBuilder};
use std::str::FromStr;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// Rows of one statement, as the import's.
const AT_ONCE: u32 = 900;

/// Inserts so many rows into an empty table.
pub async fn insert(backend: Backend, count: u32) -> Duration {
    let (store, place) = fresh_store(backend).await;
    let shop = add_shop(&store, "Plain", [1; 32]).await;
    store.close().await;
    let suppliers: Vec<Uuid> = (0..SUPPLIERS).map(|_| Uuid::now_v7()).collect();
    match backend {
        Backend::Sqlite => sqlite(&place.url, shop, &suppliers, count).await,
        Backend::Postgres => postgres(&place.url, shop, &suppliers, count).await,
    }
}

const COLUMNS: &str = "INSERT INTO past_line (shop, supplier, order_number, line, part, quantity, \
    quoted_days, placed_on, promises, despatched_on, received_on, cancelled_on, \
    cancelled_by_supplier, last_known_open_on, recorded_on, digest) ";

macro_rules! run {
    ($connection:expr, $shop:expr, $suppliers:expr, $count:expr) => {{
        let (mut connection, shop, suppliers, count) = ($connection, $shop, $suppliers, $count);
        for (number, id) in suppliers.iter().enumerate() {
            let code = rows::supplier_code(u32::try_from(number).unwrap());
            let text = "INSERT INTO supplier (shop, id, written, normal, name, version) \
                VALUES ($1, $2, $3, $3, 'Invented', 1)";
            let insert = sqlx::query(text).bind(shop.0).bind(id).bind(code);
            insert.execute(&mut connection).await.unwrap();
        }
        let since = Instant::now();
        let mut txn = connection.begin().await.unwrap();
        let mut at = 0;
        while at < count {
            let end = count.min(at + AT_ONCE);
            let mut statement = QueryBuilder::new(COLUMNS);
            statement.push_values((at..end).map(rows::row), |mut values, row: PastOrderLine| {
                let supplier = suppliers[usize::try_from(row.supplier).unwrap()];
                values.push_bind(shop.0).push_bind(supplier).push_bind(row.order);
                values.push_bind(row.line).push_bind(row.part).push_bind(row.quantity * 1000);
                values.push_bind(row.quoted_days).push_bind(row.placed_on).push_bind(row.promises);
                values.push_bind(row.despatched_on).push_bind(row.received_on);
                values.push_bind(None::<chrono::NaiveDate>).push_bind(false);
                values.push_bind(None::<chrono::NaiveDate>).push_bind(None::<chrono::NaiveDate>);
                values.push_bind(vec![7_u8; 32]);
            });
            statement.build().execute(&mut *txn).await.unwrap();
            at = end;
        }
        txn.commit().await.unwrap();
        let took = since.elapsed();
        connection.close().await.unwrap();
        took
    }};
}

async fn sqlite(url: &str, shop: ShopId, suppliers: &[Uuid], count: u32) -> Duration {
    let connection: SqliteConnection = SqliteConnectOptions::from_str(url)
        .unwrap()
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .disable_statement_logging()
        .connect()
        .await
        .unwrap();
    run!(connection, shop, suppliers, count)
}

async fn postgres(url: &str, shop: ShopId, suppliers: &[Uuid], count: u32) -> Duration {
    let connection = PgConnection::connect(url).await.unwrap();
    run!(connection, shop, suppliers, count)
}
