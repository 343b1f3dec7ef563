//! Running a transaction again, a bounded number of times.

use crate::database::Database;
use crate::error::{Fault, StoreError};
use baystart_core::refusal::{Reason, Refusal};
use std::time::{Duration, Instant};

/// Tries of one transaction.
const TRIES_MAX: u32 = 8;
/// Longest pause before the second try; doubled for each further one.
const PAUSE_FIRST_MS: u64 = 4;

/// Counts the tries of one transaction and pauses between them.
pub struct Tries {
    since: Instant,
    conflicts: u32,
    constraints: u32,
    limit: Duration,
}

impl Tries {
    pub fn new(database: &Database) -> Self {
        let limit = database.options.lock_timeout + database.options.busy_timeout;
        Self { since: Instant::now(), conflicts: 0, constraints: 0, limit }
    }

    /// Pauses, or says why there is no further try.
    pub async fn again(&mut self, fault: Fault) -> Result<(), StoreError> {
        match fault {
            Fault::Conflict(text) => {
                self.conflicts += 1;
                if self.conflicts >= TRIES_MAX || self.since.elapsed() >= self.limit {
                    return Err(StoreError::Busy(text));
                }
                tokio::time::sleep(pause(self.conflicts)).await;
                Ok(())
            }
            Fault::Constraint(text) => {
                self.constraints += 1;
                if self.constraints > 1 {
                    tracing::warn!(constraint = %text, "the database refused what was decided");
                    let message = "another command came first: try again";
                    return Err(Refusal::new(Reason::RaceLost, message).into());
                }
                Ok(())
            }
            Fault::Fatal(error) => Err(error),
        }
    }
}

/// A random pause up to a limit that doubles, so that rivals part.
fn pause(tries: u32) -> Duration {
    let limit = PAUSE_FIRST_MS << tries.min(8);
    let mut bytes = [0; 8];
    // Without randomness the pause is just not random.
    let _ = getrandom::fill(&mut bytes);
    Duration::from_millis(1 + u64::from_le_bytes(bytes) % limit)
}
