//! Laws learned from a shop's history: offer from supplier from shop from the default.

mod drift;
mod evidence;
mod laws;
mod levels;
mod made;
mod profile;
mod receiving;
mod renew;
mod settings;
mod stale;

#[cfg(test)]
mod drift_tests;
#[cfg(test)]
mod tests;

pub use drift::Drift;
pub use evidence::Evidence;
pub use laws::LearnedLaws;
pub use profile::{Profile, Reach, profile, profiles};
pub use settings::{DayCount, LearnSettings};
pub(crate) use stale::Patience;
pub use stale::{StaleLine, stale_lines};
