//! Reserving and releasing one unit of a part, each caller for builds of its
//! own, beside the plain statements that such a command writes.
//!
//! A caller goes round many builds, so that none gathers a history of spent
//! reservations that no real build has; each part is wanted by one build of
//! every caller.

use crate::client::{Authed, authed, build, decimal, id, load};
use crate::plain::{self, PgCaller, SqliteCaller};
use crate::{AT_ONCE, measure};
use baystart_core::command::Scope;
use baystart_proto::v1;
use baystart_testkit::server::TestServer;
use baystart_testkit::store::Backend;
use criterion::Criterion;
use jiff::civil::date;
use std::fmt::Write;
use tokio::runtime::Runtime;
use v1::build_service_client::BuildServiceClient;

/// Builds of one caller, and parts.
const ROUND: usize = 32;

/// One caller of the API, and at which of its builds it is.
#[derive(Clone)]
struct Caller {
    client: BuildServiceClient<Authed>,
    number: usize,
    at: usize,
}

/// Gives back what a caller's build holds.
fn release(number: usize, at: usize) -> v1::ReleaseStockRequest {
    let one = v1::LineQuantity { line_number: 1, quantity: decimal("1"), ..Default::default() };
    let build = build(&format!("B-{number}-{at}"));
    v1::ReleaseStockRequest { request_id: id(), build, lines: vec![one] }
}

/// Two commands: takes the unit and gives it back.
async fn pair(mut caller: Caller) -> Caller {
    let back = release(caller.number, caller.at);
    let request_id = id();
    let (build, lines) = (back.build.clone(), back.lines.clone());
    let request = v1::ReserveStockRequest { request_id, build, lines };
    caller.client.reserve_stock(request).await.unwrap();
    caller.client.release_stock(back).await.unwrap();
    caller.at = (caller.at + 1) % ROUND;
    caller
}

/// Builds that want one unit each, of parts with stock for all of them; on hold,
/// so that what was given back is not bound to them by itself.
async fn shop(backend: Backend, callers: usize) -> TestServer {
    let server = TestServer::start(backend, date(2026, 9, 14)).await;
    let mut parts = "part,description,unit\n".to_owned();
    let mut stock = "part,bin,quantity\n".to_owned();
    let mut builds = "build,vehicle,state\n".to_owned();
    let mut stages = "build,stage,planned_days\n".to_owned();
    let mut lines = "build,stage,part,quantity\n".to_owned();
    for at in 0..ROUND {
        writeln!(parts, "WH-{at},Winch,C62").unwrap();
        writeln!(stock, "WH-{at},A1,100").unwrap();
        for number in 0..callers {
            writeln!(builds, "B-{number}-{at},Rescue 4x4,on hold").unwrap();
            writeln!(stages, "B-{number}-{at},Body,2").unwrap();
            writeln!(lines, "B-{number}-{at},Body,WH-{at},1").unwrap();
        }
    }
    let folder = server.folder.path().join("sheets");
    std::fs::create_dir(&folder).unwrap();
    for (name, text) in [
        ("parts.csv", parts),
        ("bins.csv", "bin\nA1\n".to_owned()),
        ("opening_stock.csv", stock),
        ("builds.csv", builds),
        ("stages.csv", stages),
        ("build_lines.csv", lines),
    ] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    load(&server, &folder.display().to_string()).await;
    let mut client = BuildServiceClient::new(authed(&server).await);
    for (number, at) in (0..callers).flat_map(|number| (0..ROUND).map(move |at| (number, at))) {
        client.release_stock(release(number, at)).await.unwrap();
    }
    server
}

/// For each caller of the plain statements the rows that it goes round.
async fn rows(server: &TestServer, callers: usize) -> Vec<Vec<plain::Requirement>> {
    let scope = Scope { all: true, ..Scope::default() };
    let book = server.store.read(server.shop, &scope).await.unwrap().book;
    let mut rows = vec![Vec::new(); callers];
    for (at, line) in book.lines.values().enumerate() {
        let row = plain::Requirement { shop: server.shop.0, part: line.part.0, line: line.id.0 };
        rows[at % callers].push(row);
    }
    assert!(book.reservations.values().all(|row| row.held.is_zero()));
    assert!(rows.iter().all(|rows| rows.len() == ROUND));
    rows
}

/// The plain statements wrote what a command writes, no less.
async fn end(server: TestServer) {
    let broken = server.store.verify(server.shop).await.unwrap();
    assert!(broken.is_empty(), "{broken:?}");
    server.stop().await;
}

pub fn bench(criterion: &mut Criterion, runtime: &Runtime) {
    for backend in Backend::ALL {
        let group = format!("reserve_and_release_{backend:?}");
        for callers in AT_ONCE {
            let server = runtime.block_on(shop(backend, callers));
            let rows = runtime.block_on(rows(&server, callers));
            let url = server.database_url().to_owned();
            match backend {
                Backend::Sqlite => {
                    let plain = runtime.block_on(SqliteCaller::all(&url, &rows));
                    measure(criterion, runtime, (&group, "plain"), plain, SqliteCaller::pair);
                }
                Backend::Postgres => {
                    let plain = runtime.block_on(PgCaller::all(&url, &rows));
                    measure(criterion, runtime, (&group, "plain"), plain, PgCaller::pair);
                }
            }
            runtime.block_on(end(server));
            let server = runtime.block_on(shop(backend, callers));
            let client = BuildServiceClient::new(runtime.block_on(authed(&server)));
            let each = |number| Caller { client: client.clone(), number, at: 0 };
            let clients = (0..callers).map(each).collect();
            measure(criterion, runtime, (&group, "gRPC"), clients, pair);
            runtime.block_on(end(server));
        }
    }
}
