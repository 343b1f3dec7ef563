//! Servers on a fresh database, their clients, and short ways to say requests.

use baystart_core::book::Book;
use baystart_core::book::model::Role;
use baystart_core::command::Scope;
use baystart_core::ids::ShopId;
use baystart_proto::v1;
use baystart_service::{Clock, Handle, Limits, Server, secret};
use baystart_store::{NewToken, Store, StoreOptions};
use baystart_testkit::server::morning_of;
use baystart_testkit::store::{Backend, TestDatabase, fresh_place, weekday_settings};
use jiff::civil::{Date, date};
use sqlx::{Connection, Executor, PgConnection, SqliteConnection};
use tonic::metadata::MetadataValue;
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Code, Request, Status};
use tonic_types::StatusExt;
use uuid::Uuid;
use v1::build_service_client::BuildServiceClient;
use v1::catalogue_service_client::CatalogueServiceClient;
use v1::forecast_service_client::ForecastServiceClient;
use v1::ledger_service_client::LedgerServiceClient;
use v1::purchasing_service_client::PurchasingServiceClient;

/// Runs a test on both databases: `both!(name, body)` with an `async fn body(Backend)`.
macro_rules! both {
    ($(#[$doc:meta])* $name:ident, $body:path) => {
        $(#[$doc])*
        mod $name {
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn sqlite() {
                $body(baystart_testkit::store::Backend::Sqlite).await;
            }
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn postgres() {
                $body(baystart_testkit::store::Backend::Postgres).await;
            }
        }
    };
}
pub(crate) use both;

/// The day of every test here, a Monday.
pub const TODAY: Date = date(2026, 9, 14);

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

/// A database with one shop and some servers on it, each with a store of its own.
pub struct Stand {
    pub place: TestDatabase,
    pub shop: ShopId,
    pub secret: String,
    pub store: Store,
    pub servers: Vec<Handle>,
    stores: Vec<Store>,
}

impl Stand {
    pub async fn on(backend: Backend) -> Self {
        Self::with(fresh_place(backend).await, 1, StoreOptions::default(), Limits::default()).await
    }

    pub async fn with(
        place: TestDatabase,
        servers: usize,
        options: StoreOptions,
        limits: Limits,
    ) -> Self {
        let mut stores = Vec::new();
        for _ in 0..servers {
            stores.push(Store::open(&place.url, options.clone()).await.unwrap());
        }
        let (secret, hash) = secret::fresh().unwrap();
        let name = "first admin".to_owned();
        let admin = NewToken { name, roles: vec![Role::Admin], hash, issued_at: morning_of(TODAY) };
        let settings = weekday_settings("Glen Orran Vehicle Works");
        let shop = stores[0].create_shop(settings, admin).await.unwrap();
        let mut handles = Vec::new();
        for store in &stores {
            let clock = Clock::Fixed(morning_of(TODAY));
            let server = Server::new(store.clone()).limits(limits.clone()).clock(clock);
            let listener = server.bind(([127, 0, 0, 1], 0).into()).await.unwrap();
            handles.push(server.start(listener).unwrap());
        }
        Self { place, shop, secret, store: stores[0].clone(), servers: handles, stores }
    }

    /// A server again on a database that has its shop.
    pub async fn again(place: TestDatabase, shop: ShopId, secret: String) -> Self {
        let store = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        let server = Server::new(store.clone()).clock(Clock::Fixed(morning_of(TODAY)));
        let listener = server.bind(([127, 0, 0, 1], 0).into()).await.unwrap();
        let servers = vec![server.start(listener).unwrap()];
        Self { place, shop, secret, store: store.clone(), servers, stores: vec![store] }
    }

    /// A client of the first server, with a connection of its own.
    pub async fn client(&self) -> Client {
        self.client_of(0).await
    }

    pub async fn client_of(&self, server: usize) -> Client {
        Client::connect(&self.servers[server].url(), &self.secret).await
    }

    /// All that the shop holds, and its revision: for "nothing was half done".
    pub async fn state(&self) -> (i64, Book) {
        let scope = Scope { all: true, tokens: true, ..Scope::default() };
        let snapshot = self.store.read(self.shop, &scope).await.unwrap();
        (snapshot.revision, snapshot.book)
    }

    pub async fn sound(&self) {
        assert_eq!(self.store.verify(self.shop).await.unwrap(), Vec::new());
    }

    pub async fn stop(self) {
        for handle in self.servers {
            handle.stop().await.unwrap();
        }
        for store in self.stores {
            store.close().await;
        }
    }
}

/// Every service over one connection.
#[derive(Clone)]
pub struct Client {
    pub channel: Channel,
    pub authed: Authed,
    pub builds: BuildServiceClient<Authed>,
    pub catalogue: CatalogueServiceClient<Authed>,
    pub forecast: ForecastServiceClient<Authed>,
    pub ledger: LedgerServiceClient<Authed>,
    pub orders: PurchasingServiceClient<Authed>,
}

impl Client {
    pub async fn connect(url: &str, secret: &str) -> Self {
        let channel = Channel::from_shared(url.to_owned()).unwrap().connect().await.unwrap();
        let authed = InterceptedService::new(channel.clone(), Bearer(secret.to_owned()));
        Self {
            builds: BuildServiceClient::new(authed.clone()),
            catalogue: CatalogueServiceClient::new(authed.clone()),
            forecast: ForecastServiceClient::new(authed.clone()),
            ledger: LedgerServiceClient::new(authed.clone()),
            orders: PurchasingServiceClient::new(authed.clone()),
            channel,
            authed,
        }
    }

    pub async fn add_part(&mut self, number: &str, unit: &str) {
        let request =
            v1::CreatePartRequest { request_id: id(), part: Some(new_part(number, unit)) };
        self.catalogue.create_part(request).await.unwrap();
    }

    pub async fn add_bin(&mut self, code: &str) {
        let bin = Some(v1::Bin { code: code.to_owned(), ..v1::Bin::default() });
        self.ledger.create_bin(v1::CreateBinRequest { request_id: id(), bin }).await.unwrap();
    }

    pub async fn add_stock(&mut self, number: &str, change: &str) {
        self.ledger.adjust_stock(adjust(number, change)).await.unwrap();
    }

    pub async fn open(&mut self, number: &str) {
        let request = v1::OpenBuildRequest {
            request_id: id(),
            build: build(number),
            ..v1::OpenBuildRequest::default()
        };
        self.builds.open_build(request).await.unwrap();
    }

    /// On hand of a part.
    pub async fn on_hand(&mut self, number: &str) -> v1::OnHand {
        let request = v1::GetOnHandRequest { part: part(number) };
        self.ledger.get_on_hand(request).await.unwrap().into_inner().on_hand.unwrap()
    }
}

/// The lock that writers of a shop wait for, held by another program.
pub enum Lock {
    Sqlite(SqliteConnection),
    Postgres(PgConnection),
}

impl Lock {
    pub async fn take(backend: Backend, url: &str) -> Self {
        match backend {
            Backend::Sqlite => {
                let mut other = SqliteConnection::connect(url).await.unwrap();
                other.execute("BEGIN IMMEDIATE").await.unwrap();
                Self::Sqlite(other)
            }
            Backend::Postgres => {
                let mut other = PgConnection::connect(url).await.unwrap();
                other.execute("BEGIN; SELECT 1 FROM shop FOR UPDATE").await.unwrap();
                Self::Postgres(other)
            }
        }
    }

    pub async fn free(self) {
        match self {
            Self::Sqlite(mut other) => other.execute("ROLLBACK").await.map(|_| ()).unwrap(),
            Self::Postgres(mut other) => other.execute("ROLLBACK").await.map(|_| ()).unwrap(),
        }
    }
}

pub fn id() -> String {
    Uuid::now_v7().to_string()
}

#[allow(clippy::unnecessary_wraps)]
pub fn decimal(text: &str) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: text.to_owned() })
}

