//! Protobuf's JSON mapping of any message of the API.

use prost::Name;
use prost_reflect::{DescriptorPool, DynamicMessage, MessageDescriptor, SerializeOptions};
use std::sync::LazyLock;
use thiserror::Error;

static POOL: LazyLock<Option<DescriptorPool>> =
    LazyLock::new(|| DescriptorPool::decode(crate::DESCRIPTORS).ok());

/// Why a message has no JSON form.
#[derive(Debug, Error)]
pub enum JsonError {
    /// The name is none of the API's messages.
    #[error("{0} is no message of the API")]
    UnknownMessage(String),
    /// The bytes are no such message.
    #[error("the message does not decode: {0}")]
    Decode(#[from] prost::DecodeError),
    /// JSON could not be written.
    #[error("the message has no JSON form: {0}")]
    Json(#[from] serde_json::Error),
}

/// The descriptor of a message of the API.
pub(crate) fn descriptor<M: Name>() -> Option<MessageDescriptor> {
    POOL.as_ref().and_then(|pool| pool.get_message_by_name(&M::full_name()))
}

/// The message in protobuf's JSON mapping (lowerCamelCase names, enum names,
/// 64-bit integers as strings), indented.
///
/// # Errors
/// The message is none of the API's.
pub fn to_json<M: Name>(message: &M) -> Result<String, JsonError> {
    let unknown = || JsonError::UnknownMessage(M::full_name());
    let descriptor = descriptor::<M>().ok_or_else(unknown)?;
    let dynamic = DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice())?;
    let mut out = Vec::new();
    let mut serializer = serde_json::Serializer::pretty(&mut out);
    let options = SerializeOptions::new().skip_default_fields(true);
    dynamic.serialize_with_options(&mut serializer, &options)?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}
