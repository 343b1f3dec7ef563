//! The answers of the API, as they may stand on a screen.

pub use baystart_proto::Written;
pub use baystart_proto::visible::visible;

/// A message that the API answers.
pub trait Answer: prost::Name + Default + Clone {}

impl<M: prost::Name + Default + Clone> Answer for M {}
