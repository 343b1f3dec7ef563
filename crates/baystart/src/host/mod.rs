//! The commands that hold the database themselves: set a shop up, serve,
//! verify, and the demo.

pub mod demo;
pub mod log;
pub mod serve;
pub mod settings;
pub mod setup;
pub mod verify;

mod secret_file;

use crate::cli::fail::Failure;
use baystart_store::StoreError;

/// A store's error in the words of the command line.
pub(crate) fn failed(error: StoreError) -> Failure {
    match error {
        StoreError::Refused(refusal) => Failure::Input(refusal.to_string()),
        StoreError::Settings(text) => Failure::Configuration(text),
        StoreError::Unreachable(text) => Failure::NoDatabase(text),
        StoreError::Busy(text) | StoreError::Unavailable(text) => {
            Failure::TryAgain(format!("the database cannot be used now: {text}"))
        }
        other => Failure::Internal(other.to_string()),
    }
}
