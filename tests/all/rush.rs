//! 32 clients at once after the last units of the same parts, several lines
//! each, in an order of the caller's own: never over, nobody in a deadlock,
//! nobody waiting for ever, and the counts exact.

use crate::wire::{Client, Stand, build, decimal, id, line, need, new_build, told};
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::StoreOptions;
use baystart_testkit::generate::Draw;
use baystart_testkit::store::{Backend, cluster_url, fresh_place};
use futures::future::join_all;
use sqlx::{Connection, PgConnection, Row};
use std::collections::BTreeMap;
use std::time::Duration;
use tonic::{Code, Status};

const CLIENTS: usize = 32;
/// Longest wait for one answer: a bound, not a goal.
const PATIENCE: Duration = Duration::from_secs(60);

/// What one client wants: by line number, from 1, a part and how many of it.
type Want = BTreeMap<i32, (usize, i64)>;

fn part_name(part: usize) -> String {
    format!("LAST-{part}")
}

fn build_name(client: usize) -> String {
    format!("B-{client}")
}

/// Parts with their last units, and for each client a build that lacks what it
/// wants. The builds are on hold, so that nothing is bound by itself.
async fn stand(backend: Backend, servers: usize, stock: &[i64], wants: &[Want]) -> Stand {
    let place = fresh_place(backend).await;
    let stand = Stand::with(place, servers, StoreOptions::default(), Limits::default()).await;
    let mut client = stand.client().await;
    client.add_bin("A1").await;
    for part in 0..stock.len() {
        client.add_part(&part_name(part), "C62").await;
    }
    for (number, want) in wants.iter().enumerate() {
        let name = build_name(number);
        let lines = want.values().map(|(part, n)| need("Body", &part_name(*part), &n.to_string()));
        client.builds.create_build(new_build(&name, lines.collect())).await.unwrap();
        client.open(&name).await;
        let hold = v1::HoldBuildRequest {
            request_id: id(),
            build: build(&name),
            reason: "waits for the customer".to_owned(),
            occurred_on: None,
        };
        client.builds.hold_build(hold).await.unwrap();
    }
    for (part, units) in stock.iter().enumerate() {
        client.add_stock(&part_name(part), &units.to_string()).await;
    }
    stand
}

/// The lines of a want in an order of the caller's own.
fn unsorted(draw: &mut Draw, want: &Want) -> Vec<v1::LineQuantity> {
    let mut lines: Vec<_> =
        want.iter().map(|(n, (_, units))| line(*n, &units.to_string())).collect();
    for at in (1..lines.len()).rev() {
        lines.swap(at, draw.below(at + 1));
    }
    lines
}

fn reserve(number: usize, lines: Vec<v1::LineQuantity>) -> v1::ReserveStockRequest {
    v1::ReserveStockRequest { request_id: id(), build: build(&build_name(number)), lines }
}

/// Within the time, and only an answer that such a rush may give.
async fn ask(client: &mut Client, request: v1::ReserveStockRequest) -> Result<(), Status> {
    let answer = client.builds.reserve_stock(request);
    let answer = tokio::time::timeout(PATIENCE, answer).await.expect("an answer within the bound");
    let status = match answer {
        Ok(_) => return Ok(()),
        Err(status) => status,
    };
    let allowed = (Code::FailedPrecondition, "STOCK_SHORT".to_owned());
    assert_eq!(told(&status), allowed, "{status:?}");
    Err(status)
}

/// Reserved, by part, as the server says.
async fn reserved(stand: &Stand, parts: usize) -> Vec<String> {
    let mut client = stand.client().await;
    let mut out = Vec::new();
    for part in 0..parts {
        out.push(client.on_hand(&part_name(part)).await.reserved.unwrap().value);
    }
    out
}

async fn deadlocks(url: &str) -> i64 {
    let name = url.rsplit('/').next().unwrap().to_owned();
    let mut connection = PgConnection::connect(&cluster_url()).await.unwrap();
    let text = "SELECT deadlocks FROM pg_stat_database WHERE datname = $1";
    sqlx::query(text).bind(name).fetch_one(&mut connection).await.unwrap().get(0)
}

/// Sound, and PostgreSQL itself saw no deadlock.
async fn end(backend: Backend, stand: Stand) {
    stand.sound().await;
    let url = stand.place.url.clone();
    stand.stop().await;
    if backend == Backend::Postgres {
        // Its processes have written their statistics when they are gone.
        tokio::time::sleep(Duration::from_millis(500)).await;
        assert_eq!(deadlocks(&url).await, 0);
    }
}

/// Everybody wants one of each of five parts, of which there are eleven.
async fn eleven_of_each(backend: Backend, servers: usize) {
    let want: Want = (0..5).map(|part| (1 + i32::try_from(part).unwrap(), (part, 1))).collect();
    let wants = vec![want; CLIENTS];
    let stand = stand(backend, servers, &[11; 5], &wants).await;
    let mut draw = Draw::new(1);
    let mut tasks = Vec::new();
    for (number, want) in wants.iter().enumerate() {
        let request = reserve(number, unsorted(&mut draw, want));
        // Through every server at once under one request id: takes effect once.
        let mut copies = Vec::new();
        for server in 0..servers {
            copies.push((stand.client_of(server).await, request.clone()));
        }
        tasks.push(tokio::spawn(async move {
            let copies = copies
                .into_iter()
                .map(|(mut client, request)| async move { ask(&mut client, request).await });
            join_all(copies).await
        }));
    }
    let (mut winners, mut losers) = (0, 0);
    for task in tasks {
        let answers = task.await.unwrap();
        assert!(answers.iter().all(|answer| answer.is_ok() == answers[0].is_ok()));
        match &answers[0] {
            Ok(()) => winners += 1,
            Err(status) => {
                losers += 1;
                // Each line is short, and each is named.
                assert_eq!(crate::wire::fields(status).len(), 5, "{status:?}");
            }
        }
    }
    assert_eq!((winners, losers), (11, 21));
    assert_eq!(reserved(&stand, 5).await, ["11"; 5]);
    end(backend, stand).await;
}

