//! The kill loop, short; `BAYSTART_TEST_KILLS` says how many, and `cargo run --bin kill_loop` runs it by hand.

use crate::{nightly, program, setting};
use baystart_testkit::chaos::kill::{Plan, run};
use baystart_testkit::store::{Backend, fresh_place};

async fn loop_on(backend: Backend, servers: usize, seed: u64) {
    let folder = tempfile::tempdir().unwrap();
    let kills = setting("BAYSTART_TEST_KILLS", if nightly() { 1000 } else { 8 });
    let place = fresh_place(backend).await;
    let plan = Plan { database: place.url.clone(), servers, kills, seed, meddle: None };
    let tally = run(&program(folder.path()), &plan).await.unwrap();
    eprintln!("{backend:?}, {servers}: {tally}");
    assert_eq!(tally.killed + tally.terminated, kills);
    assert!(tally.answered > kills && tally.asked_again > 0 && tally.reads > 0, "{tally}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite() {
    loop_on(Backend::Sqlite, 1, 11).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres() {
    loop_on(Backend::Postgres, 1, 12).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_servers_on_one_postgres() {
    loop_on(Backend::Postgres, 2, 13).await;
}

/// A database that forgets what was answered between two kills: the loop must see it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_forgets_is_found_out() {
    let folder = tempfile::tempdir().unwrap();
    let place = fresh_place(Backend::Sqlite).await;
    let path = place.url.strip_prefix("sqlite:").unwrap().to_owned();
    let kept = folder.path().join("kept.db");
    let meddle = move |kill| {
        // The write-ahead log is part of it, and the index of it is made anew.
        for end in ["", "-wal"] {
            let (file, copy) = (format!("{path}{end}"), format!("{}{end}", kept.display()));
            match kill {
                2 => drop(std::fs::copy(file, copy).unwrap()),
                4 => drop(std::fs::copy(copy, file).unwrap()),
                _ => {}
            }
        }
        if kill == 4 {
            let _ = std::fs::remove_file(format!("{path}-shm"));
        }
    };
    let meddle: Option<Box<dyn Fn(usize) + Send + Sync>> = Some(Box::new(meddle));
    let plan = Plan { database: place.url.clone(), servers: 1, kills: 6, seed: 5, meddle };
    let found = run(&program(folder.path()), &plan).await.unwrap_err();
    eprintln!("found out: {found}");
    assert!(
        found.contains("revision") || found.contains("repeated") || found.contains("UNKNOWN"),
        "{found}"
    );
}