#[allow(clippy::unnecessary_wraps)]
pub fn day(year: i32, month: i32, day: i32) -> Option<v1::Date> {
    Some(v1::Date { year, month, day })
}

macro_rules! reference {
    ($name:ident, $message:ident, $module:ident, $variant:ident) => {
        #[allow(clippy::unnecessary_wraps)]
        pub fn $name(text: &str) -> Option<v1::$message> {
            Some(v1::$message { r#ref: Some(v1::$module::Ref::$variant(text.to_owned())) })
        }
    };
}
reference!(part, PartRef, part_ref, Number);
reference!(supplier, SupplierRef, supplier_ref, Code);
reference!(bin, BinRef, bin_ref, Code);
reference!(build, BuildRef, build_ref, Number);
reference!(order, OrderRef, order_ref, Number);

pub fn new_part(number: &str, unit: &str) -> v1::Part {
    v1::Part {
        number: number.to_owned(),
        description: format!("Part {number}"),
        unit_code: unit.to_owned(),
        ..v1::Part::default()
    }
}

/// A correction in bin A1.
pub fn adjust(number: &str, change: &str) -> v1::AdjustStockRequest {
    v1::AdjustStockRequest {
        request_id: id(),
        part: part(number),
        bin: bin("A1"),
        change: decimal(change),
        reason: "counted".to_owned(),
        ..v1::AdjustStockRequest::default()
    }
}

pub fn need(stage: &str, number: &str, quantity: &str) -> v1::NewBuildLine {
    v1::NewBuildLine {
        stage_name: stage.to_owned(),
        part: part(number),
        quantity: decimal(quantity),
        unit_code: String::new(),
        customer_supplied: false,
    }
}

pub fn line(line_number: i32, quantity: &str) -> v1::LineQuantity {
    v1::LineQuantity { line_number, quantity: decimal(quantity), ..v1::LineQuantity::default() }
}

/// A quoted build with one stage, "Body".
pub fn new_build(number: &str, lines: Vec<v1::NewBuildLine>) -> v1::CreateBuildRequest {
    v1::CreateBuildRequest {
        request_id: id(),
        number: number.to_owned(),
        vehicle: "Rescue 4x4".to_owned(),
        stages: vec![v1::NewStage { name: "Body".to_owned(), planned_days: 2, off_site: None }],
        lines,
        ..v1::CreateBuildRequest::default()
    }
}

/// Code and stable reason.
pub fn told(status: &Status) -> (Code, String) {
    let details = status.get_error_details();
    let reason = details.error_info().map(|info| info.reason.clone()).unwrap_or_default();
    (status.code(), reason)
}

/// Field and reason of each violation, sorted.
pub fn fields(status: &Status) -> Vec<(String, String)> {
    let details = status.get_error_details();
    let Some(bad) = details.bad_request() else { return Vec::new() };
    let violations = bad.field_violations.iter();
    let mut fields: Vec<_> = violations.map(|v| (v.field.clone(), v.reason.clone())).collect();
    fields.sort();
    fields
}
