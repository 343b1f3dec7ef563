//! What an import costs by its rows, for every kind of file: from the command line over the wire to
//! the commit, in one process; and how long the writes of another shop of that server had to wait
//! meanwhile at most.
//!
//! Sizes: 20,000 and 200,000 rows, or what `BAYSTART_BENCH_ROWS` says ("2000 20000"); kinds by
//! words of their names in `BAYSTART_BENCH_KINDS` ("parts offers"). PostgreSQL runs where
//! `BAYSTART_TEST_POSTGRES` names one. Only ratios of one run mean anything: linear is the ratio of
//! the sizes.
#![allow(missing_docs)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod beside;
mod files;

use baystart_testkit::server::TestServer;
use baystart_testkit::store::Backend;
use beside::Beside;
use files::{File, Kind};
use jiff::civil::date;
use std::time::{Duration, Instant};
use tokio::runtime::Builder;

const ROWS: [usize; 2] = [20_000, 200_000];

async fn import(server: &TestServer, files: &[File]) -> Duration {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut args = vec!["import".to_owned()];
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        let kind = name.split(['-', '.']).next().unwrap().replace('_', "-");
        args.push(format!("{kind}={}", path.display()));
    }
    let token = server.token_file().display().to_string();
    args.extend(["--server".to_owned(), server.url(), "--token-file".to_owned(), token]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let since = Instant::now();
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    let took = since.elapsed();
    let said = || [&*out, &*err].map(|text| String::from_utf8_lossy(text).into_owned()).concat();
    assert_eq!(code, 0, "{}", said().chars().take(2_000).collect::<String>());
    took
}

async fn measure(backend: Backend, kind: Kind, rows: usize) -> (Duration, Duration) {
    let server = TestServer::start(backend, date(2026, 9, 14)).await;
    for file in kind.base() {
        import(&server, &[file]).await;
    }
    let beside = Beside::start(&server).await;
    let took = import(&server, &kind.files(rows)).await;
    let waited = beside.longest().await;
    server.stop().await;
    (took, waited)
}

fn main() {
    let word = |name: &str| std::env::var(name).unwrap_or_default();
    let asked = word("BAYSTART_BENCH_ROWS");
    let asked: Vec<usize> = asked.split_whitespace().map(|word| word.parse().unwrap()).collect();
    let sizes = if asked.is_empty() { ROWS.to_vec() } else { asked };
    let wanted = word("BAYSTART_BENCH_KINDS");
    let is_wanted = |kind: &Kind| {
        wanted.is_empty() || wanted.split_whitespace().any(|word| kind.name().contains(word))
    };
    let runtime = Builder::new_multi_thread().enable_all().build().expect("a runtime");
    println!(
        "| database | rows of | {} | ratio | another shop's longest write in the last, s |",
        sizes.iter().map(|n| format!("{n}, s")).collect::<Vec<_>>().join(" | ")
    );
    println!("|---|---|{}", "---|".repeat(sizes.len() + 2));
    for backend in Backend::ALL {
        if backend == Backend::Postgres && std::env::var("BAYSTART_TEST_POSTGRES").is_err() {
            println!("BAYSTART_TEST_POSTGRES is not set: PostgreSQL was not measured");
            continue;
        }
        for kind in Kind::ALL.into_iter().filter(is_wanted) {
            let (mut times, mut longest) = (Vec::new(), Duration::ZERO);
            for rows in &sizes {
                let (took, waited) = runtime.block_on(measure(backend, kind, *rows));
                times.push(took.as_secs_f64());
                longest = waited;
            }
            let shown: Vec<_> = times.iter().map(|time| format!("{time:.2}")).collect();
            let ratio = times.last().unwrap() / times.first().unwrap();
            let (shown, waited) = (shown.join(" | "), longest.as_secs_f64());
            println!("| {backend:?} | {} | {shown} | {ratio:.1} | {waited:.2} |", kind.name());
        }
    }
}
