//! TN-1: no read and no write crosses a shop.

use crate::both;
use crate::day;
use crate::place::{Backend, add_shop, fresh_place, fresh_shop};
use crate::support::{adjust, beside, bin, book, decided, done, named, part, sound, submit};
use baystart_core::command::Command;
use baystart_core::refs::{Ref, RefKind};
use baystart_store::{OfferFilter, OrderFilter, Store, StoreError, StoreOptions};
use sqlx::{Executor, Row};

both!(
    /// Two shops with the same numbers; each sees its own only.
    shops_do_not_see_each_other,
    |backend: Backend| async move {
        let (store, first, _place) = fresh_shop(backend).await;
        for command in day::catalogue().into_iter().chain(day::work()) {
            decided(&store, first, command).await;
        }
        let mine = book(&store, first).await;
        let second = add_shop(&store, "Strath Works", [2; 32]).await;
        let empty = book(&store, second).await;
        assert!(empty.parts.is_empty() && empty.builds.is_empty() && empty.stock.is_empty());
        assert_eq!(empty.tokens.len(), 1);
        assert!(store.list_parts(second, None, 100, "").await.unwrap().is_empty());
        assert!(store.list_suppliers(second, None, 100).await.unwrap().is_empty());
        assert!(store.list_bins(second, None, 100).await.unwrap().is_empty());
        let offers = store.list_offers(second, None, 100, &OfferFilter::default()).await.unwrap();
        assert!(offers.rows.is_empty());
        let orders = store.list_orders(second, None, 100, &OrderFilter::default()).await.unwrap();
        assert!(orders.is_empty());
        assert!(store.list_builds(second, None, 100, &[]).await.unwrap().is_empty());
        assert!(store.list_movements(second, None, 100, None).await.unwrap().rows.is_empty());
        assert!(store.list_stock_parts(second, None, 100).await.unwrap().is_empty());
        // Neither a number nor a uid of the other shop names anything here.
        let foreign = Ref::Uid(mine.parts.keys().next().unwrap().0);
        let refs = [
            (RefKind::Part, foreign.clone()),
            (RefKind::Part, named("RELAY-1")),
            (RefKind::Build, named("B-1")),
            (RefKind::Order, named("PO-1")),
            (RefKind::Supplier, named("CORRIE")),
            (RefKind::Bin, named("A1")),
        ];
        assert_eq!(store.unknown(second, &refs).await.unwrap(), [true; 6]);
        assert_eq!(store.unknown(first, &refs).await.unwrap(), [false; 6]);
        done(&store, second, bin("A1")).await;
        done(&store, second, part("RELAY-1")).await;
        done(&store, second, adjust("relay-1", "a1", 7)).await;
        let mut theft = adjust("RELAY-1", "A1", -1);
        if let Command::Stock(baystart_core::command::StockCommand::Adjust { at, .. }) = &mut theft
        {
            at.part = foreign;
        }
        let result = submit(&store, second, theft).await;
        assert!(matches!(result, Err(StoreError::Refused(_))), "{result:?}");
        assert_eq!(book(&store, first).await, mine);
        assert_eq!(store.shops().await.unwrap().len(), 2);
        sound(&store, first).await;
        sound(&store, second).await;
    }
);

both!(
    /// A token leads to its shop, until it is revoked.
    tokens_belong_to_shops,
    |backend: Backend| async move {
        let (store, first, _place) = fresh_shop(backend).await;
        let second = add_shop(&store, "Strath Works", [2; 32]).await;
        assert_eq!(store.caller([1; 32]).await.unwrap().unwrap().shop, first);
        assert_eq!(store.caller([2; 32]).await.unwrap().unwrap().shop, second);
        assert_eq!(store.caller([3; 32]).await.unwrap(), None);
        done(&store, second, crate::support::token("bench")).await;
        let caller = store.caller([9; 32]).await.unwrap().unwrap();
        assert_eq!((caller.shop, caller.name.as_str()), (second, "bench"));
        assert_eq!(caller.roles.len(), 2);
        done(&store, second, Command::RevokeToken { token: caller.token.0 }).await;
        assert_eq!(store.caller([9; 32]).await.unwrap(), None);
        assert_eq!(store.list_tokens(second, None, 10).await.unwrap().len(), 2);
    }
);

/// Every primary, unique and foreign key begins with the shop.
#[tokio::test]
async fn keys_begin_with_the_shop_on_postgres() {
    let place = fresh_place(Backend::Postgres).await;
    Store::open(&place.url, StoreOptions::default()).await.unwrap().close().await;
    let mut connection = beside(&place.url).await;
    let text = "SELECT c.relname || ' ' || i.indexrelid::regclass || ' ' || a.attname AS found \
        FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid \
        JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = i.indkey[0] \
        WHERE i.indisunique AND c.relnamespace = 'public'::regnamespace \
        AND c.relname NOT IN ('seaql_migrations', 'shop') AND a.attname <> 'shop' \
        UNION ALL SELECT k.conname || ' ' || a.attname FROM pg_constraint k \
        JOIN pg_attribute a ON a.attrelid = k.conrelid AND a.attnum = k.conkey[1] \
        WHERE k.contype = 'f' AND a.attname <> 'shop'";
    let rows = connection.fetch_all(text).await.unwrap();
    let found: Vec<String> = rows.iter().map(|row| row.get("found")).collect();
    assert!(found.is_empty(), "{found:?}");
    let keys = "SELECT CAST(COUNT(*) AS BIGINT) FROM pg_constraint WHERE contype IN ('p', 'f')";
    let count: i64 = connection.fetch_one(keys).await.unwrap().get(0);
    assert!(count > 40, "the query sees the schema: {count}");
    let sequences = "SELECT CAST(COUNT(*) AS BIGINT) FROM pg_sequences";
    assert_eq!(connection.fetch_one(sequences).await.unwrap().get::<i64, _>(0), 0);
}

/// The same on SQLite.
#[tokio::test]
async fn keys_begin_with_the_shop_on_sqlite() {
    let place = fresh_place(Backend::Sqlite).await;
    Store::open(&place.url, StoreOptions::default()).await.unwrap().close().await;
    let mut connection = beside(&place.url).await;
    let text = "SELECT m.name || ' ' || i.name || ' ' || x.name AS found FROM sqlite_master m \
        JOIN pragma_index_list(m.name) i JOIN pragma_index_info(i.name) x \
        WHERE m.type = 'table' AND i.\"unique\" = 1 AND x.seqno = 0 AND x.name <> 'shop' \
        AND m.name NOT IN ('seaql_migrations', 'shop') \
        UNION ALL SELECT m.name || ' ' || f.\"from\" FROM sqlite_master m \
        JOIN pragma_foreign_key_list(m.name) f \
        WHERE m.type = 'table' AND f.seq = 0 AND f.\"from\" <> 'shop'";
    let rows = connection.fetch_all(text).await.unwrap();
    let found: Vec<String> = rows.iter().map(|row| row.get("found")).collect();
    assert!(found.is_empty(), "{found:?}");
    let strict = "SELECT COUNT(*) FROM pragma_table_list WHERE schema = 'main' AND strict = 1";
    let count: i64 = connection.fetch_one(strict).await.unwrap().get(0);
    assert_eq!(count, 27, "every table is strict");
}
