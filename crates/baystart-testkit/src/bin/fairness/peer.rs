//! An HTTP/2 peer that reads nothing and sends what it likes.

use crate::server::Server;
use h2::client::SendRequest;
use prost::bytes::Bytes;
use tokio::net::TcpStream;
use tokio::task::JoinHandle;

/// A message is its size after a zero byte that says "not compressed".
pub fn framed(message: &[u8]) -> Bytes {
    let mut framed = vec![0];
    framed.extend(u32::try_from(message.len()).unwrap().to_be_bytes());
    framed.extend(message);
    framed.into()
}

pub struct Peer {
    pub send: SendRequest<Bytes>,
    url: String,
    connection: JoinHandle<Result<(), h2::Error>>,
}

impl Peer {
    /// Opens a window of so many bytes for each answer.
    pub async fn connect(server: &Server, window: u32) -> Option<Self> {
        let stream = TcpStream::connect(server.address()).await.ok()?;
        let mut builder = h2::client::Builder::new();
        builder.initial_window_size(window).initial_max_send_streams(256);
        let (send, connection) = builder.handshake(stream).await.ok()?;
        Some(Self { send, url: server.url.clone(), connection: tokio::spawn(connection) })
    }

    pub fn request(
        &self,
        path: &str,
        token: Option<&str>,
        timeout: Option<&str>,
    ) -> http::Request<()> {
        let mut request = http::Request::post(format!("{}{path}", self.url))
            .header("content-type", "application/grpc")
            .header("te", "trailers");
        if let Some(token) = token {
            request = request.header("authorization", format!("Bearer {token}"));
        }
        if let Some(timeout) = timeout {
            request = request.header("grpc-timeout", timeout);
        }
        request.body(()).unwrap()
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        self.connection.abort();
    }
}
