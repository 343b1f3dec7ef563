//! Laws learned from a shop's history: offer from supplier from shop from the default.

mod batches;
mod deliveries;
mod drift;
mod evidence;
mod laws;
mod levels;
mod made;
mod mix;
mod one;
mod pieces;
mod profile;
mod receiving;
mod renew;
mod settings;
mod stale;
mod tune;

#[cfg(test)]
mod drift_tests;
#[cfg(test)]
mod tests;

pub use batches::{BATCH_FACTS, Beside};
pub use deliveries::CameSoFar;
pub use drift::Drift;
pub use evidence::Evidence;
pub use laws::LearnedLaws;
pub use profile::{Profile, Reach, profile, profiles};
pub use settings::{DayCount, HALF_LIVES_DAYS, LearnSettings};
pub(crate) use stale::Patience;
pub use stale::{StaleLine, stale_lines};
pub use tune::{LANDMARK_DAYS, Tuning, Walk, last_landmark, tune};
