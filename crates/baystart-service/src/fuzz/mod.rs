//! What strangers send, as functions of bytes: for a coverage-guided fuzzer (`tests/fuzz`), and for
//! the tests that replay what it found. Not part of the server.
//!
//! Each target panics where something is wrong: a parser that panics itself, an error without its
//! line or field, a value that prints as something else than it was read from.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod files;
mod requests;
mod scalars;
#[cfg(test)]
mod tests;

pub use requests::filled;

/// A target's name, as that of its folder of inputs, and what it does with one.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 6] = [
    ("csv", files::csv),
    ("ics", files::ics),
    ("history", files::history),
    ("page", scalars::page),
    ("scalar", scalars::scalar),
    ("request", requests::request),
];

/// Gives an input to the target of a name.
///
/// # Panics
/// There is no such target, or something is wrong.
pub fn run(name: &str, bytes: &[u8]) {
    let (_, target) = TARGETS.iter().find(|(own, _)| *own == name).expect("a target's name");
    target(bytes);
}
