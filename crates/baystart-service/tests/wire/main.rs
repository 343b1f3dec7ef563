//! The service over the wire, on an SQLite file: who may call, what errors look
//! like, how it stops, and imports.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod answers;
mod attacks;
mod backtests;
mod changes;
mod every_line;
mod gate;
mod history;
mod import_codes;
mod imports;
mod lead_times;
mod requests;
mod rich;
mod round_trip;
mod stops;
mod workshop;

use baystart_core::book::model::{Role, Settings};
use baystart_core::money::Currency;
use baystart_proto::v1;
use baystart_service::{Clock, Handle, Limits, Server, secret};
use baystart_store::{NewToken, Store, StoreOptions};
use tempfile::TempDir;
use tonic::metadata::MetadataValue;
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};
use tonic_types::StatusExt;
use uuid::Uuid;

pub type Authed = InterceptedService<Channel, Bearer>;

/// Puts a token on each call.
#[derive(Clone)]
pub struct Bearer(pub String);

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        let value = MetadataValue::try_from(format!("Bearer {}", self.0)).unwrap();
        request.metadata_mut().insert("authorization", value);
        Ok(request)
    }
}

/// A server on a fresh database, with one shop and its admin.
pub struct Stand {
    pub handle: Handle,
    pub admin: String,
    pub channel: Channel,
    pub store: Store,
    dir: TempDir,
}

pub async fn stand() -> Stand {
    stand_with(Limits::default()).await
}

pub async fn stand_with(limits: Limits) -> Stand {
    let dir = TempDir::new().unwrap();
    let url = format!("sqlite:{}", dir.path().join("shop.db").display());
    let store = Store::open(&url, StoreOptions::default()).await.unwrap();
    let (admin, hash) = secret::fresh().unwrap();
    let now = "2026-09-14T07:00:00Z".parse().unwrap();
    let token =
        NewToken { name: "admin".to_owned(), roles: vec![Role::Admin], hash, issued_at: now };
    store.create_shop(settings(), token).await.unwrap();
    let server = Server::new(store.clone()).clock(Clock::Fixed(now)).limits(limits);
    let listener = server.bind("127.0.0.1:0".parse().unwrap()).await.unwrap();
    let handle = server.start(listener).unwrap();
    let channel = Channel::from_shared(handle.url()).unwrap().connect().await.unwrap();
    Stand { handle, admin, channel, store, dir }
}

/// Another server on the same database.
pub async fn beside(stand: &Stand) -> (Handle, Channel) {
    let url = format!("sqlite:{}", stand.dir.path().join("shop.db").display());
    let store = Store::open(&url, StoreOptions::default()).await.unwrap();
    let now = "2026-09-14T07:00:00Z".parse().unwrap();
    let server = Server::new(store).clock(Clock::Fixed(now));
    let listener = server.bind("127.0.0.1:0".parse().unwrap()).await.unwrap();
    let handle = server.start(listener).unwrap();
    let channel = Channel::from_shared(handle.url()).unwrap().connect().await.unwrap();
    (handle, channel)
}

pub fn settings() -> Settings {
    Settings {
        name: "Glen Orran Vehicle Works".to_owned(),
        time_zone: "Europe/London".to_owned(),
        currency: Currency::parse("GBP").unwrap(),
        working_days: [true, true, true, true, true, false, false],
        ordering_days: [true, true, true, true, true, false, false],
        reserve_window_days: 20,
        stall_tolerance: 0.05,
        bays: 0,
        learning: baystart_core::book::model::LearningSettings::default(),
        ways: baystart_core::book::model::Ways::default(),
        version: 1,
    }
}

impl Stand {
    pub fn as_admin(&self) -> Authed {
        self.with(&self.admin)
    }

    pub fn with(&self, token: &str) -> Authed {
        InterceptedService::new(self.channel.clone(), Bearer(token.to_owned()))
    }

    pub async fn token(&self, roles: &[v1::Role]) -> String {
        let request = v1::IssueTokenRequest {
            request_id: id(),
            name: format!("{roles:?}"),
            roles: roles.iter().map(|role| i32::from(*role)).collect(),
        };
        let mut client = v1::access_service_client::AccessServiceClient::new(self.as_admin());
        client.issue_token(request).await.unwrap().into_inner().secret
    }
}

pub fn id() -> String {
    Uuid::now_v7().to_string()
}

pub fn reason(status: &Status) -> String {
    let details = status.get_error_details();
    details.error_info().map(|info| info.reason.clone()).unwrap_or_default()
}

/// Field and reason of each violation.
pub fn fields(status: &Status) -> Vec<(String, String)> {
    let details = status.get_error_details();
    let Some(bad) = details.bad_request() else { return Vec::new() };
    bad.field_violations.iter().map(|v| (v.field.clone(), v.reason.clone())).collect()
}
