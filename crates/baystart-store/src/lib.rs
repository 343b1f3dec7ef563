//! Baystart store.
