//! Holds the one integration-test binary.
