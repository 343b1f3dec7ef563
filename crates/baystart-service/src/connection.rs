//! The bytes of a connection, and how far a stop of the server has come.

use crate::gate::Peer;
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::sync::watch;

/// How far a stop has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Phase {
    /// Calls are taken.
    Running,
    /// No new connection is taken, endless streams end.
    Stopping,
    /// Open connections are cut.
    Cut,
}

/// Waits until a stop has come as far as `phase`; for ever when the sender is
/// gone before.
pub(crate) async fn reached(mut stop: watch::Receiver<Phase>, phase: Phase) {
    if stop.wait_for(|now| *now >= phase).await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// Bytes of the preface and the smallest settings that every HTTP/2 peer sends first.
const GREETING_BYTES: usize = 24 + 9;

/// A connection that notes when the other end has sent its greeting.
pub(crate) struct Connection {
    stream: TcpStream,
    peer: Arc<Peer>,
    bytes: usize,
}

impl Connection {
    pub(crate) fn new(stream: TcpStream, peer: Arc<Peer>) -> Self {
        Self { stream, peer, bytes: 0 }
    }
}

impl AsyncRead for Connection {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        let polled = Pin::new(&mut self.stream).poll_read(context, buffer);
        if self.bytes < GREETING_BYTES {
            self.bytes += buffer.filled().len().saturating_sub(before);
            if self.bytes >= GREETING_BYTES {
                self.peer.greeted();
            }
        }
        polled
    }
}

impl AsyncWrite for Connection {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write_vectored(context, slices)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
