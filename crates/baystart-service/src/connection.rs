//! A TCP connection that the server can cut: at a stop, a peer that is silent
//! or keeps a stream open must not hold the process.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::sync::watch;
use tonic::transport::server::{Connected, TcpConnectInfo};

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

/// A connection that ends when the stop reaches [`Phase::Cut`].
pub(crate) struct Connection {
    stream: TcpStream,
    cut: Pin<Box<dyn Future<Output = ()> + Send>>,
    was_cut: bool,
}

impl Connection {
    pub(crate) fn new(stream: TcpStream, stop: watch::Receiver<Phase>) -> Self {
        Self { stream, cut: Box::pin(reached(stop, Phase::Cut)), was_cut: false }
    }

    fn check(&mut self, context: &mut Context<'_>) -> io::Result<()> {
        if self.was_cut || self.cut.as_mut().poll(context).is_ready() {
            self.was_cut = true;
            return Err(io::Error::new(io::ErrorKind::ConnectionAborted, "the server stops"));
        }
        Ok(())
    }
}

impl Connected for Connection {
    type ConnectInfo = TcpConnectInfo;
    fn connect_info(&self) -> TcpConnectInfo {
        self.stream.connect_info()
    }
}

impl AsyncRead for Connection {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if let Err(error) = self.check(context) {
            return Poll::Ready(Err(error));
        }
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Connection {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        if let Err(error) = self.check(context) {
            return Poll::Ready(Err(error));
        }
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        if let Err(error) = self.check(context) {
            return Poll::Ready(Err(error));
        }
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
