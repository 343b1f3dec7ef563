//! The one layer that every call passes: who calls and whether they may, the
//! caller's deadline, panics, how many at once, and one log line.

mod admit;
mod body;
mod deadline;

use crate::access::ENDLESS;
use crate::connection::{Phase, reached};
use crate::fault;
use crate::shared::Shared;
use body::{Told, Watch};
use futures::FutureExt as _;
use std::future::Future;
use std::mem;
use std::panic::AssertUnwindSafe;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;
use tonic::body::Body;
use tonic::{Code, Status};
use tower::{Layer, Service};
use tracing::Instrument as _;

/// Puts the gate before a service.
#[derive(Clone)]
pub(crate) struct GateLayer(pub(crate) Arc<Shared>);

impl<S> Layer<S> for GateLayer {
    type Service = Gate<S>;
    fn layer(&self, inner: S) -> Gate<S> {
        Gate { inner, shared: Arc::clone(&self.0) }
    }
}

/// A service behind the gate.
#[derive(Clone)]
pub(crate) struct Gate<S> {
    inner: S,
    shared: Arc<Shared>,
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
    let path = request.uri().path().to_owned();
    let asked = deadline::asked(request.headers());
    let time = asked.unwrap_or(shared.limits.call_time_max).min(shared.limits.call_time_max);
    let endless = ENDLESS.contains(&path.as_str());
    let deadline = tokio::time::Instant::now() + deadline::before_the_transports(time);
    let permit = match admit::permit(&shared, &path) {
        Ok(permit) => permit,
        Err(status) => return Ok(refuse(&status, started)),
    };
    let work = async {
        match admit::admit(&shared, &path, &mut request).await {
            Err(status) => Err(status),
            Ok(()) => Ok(inner.call(request).await),
        }
    };
    let outcome = tokio::time::timeout_at(deadline, AssertUnwindSafe(work).catch_unwind()).await;
    let response = match outcome {
        Err(_) => return Ok(refuse(&deadline::exceeded(), started)),
        Ok(Err(panic)) => return Ok(refuse(&fault::internal(panic_text(&*panic)), started)),
        Ok(Ok(Err(status))) => return Ok(refuse(&status, started)),
        Ok(Ok(Ok(response))) => response?,
    };
    if let Some(status) = Status::from_header_map(response.headers()) {
        // An answer without a body: the status is in the headers.
        return Ok(refuse(&fault::dressed(status), started));
    }
    let watch = Watch {
        stop: endless.then(|| Box::pin(reached(shared.stop.clone(), Phase::Stopping)) as _),
        deadline: (asked.is_some() || !endless)
            .then(|| Box::pin(tokio::time::sleep_until(deadline))),
        started,
        span: tracing::Span::current(),
        _permit: permit,
    };
    Ok(response.map(|body| Body::new(Told::new(body, watch))))
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
