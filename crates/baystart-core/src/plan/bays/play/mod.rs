//! The bays played forward: every live build on seeded paths, day by day, as the shop decides.
//!
//! On a morning with a free bay the first build in the order of service begins that may: its first
//! stage's parts were here by yesterday, and the shop's start rule holds. What arrives is usable on the
//! day on which it arrives, here as in the exact forecast; a start is decided in the morning, on what
//! was here by the day before. A stage begins at the later of the end of the one before it and the
//! arrival of its own parts; until then the vehicle stands in its bay. Work off site frees the bay, and
//! who comes back goes on before anybody new begins. A build whose next part never comes on a path frees
//! its bay after [`days::STUCK_DAYS`] and is not delivered there.
//!
//! - `lay`: builds of a book as vehicles.
//! - `fleet`: vehicles and rules as plain values.
//! - `draws`: uniforms keyed by names.
//! - `paths`: a vehicle's luck on every path.
//! - `stall`: when a start is allowed.
//! - `days`: one path, day by day.
//! - `queue`: who may begin, in the order of service.
//! - `to_come`: builds that nobody has accepted yet.
//! - `played`: what all paths say.

pub(in crate::plan) mod days;
pub(in crate::plan) mod draws;
pub(in crate::plan) mod fleet;
pub(in crate::plan) mod lay;
pub(in crate::plan) mod paths;
pub(in crate::plan) mod played;
mod queue;
pub(in crate::plan) mod stall;
#[cfg(test)]
mod tests;
pub(in crate::plan) mod to_come;
