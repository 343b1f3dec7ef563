//! Baystart service.
