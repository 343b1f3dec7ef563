//! Connections: taken, watched, and ended. What happens on them is the gate's.
//!
//! The transport itself is hyper's; it is driven here and not by tonic, since
//! tonic gives no hold on a stream whose caller does not read, nor on a
//! connection that is silent.

use crate::connection::{Connection, Phase, reached};
use crate::gate::{Entered, Gate, Registry, StreamTasks, descriptors};
use crate::limits::Limits;
use crate::shared::Shared;
use hyper::body::Incoming;
use hyper::server::conn::http2;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep_until};
use tonic::body::Body;
use tonic::service::Routes;
use tower::Service as _;

/// Pause after a connection could not be accepted, for example because the
/// process has no file descriptor left.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);
/// Largest list of request headers, in bytes.
const HEADER_BYTES_MAX: u32 = 16 * 1024;
/// Bytes that a connection may send before anybody asks for them: this much
/// memory each connection can take without a token.
const WINDOW_BYTES: u32 = 256 * 1024;
/// Files that the process needs beside its connections: the database's, and logs.
const OTHER_FILES: u64 = 128;
/// How long an idle connection may take to close when it is asked to.
const CLOSING_TIME: Duration = Duration::from_secs(1);

/// Takes connections until the stop, and waits until the last has ended.
pub(crate) async fn serve(
    listener: TcpListener,
    routes: Routes,
    shared: Arc<Shared>,
    stop: watch::Receiver<Phase>,
) {
    let connections_max = connections_max(shared.limits.connections_max, descriptors());
    let registry = Registry::new(connections_max);
    let gate = Gate::new(routes, Arc::clone(&shared));
    // Closed when the last connection has dropped its end.
    let (alive, mut ended) = mpsc::channel::<()>(1);
    let mut stopping = pin!(reached(stop.clone(), Phase::Stopping));
    loop {
        let stream = tokio::select! {
            () = &mut stopping => break,
            stream = listener.accept() => stream,
        };
        match stream {
            Ok((stream, address)) => {
                // Without it answers only wait longer.
                let _ = stream.set_nodelay(true);
                let entered = registry.enter(address.ip());
                let (gate, limits, stop) = (gate.clone(), shared.limits.clone(), stop.clone());
                let alive = alive.clone();
                tokio::spawn(async move {
                    connection(stream, entered, gate, &limits, stop).await;
                    drop(alive);
                });
            }
            Err(error) => {
                tracing::warn!(%error, "a connection was not accepted");
                tokio::time::sleep(ACCEPT_PAUSE).await;
            }
        }
    }
    drop((alive, listener));
    ended.recv().await;
}

/// As many as are set, and as the process may have files for.
fn connections_max(set: usize, descriptors: Option<u64>) -> usize {
    let Some(files) = descriptors else { return set };
    let room = files.saturating_sub(OTHER_FILES).max(files / 2);
    set.min(usize::try_from(room).unwrap_or(usize::MAX))
}

/// One connection to its end.
async fn connection(
    stream: TcpStream,
    entered: Entered,
    gate: Gate<Routes>,
    limits: &Limits,
    stop: watch::Receiver<Phase>,
) {
    let peer = &entered.peer;
    let io = TokioIo::new(Connection::new(stream, Arc::clone(peer)));
    let service = service_fn(move |request: http::Request<Incoming>| {
        gate.clone().call(request.map(Body::new))
    });
    let mut transport = pin!(
        http2::Builder::new(StreamTasks(Arc::clone(peer)))
            .timer(TokioTimer::new())
            .keep_alive_interval(limits.keepalive_interval)
            .keep_alive_timeout(limits.keepalive_timeout)
            .max_concurrent_streams(limits.streams_per_connection_max)
            .max_header_list_size(HEADER_BYTES_MAX)
            .initial_stream_window_size(WINDOW_BYTES)
            .initial_connection_window_size(WINDOW_BYTES)
            .serve_connection(io, service)
    );
    let mut stopping = pin!(reached(stop.clone(), Phase::Stopping));
    let mut cut = pin!(reached(stop, Phase::Cut));
    let accepted = Instant::now();
    let mut closing = None;
    let mut stopped = false;
    let mut look = accepted + limits.handshake_time_max;
    loop {
        tokio::select! {
            // A connection that broke has said so to its calls.
            _ = &mut transport => return,
            () = peer.given_up.notified() => return,
            () = &mut cut => return,
            () = &mut stopping, if !stopped => {
                stopped = true;
                if !peer.is_greeted() {
                    return;
                }
                transport.as_mut().graceful_shutdown();
            }
            () = sleep_until(look) => {
                let now = Instant::now();
                if !peer.is_greeted() || closing.is_some_and(|by| now >= by) {
                    return;
                }
                let idle_max = match peer.is_known() {
                    true => limits.idle_time_max,
                    false => limits.idle_stranger_time_max,
                };
                look = now + idle_max.saturating_sub(peer.idle().unwrap_or_default());
                if closing.is_none() && peer.idle().is_some_and(|idle| idle >= idle_max) {
                    transport.as_mut().graceful_shutdown();
                    closing = Some(now + CLOSING_TIME);
                }
                if let Some(by) = closing {
                    look = by;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::connections_max;

    #[test]
    fn connections_leave_files_for_the_rest() {
        assert_eq!(connections_max(2048, Some(1024)), 896);
        assert_eq!(connections_max(2048, Some(200)), 100);
        assert_eq!(connections_max(2048, Some(1_000_000)), 2048);
        assert_eq!(connections_max(2048, None), 2048);
    }
}
