//! A database that is locked, stopped, or gone as in a power cut.

use super::small_shop;
use crate::wire::{Client, Lock, Stand, adjust, bin, part, told};
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::StoreOptions;
use baystart_testkit::store::{Backend, TestDatabase, fresh_place};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use tonic::Code;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

const SERVING: i32 = 1;
const NOT_SERVING: i32 = 2;

fn impatient() -> (StoreOptions, Limits) {
    let short = Duration::from_millis(300);
    let options = StoreOptions {
        lock_timeout: short,
        // Long enough to connect on a busy machine, and twice of it within the 5 s below.
        connection_timeout: Duration::from_secs(1),
        busy_timeout: short,
        ..StoreOptions::default()
    };
    (options, Limits { health_interval: Duration::from_millis(100), ..Limits::default() })
}

/// Another program holds the file's write lock.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_locked_sqlite_file() {
    let place = fresh_place(Backend::Sqlite).await;
    let (options, limits) = impatient();
    let stand = Stand::with(place, 1, options, limits).await;
    let mut client = stand.client().await;
    small_shop(&mut client).await;
    let before = stand.state().await;
    let lock = Lock::take(Backend::Sqlite, &stand.place.url).await;
    let request = adjust("WH-1", "3");
    let since = Instant::now();
    let status = client.ledger.adjust_stock(request.clone()).await.unwrap_err();
    assert_eq!(told(&status), (Code::Aborted, "TRY_AGAIN".to_owned()), "{status:?}");
    assert!(since.elapsed() < Duration::from_secs(5), "{:?}", since.elapsed());
    // Who only reads does not wait.
    assert_eq!(client.on_hand("WH-1").await.on_hand.unwrap().value, "9");
    assert_eq!(stand.state().await, before);
    lock.free().await;
    client.ledger.adjust_stock(request.clone()).await.unwrap();
    client.ledger.adjust_stock(request).await.unwrap();
    assert_eq!(client.on_hand("WH-1").await.on_hand.unwrap().value, "12");
    stand.sound().await;
    stand.stop().await;
}

/// A cluster of this test alone; it goes when this is dropped.
struct OwnPostgres {
    url: String,
    child: Child,
    orders: Option<ChildStdin>,
    answers: BufReader<ChildStdout>,
}

impl OwnPostgres {
    fn start() -> Self {
        let script = concat!(env!("CARGO_MANIFEST_DIR"), "/support/own_postgres.sh");
        let mut child = Command::new("bash")
            .arg(script)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let orders = child.stdin.take();
        let mut answers = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        answers.read_line(&mut line).unwrap();
        let url = line.trim().strip_prefix("ready ").expect("a PostgreSQL of its own").to_owned();
        Self { url, child, orders, answers }
    }

    /// Blocks until it is done.
    fn order(&mut self, order: &str) {
        let orders = self.orders.as_mut().unwrap();
        writeln!(orders, "{order}").unwrap();
        orders.flush().unwrap();
        let mut line = String::new();
        self.answers.read_line(&mut line).unwrap();
        assert_eq!(line.trim(), "done", "{order}");
    }
}

impl Drop for OwnPostgres {
    fn drop(&mut self) {
        // The end of its input is what it waits for.
        drop(self.orders.take());
        let _ = self.child.wait();
    }
}

async fn own_stand() -> (OwnPostgres, Stand) {
    let postgres = tokio::task::spawn_blocking(OwnPostgres::start).await.unwrap();
    let (options, limits) = impatient();
    let place = TestDatabase::at(&postgres.url);
    let stand = Stand::with(place, 1, options, limits).await;
    small_shop(&mut stand.client().await).await;
    (postgres, stand)
}

