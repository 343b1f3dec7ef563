//! The body of an answer: ends when the deadline passes or the server stops,
//! and tells the code with which it ended.

use super::{deadline, told};
use crate::fault;
use http::HeaderMap;
use http_body::{Body as HttpBody, Frame, SizeHint};
use prost::bytes::Bytes;
use std::future::Future;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Instant;
use tokio::sync::OwnedSemaphorePermit;
use tokio::time::Sleep;
use tonic::body::Body;
use tonic::{Code, Status};

/// What a body is watched for, and with.
pub(super) struct Watch {
    /// Resolves when the server stops; only for streams that would not end.
    pub(super) stop: Option<Pin<Box<dyn Future<Output = ()> + Send>>>,
    pub(super) deadline: Option<Pin<Box<Sleep>>>,
    pub(super) started: Instant,
    pub(super) span: tracing::Span,
    /// Given back when the answer is through.
    pub(super) _permit: OwnedSemaphorePermit,
}

/// A watched body.
pub(super) struct Told {
    body: Body,
    watch: Watch,
    ended: bool,
}

impl Told {
    pub(super) fn new(body: Body, watch: Watch) -> Self {
        Self { body, watch, ended: false }
    }

    fn end(&mut self, code: Code) {
        if !self.ended {
            self.ended = true;
            told(&self.watch.span, code, self.watch.started);
        }
    }

    /// The status to end with before the inner body does.
    fn early(&mut self, context: &mut Context<'_>) -> Option<Status> {
        if let Some(stop) = &mut self.watch.stop
            && stop.as_mut().poll(context).is_ready()
        {
            let text = "the server stops";
            return Some(fault::retry(Code::Unavailable, "SERVER_STOPPING", text));
        }
        let sleep = self.watch.deadline.as_mut()?;
        sleep.as_mut().poll(context).is_ready().then(deadline::exceeded)
    }
}

impl Drop for Told {
    fn drop(&mut self) {
        // The caller went away before the end.
        self.end(Code::Cancelled);
    }
}

impl HttpBody for Told {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        if self.ended {
            return Poll::Ready(None);
        }
        if let Some(status) = self.early(context) {
            let mut trailers = HeaderMap::new();
            // Fails only on a header that is none; then there is no trailer.
            let _ = status.add_header(&mut trailers);
            self.end(status.code());
            return Poll::Ready(Some(Ok(Frame::trailers(trailers))));
        }
        let frame = match Pin::new(&mut self.body).poll_frame(context) {
            Poll::Pending => return Poll::Pending,
            Poll::Ready(frame) => frame,
        };
        match &frame {
            None => self.end(Code::Ok),
            Some(Err(status)) => {
                let code = status.code();
                self.end(code);
            }
            Some(Ok(frame)) => {
                let code = frame.trailers_ref().map(|trailers| {
                    Status::from_header_map(trailers).map_or(Code::Ok, |status| status.code())
                });
                if let Some(code) = code {
                    self.end(code);
                }
            }
        }
        Poll::Ready(frame)
    }

    fn is_end_stream(&self) -> bool {
        self.ended || self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}
