//! What tests share: a small random world and a naive model of it, fresh
//! databases, whole servers in this process, and text scenarios.

pub mod chaos;
pub mod generate;
pub mod history;
pub mod model;
pub mod plain;
pub mod rolling;
pub mod scenario;
pub mod server;
pub mod store;
pub mod world;
pub mod worlds;
