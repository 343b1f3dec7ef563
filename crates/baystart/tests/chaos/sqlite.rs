//! Each operation on the files of an SQLite database fails, in each way, on a day's work.

use crate::{each, program, sample};
use baystart_testkit::chaos::child::Program;
use baystart_testkit::chaos::day;
use baystart_testkit::chaos::disk::{Disk, DiskFault, FaultLibrary, Kind};
use baystart_testkit::chaos::matrix::{Outcome, Trial, difference, run};
use baystart_testkit::chaos::wire::{Asked, Caller};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;
use tempfile::TempDir;
use tonic::Code;

const NOTHING: [(&str, &str); 0] = [];
/// Trials of an ordinary run, of all.
const DAY_SAMPLE: usize = 22;
const IMPORT_SAMPLE: usize = 8;

/// A shop as `setup` leaves it, to be copied for each trial.
struct Bench {
    folder: TempDir,
    program: Program,
    library: FaultLibrary,
    secret: String,
    trials: AtomicU64,
}

/// One cell of the matrix.
#[derive(Clone, Copy, Debug)]
struct Cell {
    fault: Option<DiskFault>,
    kill: bool,
}

struct Seen {
    outcome: Outcome,
    count: u64,
    failed: u64,
    what: &'static str,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let program = program(folder.path());
        let library = FaultLibrary::compile(folder.path());
        let base = format!("sqlite:{}", folder.path().join("base.db").display());
        let secret = program.setup(&base, "Glen Orran").unwrap();
        Self { folder, program, library, secret, trials: AtomicU64::new(0) }
    }

    /// A copy of the shop in a folder of its own, on a disk that is watched.
    fn copy(&self) -> (PathBuf, Arc<Disk>) {
        let number = self.trials.fetch_add(1, Ordering::Relaxed);
        let own = self.folder.path().join(format!("trial-{number}"));
        std::fs::create_dir(&own).unwrap();
        std::fs::copy(self.folder.path().join("base.db"), own.join("shop.db")).unwrap();
        let control = self.folder.path().join(format!("control-{number}"));
        let disk = Arc::new(Disk::watch(&self.library, &own, &control));
        (own, disk)
    }

    async fn play(&self, writes: Vec<Asked>, cell: Cell) -> Result<Seen, String> {
        let (own, disk) = self.copy();
        if let Some(fault) = cell.fault {
            disk.arm(fault);
        }
        let url = address(&own);
        let mended = disk.clone();
        // Tables of one connection go into files of the same disk.
        let mut environment = disk.environment.clone();
        environment.push(("TMPDIR", own.clone()));
        let trial = Trial {
            program: self.program.clone(),
            secret: self.secret.clone(),
            hurt: url.clone(),
            environment,
            sound: url,
            kill: cell.kill,
            lasting: cell.fault.is_some_and(|fault| fault.lasting),
            mend: Box::new(move || mended.mend()),
        };
        let outcome = run(trial, writes).await;
        let (count, failed, what) = (disk.count(), disk.failed(), disk.what());
        let outcome = outcome.map_err(|text| format!("the {what} failed; {text}"))?;
        std::fs::remove_dir_all(&own).unwrap();
        Ok(Seen { outcome, count, failed, what })
    }
}

fn address(folder: &Path) -> String {
    format!("sqlite:{}", folder.join("shop.db").display())
}

