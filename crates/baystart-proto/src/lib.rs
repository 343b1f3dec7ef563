//! The API as Rust: generated code, its descriptors, and the conversions
//! between wire and core. Knows no database and no server.

pub mod convert;
pub mod json;
pub mod visible;

/// Generated from `proto/baystart/v1`.
#[allow(missing_docs, clippy::all, clippy::pedantic)]
pub mod v1 {
    tonic::include_proto!("baystart.v1");
}

/// The request of a list.
pub trait Paged: prost::Name {
    /// Page size, 0 for the server's own, and the token of the page; empty for the first.
    fn page(&self) -> (i32, &str);
}

/// The response to a write.
pub trait Written: prost::Name + Default + Clone {
    /// What the write did.
    fn commit(&self) -> Option<&v1::Commit>;
}

include!(concat!(env!("OUT_DIR"), "/alike.rs"));

/// The encoded `google.protobuf.FileDescriptorSet` of the API, for reflection.
pub const DESCRIPTORS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/descriptors.bin"));

/// Each method's path (`/baystart.v1.ShopService/GetShop`) with the numbers of
/// the roles that it admits, as the API's own `roles` option says.
pub const METHOD_ROLES: &[(&str, &[i32])] = include!(concat!(env!("OUT_DIR"), "/roles.rs"));
