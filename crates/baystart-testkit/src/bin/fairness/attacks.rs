//! The attacks, each again and again until it is aborted.

use crate::peer::{Peer, framed};
use crate::server::Server;
use crate::victim::part;
use baystart_proto::v1;
use futures::future::{join_all, poll_fn};
use prost::Message as _;
use prost::bytes::Bytes;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

pub const ATTACKS: &[&str] = &[
    "512 answers that nobody reads",
    "512 boards that nobody reads",
    "512 calls whose message never comes",
    "200 messages of 4 MiB, unfinished",
    "3,000 silent connections",
    "128 watches, 128 reflections",
    "1,000 unfinished health checks",
    "unknown tokens, 64 at once",
    "8 exports that nobody reads",
    "8 imports that never go on",
    "8 backtests that nobody reads",
    "64 heavy quotes, callers leave",
];

const ON_HAND: &str = "/baystart.v1.LedgerService/GetOnHand";
const CHECK: &str = "/grpc.health.v1.Health/Check";

/// What is asked, by how many calls on a connection, and how.
struct Asking {
    path: &'static str,
    message: Option<Bytes>,
    /// Whether it says that nothing more comes.
    ends: bool,
    token: Option<String>,
    timeout: Option<&'static str>,
    window: u32,
    calls: usize,
    /// None: they are held until the server ends them.
    leave_after: Option<Duration>,
}

/// One connection that asks, and asks again whatever is ended.
async fn ask(server: &Server, asking: &Asking) {
    loop {
        sleep(Duration::from_millis(20)).await;
        let Some(peer) = Peer::connect(server, asking.window).await else { continue };
        let one = || async {
            let mut first = true;
            loop {
                // What is ended or refused is asked again, but not in a flood.
                if !std::mem::take(&mut first) {
                    sleep(Duration::from_millis(500)).await;
                }
                let Ok(mut send) = peer.send.clone().ready().await else { return };
                let request = peer.request(asking.path, asking.token.as_deref(), asking.timeout);
                let Ok((answer, mut body)) = send.send_request(request, false) else { return };
                if let Some(message) = &asking.message {
                    body.reserve_capacity(message.len());
                    let mut rest = message.clone();
                    while !rest.is_empty() {
                        let Some(Ok(room)) = poll_fn(|c| body.poll_capacity(c)).await else {
                            break;
                        };
                        let piece = rest.split_to(room.min(rest.len()));
                        let ends = rest.is_empty() && asking.ends;
                        if body.send_data(piece, ends).is_err() {
                            break;
                        }
                    }
                }
                let read = async {
                    let Ok(answer) = answer.await else { return };
                    let mut rest = answer.into_body();
                    while let Some(Ok(data)) = rest.data().await {
                        if asking.window > 0
                            && rest.flow_control().release_capacity(data.len()).is_err()
                        {
                            return;
                        }
                    }
                };
                match asking.leave_after {
                    None => read.await,
                    Some(time) => drop(timeout(time, read).await),
                }
            }
        };
        join_all((0..asking.calls).map(|_| one())).await;
    }
}

/// A quote of many lines in as many variants as are taken, on the whole shop.
fn heavy_quote() -> Bytes {
    let parts =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../baystart/demo/parts.csv"));
    let parts: Vec<String> = parts
        .unwrap()
        .lines()
        .skip(1)
        .filter_map(|line| line.split(',').next().map(str::to_owned))
        .collect();
    let line = |number: &String| v1::NewBuildLine {
        stage_name: "Body".to_owned(),
        part: part(number),
        quantity: Some(v1::Decimal { value: "1".to_owned() }),
        ..v1::NewBuildLine::default()
    };
    let stage =
        |name: &str| v1::NewStage { name: name.to_owned(), planned_days: 5, off_site: None };
    let choice = |n: usize| v1::QuoteChoice {
        name: format!("choice {n}"),
        lines: parts.iter().skip(n).take(20).map(line).collect(),
    };
    let groups =
        vec![v1::QuoteGroup { name: "kit".to_owned(), choices: (0..60).map(choice).collect() }];
    let here = v1::SupposePartHere {
        part: part(&parts[0]),
        quantity: Some(v1::Decimal { value: "1".to_owned() }),
    };
    let request = v1::QuoteBuildRequest {
        vehicle: "Van".to_owned(),
        stages: vec![stage("Body"), stage("Interior")],
        lines: parts.iter().take(100).map(line).collect(),
        groups,
        suppose: vec![v1::Supposition { fact: Some(v1::supposition::Fact::PartHere(here)) }],
        ..v1::QuoteBuildRequest::default()
    };
    framed(&request.encode_to_vec())
}

