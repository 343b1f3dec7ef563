//! The one integration-test binary.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod architecture;
mod binding;
mod by_hand;
mod core_properties;
mod core_shop;
mod scenarios;
