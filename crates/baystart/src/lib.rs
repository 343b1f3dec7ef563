//! The one binary's insides: the command line client, and the commands
//! that hold the database themselves.

pub mod cli;
pub mod host;
