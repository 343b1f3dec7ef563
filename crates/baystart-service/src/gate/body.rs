//! The body of an answer: handed over in small pieces, ended when the call's
//! time is over or the server stops, and told with the code it ended with.

use super::held::Leaving;
use super::leash::{Cause, Leash};
use super::pools::Checking;
use super::{over, told};
use crate::fault;
use http::HeaderMap;
use http_body::{Body as HttpBody, Frame, SizeHint};
use prost::bytes::Bytes;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;
use tonic::body::Body;
use tonic::{Code, Status};

/// Bytes that are handed over at once. The transport keeps what it was given
/// until the caller takes it, so this is what a caller that reads nothing costs
/// beside the answer itself.
const PIECE_BYTES_MAX: usize = 16 * 1024;

/// What a body is watched for, and with.
pub(super) struct Watch {
    /// Resolves when the server stops; only for streams that would not end.
    pub(super) stop: Option<Pin<Box<dyn Future<Output = ()> + Send>>>,
    pub(super) leash: Arc<Leash>,
    pub(super) started: Instant,
    pub(super) span: tracing::Span,
    /// What the call holds; given back when the answer is through.
    pub(super) _leaving: Leaving,
    pub(super) _checking: Option<Checking>,
}

/// A watched body.
pub(super) struct Told {
    body: Body,
    watch: Watch,
    /// What is left of a message that is handed over in pieces.
    rest: Bytes,
    ended: bool,
}

impl Told {
    pub(super) fn new(body: Body, watch: Watch) -> Self {
        watch.leash.waits_to_be_read(0);
        Self { body, watch, rest: Bytes::new(), ended: false }
    }

    fn end(&mut self, code: Code) {
        if !self.ended {
            self.ended = true;
            told(&self.watch.span, code, self.watch.started);
        }
    }

    /// The status to end with before the inner body does.
    fn early(&mut self, context: &mut Context<'_>) -> Option<Status> {
        if let Some(cause) = self.watch.leash.cause() {
            return Some(over(cause));
        }
        let stop = self.watch.stop.as_mut()?;
        let text = "the server stops";
        let status = || fault::retry(Code::Unavailable, "SERVER_STOPPING", text);
        stop.as_mut().poll(context).is_ready().then(status)
    }

    /// The next piece of what is to be read.
    fn piece(&mut self) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let piece = self.rest.split_to(self.rest.len().min(PIECE_BYTES_MAX));
        self.watch.leash.waits_to_be_read(piece.len());
        Poll::Ready(Some(Ok(Frame::data(piece))))
    }
}

impl Drop for Told {
    fn drop(&mut self) {
        let code = match self.watch.leash.cause() {
            Some(Cause::Deadline | Cause::Unsent) => Code::DeadlineExceeded,
            // The caller went away before the end, or might as well have.
            Some(Cause::Stalled) | None => Code::Cancelled,
        };
        self.end(code);
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
        if !self.rest.is_empty() {
            return self.piece();
        }
        let frame = match Pin::new(&mut self.body).poll_frame(context) {
            Poll::Pending => {
                self.watch.leash.was_read();
                return Poll::Pending;
            }
            Poll::Ready(frame) => frame,
        };
        match frame {
            None => self.end(Code::Ok),
            Some(Err(ref status)) => {
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
                return match frame.into_data() {
                    Ok(data) if !data.is_empty() => {
                        self.rest = data;
                        self.piece()
                    }
                    Ok(data) => Poll::Ready(Some(Ok(Frame::data(data)))),
                    Err(frame) => Poll::Ready(Some(Ok(frame))),
                };
            }
        }
        Poll::Ready(frame)
    }

    fn is_end_stream(&self) -> bool {
        self.ended || (self.rest.is_empty() && self.body.is_end_stream())
    }

    fn size_hint(&self) -> SizeHint {
        match self.rest.is_empty() {
            true => self.body.size_hint(),
            false => SizeHint::new(),
        }
    }
}
