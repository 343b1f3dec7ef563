//! The body of a request: counted before it is kept, and watched for a caller
//! that sends no more.
//!
//! A gRPC message is one byte, its length in four, and as many bytes. Whoever
//! reads it keeps it whole until its end, so room is taken for it as soon as
//! its length is known.

use super::held::Held;
use super::leash::Leash;
use super::places::{Place, Places};
use crate::fault;
use http_body::{Body as HttpBody, Frame, SizeHint};
use prost::bytes::Bytes;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use tonic::body::Body;
use tonic::{Code, Status};

/// Messages of no more bytes cost nothing: each call with a place has room for one.
pub(super) const FREE_BYTES: u64 = 16 * 1024;
/// Bytes that one place of the room stands for.
const BYTES_PER_PLACE: u64 = 1024;
/// Bytes before a message.
const PREFIX_BYTES: usize = 5;

/// The places of the room for so many bytes.
pub(super) fn room(bytes: usize) -> u64 {
    u64::try_from(bytes).unwrap_or(u64::MAX).div_ceil(BYTES_PER_PLACE)
}

/// How a body is taken in.
pub(super) struct Terms {
    pub(super) leash: Arc<Leash>,
    pub(super) held: Arc<Held>,
    pub(super) room: Arc<Places>,
    /// Longer messages are let through to be refused by who reads them; None:
    /// refused here, since it has no room at all.
    pub(super) bytes_max: Option<u64>,
    /// Each message is done with when it is read; otherwise at the call's end.
    pub(super) streams: bool,
}

/// Where in the stream of messages a body stands.
#[derive(Debug, Default)]
struct Framing {
    prefix: [u8; PREFIX_BYTES],
    /// Bytes of the prefix that came.
    known: usize,
    /// Bytes of the message that are still to come.
    left: u64,
}

impl Framing {
    /// Takes bytes; the length of the message that is unfinished after them,
    /// if it began with them.
    fn take(&mut self, mut bytes: &[u8]) -> Option<u64> {
        let mut began = None;
        while !bytes.is_empty() {
            if self.left > 0 {
                let part = usize::try_from(self.left).unwrap_or(usize::MAX).min(bytes.len());
                bytes = bytes.get(part..).unwrap_or_default();
                self.left -= u64::try_from(part).unwrap_or(0);
                continue;
            }
            let part = (PREFIX_BYTES - self.known).min(bytes.len());
            let (taken, rest) = bytes.split_at(part);
            if let Some(slot) = self.prefix.get_mut(self.known..self.known + part) {
                slot.copy_from_slice(taken);
            }
            self.known += part;
            bytes = rest;
            if self.known == PREFIX_BYTES {
                let [_, length @ ..] = self.prefix;
                self.left = u64::from(u32::from_be_bytes(length));
                self.known = 0;
                began = Some(self.left);
            }
        }
        began.filter(|_| self.left > 0)
    }

    const fn is_between(&self) -> bool {
        self.left == 0
    }
}

type Waiting = Pin<Box<dyn Future<Output = Option<Place>> + Send>>;

/// A body on its way in.
pub(super) struct Intake {
    body: Body,
    terms: Terms,
    framing: Framing,
    /// Waits for room, with what goes on when there is some.
    waiting: Option<(Waiting, Bytes)>,
    room: Option<Place>,
}

impl Intake {
    pub(super) fn new(body: Body, terms: Terms) -> Self {
        Self { body, terms, framing: Framing::default(), waiting: None, room: None }
    }

    /// Counts what came; None: room has to be waited for.
    fn count(&mut self, data: Bytes) -> Option<Result<Bytes, Status>> {
        let began = self.framing.take(&data);
        if self.framing.is_between() || began.is_some() {
            // The message before is whole.
            match self.room.take() {
                Some(room) if !self.terms.streams => self.terms.held.keep(room),
                _ => {}
            }
        }
        let Some(length) = began.filter(|length| *length > FREE_BYTES) else {
            return Some(Ok(data));
        };
        match self.terms.bytes_max {
            None => {
                let text = format!("{length} bytes; this call takes {FREE_BYTES} at most");
                let code = Code::ResourceExhausted;
                Some(Err(fault::own(code, "MESSAGE_TOO_LARGE", &text, "Send less at once.")))
            }
            Some(bytes_max) if length > bytes_max => Some(Ok(data)),
            Some(_) => {
                let (room, who) = (Arc::clone(&self.terms.room), self.terms.held.who);
                let amount = length.div_ceil(BYTES_PER_PLACE);
                let waiting = Box::pin(async move { room.take(who, amount).await });
                self.waiting = Some((waiting, data));
                None
            }
        }
    }
}

impl Drop for Intake {
    fn drop(&mut self) {
        self.terms.leash.all_sent();
    }
}

impl HttpBody for Intake {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let this = &mut *self;
        loop {
            if let Some((waiting, _)) = &mut this.waiting {
                let Poll::Ready(room) = waiting.as_mut().poll(context) else {
                    return Poll::Pending;
                };
                let Some((_, data)) = this.waiting.take() else { return Poll::Ready(None) };
                this.room = room;
                if this.room.is_none() {
                    let text = "the server has as many bytes of messages coming in as it takes";
                    let busy = fault::retry(Code::ResourceExhausted, "SERVER_BUSY", text);
                    return Poll::Ready(Some(Err(busy)));
                }
                return Poll::Ready(Some(Ok(Frame::data(data))));
            }
            match Pin::new(&mut this.body).poll_frame(context) {
                Poll::Pending => {
                    this.terms.leash.waits_to_be_sent();
                    return Poll::Pending;
                }
                Poll::Ready(Some(Ok(frame))) => {
                    let data = match frame.into_data() {
                        Ok(data) => data,
                        Err(frame) => {
                            this.terms.leash.was_sent(0);
                            return Poll::Ready(Some(Ok(frame)));
                        }
                    };
                    this.terms.leash.was_sent(data.len());
                    if let Some(counted) = this.count(data) {
                        return Poll::Ready(Some(counted.map(Frame::data)));
                    }
                }
                Poll::Ready(end) => {
                    this.terms.leash.all_sent();
                    return Poll::Ready(end);
                }
            }
        }
    }

    fn is_end_stream(&self) -> bool {
        self.waiting.is_none() && self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_known_by_its_length_however_it_is_cut() {
        let mut framing = Framing::default();
        assert_eq!(framing.take(&[0, 0, 0]), None);
        assert_eq!(framing.take(&[1, 0, 7]), Some(256));
        assert_eq!(framing.take(&[7; 200]), None);
        assert!(!framing.is_between());
        // The rest of it, a whole one, and the beginning of a third.
        let mut bytes = vec![7; 55];
        bytes.extend([0, 0, 0, 0, 2, 1, 1, 0, 0, 0, 0, 9, 1]);
        assert_eq!(framing.take(&bytes), Some(9));
        assert_eq!(framing.take(&[1; 8]), None);
        assert!(framing.is_between());
        assert_eq!(framing.take(&[0, 0, 0, 0, 0]), None, "an empty one is whole");
    }
}
