//! What a build waits for, when that arrives, and when the build can start and be done.

pub(in crate::plan) mod arrivals;
pub(in crate::plan) mod assumptions;
pub(in crate::plan) mod ends;
#[cfg(test)]
mod ends_tests;
pub(in crate::plan) mod forecast;
pub(in crate::plan) mod packages;
pub(in crate::plan) mod sources;
pub(in crate::plan) mod timing;
pub(in crate::plan) mod work;
