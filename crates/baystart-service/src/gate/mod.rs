//! The one layer that every call passes: who calls and whether they may, with
//! which place, the call's times, panics, and one log line.

mod admit;
mod allot;
mod body;
mod deadline;
mod held;
mod intake;
mod leash;
mod places;
mod pools;
mod registry;
mod tasks;

use crate::access::{Access, Public, access, streams};
use crate::connection::{Phase, reached};
use crate::fault;
use crate::limits::Limits;
use crate::shared::Shared;
use admit::Admitted;
use body::{Told, Watch};
use futures::FutureExt as _;
use http::HeaderMap;
use intake::Intake;
use leash::{Cause, Terms};
use std::future::Future;
use std::mem;
use std::panic::AssertUnwindSafe;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;
use tonic::body::Body;
use tonic::{Code, Status};
use tower::Service;
use tracing::Instrument as _;

pub(crate) use admit::place;
#[cfg(test)]
pub(crate) use allot::Holder;
pub(crate) use held::{Held, Leaving};
pub(crate) use places::{Place, Places};
pub(crate) use pools::Pools;
pub(crate) use registry::{Entered, Peer, Registry, descriptors};
pub(crate) use tasks::StreamTasks;

/// A service behind the gate.
#[derive(Clone)]
pub(crate) struct Gate<S> {
    inner: S,
    shared: Arc<Shared>,
}

impl<S> Gate<S> {
    pub(crate) const fn new(inner: S, shared: Arc<Shared>) -> Self {
        Self { inner, shared }
    }
}

type Answer<E> = Result<http::Response<Body>, E>;

impl<S> Service<http::Request<Body>> for Gate<S>
where
    S: Service<http::Request<Body>, Response = http::Response<Body>> + Clone + Send + 'static,
    S::Future: Send,
    S::Error: Send,
{
    type Response = http::Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Answer<S::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: http::Request<Body>) -> Self::Future {
        // The instance that was polled ready takes the call.
        let fresh = self.inner.clone();
        let ready = mem::replace(&mut self.inner, fresh);
        let method = request.uri().path().to_owned();
        let span = tracing::info_span!("call", method, code = tracing::field::Empty);
        Box::pin(pass(ready, Arc::clone(&self.shared), request).instrument(span))
    }
}

async fn pass<S>(
    mut inner: S,
    shared: Arc<Shared>,
    mut request: http::Request<Body>,
) -> Answer<S::Error>
where
    S: Service<http::Request<Body>, Response = http::Response<Body>>,
{
    let started = Instant::now();
    if request.method() != http::Method::POST {
        // No gRPC; also, the transport would take the answer to a CONNECT for a tunnel.
        let mut response = http::Response::new(Body::empty());
        *response.status_mut() = http::StatusCode::METHOD_NOT_ALLOWED;
        return Ok(response);
    }
    let path = request.uri().path();
    let (access, streams) = (access(path), streams(path));
    // The caller alone would end these: a stop of the server ends them.
    let endless = matches!(access, Access::Public(Public::Watch | Public::Reflection));
    let leash = leash::current();
    leash.bind(&times(
        &shared.limits,
        &access,
        streams.asking,
        streams.answering,
        request.headers(),
    ));
    let work = async {
        let Admitted { held, turn, checking } =
            admit::admit(&shared, &access, streams, &mut request, &leash).await?;
        let leaving = Leaving(Arc::clone(&held));
        let bytes_max = u64::try_from(shared.limits.message_bytes_max).unwrap_or(u64::MAX);
        let terms = intake::Terms {
            leash: Arc::clone(&leash),
            held,
            room: Arc::clone(&shared.pools.room),
            bytes_max: matches!(access, Access::Roles(_)).then_some(bytes_max),
            streams: streams.asking,
        };
        let request = request.map(|body| Body::new(Intake::new(body, terms)));
        let response = inner.call(request).await;
        drop(turn);
        Ok((response, leaving, checking))
    };
    let (response, leaving, checking) =
        match leash.or_over(AssertUnwindSafe(work).catch_unwind()).await {
            Err(cause) => return Ok(refuse(&over(cause), started)),
            Ok(Err(panic)) => return Ok(refuse(&fault::internal(panic_text(&*panic)), started)),
            Ok(Ok(Err(status))) => return Ok(refuse(&status, started)),
            Ok(Ok(Ok((response, leaving, checking)))) => (response?, leaving, checking),
        };
    if let Some(status) = Status::from_header_map(response.headers()) {
        // An answer without a body: the status is in the headers.
        return Ok(refuse(&fault::dressed(status), started));
    }
    let watch = Watch {
        stop: endless.then(|| Box::pin(reached(shared.stop.clone(), Phase::Stopping)) as _),
        leash,
        started,
        span: tracing::Span::current(),
        _leaving: leaving,
        _checking: checking,
    };
    Ok(response.map(|body| Body::new(Told::new(body, watch))))
}

/// The times of a call. The caller's deadline counts where it is earlier.
fn times(
    limits: &Limits,
    access: &Access,
    asking: bool,
    answering: bool,
    headers: &HeaderMap,
) -> Terms {
    let longest = match access {
        Access::Public(Public::Check) => Some(limits.health_check_time_max),
        Access::Public(Public::Watch | Public::Reflection) => None,
        _ if asking || answering => Some(limits.call_time_max),
        _ => Some(limits.unary_time_max),
    };
    let now = tokio::time::Instant::now();
    let over_in = longest.into_iter().chain(deadline::asked(headers)).min();
    Terms {
        over_by: over_in.and_then(|time| now.checked_add(time)),
        sent_by: (!asking).then(|| now.checked_add(limits.request_time_max)).flatten(),
        stall: limits.stall_time_max,
        bytes_per_second_min: limits.bytes_per_second_min,
    }
}

/// What a call is answered whose time is over.
fn over(cause: Cause) -> Status {
    match cause {
        Cause::Deadline => deadline::exceeded(),
        Cause::Unsent => {
            let text = "the call's message did not come in time; nothing was done";
            let code = Code::DeadlineExceeded;
            fault::own(code, "MESSAGE_UNFINISHED", text, "Send the whole message at once.")
        }
        Cause::Stalled => {
            let text = "the server waited too long for the caller to send or to read more";
            let remedy = "Ask again, and read the answers as they come.";
            fault::own(Code::Aborted, "STREAM_STALLED", text, remedy)
        }
    }
}

fn refuse(status: &Status, started: Instant) -> http::Response<Body> {
    told(&tracing::Span::current(), status.code(), started);
    status.clone().into_http()
}

/// The one log line of a call.
fn told(span: &tracing::Span, code: Code, started: Instant) {
    span.record("code", tracing::field::debug(code));
    let ms = started.elapsed().as_secs_f64() * 1000.0;
    tracing::info!(parent: span, ?code, ms = (ms * 1000.0).round() / 1000.0, "call answered");
}

fn panic_text(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned());
    format!("panic: {}", text.unwrap_or_else(|| "without a text".to_owned()))
}

#[cfg(test)]
mod tests;
