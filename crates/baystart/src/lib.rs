//! The one binary's insides: the command line client.

pub mod cli;
