//! What an import of past order lines costs, beside the plain insert of the
//! same rows, and the most memory that the server takes for it.
//!
//! The server is a process of its own. Sizes: 10^5 and 10^6 rows, or what
//! `BAYSTART_BENCH_ROWS` says ("1000 10000"). PostgreSQL runs where
//! `BAYSTART_TEST_POSTGRES` names one. The table is printed at the end; only
//! ratios of one run mean anything.
#![allow(missing_docs)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod plain;
mod rows;
mod server;

use baystart_testkit::store::Backend;
use server::ServerProcess;
use std::path::Path;
use std::time::{Duration, Instant};
use tokio::runtime::Builder;

/// Sizes of the files, in rows.
const ROWS: [u32; 2] = [100_000, 1_000_000];

/// One command of the command line against a server.
async fn command(server: &ServerProcess, words: &[&str]) -> String {
    let how = ["--server", &server.url, "--token-file", &server.token_file];
    let args = words.iter().chain(&how).map(|arg| (*arg).to_owned()).collect::<Vec<_>>();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    assert_eq!(code, 0, "{}{}", String::from_utf8_lossy(&out), String::from_utf8_lossy(&err));
    String::from_utf8(out).unwrap()
}

async fn import(server: &ServerProcess, file: &Path, rows: u32, what: &str) -> Duration {
    let since = Instant::now();
    let out = command(server, &["import", "history", &file.display().to_string()]).await;
    let took = since.elapsed();
    let counts: Vec<&str> = out.lines().nth(2).unwrap().split_whitespace().collect();
    let column = if what == "new" { 2 } else { 4 };
    assert_eq!(counts.get(column), Some(&rows.to_string().as_str()), "{out}");
    took
}

fn main() {
    if let Ok(backend) = std::env::var(server::CHILD) {
        return server::serve(&backend);
    }
    let asked = std::env::var("BAYSTART_BENCH_ROWS").unwrap_or_default();
    let sizes: Vec<u32> = asked.split_whitespace().map(|word| word.parse().unwrap()).collect();
    let sizes = if sizes.is_empty() { ROWS.to_vec() } else { sizes };
    let runtime = Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut table = String::from(
        "| database | rows | imported | again, unchanged | plain insert | ratio | server's peak |\n\
         |---|---|---|---|---|---|---|\n",
    );
    for backend in Backend::ALL {
        if backend == Backend::Postgres && std::env::var("BAYSTART_TEST_POSTGRES").is_err() {
            println!("BAYSTART_TEST_POSTGRES is not set: PostgreSQL was not measured");
            continue;
        }
        for size in &sizes {
            let file = folder.path().join("history.csv");
            rows::write(&file, *size);
            let server = ServerProcess::start(backend);
            let (new, again) = runtime.block_on(async {
                for number in 0..rows::SUPPLIERS {
                    let code = rows::supplier_code(number);
                    command(&server, &["supplier", "add", &code, "Invented"]).await;
                }
                let new = import(&server, &file, *size, "new").await;
                (new, import(&server, &file, *size, "unchanged").await)
            });
            let peak = server.stop();
            let plain = runtime.block_on(plain::insert(backend, *size));
            let rate = |time: Duration| f64::from(*size) / time.as_secs_f64();
            let line = format!(
                "| {backend:?} | {size} | {:.0}/s | {:.0}/s | {:.0}/s | {:.2} | {} MiB |\n",
                rate(new),
                rate(again),
                rate(plain),
                rate(new) / rate(plain),
                peak / 1024,
            );
            print!("{line}");
            table.push_str(&line);
        }
    }
    println!("\n{table}");
}
