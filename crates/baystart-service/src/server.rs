//! The server: what it listens on, what it offers, and how it stops.

use crate::clock::Clock;
use crate::connection::{Connection, Phase, reached};
use crate::gate::GateLayer;
use crate::kept_boards::KeptBoards;
use crate::learned::LearnedCache;
use crate::limits::Limits;
use crate::shared::{Rpc, Shared};
use baystart_proto::v1;
use baystart_store::Store;
use futures::stream::{self, Stream};
use std::future::Future;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use thiserror::Error;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, oneshot, watch};
use tokio::task::JoinHandle;
use tonic_health::ServingStatus;
use tonic_health::server::HealthReporter;

/// Pause after a connection could not be accepted, for example because the
/// process has no file descriptor left.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);
/// Largest list of request headers.
const HEADER_BYTES_MAX: u32 = 16 * 1024;
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
    /// The transport failed.
    #[error("the server's transport failed: {0}")]
    Transport(#[from] tonic::transport::Error),
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
    /// The listener is not loopback and no TLS proxy stands before the server,
    /// or the transport failed.
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
        let router = self.router(&shared)?.add_service(health);
        let serving =
            router.serve_with_incoming_shutdown(connections(listener, stop.clone()), stopping);
        let cut = async {
            reached(stop, Phase::Cut).await;
            tokio::time::sleep(CUT_GRACE).await;
        };
        let ended = tokio::select! {
            ended = serving => ended.map_err(ServeError::from),
            () = cut => Ok(()),
        };
        pulse.abort();
        tracing::info!("the server has stopped");
        ended
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
            calls: Arc::new(Semaphore::new(self.limits.calls_max)),
            public_calls: Arc::new(Semaphore::new(self.limits.public_calls_max)),
            imports: Arc::new(Semaphore::new(self.limits.imports_max)),
            backtests: Arc::new(Semaphore::new(self.limits.backtests_max)),
            histories: Arc::new(Semaphore::new(self.limits.backtests_max)),
            learned: LearnedCache::default(),
            boards: KeptBoards::default(),
        })
    }

    fn router(&self, shared: &Arc<Shared>) -> Result<Router, ServeError> {
        let limits = &self.limits;
        let server = tonic::transport::Server::builder()
            .http2_keepalive_interval(Some(limits.keepalive_interval))
            .http2_keepalive_timeout(Some(limits.keepalive_timeout))
            .max_concurrent_streams(limits.streams_per_connection_max)
            .http2_max_header_list_size(HEADER_BYTES_MAX);
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
        let mut server = server.layer(GateLayer(Arc::clone(shared)));
        let router = server.add_service(describe().build_v1().map_err(reflection)?);
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
        ))
    }
}

type Router = tonic::transport::server::Router<
    tower::layer::util::Stack<GateLayer, tower::layer::util::Identity>,
>;

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

fn connections(
    listener: TcpListener,
    stop: watch::Receiver<Phase>,
) -> impl Stream<Item = Result<Connection, io::Error>> {
    stream::unfold((listener, stop), |(listener, stop)| async move {
        loop {
            match listener.accept().await {
                Ok((stream, _)) => {
                    // Without it answers only wait longer.
                    let _ = stream.set_nodelay(true);
                    let connection = Connection::new(stream, stop.clone());
                    return Some((Ok(connection), (listener, stop)));
                }
                Err(error) => {
                    tracing::warn!(%error, "a connection was not accepted");
                    tokio::time::sleep(ACCEPT_PAUSE).await;
                }
            }
        }
    })
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
        let answers = store.ready().await.is_ok();
        if answers != serving && *stop.borrow() == Phase::Running {
            serving = answers;
            tracing::warn!(serving, "the database's health changed");
            let status = if serving { ServingStatus::Serving } else { ServingStatus::NotServing };
            say(&reporter, status).await;
        }
    }
}
