//! Connections with a token, and short ways to say requests.

use baystart_proto::v1;
use baystart_testkit::server::TestServer;
use tonic::metadata::MetadataValue;
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};
use uuid::Uuid;

pub type Authed = InterceptedService<Channel, Bearer>;

/// Puts a token on each call.
#[derive(Clone)]
pub struct Bearer(MetadataValue<tonic::metadata::Ascii>);

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        request.metadata_mut().insert("authorization", self.0.clone());
        Ok(request)
    }
}

pub async fn channel(url: &str) -> Channel {
    Channel::from_shared(url.to_owned()).unwrap().connect().await.unwrap()
}

pub async fn authed(server: &TestServer) -> Authed {
    let value = MetadataValue::try_from(format!("Bearer {}", server.secret)).unwrap();
    InterceptedService::new(channel(&server.url()).await, Bearer(value))
}

/// Imports a folder of sheets.
pub async fn load(server: &TestServer, folder: &str) {
    let token = server.token_file().display().to_string();
    let args = ["import", folder, "--server", &server.url(), "--token-file", &token];
    let args = args.iter().map(|arg| (*arg).to_owned()).collect::<Vec<_>>();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = Box::pin(baystart::cli::run(args, &mut out, &mut err)).await;
    assert_eq!(code, 0, "{}{}", String::from_utf8_lossy(&out), String::from_utf8_lossy(&err));
}

pub fn id() -> String {
    Uuid::now_v7().to_string()
}

pub fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

pub fn build(number: &str) -> Option<v1::BuildRef> {
    Some(v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number(number.to_owned())) })
}

pub fn decimal(text: &str) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: text.to_owned() })
}
