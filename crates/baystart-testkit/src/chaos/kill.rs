//! Servers that are killed while clients write, and started again, over and over.

mod check;
mod client;

use super::child::{Program, Serving};
use crate::generate::Draw;
use client::Clients;
use sqlx::{Connection, Executor, PgConnection};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Longest time between two kills, in milliseconds; the shortest is a tenth.
const APART_MS: usize = 200;
/// Clients that write at once.
const CLIENTS: usize = 4;
/// Of a hundred kills on PostgreSQL, so many end the database's side of the connections instead.
const TERMINATED_PERCENT: usize = 25;
/// Answers that are asked for again after each kill: the ones nearest to it.
const REPEATED: usize = 12;

/// What is hurt, and how often.
pub struct Plan {
    /// The database, empty.
    pub database: String,
    /// Servers on it.
    pub servers: usize,
    /// Kills in all.
    pub kills: usize,
    /// Another seed, other moments.
    pub seed: u64,
    /// Is called with the number of each kill, from 1, while the server is down: for tests of the loop itself.
    pub meddle: Option<Box<dyn Fn(usize) + Send + Sync>>,
}

/// What was done.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Servers that were killed.
    pub killed: usize,
    /// Times that PostgreSQL ended every connection.
    pub terminated: usize,
    /// Writes that were answered, each checked.
    pub answered: usize,
    /// Times that a write was asked again, because no answer came.
    pub asked_again: u64,
    /// Reads that saw everything answered before them.
    pub reads: u64,
    /// How long it took.
    pub seconds: f64,
}

/// Plays a plan.
///
/// # Errors
/// What did not hold, as a sentence.
pub async fn run(program: &Program, plan: &Plan) -> Result<Tally, String> {
    let since = Instant::now();
    let secret = program.setup(&plan.database, &format!("loop-{}", plan.seed))?;
    let mut servers = Vec::new();
    for _ in 0..plan.servers {
        servers.push(serve(program, plan).await?);
    }
    let urls = servers.iter().map(|serving| serving.url.clone()).collect();
    let clients = Arc::new(Clients::new(urls, secret));
    let base = clients.prepare().await?;
    let mut writing = clients.clone().start(CLIENTS);
    let mut draw = Draw::new(plan.seed);
    let mut tally = Tally::default();
    for kill in 1..=plan.kills {
        let apart = APART_MS / 10 + draw.below(APART_MS);
        tokio::time::sleep(Duration::from_millis(u64::try_from(apart).unwrap_or(50))).await;
        clients.sound()?;
        let last = clients.last_answered(REPEATED);
        let postgres = !plan.database.starts_with("sqlite:");
        if postgres && draw.chance(TERMINATED_PERCENT) {
            terminate(&plan.database).await?;
            tally.terminated += 1;
        } else {
            let server = draw.below(servers.len());
            servers.swap_remove(server).kill();
            // The others go on meanwhile; the new one takes the last place.
            clients.gone(server);
            if let Some(meddle) = &plan.meddle {
                meddle(kill);
            }
            let fresh = serve(program, plan).await?;
            clients.back(fresh.url.clone());
            servers.push(fresh);
            tally.killed += 1;
        }
        // What was answered just before is answered the same after it.
        for one in &last {
            check::again(&clients, one).await?;
        }
    }
    clients.stop();
    while let Some(done) = writing.join_next().await {
        done.map_err(|error| format!("a client failed: {error}"))??;
    }
    let answered = clients.answered();
    check::all(&clients, base, &answered).await?;
    for serving in servers {
        serving.stop().await?;
    }
    program.verify(&plan.database)?;
    tally.answered = answered.len();
    (tally.asked_again, tally.reads) = clients.counts();
    tally.seconds = since.elapsed().as_secs_f64();
    Ok(tally)
}

async fn serve(program: &Program, plan: &Plan) -> Result<Serving, String> {
    let none: [(&'static str, &str); 0] = [];
    program.serve(&plan.database, &none).await
}

/// PostgreSQL ends every connection of a server, whatever it does at that moment.
async fn terminate(database: &str) -> Result<(), String> {
    let failed = |error| format!("ending the connections: {error}");
    let mut connection = PgConnection::connect(database).await.map_err(failed)?;
    let end = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity
               WHERE datname = current_database() AND pid <> pg_backend_pid()";
    connection.execute(end).await.map_err(failed)?;
    Ok(())
}

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} servers killed, connections ended {} times; {} writes answered and checked, \
             asked again {} times; {} reads; {:.0} s",
            self.killed, self.terminated, self.answered, self.asked_again, self.reads, self.seconds
        )
    }
}
