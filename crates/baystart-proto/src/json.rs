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
    let mut out = Vec::new();
    write(message, &mut serde_json::Serializer::pretty(&mut out))?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}

/// As [`to_json`], on one line.
///
/// # Errors
/// The message is none of the API's.
pub fn to_json_line<M: Name>(message: &M) -> Result<String, JsonError> {
    let mut out = Vec::new();
    write(message, &mut serde_json::Serializer::new(&mut out))?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}

/// As [`to_json`], to be part of a larger document.
///
/// # Errors
/// The message is none of the API's.
pub fn to_value<M: Name>(message: &M) -> Result<serde_json::Value, JsonError> {
    Ok(serde_json::from_str(&to_json_line(message)?)?)
}

fn write<M: Name, W: std::io::Write, F: serde_json::ser::Formatter>(
    message: &M,
    serializer: &mut serde_json::Serializer<W, F>,
) -> Result<(), JsonError> {
    let unknown = || JsonError::UnknownMessage(M::full_name());
    let descriptor = descriptor::<M>().ok_or_else(unknown)?;
    let dynamic = DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice())?;
    let options = SerializeOptions::new().skip_default_fields(true);
    dynamic.serialize_with_options(serializer, &options)?;
    Ok(())
}
