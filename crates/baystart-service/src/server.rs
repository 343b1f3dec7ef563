//! The server: what it listens on, what it offers, and how it stops.

use crate::clock::Clock;
use crate::connection::{Phase, reached};
use crate::gate::Pools;
use crate::kept_answers::KeptAnswers;
use crate::kept_boards::KeptBoards;
use crate::learned::LearnedCache;
use crate::limits::Limits;
use crate::listen;
use crate::reckon::Reckoners;
use crate::shared::{Rpc, Shared};
use baystart_proto::v1;
use baystart_store::Store;
use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::{oneshot, watch};
use tokio::task::JoinHandle;
use tonic::service::Routes;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

/// How long the database may take to answer before it counts as one that does not.
const PULSE_TIME_MAX: Duration = Duration::from_secs(5);
/// How long the transport may take to end after its connections were cut.
const CUT_GRACE: Duration = Duration::from_secs(1);

/// Why a server does not start, or ended.
#[derive(Debug, Error)]
pub enum ServeError {
    /// The setting would put bearer tokens on the network in the clear.
    #[error(
        "{0} is not a loopback address, and Baystart speaks no TLS of its own: listen on \
         127.0.0.1, or say that a TLS proxy stands before it (behind_tls_proxy)"
    )]
    NotLoopback(SocketAddr),
    /// The socket cannot be used.
    #[error("cannot listen on {0}: {1}")]
    Listen(String, #[source] io::Error),
    /// The descriptors of the API do not load.
    #[error("reflection cannot be offered: {0}")]
    Reflection(String),
    /// The server's task was ended from outside.
    #[error("the server's task was ended")]
    Ended,
}

/// A server on a store.
#[derive(Clone)]
pub struct Server {
    store: Store,
    clock: Clock,
    limits: Limits,
    behind_tls_proxy: bool,
}

impl Server {
    /// A server with the machine's clock and the default limits, for loopback.
    #[must_use]
    pub fn new(store: Store) -> Self {
        Self { store, clock: Clock::System, limits: Limits::default(), behind_tls_proxy: false }
    }

    /// Another clock.
    #[must_use]
    pub fn clock(mut self, clock: Clock) -> Self {
        self.clock = clock;
        self
    }

    /// Other limits.
    #[must_use]
    pub fn limits(mut self, limits: Limits) -> Self {
        self.limits = limits;
        self
    }

    /// Whether a TLS proxy stands before it: only then may it listen on other
    /// addresses than loopback.
    #[must_use]
    pub fn behind_tls_proxy(mut self, behind: bool) -> Self {
        self.behind_tls_proxy = behind;
        self
    }

    fn check(&self, address: SocketAddr) -> Result<(), ServeError> {
        match address.ip().is_loopback() || self.behind_tls_proxy {
            true => Ok(()),
            false => Err(ServeError::NotLoopback(address)),
        }
    }

    /// Binds an address that the settings allow; port 0 takes a free one.
    ///
    /// # Errors
    /// The address is not loopback and no TLS proxy stands before the server,
    /// or the socket cannot be bound.
    pub async fn bind(&self, address: SocketAddr) -> Result<TcpListener, ServeError> {
        self.check(address)?;
        TcpListener::bind(address)
            .await
            .map_err(|error| ServeError::Listen(address.to_string(), error))
    }

    /// Serves until the signal, then stops: takes no new connection, says
    /// NOT_SERVING, ends endless streams, lets running calls end, and cuts what
    /// is left at the limit `stop_deadline`.
    ///
    /// # Errors
    /// The listener is not loopback and no TLS proxy stands before the server.
    pub async fn serve_with_shutdown(
        self,
        listener: TcpListener,
        signal: impl Future<Output = ()> + Send + 'static,
    ) -> Result<(), ServeError> {
        let address = listener.local_addr();
        self.check(address.map_err(|error| ServeError::Listen("the socket".to_owned(), error))?)?;
        let (phase, stop) = watch::channel(Phase::Running);
        let deadline = self.limits.stop_deadline;
        let (reporter, health) = tonic_health::server::health_reporter();
        say(&reporter, ServingStatus::Serving).await;
        let pulse = tokio::spawn(pulse(
            reporter.clone(),
            self.store.clone(),
            self.limits.health_interval,
            stop.clone(),
        ));
        let stopping = async move {
            signal.await;
            tracing::info!(deadline_s = deadline.as_secs(), "the server stops");
            phase.send_replace(Phase::Stopping);
            say(&reporter, ServingStatus::NotServing).await;
            tokio::spawn(async move {
                tokio::time::sleep(deadline).await;
                phase.send_replace(Phase::Cut);
            });
        };
        let shared = self.shared(stop.clone());
        // A share of the places is kept for shops that have not called yet.
        for (shop, _) in self.store.shops().await.unwrap_or_default().iter().take(2) {
            shared.pools.note_shop(shop.0.as_u128());
        }
        let routes = self.routes(&shared)?.add_service(health).prepare();
        let stopping = tokio::spawn(stopping);
        let serving = listen::serve(listener, routes, shared, stop.clone());
        let cut = async {
            reached(stop, Phase::Cut).await;
            tokio::time::sleep(CUT_GRACE).await;
        };
        tokio::select! {
            () = serving => {}
            () = cut => {}
        }
        stopping.abort();
        pulse.abort();
        tracing::info!("the server has stopped");
        Ok(())
    }

