//! RPC bodies: read the request, load or submit, answer. Authorisation stands
//! before all of them, and only here does a refusal become a gRPC status.

mod accepted;
mod access;
mod clock;
mod connection;
mod document;
mod export;
mod fault;
mod formula;
#[cfg(any(test, feature = "fuzz"))]
pub mod fuzz;
mod gate;
mod import;
mod kept_answers;
mod kept_boards;
mod learned;
mod learning;
mod limits;
mod listen;
mod page;
mod reckon;
mod rpc;
pub mod secret;
mod server;
mod shared;

pub use clock::Clock;
pub use limits::Limits;
pub use server::{Handle, ServeError, Server};
