//! Calls by path and bytes, for what no generated client would send.

use crate::wire::{Authed, Stand};
use baystart_testkit::chaos::wire::Plain;
use prost::bytes::{BufMut, Bytes};
use std::time::Duration;
use tokio::net::TcpStream;
use tonic::client::Grpc;
use tonic::codegen::http::{self, uri::PathAndQuery};
use tonic::metadata::{MetadataKey, MetadataValue};
use tonic::{Request, Status};

/// For how long a stream that does not end by itself is listened to.
const WATCHED_FOR: Duration = Duration::from_millis(100);

/// Sends the messages as a stream and reads answers to the end; on the wire a
/// unary call is a stream of one.
pub async fn call(
    service: &Authed,
    path: &str,
    messages: Vec<Vec<u8>>,
    headers: &[(&'static str, &'static str)],
) -> Result<Vec<Bytes>, Status> {
    let mut grpc = Grpc::new(service.clone());
    grpc.ready().await.map_err(|error| Status::unknown(format!("not ready: {error}")))?;
    let messages: Vec<Bytes> = messages.into_iter().map(Bytes::from).collect();
    let mut request = Request::new(tokio_stream::iter(messages));
    for (name, value) in headers {
        let key = MetadataKey::from_bytes(name.as_bytes()).unwrap();
        request.metadata_mut().insert(key, MetadataValue::from_static(value));
    }
    let uri = path;
    let path: PathAndQuery = path.parse().unwrap();
    let mut answers = grpc.streaming(request, path, Plain).await?.into_inner();
    let mut all = Vec::new();
    // A watch goes on: what has come by then is its answer.
    let ends = !uri.ends_with("/WatchChanges");
    loop {
        let next = match ends {
            true => answers.message().await?,
            false => match tokio::time::timeout(WATCHED_FOR, answers.message()).await {
                Ok(next) => next?,
                Err(_) => None,
            },
        };
        match next {
            Some(answer) => all.push(answer),
            None => return Ok(all),
        }
    }
}

/// Sends one message with a deadline of which only the server is told: the
/// library's client would give up by itself.
pub async fn late(stand: &Stand, path: &str, message: &[u8], timeout: &str) -> Status {
    let stream = TcpStream::connect(stand.servers[0].addr()).await.unwrap();
    let (mut client, connection) = h2::client::handshake(stream).await.unwrap();
    let connection = tokio::spawn(connection);
    let request = http::Request::post(format!("{}{path}", stand.servers[0].url()))
        .header("content-type", "application/grpc")
        .header("te", "trailers")
        .header("authorization", format!("Bearer {}", stand.secret))
        .header("grpc-timeout", timeout)
        .body(())
        .unwrap();
    let (answer, mut body) = client.send_request(request, false).unwrap();
    // A message is its size after a zero byte that says "not compressed".
    let mut framed = vec![0];
    framed.put_u32(u32::try_from(message.len()).unwrap());
    framed.put_slice(message);
    body.send_data(Bytes::from(framed), true).unwrap();
    let (head, mut rest) = answer.await.unwrap().into_parts();
    while let Some(data) = rest.data().await {
        rest.flow_control().release_capacity(data.unwrap().len()).unwrap();
    }
    let trailers = rest.trailers().await.unwrap();
    connection.abort();
    let headers = trailers.unwrap_or(head.headers);
    Status::from_header_map(&headers).expect("a gRPC status")
}
