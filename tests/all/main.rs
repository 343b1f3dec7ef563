//! The one integration-test binary.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod architecture;
mod bad_input;
mod board_properties;
mod core_properties;
mod every_line_properties;
mod histories;
mod host;
mod no_scans;
mod raw;
mod readme;
mod rush;
mod scenarios;
mod shown;
mod store_properties;
mod texts;
mod wire;
