//! The real binary while disks fail, connections are cut and processes are killed.
//!
//! `BAYSTART_TEST_NIGHTLY=1` runs every fault of the matrices and the long kill loop; `BAYSTART_TEST_FAULTS`
//! says how many faults of each matrix, `BAYSTART_TEST_KILLS` how many kills.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod kills;
mod postgres;
mod sqlite;

use baystart_testkit::chaos::child::Program;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::sync::Semaphore;
use tokio::task::JoinSet;

/// The binary of this build, with its files in a folder.
pub fn program(folder: &Path) -> Program {
    let binary = PathBuf::from(env!("CARGO_BIN_EXE_baystart"));
    Program { binary, folder: folder.to_owned() }
}

pub fn nightly() -> bool {
    std::env::var("BAYSTART_TEST_NIGHTLY").is_ok_and(|text| text == "1")
}

/// A number from the environment.
pub fn setting(name: &str, default: usize) -> usize {
    let set = std::env::var(name).ok();
    set.map_or(default, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
}

/// All of them, or so many evenly spread ones; the first and the last are among these.
pub fn sample<T: Clone>(all: &[T], wanted: usize) -> Vec<T> {
    let wanted = setting("BAYSTART_TEST_FAULTS", wanted).max(2);
    if nightly() || all.len() <= wanted {
        return all.to_vec();
    }
    (0..wanted).map(|n| all[n * (all.len() - 1) / (wanted - 1)].clone()).collect()
}

/// Runs trials, two at once, and returns what did not hold, each with its name.
pub async fn each<T, F, R>(trials: Vec<T>, run: R) -> Vec<String>
where
    T: std::fmt::Debug + Send + Clone + 'static,
    F: Future<Output = Result<(), String>> + Send + 'static,
    R: Fn(T) -> F + Send + Sync + 'static,
{
    let places = Arc::new(Semaphore::new(2));
    let run = Arc::new(run);
    let mut running = JoinSet::new();
    for trial in trials {
        let (places, run) = (places.clone(), run.clone());
        running.spawn(async move {
            let _place = places.acquire().await.unwrap();
            let done = run(trial.clone()).await;
            done.err().map(|text| format!("{trial:?}: {text}"))
        });
    }
    let mut wrong = Vec::new();
    while let Some(done) = running.join_next().await {
        wrong.extend(done.unwrap());
    }
    wrong
}
