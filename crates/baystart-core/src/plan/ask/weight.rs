//! What a day counts of a build, by its priority.

/// Weight of a working day of a build: 200 / (100 + priority), so that priority 100 counts 1 and
/// priority 1 nearly 2. Judgement, in one place for the chase list and the swap proposals.
pub(in crate::plan) fn of_priority(priority: i32) -> f64 {
    200.0 / (100.0 + f64::from(priority))
}