/// Waits until the server's health is `wanted`; fails after ten seconds.
async fn health(client: &Client, wanted: i32) {
    let mut health = HealthClient::new(client.channel.clone());
    let since = Instant::now();
    for service in ["", "baystart.v1.BuildService"] {
        loop {
            let request = HealthCheckRequest { service: service.to_owned() };
            let found = health.check(request).await.unwrap().into_inner().status;
            if found == wanted {
                break;
            }
            assert!(since.elapsed() < Duration::from_secs(10), "health {found}, not {wanted}");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stopped_postgres() {
    let (mut postgres, stand) = own_stand().await;
    let mut client = stand.client().await;
    health(&client, SERVING).await;
    let before = stand.state().await;
    tokio::task::block_in_place(|| postgres.order("stop fast"));
    let gone = (Code::Unavailable, "DATABASE_UNAVAILABLE".to_owned());
    let request = adjust("WH-1", "3");
    for _ in 0..3 {
        let since = Instant::now();
        let status = client.ledger.adjust_stock(request.clone()).await.unwrap_err();
        assert_eq!(told(&status), gone, "{status:?}");
        let read = v1::GetOnHandRequest { part: part("WH-1") };
        let status = client.ledger.get_on_hand(read).await.unwrap_err();
        assert_eq!(told(&status), gone, "{status:?}");
        assert!(since.elapsed() < Duration::from_secs(5), "{:?}", since.elapsed());
    }
    health(&client, NOT_SERVING).await;
    tokio::task::block_in_place(|| postgres.order("start"));
    health(&client, SERVING).await;
    // Nothing was done meanwhile, and the same request takes effect now.
    assert_eq!(stand.state().await, before);
    client.ledger.adjust_stock(request.clone()).await.unwrap();
    client.ledger.adjust_stock(request).await.unwrap();
    assert_eq!(client.on_hand("WH-1").await.on_hand.unwrap().value, "12");
    stand.sound().await;
    stand.stop().await;
}

/// Eight clients book while the database's processes are killed. What was
/// answered is there; what was not takes effect when it is asked again, once.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_power_cut_under_load() {
    let (mut postgres, stand) = own_stand().await;
    let mut tasks = Vec::new();
    let booked = Arc::new(AtomicUsize::new(0));
    for _ in 0..8 {
        let client = stand.client().await;
        tasks.push(tokio::spawn(book_until_it_fails(client, booked.clone())));
    }
    let since = Instant::now();
    while booked.load(Ordering::Relaxed) < 50 {
        assert!(since.elapsed() < Duration::from_secs(60), "{booked:?} bookings in a minute");
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    tokio::task::block_in_place(|| postgres.order("stop immediate"));
    let (mut answered, mut failed) = (Vec::new(), Vec::new());
    for task in tasks {
        let (done, last) = task.await.unwrap();
        answered.extend(done);
        failed.push(last);
    }
    assert!(answered.len() >= 50, "{} bookings before the cut", answered.len());
    tokio::task::block_in_place(|| postgres.order("start"));
    let mut client = stand.client().await;
    health(&client, SERVING).await;
    let total = 9 + answered.len() + failed.len();
    for (request, commit) in answered {
        let again = client.ledger.adjust_stock(request).await.unwrap().into_inner();
        assert_eq!(again.commit, commit);
    }
    for request in failed {
        client.ledger.adjust_stock(request).await.unwrap();
    }
    assert_eq!(client.on_hand("WH-1").await.on_hand.unwrap().value, total.to_string());
    stand.sound().await;
    stand.stop().await;
}

type Booked = (v1::AdjustStockRequest, Option<v1::Commit>);

async fn book_until_it_fails(
    mut client: Client,
    booked: Arc<AtomicUsize>,
) -> (Vec<Booked>, v1::AdjustStockRequest) {
    let mut done = Vec::new();
    loop {
        let request = v1::AdjustStockRequest { bin: bin("A1"), ..adjust("WH-1", "1") };
        match client.ledger.adjust_stock(request.clone()).await {
            Ok(answer) => {
                done.push((request, answer.into_inner().commit));
                booked.fetch_add(1, Ordering::Relaxed);
            }
            Err(status) => {
                let gone = (Code::Unavailable, "DATABASE_UNAVAILABLE".to_owned());
                assert_eq!(told(&status), gone, "{status:?}");
                return (done, request);
            }
        }
    }
}

/// A server that answers the connection and goes before it has answered the call.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_connection_that_breaks_is_to_be_tried_again() {
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let calls = Arc::new(AtomicUsize::new(0));
    let counted = calls.clone();
    tokio::spawn(async move {
        loop {
            let (mut stream, _) = listener.accept().await.unwrap();
            let counted = counted.clone();
            tokio::spawn(async move {
                // An empty SETTINGS frame, as HTTP/2 begins (RFC 9113, section 3.4).
                stream.write_all(&[0, 0, 0, 4, 0, 0, 0, 0, 0]).await.unwrap();
                let mut taken = [0; 4_096];
                let mut had = Vec::new();
                // The call's path stands in its headers, in plain letters or as a Huffman code: a
                // DATA frame (type 0) on stream 1 is what says that the call is in.
                while !had.windows(6).any(|frame| frame == [0, 1, 0, 0, 0, 1]) {
                    let n = stream.read(&mut taken).await.unwrap();
                    if n == 0 {
                        return;
                    }
                    had.extend_from_slice(&taken[..n]);
                }
                counted.fetch_add(1, Ordering::Relaxed);
            });
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let token = folder.path().join("token");
    std::fs::write(&token, "bay_nobodys").unwrap();
    let args = [
        "stock",
        "adjust",
        "WH-1",
        "--by",
        "3",
        "--bin",
        "A1",
        "--reason",
        "counted",
        "--server",
        &format!("http://{address}"),
        "--token-file",
        &token.display().to_string(),
    ]
    .map(str::to_owned);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args.to_vec(), &mut out, &mut err)).await;
    let said = String::from_utf8_lossy(&err);
    assert_eq!(code, 75, "{said}");
    assert!(said.contains("--request-id"), "{said}");
    assert!(calls.load(Ordering::Relaxed) > 0, "no call came: {said}");
}
