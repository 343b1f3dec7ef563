//! Every text scenario, on both databases, against its expected text.

use baystart_testkit::scenario;
use baystart_testkit::store::Backend;
use futures::{StreamExt as _, stream};
use similar::TextDiff;
use std::path::PathBuf;

/// Scenarios that run at the same time.
const AT_ONCE: usize = 4;

fn folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios"))
}

async fn all_on(backend: Backend) {
    let update = std::env::var("BAYSTART_UPDATE").is_ok_and(|value| value == "1");
    let mut paths: Vec<_> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "txt"))
        .collect();
    paths.sort();
    assert!(!paths.is_empty());
    let mut wrong = Vec::new();
    // A scenario waits for its database most of the time.
    let answers: Vec<(PathBuf, String, String)> = stream::iter(paths)
        .map(|path| async move {
            let expected = std::fs::read_to_string(&path).unwrap();
            let found = scenario::run(&expected, backend).await;
            (path, expected, found)
        })
        .buffered(AT_ONCE)
        .collect()
        .await;
    for (path, expected, found) in answers {
        if found == expected {
            continue;
        }
        if update && backend == Backend::Sqlite {
            std::fs::write(&path, &found).unwrap();
        }
        let diff = TextDiff::from_lines(&expected, &found);
        wrong.push(format!("{}\n{}", path.display(), diff.unified_diff()));
    }
    assert!(wrong.is_empty() || (update && backend == Backend::Sqlite), "{}", wrong.join("\n"));
}

#[tokio::test(flavor = "multi_thread")]
async fn scenarios_on_sqlite() {
    all_on(Backend::Sqlite).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn scenarios_on_postgres() {
    all_on(Backend::Postgres).await;
}
