//! The transport's tasks, one a stream, each on a leash.

use super::leash::{Leash, hold};
use super::registry::Peer;
use std::future::Future;
use std::sync::Arc;

/// Runs the streams of one connection.
#[derive(Clone)]
pub(crate) struct StreamTasks(pub(crate) Arc<Peer>);

impl<F> hyper::rt::Executor<F> for StreamTasks
where
    F: Future<Output = ()> + Send + 'static,
{
    fn execute(&self, stream: F) {
        let calling = self.0.call();
        let leash = Leash::new(Some(Arc::clone(&self.0)));
        tokio::spawn(async move {
            // A stream that is dropped before its end is reset by the transport.
            hold(leash, stream).await;
            drop(calling);
        });
    }
}
