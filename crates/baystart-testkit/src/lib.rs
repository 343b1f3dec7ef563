//! Baystart testkit.
