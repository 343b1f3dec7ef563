//! An HTTP/2 peer that does as it likes: reads nothing, or sends half.

use crate::Stand;
use baystart_core::book::model::Role;
use baystart_service::secret;
use baystart_store::NewToken;
use h2::client::{ResponseFuture, SendRequest};
use h2::{RecvStream, SendStream};
use http::HeaderMap;
use prost::bytes::Bytes;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tonic::{Code, Status};

/// A message is its size after a zero byte that says "not compressed".
pub fn framed(message: &[u8]) -> Bytes {
    let mut framed = vec![0];
    framed.extend(u32::try_from(message.len()).unwrap().to_be_bytes());
    framed.extend(message);
    framed.into()
}

/// A connection of it.
pub struct Peer {
    send: SendRequest<Bytes>,
    url: String,
    connection: JoinHandle<Result<(), h2::Error>>,
}

/// A call that it made.
pub struct Call {
    answer: ResponseFuture,
    pub body: SendStream<Bytes>,
}

impl Peer {
    /// Opens a window of so many bytes for each answer.
    pub async fn with_window(stand: &Stand, bytes: u32) -> Self {
        let stream = TcpStream::connect(stand.handle.addr()).await.unwrap();
        let mut builder = h2::client::Builder::new();
        builder.initial_window_size(bytes).initial_max_send_streams(256);
        let (send, connection) = builder.handshake(stream).await.unwrap();
        Self { send, url: stand.handle.url(), connection: tokio::spawn(connection) }
    }

    pub async fn new(stand: &Stand) -> Self {
        Self::with_window(stand, 65_535).await
    }

    /// Begins a call.
    pub async fn call(&mut self, path: &str, token: Option<&str>) -> Call {
        let mut send = self.send.clone().ready().await.unwrap();
        let mut request = http::Request::post(format!("{}{path}", self.url))
            .header("content-type", "application/grpc")
            .header("te", "trailers");
        if let Some(token) = token {
            request = request.header("authorization", format!("Bearer {token}"));
        }
        let (answer, body) = send.send_request(request.body(()).unwrap(), false).unwrap();
        Call { answer, body }
    }

    /// Begins a call and sends its one message.
    pub async fn ask(&mut self, path: &str, token: Option<&str>) -> Call {
        let mut call = self.call(path, token).await;
        call.body.send_data(framed(&[]), true).unwrap();
        call
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        self.connection.abort();
    }
}

impl Call {
    /// How it ended, its answer read to the end; the error that a reset stream has.
    pub async fn end(self) -> Result<Status, h2::Error> {
        let Self { answer, body } = self;
        let (head, mut rest) = answer.await?.into_parts();
        while let Some(data) = rest.data().await {
            rest.flow_control().release_capacity(data?.len())?;
        }
        let trailers = rest.trailers().await?;
        drop(body);
        Ok(status(&trailers.unwrap_or(head.headers)))
    }

    /// The head of its answer, and what would follow.
    pub async fn head(self) -> (SendStream<Bytes>, RecvStream) {
        let answer = timeout(Duration::from_secs(5), self.answer).await.expect("no answer");
        (self.body, answer.unwrap().into_body())
    }
}

pub fn status(headers: &HeaderMap) -> Status {
    Status::from_header_map(headers).expect("a gRPC status")
}

/// The admin token of another shop in the same database.
pub async fn other_shop(stand: &Stand) -> String {
    let (token, hash) = secret::fresh().unwrap();
    let issued_at = "2026-09-14T07:00:00Z".parse().unwrap();
    let admin = NewToken { name: "other".to_owned(), roles: vec![Role::Admin], hash, issued_at };
    stand.store.create_shop(crate::settings(), admin).await.unwrap();
    token
}

/// A call of that shop, answered within a second and a half.
pub async fn served(stand: &Stand, token: &str) {
    let mut peer = Peer::new(stand).await;
    let call = peer.ask("/baystart.v1.ShopService/GetShop", Some(token)).await;
    let status = timeout(Duration::from_millis(1500), call.end()).await.expect("no answer");
    let status = status.expect("the stream was reset");
    assert_eq!(status.code(), Code::Ok, "{status:?}");
}

/// A health check on a connection of its own, answered within a second and a half.
pub async fn healthy(stand: &Stand) {
    let check = async {
        let mut peer = Peer::new(stand).await;
        peer.ask("/grpc.health.v1.Health/Check", None).await.end().await
    };
    let status = timeout(Duration::from_millis(1500), check).await.expect("no answer");
    let status = status.expect("the stream was reset");
    assert_eq!(status.code(), Code::Ok, "{status:?}");
}