/// Three to six of eight parts each, one to three units: whoever was refused
/// does not fit into what is left, and what was given is what is reserved.
async fn what_overlaps(backend: Backend, servers: usize) {
    let stock = [17, 9, 23, 12, 8, 30, 11, 14];
    let mut draw = Draw::new(7);
    let mut wants = Vec::new();
    for _ in 0..CLIENTS {
        let mut parts: Vec<usize> = (0..stock.len()).collect();
        for at in (1..parts.len()).rev() {
            parts.swap(at, draw.below(at + 1));
        }
        parts.truncate(3 + draw.below(4));
        let lines = parts.into_iter().zip(1..);
        wants.push(
            lines
                .map(|(part, n)| (n, (part, 1 + i64::try_from(draw.below(3)).unwrap())))
                .collect::<Want>(),
        );
    }
    let stand = stand(backend, servers, &stock, &wants).await;
    let mut tasks = Vec::new();
    for (number, want) in wants.iter().enumerate() {
        let mut client = stand.client_of(number % servers).await;
        let request = reserve(number, unsorted(&mut draw, want));
        tasks.push(tokio::spawn(async move { ask(&mut client, request).await.is_ok() }));
    }
    let mut left = stock;
    let mut refused = Vec::new();
    for (task, want) in tasks.into_iter().zip(&wants) {
        match task.await.unwrap() {
            true => want.values().for_each(|(part, units)| left[*part] -= units),
            false => refused.push(want),
        }
    }
    assert!(!refused.is_empty() && refused.len() < CLIENTS, "{} refused", refused.len());
    let given: Vec<String> =
        stock.iter().zip(left).map(|(all, left)| (all - left).to_string()).collect();
    assert_eq!(reserved(&stand, stock.len()).await, given);
    assert!(left.iter().all(|units| *units >= 0), "{left:?}");
    // Stock only went away, so who did not fit then does not fit now.
    for want in refused {
        assert!(want.values().any(|(part, units)| left[*part] < *units), "{want:?} of {left:?}");
    }
    end(backend, stand).await;
}

/// Each takes and gives back six times; in the end everybody has given back.
async fn back_and_forth(backend: Backend, servers: usize) {
    let want: Want = [(1, (0, 2)), (2, (1, 1)), (3, (2, 3)), (4, (3, 1))].into();
    let wants = vec![want; CLIENTS];
    let stand = stand(backend, servers, &[9, 5, 13, 4], &wants).await;
    let mut draw = Draw::new(3);
    let mut tasks = Vec::new();
    for (number, want) in wants.iter().enumerate() {
        let mut client = stand.client_of(number % servers).await;
        let orders: Vec<_> = (0..12).map(|_| unsorted(&mut draw, want)).collect();
        tasks.push(tokio::spawn(async move {
            let mut taken = 0;
            for pair in orders.chunks(2) {
                if ask(&mut client, reserve(number, pair[0].clone())).await.is_err() {
                    continue;
                }
                taken += 1;
                let lines = pair[1].clone();
                let request = v1::ReleaseStockRequest {
                    request_id: id(),
                    build: build(&build_name(number)),
                    lines,
                };
                let answer = client.builds.release_stock(request);
                tokio::time::timeout(PATIENCE, answer).await.unwrap().unwrap();
            }
            taken
        }));
    }
    let mut taken = 0;
    for task in tasks {
        taken += task.await.unwrap();
    }
    assert!(taken >= 4, "{taken} were taken: the test shows nothing");
    assert_eq!(reserved(&stand, 4).await, ["0"; 4]);
    let mut client = stand.client().await;
    // Everything is there for one who asks for all of one part at the end.
    let last = v1::AddBuildLinesRequest {
        request_id: id(),
        build: build("B-0"),
        lines: vec![need("Body", &part_name(0), "9")],
    };
    client.builds.add_build_lines(last).await.unwrap();
    ask(&mut client, reserve(0, vec![line(5, "9")])).await.unwrap();
    let on_hand = client.on_hand(&part_name(0)).await;
    assert_eq!((on_hand.reserved, on_hand.available), (decimal("9"), decimal("0")));
    end(backend, stand).await;
}

macro_rules! rush {
    ($($name:ident)*) => {$(
        mod $name {
            use baystart_testkit::store::Backend;
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn sqlite() {
                super::$name(Backend::Sqlite, 1).await;
            }
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn postgres() {
                super::$name(Backend::Postgres, 1).await;
            }
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn postgres_through_two_servers() {
                super::$name(Backend::Postgres, 2).await;
            }
        }
    )*};
}
rush!(eleven_of_each what_overlaps back_and_forth);
