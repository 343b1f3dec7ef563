//! Connections to PostgreSQL are cut before, in and after COMMIT, and at any message, on a day's work.

use crate::{each, nightly, program, sample};
use baystart_testkit::chaos::child::Program;
use baystart_testkit::chaos::day;
use baystart_testkit::chaos::matrix::{Outcome, Trial, difference, run};
use baystart_testkit::chaos::proxy::{At, Cut, Proxy};
use baystart_testkit::store::{Backend, cluster_url, fresh_place};
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use tempfile::TempDir;

/// Trials of an ordinary run at a COMMIT, of all; and at any message.
const COMMITS: usize = 7;
const MESSAGES: usize = 4;

struct Bench {
    _folder: TempDir,
    program: Program,
    template: String,
    secret: String,
    trials: AtomicU64,
}

#[derive(Clone, Copy, Debug)]
struct Cell {
    fault: Option<(At, Cut)>,
    kill: bool,
}

struct Seen {
    outcome: Outcome,
    counts: (u64, u64),
    cuts: u64,
}

async fn at_the_cluster(statement: String) {
    let mut connection = PgConnection::connect(&cluster_url()).await.unwrap();
    connection.execute(AssertSqlSafe(statement)).await.unwrap();
}

/// The address of another database, or by another host and port.
fn elsewhere(url: &str, authority: &str, database: &str) -> String {
    let (scheme, rest) = url.split_once("://").unwrap();
    let (user, _) = rest.rsplit_once('@').unwrap_or(("postgres", rest));
    // The proxy reads what is sent, so it must not be encrypted.
    format!("{scheme}://{user}@{authority}/{database}?sslmode=disable")
}

fn authority(url: &str) -> String {
    let rest = url.rsplit_once('@').map_or(url, |(_, rest)| rest);
    rest.split(['/', '?']).next().unwrap().to_owned()
}

impl Bench {
    async fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let program = program(folder.path());
        let place = fresh_place(Backend::Postgres).await;
        let secret = program.setup(&place.url, "Glen Orran").unwrap();
        let template = place.url.rsplit('/').next().unwrap().to_owned();
        Self { _folder: folder, program, template, secret, trials: AtomicU64::new(0) }
    }

    async fn play(&self, cell: Cell) -> Result<Seen, String> {
        let number = self.trials.fetch_add(1, Ordering::Relaxed);
        let name = format!("{}_{number}", self.template);
        let from = &self.template;
        at_the_cluster(format!("CREATE DATABASE {name} TEMPLATE {from} STRATEGY wal_log")).await;
        let cluster = cluster_url();
        let target = authority(&cluster);
        let proxy = Proxy::start(&target).await;
        if let Some((at, cut)) = cell.fault {
            proxy.arm(at, cut);
        }
        let trial = Trial {
            program: self.program.clone(),
            secret: self.secret.clone(),
            hurt: elsewhere(&cluster, &format!("127.0.0.1:{}", proxy.port), &name),
            environment: Vec::new(),
            sound: elsewhere(&cluster, &target, &name),
            kill: cell.kill,
            lasting: false,
            mend: Box::new(|| ()),
        };
        let outcome = run(trial, day::writes()).await;
        // It costs two checkpoints, and the cluster of an ordinary run goes as a whole.
        if nightly() {
            at_the_cluster(format!("DROP DATABASE {name} WITH (FORCE)")).await;
        }
        Ok(Seen { outcome: outcome?, counts: proxy.counts(), cuts: proxy.cuts() })
    }
}

/// Every COMMIT in four ways, and every message before and after it.
fn cells((commits, messages): (u64, u64)) -> (Vec<Cell>, Vec<Cell>) {
    let cell = |at, cut, kill| Cell { fault: Some((at, cut)), kill };
    let at_commits = (1..=commits).flat_map(|n| {
        let cuts = Cut::ALL.into_iter().enumerate();
        cuts.map(move |(way, cut)| {
            let kill = (n + u64::try_from(way).unwrap()).is_multiple_of(3);
            cell(At::Commit(n), cut, kill)
        })
    });
    let at_messages = (1..=messages).flat_map(|n| {
        let cuts = [Cut::Before, Cut::After].into_iter();
        cuts.map(move |cut| cell(At::Message(n), cut, n.is_multiple_of(3)))
    });
    (at_commits.collect(), at_messages.collect())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_cut_connection_on_a_days_work() {
    let bench = Arc::new(Bench::new().await);
    let sound = bench.play(Cell { fault: None, kill: false }).await.unwrap();
    assert_eq!((sound.outcome.troubles, sound.cuts), (0, 0));
    let writes = u64::try_from(day::writes().len()).unwrap();
    assert!(sound.counts.0 >= writes, "the proxy sees a COMMIT for each write of the day");
    let (commits, messages) = cells(sound.counts);
    let all = commits.len() + messages.len();
    let mut played = sample(&commits, COMMITS);
    played.extend(sample(&messages, MESSAGES));
    let (since, number) = (Instant::now(), played.len());
    let hits = Arc::new(AtomicU64::new(0));
    let (shared, expected, hit) = (bench.clone(), sound.outcome.state, hits.clone());
    let wrong = each(played, move |cell| {
        let (bench, expected, hit) = (shared.clone(), expected.clone(), hit.clone());
        async move {
            let seen = bench.play(cell).await?;
            hit.fetch_add(seen.cuts.min(1), Ordering::Relaxed);
            if seen.outcome.state != expected {
                let differs = difference(&expected, &seen.outcome.state);
                return Err(format!("the shop differs: {differs}"));
            }
            Ok(())
        }
    })
    .await;
    let (commits, messages) = sound.counts;
    eprintln!(
        "PostgreSQL: {commits} commits, {messages} messages, a matrix of {all} trials; \
         {number} played in {:.0} s, {} wrong",
        since.elapsed().as_secs_f64(),
        wrong.len()
    );
    assert!(wrong.is_empty(), "{} of {number} trials:\n{}", wrong.len(), wrong.join("\n"));
    let (hit, number) = (hits.load(Ordering::Relaxed), u64::try_from(number).unwrap());
    assert!(hit * 10 >= number * 9, "{hit} of {number} faults hit");
}