/// Every operation, each in six ways; of those, every other one with a kill at the first trouble.
fn cells(operations: u64) -> Vec<Cell> {
    let mut cells = Vec::new();
    for at in 1..=operations {
        for (way, kind) in [Kind::Full, Kind::Io, Kind::Half].into_iter().enumerate() {
            for lasting in [false, true] {
                let kill = (at + u64::try_from(way).unwrap()) % 2 == 0;
                cells.push(Cell { fault: Some(DiskFault { at, kind, lasting }), kill });
            }
        }
    }
    cells
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_fault_of_the_disk_on_a_days_work() {
    matrix("a day's work", day::writes, DAY_SAMPLE).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_fault_of_the_disk_on_large_imports() {
    matrix("large imports", day::large_imports, IMPORT_SAMPLE).await;
}

async fn matrix(name: &str, writes: fn() -> Vec<Asked>, wanted: usize) {
    let bench = Arc::new(Bench::new());
    let sound = bench.play(writes(), Cell { fault: None, kill: false }).await.unwrap();
    assert_eq!((sound.outcome.troubles, sound.failed), (0, 0));
    let all = cells(sound.count);
    let played = sample(&all, wanted);
    let (since, number) = (Instant::now(), played.len());
    let hit = Arc::new(AtomicU64::new(0));
    let (shared, expected, hits) = (bench.clone(), sound.outcome.state, hit.clone());
    let wrong = each(played, move |cell| {
        let (bench, expected, hits) = (shared.clone(), expected.clone(), hits.clone());
        async move {
            let seen = bench.play(writes(), cell).await?;
            hits.fetch_add(u64::from(seen.failed > 0), Ordering::Relaxed);
            if seen.outcome.state != expected {
                let differs = difference(&expected, &seen.outcome.state);
                return Err(format!("the {} failed; the shop differs: {differs}", seen.what));
            }
            Ok(())
        }
    })
    .await;
    let hit = hit.load(Ordering::Relaxed);
    eprintln!(
        "SQLite, {name}: {} operations, a matrix of {} trials; {number} played in {:.0} s, {hit} hit, {} wrong",
        sound.count,
        all.len(),
        since.elapsed().as_secs_f64(),
        wrong.len(),
    );
    assert!(wrong.is_empty(), "{} of {number} trials:\n{}", wrong.len(), wrong.join("\n"));
    // Operations differ a little from run to run (health, clearing in the background), so the last
    // of them may not come.
    let number = u64::try_from(number).unwrap();
    assert!(hit + (number / 10).max(1) >= number, "{hit} of {number} faults hit");
}

/// No space for one write, then a command that is refused: every later write that is answered stays.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_answered_vanishes_after_a_full_disk_and_a_refusal() {
    const WRITES: i64 = 50;
    const TRIES: usize = 20;
    for kind in [Kind::Full, Kind::Io] {
        let bench = Bench::new();
        let (own, disk) = bench.copy();
        let url = address(&own);
        let serving = bench.program.serve(&url, &disk.environment).await.unwrap();
        let caller = Caller::new(&serving.url, &bench.secret);
        let bin =
            |code: String| Asked::new("LedgerService/CreateBin", &[json!({"bin": {"code": code}})]);
        caller.call(&bin("A0".to_owned())).await.unwrap();
        // What clears away in the background may take the fault: then the write is answered.
        let mut failed = None;
        for number in 0..TRIES {
            disk.arm(DiskFault { at: disk.count() + 1, kind, lasting: false });
            failed = caller.call(&bin(format!("FULL{number}"))).await.err();
            if failed.is_some() {
                break;
            }
        }
        assert_eq!(failed.map(|status| status.code()), Some(Code::Unavailable));
        assert!(disk.failed() > 0);
        let refused = caller.call(&day::refused()).await;
        assert_eq!(refused.unwrap_err().code(), Code::NotFound);
        let (mut last, mut unread) = (0, 0);
        for number in 1..=WRITES {
            let asked = bin(format!("A{number}"));
            last = asked.revision(&caller.call(&asked).await.unwrap()).unwrap();
            let shop = day::shop();
            let seen = shop.revision(&caller.call(&shop).await.unwrap()).unwrap();
            unread += i32::from(seen != last);
        }
        serving.stop().await.unwrap();
        let serving = bench.program.serve(&url, &NOTHING).await.unwrap();
        let caller = Caller::new(&serving.url, &bench.secret);
        let shop = day::shop();
        let kept = shop.revision(&caller.call(&shop).await.unwrap()).unwrap();
        let gone = last - kept;
        assert_eq!((gone, unread), (0, 0), "{kind:?}: of {WRITES} answered writes {gone} are gone");
    }
}
