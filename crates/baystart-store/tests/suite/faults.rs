//! A full queue, a held lock, a stopped database.

use crate::both;
use crate::place::{Backend, add_shop, cluster_url, fresh_place, fresh_shop};
use crate::support::{beside, done, part, sound, submission, submit};
use baystart_store::{Store, StoreError, StoreOptions};
use sqlx::{Executor, Row};
use std::time::{Duration, Instant};
use tokio::net::{TcpListener, TcpStream};
use uuid::Uuid;

both!(
    /// While another holds the write lock, the queue fills and then refuses;
    /// what was queued takes effect when the lock is free.
    a_full_queue_says_so,
    |backend: Backend| async move {
        let place = fresh_place(backend).await;
        let options = StoreOptions { queue_max: 4, batch_max: 2, ..StoreOptions::default() };
        let store = Store::open(&place.url, options).await.unwrap();
        let shop = add_shop(&store, "Glen Orran", [1; 32]).await;
        let mut other = beside(&place.url).await;
        let lock = match backend {
            Backend::Sqlite => "BEGIN IMMEDIATE",
            Backend::Postgres => "BEGIN; SELECT 1 FROM shop FOR UPDATE",
        };
        other.execute(lock).await.unwrap();
        let mut tasks = Vec::new();
        for number in 0..20 {
            let store = store.clone();
            tasks.push(tokio::spawn(async move {
                submit(&store, shop, part(&format!("P{number}"))).await
            }));
        }
        tokio::time::sleep(Duration::from_millis(300)).await;
        other.execute("ROLLBACK").await.unwrap();
        let (mut kept, mut busy) = (0, 0);
        for task in tasks {
            match task.await.unwrap() {
                Ok(_) => kept += 1,
                Err(StoreError::Busy(_)) => busy += 1,
                Err(error) => panic!("{error:?}"),
            }
        }
        assert!(busy >= 14 && kept >= 4, "kept {kept}, busy {busy}");
        assert_eq!(kept + busy, 20);
        assert_eq!(store.list_parts(shop, None, 100, "").await.unwrap().len(), kept);
        sound(&store, shop).await;
    }
);

both!(
    /// A lock that is not let go: the caller is told in time, and later the
    /// same request takes effect.
    a_held_lock_is_not_waited_for_forever,
    |backend: Backend| async move {
        let place = fresh_place(backend).await;
        let options = StoreOptions {
            lock_timeout: Duration::from_millis(200),
            busy_timeout: Duration::from_millis(200),
            ..StoreOptions::default()
        };
        let store = Store::open(&place.url, options).await.unwrap();
        let shop = add_shop(&store, "Glen Orran", [1; 32]).await;
        let mut other = beside(&place.url).await;
        let lock = match backend {
            Backend::Sqlite => "BEGIN IMMEDIATE",
            Backend::Postgres => "BEGIN; SELECT 1 FROM shop FOR UPDATE",
        };
        other.execute(lock).await.unwrap();
        let id = Uuid::now_v7();
        let since = Instant::now();
        let result = store.submit(submission(shop, id, part("P"))).await;
        assert!(matches!(result, Err(StoreError::Busy(_))), "{result:?}");
        assert!(since.elapsed() < Duration::from_secs(5), "{:?}", since.elapsed());
        // Readers do not wait for writers.
        assert!(store.list_parts(shop, None, 10, "").await.unwrap().is_empty());
        other.execute("ROLLBACK").await.unwrap();
        assert!(!store.submit(submission(shop, id, part("P"))).await.unwrap().replayed);
        sound(&store, shop).await;
    }
);

both!(
    /// A store that was closed has finished what was queued and takes no more.
    closing_finishes_what_is_queued,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let mut tasks = Vec::new();
        for number in 0..50 {
            let store = store.clone();
            let each = submission(shop, Uuid::now_v7(), part(&format!("P{number}")));
            tasks.push(tokio::spawn(async move { store.submit(each).await }));
        }
        tokio::time::sleep(Duration::from_millis(5)).await;
        store.close().await;
        let mut kept = 0;
        for task in tasks {
            match task.await.unwrap() {
                Ok(_) => kept += 1,
                Err(StoreError::Unavailable(_)) => {}
                Err(error) => panic!("{error:?}"),
            }
        }
        let late = submit(&store, shop, part("late")).await;
        assert!(matches!(late, Err(StoreError::Unavailable(_))), "{late:?}");
        let again = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        assert_eq!(again.list_parts(shop, None, 100, "").await.unwrap().len(), kept);
        sound(&again, shop).await;
    }
);

