//! Protobuf's JSON mapping of any message of the API.

use prost::Message;
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

/// The descriptor of a message of the API, by its short name.
pub(crate) fn message(name: &str) -> Option<MessageDescriptor> {
    POOL.as_ref().and_then(|pool| pool.get_message_by_name(&format!("baystart.v1.{name}")))
}

/// The message in protobuf's JSON mapping (lowerCamelCase names, enum names,
/// 64-bit integers as strings), indented; `name` is its short name, for
/// example `GetShopResponse`.
///
/// # Errors
/// The name is not of `baystart.v1`, or the message does not fit it.
pub fn to_json<M: Message>(name: &str, message: &M) -> Result<String, JsonError> {
    let unknown = || JsonError::UnknownMessage(name.to_owned());
    let descriptor = self::message(name).ok_or_else(unknown)?;
    let dynamic = DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice())?;
    let mut out = Vec::new();
    let mut serializer = serde_json::Serializer::pretty(&mut out);
    let options = SerializeOptions::new().skip_default_fields(true);
    dynamic.serialize_with_options(&mut serializer, &options)?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}
