//! What one caller can do to another, measured, by hand:
//! `fairness [--postgres] [--seconds 5] [--only NAME]`.
//!
//! A server of its own process with two shops that hold the demo. The second
//! shop reads and writes, one call after another, quietly and then under each
//! attack from the first shop or from nobody. The 99th percentiles are printed
//! with their ratio to the quiet ones; only the ratios of one run mean anything.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod attacks;
mod peer;
mod server;
mod victim;

use attacks::{ATTACKS, begin};
use server::Server;
use std::time::Duration;
use victim::{Seen, Victim};

struct Asked {
    postgres: bool,
    seconds: u64,
    only: Option<String>,
}

fn asked() -> Asked {
    let mut asked = Asked { postgres: false, seconds: 5, only: None };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--postgres" => asked.postgres = true,
            "--seconds" => {
                asked.seconds = words.next().and_then(|n| n.parse().ok()).expect("seconds")
            }
            "--only" => asked.only = words.next(),
            other => panic!("{other}: [--postgres] [--seconds N] [--only NAME]"),
        }
    }
    asked
}

fn row(name: &str, seen: &Seen, quiet: &Seen, more: &str) {
    let part = |times: &[f64], quiet: &[f64]| {
        let (now, before) = (victim::p99(times), victim::p99(quiet));
        format!("{now:.1} | {:.1}", now / before)
    };
    println!(
        "| {name} | {} | {} | {} of {} | {more} |",
        part(&seen.reads, &quiet.reads),
        part(&seen.writes, &quiet.writes),
        seen.failed,
        seen.reads.len() + seen.writes.len() + seen.failed,
    );
}

#[tokio::main]
async fn main() {
    if std::env::args().nth(1).as_deref() == Some("--serve") {
        server::serve(std::env::args().nth(2).as_deref() == Some("postgres")).await;
        return;
    }
    let asked = asked();
    let time = Duration::from_secs(asked.seconds);
    let server = Server::start(asked.postgres).await;
    let mut victim = Victim::connect(&server).await;
    victim.call_for(Duration::from_secs(2)).await;
    let quiet = victim.call_for(time).await;
    println!(
        "| attack | GetOnHand p99, ms | ratio | AdjustStock p99, ms | ratio | failed | server |"
    );
    println!("|---|---|---|---|---|---|---|");
    row("none", &quiet, &quiet, &server.memory());
    for name in ATTACKS {
        if asked.only.as_deref().is_some_and(|only| !name.contains(only)) {
            continue;
        }
        let attack = begin(name, &server);
        tokio::time::sleep(Duration::from_millis(700)).await;
        // By a connection of before, and by one that is made now.
        let mut seen = victim.call_for(time / 2).await;
        let fresh = tokio::time::timeout(Duration::from_secs(10), Victim::connect(&server)).await;
        match fresh {
            Ok(mut fresh) => seen.add(fresh.call_for(time / 2).await),
            Err(_) => seen.failed += 1,
        }
        let health = victim::is_healthy(&server).await;
        let memory = server.memory();
        attack.abort();
        let _ = attack.await;
        let after = server.busy_after(Duration::from_secs(3)).await;
        let more = format!("health {health}, {memory}, then busy for {after:.1} s");
        row(name, &seen, &quiet, &more);
        tokio::time::sleep(Duration::from_secs(1)).await;
    }
    server.stop();
}
