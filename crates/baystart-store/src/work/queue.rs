//! Queues, workers, answers.

use super::{batch, bulk};

use crate::api::{Answer, Bulk, Submission};
use crate::database::Database;
use crate::error::StoreError;
use crate::warm::Warm;
use baystart_core::ids::ShopId;
use std::collections::HashMap;
use std::future::Future;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;

type Reply = oneshot::Sender<Result<Answer, StoreError>>;

/// What waits for a shop's worker.
pub(crate) enum Job {
    Command(Box<Submission>),
    /// One that its shop's other commands overtook each time.
    Bulk(Box<Bulk>),
}

struct Waiting {
    job: Job,
    reply: Reply,
}

/// One queue and one worker per shop that has written.
pub(crate) struct Queues {
    database: Arc<Database>,
    warm: Arc<Warm>,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    closed: bool,
    senders: HashMap<ShopId, mpsc::Sender<Waiting>>,
    workers: Vec<JoinHandle<()>>,
}

impl Queues {
    pub fn new(database: Arc<Database>, warm: Arc<Warm>) -> Self {
        Self { database, warm, state: Mutex::default() }
    }

    /// Queues a job and waits for its answer, a limited time. The job goes on
    /// whether or not anybody waits.
    pub async fn run(&self, shop: ShopId, job: Job) -> Result<Answer, StoreError> {
        let (reply, answer) = oneshot::channel();
        let patience = match &job {
            Job::Command(_) => self.database.options.answer_timeout,
            Job::Bulk(_) => self.database.options.bulk_timeout,
        };
        self.sender(shop)?.try_send(Waiting { job, reply }).map_err(|error| match error {
            mpsc::error::TrySendError::Full(_) => StoreError::Busy(format!(
                "{} commands of this shop wait already: try again in a moment",
                self.database.options.queue_max
            )),
            mpsc::error::TrySendError::Closed(_) => stopping(),
        })?;
        match tokio::time::timeout(patience, answer).await {
            Ok(Ok(answer)) => answer,
            Ok(Err(_)) => Err(StoreError::Corrupt("the shop's worker failed".to_owned())),
            Err(_) => Err(StoreError::Unavailable(
                "the database did not answer in time: repeat with the same request id".to_owned(),
            )),
        }
    }

    /// Runs an import beside the queues; a stop waits for it as for them.
    pub fn beside(
        &self,
        import: impl Future<Output = Result<Answer, StoreError>> + Send + 'static,
    ) -> Result<oneshot::Receiver<Result<Answer, StoreError>>, StoreError> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if state.closed {
            return Err(stopping());
        }
        let (reply, receiver) = oneshot::channel();
        state.workers.retain(|worker| !worker.is_finished());
        state.workers.push(tokio::spawn(async move { answer(reply, import.await) }));
        Ok(receiver)
    }

    fn sender(&self, shop: ShopId) -> Result<mpsc::Sender<Waiting>, StoreError> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if state.closed {
            return Err(stopping());
        }
        // A worker that failed has dropped its end: it gets a successor.
        if let Some(sender) = state.senders.get(&shop).filter(|sender| !sender.is_closed()) {
            return Ok(sender.clone());
        }
        let (sender, queue) = mpsc::channel(self.database.options.queue_max.max(1));
        state.workers.retain(|worker| !worker.is_finished());
        state.workers.push(tokio::spawn(work(
            self.database.clone(),
            self.warm.clone(),
            shop,
            queue,
        )));
        state.senders.insert(shop, sender.clone());
        Ok(sender)
    }

    /// Takes nothing more and finishes what is queued.
    pub async fn close(&self) {
        let workers = {
            let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
            state.closed = true;
            state.senders.clear();
            std::mem::take(&mut state.workers)
        };
        for worker in workers {
            let _ = worker.await;
        }
    }
}

fn stopping() -> StoreError {
    StoreError::Unavailable("the server is stopping".to_owned())
}

/// Serves one shop until its queue is closed and empty.
async fn work(
    database: Arc<Database>,
    warm: Arc<Warm>,
    shop: ShopId,
    mut queue: mpsc::Receiver<Waiting>,
) {
    let mut next = queue.recv().await;
    while let Some(waiting) = next.take() {
        match waiting.job {
            Job::Bulk(job) => answer(waiting.reply, bulk::queued(&database, shop, job).await),
            Job::Command(job) => {
                let mut jobs = vec![*job];
                let mut replies = vec![waiting.reply];
                while jobs.len() < database.options.batch_max {
                    match queue.try_recv() {
                        Ok(Waiting { job: Job::Command(job), reply }) => {
                            jobs.push(*job);
                            replies.push(reply);
                        }
                        Ok(other) => {
                            next = Some(other);
                            break;
                        }
                        Err(_) => break,
                    }
                }
                let answers = batch::run(&database, &warm, shop, jobs).await;
                for (reply, result) in replies.into_iter().zip(answers) {
                    answer(reply, result);
                }
            }
        }
        if next.is_none() {
            next = queue.recv().await;
        }
    }
}

fn answer(reply: Reply, result: Result<Answer, StoreError>) {
    // Nobody may be waiting any more; the commit stands all the same.
    let _ = reply.send(result);
}