    /// Serves in the background; for tests and for programs that hold a server.
    ///
    /// # Errors
    /// The listener has no address, or it is not loopback and no TLS proxy
    /// stands before the server.
    pub fn start(self, listener: TcpListener) -> Result<Handle, ServeError> {
        let address = listener
            .local_addr()
            .map_err(|error| ServeError::Listen("the socket".to_owned(), error))?;
        self.check(address)?;
        let (stop, stopped) = oneshot::channel::<()>();
        let signal = async {
            // A handle that was dropped stops the server too.
            let _ = stopped.await;
        };
        let task = tokio::spawn(self.serve_with_shutdown(listener, signal));
        Ok(Handle { address, stop, task })
    }

    fn shared(&self, stop: watch::Receiver<Phase>) -> Arc<Shared> {
        Arc::new(Shared {
            store: self.store.clone(),
            clock: self.clock,
            limits: self.limits.clone(),
            stop,
            pools: Arc::new(Pools::new(&self.limits)),
            reckoners: Reckoners::new(self.limits.reckonings_max),
            learned: LearnedCache::default(),
            boards: KeptBoards::default(),
            answers: KeptAnswers::default(),
        })
    }

    fn routes(&self, shared: &Arc<Shared>) -> Result<Routes, ServeError> {
        let limits = &self.limits;
        let reflection =
            |error: tonic_reflection::server::Error| ServeError::Reflection(error.to_string());
        let describe = || {
            tonic_reflection::server::Builder::configure()
                .register_encoded_file_descriptor_set(baystart_proto::DESCRIPTORS)
                .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
        };
        let rpc = Rpc(Arc::clone(shared));
        macro_rules! offer {
            ($router:expr, $($module:ident::$server:ident),* $(,)?) => {
                $router$(.add_service(
                    v1::$module::$server::new(rpc.clone())
                        .max_decoding_message_size(limits.message_bytes_max),
                ))*
            };
        }
        let router = Routes::new(describe().build_v1().map_err(reflection)?);
        let router = router.add_service(describe().build_v1alpha().map_err(reflection)?);
        Ok(offer!(
            router,
            shop_service_server::ShopServiceServer,
            catalogue_service_server::CatalogueServiceServer,
            ledger_service_server::LedgerServiceServer,
            build_service_server::BuildServiceServer,
            purchasing_service_server::PurchasingServiceServer,
            forecast_service_server::ForecastServiceServer,
            lead_time_service_server::LeadTimeServiceServer,
            customer_promise_service_server::CustomerPromiseServiceServer,
            quote_service_server::QuoteServiceServer,
            import_service_server::ImportServiceServer,
            export_service_server::ExportServiceServer,
            access_service_server::AccessServiceServer,
            change_service_server::ChangeServiceServer,
        ))
    }
}

/// A server that runs in the background.
pub struct Handle {
    address: SocketAddr,
    stop: oneshot::Sender<()>,
    task: JoinHandle<Result<(), ServeError>>,
}

impl Handle {
    /// Where it listens.
    #[must_use]
    pub const fn addr(&self) -> SocketAddr {
        self.address
    }

    /// The same as a URL that clients take.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Stops it and waits for its end.
    ///
    /// # Errors
    /// The server failed before.
    pub async fn stop(self) -> Result<(), ServeError> {
        // It may have ended by itself.
        let _ = self.stop.send(());
        self.task.await.map_err(|_| ServeError::Ended)?
    }
}

/// Sets the health of the whole server and of each service.
async fn say(reporter: &HealthReporter, status: ServingStatus) {
    reporter.set_service_status("", status).await;
    let mut services: Vec<&str> = baystart_proto::METHOD_ROLES
        .iter()
        .filter_map(|(path, _)| path.trim_start_matches('/').split('/').next())
        .collect();
    services.dedup();
    for service in services {
        reporter.set_service_status(service, status).await;
    }
}

/// Says NOT_SERVING while the database does not answer, until the stop.
async fn pulse(
    reporter: HealthReporter,
    store: Store,
    interval: Duration,
    stop: watch::Receiver<Phase>,
) {
    let mut serving = true;
    loop {
        tokio::select! {
            () = reached(stop.clone(), Phase::Stopping) => return,
            () = tokio::time::sleep(interval) => {}
        }
        let answers =
            matches!(tokio::time::timeout(PULSE_TIME_MAX, store.ready()).await, Ok(Ok(())));
        if answers != serving && *stop.borrow() == Phase::Running {
            serving = answers;
            tracing::warn!(serving, "the database's health changed");
            let status = if serving { ServingStatus::Serving } else { ServingStatus::NotServing };
            say(&reporter, status).await;
        }
    }
}
