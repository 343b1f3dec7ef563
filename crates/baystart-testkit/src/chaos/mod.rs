//! Real servers that are hurt: disks that fail, connections that are cut, processes that are killed;
//! and what must hold afterwards.

pub mod child;
pub mod day;
pub mod disk;
pub mod kill;
pub mod matrix;
pub mod proxy;
pub mod wire;