/// Begins an attack; aborting it lets everything go.
pub fn begin(name: &str, server: &Server) -> JoinHandle<()> {
    let token = Some(server.attacker.clone());
    let empty = Some(framed(&[]));
    let on_hand = framed(&v1::GetOnHandRequest { part: part("HT-7060") }.encode_to_vec());
    let unread = |path, message: Option<Bytes>| Asking {
        path,
        message,
        ends: true,
        token: token.clone(),
        timeout: None,
        window: 0,
        calls: 8,
        leave_after: None,
    };
    let half: Vec<u8> = vec![0; 4 * 1024 * 1024];
    let backtest =
        v1::RunBacktestRequest { step_days: Some(1), ..v1::RunBacktestRequest::default() };
    let (connections, asking) = match name {
        "512 answers that nobody reads" => {
            (2, Asking { calls: 256, ..unread(ON_HAND, Some(on_hand)) })
        }
        "512 boards that nobody reads" => {
            let path = "/baystart.v1.ForecastService/StreamBoard";
            (2, Asking { calls: 256, ..unread(path, empty) })
        }
        "512 calls whose message never comes" => {
            (2, Asking { calls: 256, ends: false, ..unread(ON_HAND, None) })
        }
        "200 messages of 4 MiB, unfinished" => {
            let message = Some(framed(&half).slice(..half.len()));
            (200, Asking { calls: 1, ends: false, ..unread(ON_HAND, message) })
        }
        "128 watches, 128 reflections" => {
            let watch =
                Asking { token: None, calls: 128, ..unread("/grpc.health.v1.Health/Watch", empty) };
            return spawn(
                server,
                vec![
                    (1, watch),
                    (
                        1,
                        Asking {
                            token: None,
                            calls: 128,
                            ends: false,
                            ..unread(
                                "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
                                None,
                            )
                        },
                    ),
                ],
            );
        }
        "1,000 unfinished health checks" => {
            (4, Asking { token: None, calls: 250, ends: false, ..unread(CHECK, None) })
        }
        "unknown tokens, 64 at once" => {
            let token = Some("0".repeat(64));
            (4, Asking { token, calls: 16, ..unread(ON_HAND, Some(on_hand)) })
        }
        "8 exports that nobody reads" => {
            (1, unread("/baystart.v1.ExportService/ExportFiles", empty))
        }
        "8 imports that never go on" => {
            (1, Asking { ends: false, ..unread("/baystart.v1.ImportService/ImportFiles", None) })
        }
        "8 backtests that nobody reads" => {
            let message = Some(framed(&backtest.encode_to_vec()));
            (1, unread("/baystart.v1.LeadTimeService/RunBacktest", message))
        }
        "64 heavy quotes, callers leave" => (
            1,
            Asking {
                window: 1 << 20,
                calls: 64,
                timeout: Some("6S"),
                leave_after: Some(Duration::from_secs(2)),
                ..unread("/baystart.v1.QuoteService/QuoteBuild", Some(heavy_quote()))
            },
        ),
        "3,000 silent connections" => {
            let address = server.address().to_owned();
            return tokio::spawn(async move {
                let mut silent = Vec::new();
                loop {
                    if silent.len() >= 3000 {
                        silent.remove(0);
                        sleep(Duration::from_millis(1)).await;
                    }
                    if let Ok(Ok(stream)) =
                        timeout(Duration::from_secs(1), TcpStream::connect(&address)).await
                    {
                        silent.push(stream);
                    }
                }
            });
        }
        other => panic!("{other} is no attack"),
    };
    spawn(server, vec![(connections, asking)])
}

fn spawn(server: &Server, all: Vec<(usize, Asking)>) -> JoinHandle<()> {
    let server = Arc::new(server.other());
    tokio::spawn(async move {
        let connections = all.iter().flat_map(|(count, asking)| {
            let server = &server;
            (0..*count).map(move |_| ask(server, asking))
        });
        join_all(connections).await;
    })
}
