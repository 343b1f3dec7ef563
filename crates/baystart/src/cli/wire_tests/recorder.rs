//! A server that knows every method of the API, keeps what it was asked as
//! JSON, and answers what it was given or else an empty message.

use baystart_proto::DESCRIPTORS;
use prost::Message;
use prost::bytes::{Buf as _, BufMut as _};
use prost_reflect::{DescriptorPool, DynamicMessage, SerializeOptions};
use std::collections::HashMap;
use std::convert::Infallible;
use std::sync::{Arc, Mutex};
use tonic::body::Body;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::codegen::{BoxFuture, Context, Poll, Service, http};
use tonic::server::{Grpc, NamedService, UnaryService};
use tonic::{Request, Response, Status};

/// One call: the method's name and the request in JSON.
pub type Call = (String, serde_json::Value);

#[derive(Clone, Default)]
pub struct Recorder {
    pub calls: Arc<Mutex<Vec<Call>>>,
    answers: Arc<HashMap<String, Vec<u8>>>,
}

impl Recorder {
    /// Answers these messages to these methods.
    pub fn answering(answers: &[(&str, Vec<u8>)]) -> Self {
        let answers = answers.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.clone()));
        Self { calls: Arc::default(), answers: Arc::new(answers.collect()) }
    }

    /// Every service of the API that the recorder stands for.
    pub fn routes(&self) -> tonic::service::Routes {
        let mut routes = tonic::service::RoutesBuilder::default();
        routes
            .add_service(Shop(self.clone()))
            .add_service(Catalogue(self.clone()))
            .add_service(Ledger(self.clone()))
            .add_service(Purchasing(self.clone()))
            .add_service(Builds(self.clone()))
            .add_service(Forecasts(self.clone()))
            .add_service(LeadTimes(self.clone()))
            .add_service(CustomerPromises(self.clone()))
            .add_service(Quotes(self.clone()))
            .add_service(Access(self.clone()));
        routes.routes()
    }

    fn record(&self, path: &str, bytes: &[u8]) -> Vec<u8> {
        let method = path.rsplit('/').next().unwrap().to_owned();
        let pool = DescriptorPool::decode(DESCRIPTORS).unwrap();
        let descriptor = pool.get_message_by_name(&format!("baystart.v1.{method}Request")).unwrap();
        let message = DynamicMessage::decode(descriptor, bytes).unwrap();
        let options = SerializeOptions::new();
        let json = message.serialize_with_options(serde_json::value::Serializer, &options).unwrap();
        let answer = self.answers.get(&method).cloned().unwrap_or_default();
        self.calls.lock().unwrap().push((method, json));
        answer
    }
}

macro_rules! services {
    ($($name:ident: $full:literal),* $(,)?) => {
        $(
            #[derive(Clone)]
            struct $name(Recorder);

            impl NamedService for $name {
                const NAME: &'static str = $full;
            }

            impl Service<http::Request<Body>> for $name {
                type Response = http::Response<Body>;
                type Error = Infallible;
                type Future = BoxFuture<Self::Response, Self::Error>;

                fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
                    Poll::Ready(Ok(()))
                }

                fn call(&mut self, request: http::Request<Body>) -> Self::Future {
                    let method = Method(self.0.clone(), request.uri().path().to_owned());
                    Box::pin(async move { Ok(Grpc::new(Bytes).unary(method, request).await) })
                }
            }
        )*
    };
}
services!(
    Shop: "baystart.v1.ShopService",
    Catalogue: "baystart.v1.CatalogueService",
    Ledger: "baystart.v1.LedgerService",
    Purchasing: "baystart.v1.PurchasingService",
    Builds: "baystart.v1.BuildService",
    Forecasts: "baystart.v1.ForecastService",
    LeadTimes: "baystart.v1.LeadTimeService",
    CustomerPromises: "baystart.v1.CustomerPromiseService",
    Quotes: "baystart.v1.QuoteService",
    Access: "baystart.v1.AccessService",
);

struct Method(Recorder, String);

impl UnaryService<Vec<u8>> for Method {
    type Response = Vec<u8>;
    type Future = std::future::Ready<Result<Response<Vec<u8>>, Status>>;

    fn call(&mut self, request: Request<Vec<u8>>) -> Self::Future {
        std::future::ready(Ok(Response::new(self.0.record(&self.1, &request.into_inner()))))
    }
}

/// Messages as they are on the wire.
#[derive(Clone, Default)]
struct Bytes;

impl Codec for Bytes {
    type Encode = Vec<u8>;
    type Decode = Vec<u8>;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        Self
    }

    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn encode(&mut self, item: Vec<u8>, to: &mut EncodeBuf<'_>) -> Result<(), Status> {
        to.put_slice(&item);
        Ok(())
    }
}

impl Decoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn decode(&mut self, from: &mut DecodeBuf<'_>) -> Result<Option<Vec<u8>>, Status> {
        let length = from.remaining();
        Ok(Some(from.copy_to_bytes(length).to_vec()))
    }
}

/// A message as a canned answer.
pub fn canned(message: &impl Message) -> Vec<u8> {
    message.encode_to_vec()
}