/// Commands that wait share a commit; PostgreSQL's row versions tell which.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn waiting_commands_share_a_commit() {
    let (store, shop, place) = fresh_shop(Backend::Postgres).await;
    let mut other = beside(&place.url).await;
    other.execute("BEGIN; SELECT 1 FROM shop FOR UPDATE").await.unwrap();
    let mut tasks = Vec::new();
    for number in 0..65 {
        let store = store.clone();
        tasks.push(tokio::spawn(
            async move { done(&store, shop, part(&format!("P{number}"))).await },
        ));
    }
    tokio::time::sleep(Duration::from_millis(200)).await;
    other.execute("ROLLBACK").await.unwrap();
    for task in tasks {
        task.await.unwrap();
    }
    let commits = "SELECT CAST(COUNT(DISTINCT CAST(xmin AS TEXT)) AS BIGINT) FROM change_log";
    let commits: i64 = other.fetch_one(commits).await.unwrap().get(0);
    assert!((3..=4).contains(&commits), "65 commands, at most 32 a commit: {commits} commits");
    sound(&store, shop).await;
}

/// Passes bytes to the database until it is stopped, then refuses.
async fn proxy(target: String) -> (u16, tokio::task::JoinHandle<()>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    (listener.local_addr().unwrap().port(), serve(listener, target))
}

fn serve(listener: TcpListener, target: String) -> tokio::task::JoinHandle<()> {
    tokio::spawn(async move {
        let mut lines = tokio::task::JoinSet::new();
        while let Ok((mut near, _)) = listener.accept().await {
            let target = target.clone();
            lines.spawn(async move {
                let mut far = TcpStream::connect(target).await.unwrap();
                let _ = tokio::io::copy_bidirectional(&mut near, &mut far).await;
            });
        }
    })
}

/// A PostgreSQL that stops answering and comes back.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stopped_database_is_said_and_heals() {
    let place = fresh_place(Backend::Postgres).await;
    let cluster = cluster_url();
    let (before, after) = cluster.split_once("://").unwrap();
    let authority = after.split('/').next().unwrap();
    let host = authority.rsplit('@').next().unwrap().to_owned();
    let (port, line) = proxy(host.clone()).await;
    let url = place.url.replacen(&host, &format!("127.0.0.1:{port}"), 1);
    assert!(url.starts_with(before));
    let options =
        StoreOptions { connection_timeout: Duration::from_millis(500), ..StoreOptions::default() };
    let store = Store::open(&url, options).await.unwrap();
    let shop = add_shop(&store, "Glen Orran", [1; 32]).await;
    done(&store, shop, part("P")).await;
    line.abort();
    let _ = line.await;
    let id = Uuid::now_v7();
    let since = Instant::now();
    let written = store.submit(submission(shop, id, part("Q"))).await;
    assert!(matches!(written, Err(StoreError::Unavailable(_))), "{written:?}");
    let read = store.shops().await;
    assert!(matches!(read, Err(StoreError::Unavailable(_))), "{read:?}");
    assert!(matches!(store.ping().await, Err(StoreError::Unavailable(_))));
    assert!(since.elapsed() < Duration::from_secs(10), "{:?}", since.elapsed());
    let listener = TcpListener::bind(("127.0.0.1", port)).await.unwrap();
    let _line = serve(listener, host);
    store.submit(submission(shop, id, part("Q"))).await.unwrap();
    sound(&store, shop).await;
}

/// An address that no store can open.
#[tokio::test]
async fn an_address_of_another_kind() {
    let result = Store::open("file://shop", StoreOptions::default()).await;
    assert!(matches!(result, Err(StoreError::Settings(_))), "{result:?}");
}

/// A database that lives in memory serves writers and readers alike.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn in_memory() {
    let store = Store::open("sqlite::memory:", StoreOptions::default()).await.unwrap();
    let shop = add_shop(&store, "Glen Orran", [1; 32]).await;
    let mut tasks = Vec::new();
    for number in 0..20 {
        let store = store.clone();
        tasks.push(tokio::spawn(async move {
            done(&store, shop, part(&format!("P{number}"))).await;
            store.list_parts(shop, None, 100, "").await.unwrap().len()
        }));
    }
    for task in tasks {
        assert!(task.await.unwrap() > 0);
    }
    assert_eq!(store.list_parts(shop, None, 100, "").await.unwrap().len(), 20);
    sound(&store, shop).await;
}
