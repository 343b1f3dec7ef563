//! Calls by method and JSON, answered in bytes: what a client of any kind sees.

use prost::Message;
use prost::bytes::{Buf, BufMut, Bytes};
use prost_reflect::{DescriptorPool, DynamicMessage, MethodDescriptor, SerializeOptions, Value};
use serde_json::Value as Json;
use std::sync::LazyLock;
use std::time::Duration;
use tonic::client::Grpc;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::codegen::http::uri::PathAndQuery;
use tonic::metadata::MetadataValue;
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Status};
use tonic_types::StatusExt;
use uuid::Uuid;

/// Longest wait for one answer: a bound, not a goal. Whoever must wait so long is not served.
const PATIENCE: Duration = Duration::from_secs(90);

#[allow(clippy::expect_used)]
static POOL: LazyLock<DescriptorPool> =
    LazyLock::new(|| DescriptorPool::decode(baystart_proto::DESCRIPTORS).expect("descriptors"));

/// One call as it is sent, again and again if need be.
#[derive(Clone, Debug)]
pub struct Asked {
    /// `BuildService/OpenBuild`.
    pub method: String,
    messages: Vec<Bytes>,
    writes: bool,
}

/// What is said in bytes, one message or, where the answer streams, several.
pub type Said = Vec<Bytes>;

#[allow(clippy::panic)]
fn descriptor(method: &str) -> MethodDescriptor {
    let (service, name) = method.split_once('/').unwrap_or((method, ""));
    let found = POOL
        .get_service_by_name(&format!("baystart.v1.{service}"))
        .and_then(|service| service.methods().find(|found| found.name() == name));
    found.unwrap_or_else(|| panic!("the API has no method {method}"))
}

impl Asked {
    /// A call of a method with its messages in protobuf's JSON mapping. A fresh request id is put into the
    /// (first) message that takes one.
    ///
    /// # Panics
    /// The API has no such method or field.
    #[must_use]
    #[allow(clippy::panic)]
    pub fn new(method: &str, messages: &[Json]) -> Self {
        let input = descriptor(method).input();
        let id = Value::String(Uuid::now_v7().to_string());
        let mut writes = false;
        let messages = messages.iter().enumerate().map(|(number, json)| {
            let mut message = DynamicMessage::deserialize(input.clone(), json)
                .unwrap_or_else(|error| panic!("{method} {json}: {error}"));
            let start = message.get_field_by_name("start").map(std::borrow::Cow::into_owned);
            if number == 0 && input.get_field_by_name("request_id").is_some() {
                message.set_field_by_name("request_id", id.clone());
                writes = true;
            } else if let (0, Some(Value::Message(mut start))) = (number, start) {
                start.set_field_by_name("request_id", id.clone());
                message.set_field_by_name("start", Value::Message(start));
                writes = true;
            }
            Bytes::from(message.encode_to_vec())
        });
        let messages = messages.collect();
        Self { method: method.to_owned(), messages, writes }
    }

    /// Whether it takes a request id.
    #[must_use]
    pub const fn writes(&self) -> bool {
        self.writes
    }

    /// An answer as JSON: the last message of it.
    ///
    /// # Panics
    /// The bytes are no answer of this method.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn json(&self, said: &Said) -> Json {
        let output = descriptor(&self.method).output();
        let bytes = said.last().cloned().unwrap_or_default();
        let message = DynamicMessage::decode(output, bytes).expect("an answer of the method");
        let options = SerializeOptions::new().skip_default_fields(true);
        message.serialize_with_options(serde_json::value::Serializer, &options).expect("JSON")
    }

    /// The revision that an answer names, of a write or a read of the shop.
    #[must_use]
    pub fn revision(&self, said: &Said) -> Option<i64> {
        let json = self.json(said);
        let report = json.get("report").unwrap_or(&json);
        let place = report.get("commit").or_else(|| report.get("shop"))?;
        // Protobuf writes 64-bit integers as text.
        place.get("revision").map_or(Some(0), |text| text.as_str()?.parse().ok())
    }
}

/// A connection to a server with a token.
#[derive(Clone, Debug)]
pub struct Caller {
    grpc: Grpc<Channel>,
    bearer: MetadataValue<tonic::metadata::Ascii>,
}

impl Caller {
    /// A caller of a server; it connects when it calls, and again after the server went.
    ///
    /// # Panics
    /// The address or the token cannot be one.
    #[must_use]
    #[allow(clippy::expect_used)]
    pub fn new(url: &str, secret: &str) -> Self {
        let endpoint = Endpoint::from_shared(url.to_owned()).expect("an address");
        let channel = endpoint.connect_timeout(Duration::from_secs(5)).connect_lazy();
        let bearer = format!("Bearer {secret}").parse().expect("a token");
        Self { grpc: Grpc::new(channel), bearer }
    }

    /// Calls, and reads the answer to its end.
    ///
    /// # Errors
    /// The status that was answered, or one of the client's own where nothing came.
    pub async fn call(&self, asked: &Asked) -> Result<Said, Status> {
        let called = tokio::time::timeout(PATIENCE, self.call_now(asked));
        let late = |_| Status::deadline_exceeded(format!("no answer within {PATIENCE:?}"));
        called.await.map_err(late)?
    }

    #[allow(clippy::expect_used)]
    async fn call_now(&self, asked: &Asked) -> Result<Said, Status> {
        let mut grpc = self.grpc.clone();
        grpc.ready().await.map_err(|error| Status::unknown(format!("not ready: {error}")))?;
        let mut request = Request::new(tokio_stream::iter(asked.messages.clone()));
        request.metadata_mut().insert("authorization", self.bearer.clone());
        let path = format!("/baystart.v1.{}", asked.method);
        let path: PathAndQuery = path.parse().expect("a path");
        let mut answers = grpc.streaming(request, path, Plain).await?.into_inner();
        let mut said = Vec::new();
        while let Some(message) = answers.message().await? {
            said.push(message);
        }
        Ok(said)
    }
}

/// The stable reason of a status; empty where the server did not make it.
#[must_use]
pub fn reason(status: &Status) -> String {
    let details = status.get_error_details();
    details.error_info().map(|info| info.reason.clone()).unwrap_or_default()
}

/// A codec that leaves bytes as they are.
#[derive(Clone, Copy, Debug)]
pub struct Plain;

impl Codec for Plain {
    type Encode = Bytes;
    type Decode = Bytes;
    type Encoder = Self;
    type Decoder = Self;
    fn encoder(&mut self) -> Self {
        Self
    }
    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Plain {
    type Item = Bytes;
    type Error = Status;
    fn encode(&mut self, item: Bytes, out: &mut EncodeBuf<'_>) -> Result<(), Status> {
        out.put(item);
        Ok(())
    }
}

impl Decoder for Plain {
    type Item = Bytes;
    type Error = Status;
    fn decode(&mut self, bytes: &mut DecodeBuf<'_>) -> Result<Option<Bytes>, Status> {
        Ok(Some(bytes.copy_to_bytes(bytes.remaining())))
    }
}
